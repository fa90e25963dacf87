"""Electrical supply: rig AC, charger, and the battery string that keeps the panels alive.

The string of 12 V lead-acid units floats on the charger. Off it, the units discharge by Peukert's law: what they give
at the panels' load is worked out once, at load time, so that the running plant needs no powers. Voltage falls in a
straight line with the charge (common practice), to 1.75 V a cell at the end, then collapses.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from pydantic import Field

from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import Part, component_fault, reading, state_reading
from trainer.plant.handwork import PERIOD, SECOND, switch
from trainer.plant.junction_boxes import build_boxes
from trainer.units import Charge, Current, Number, Voltage, between

FLOAT_VOLTS = 13.6
"""V of a 12 V lead-acid unit on float charge at 25 degC: 2.27 V a cell (common practice; from memory)."""
FULL_VOLTS = 12.75
"""V of a charged unit at rest: 2.12 V a cell (common practice)."""
END_VOLTS = 10.5
"""V of a unit at the end of its charge, on load: 1.75 V a cell (common practice; from memory)."""
RESISTANCE = 0.02
"""Ohm within one unit: some 100 Ah (from memory)."""
CELL_VOLTS = 2.0
"""V that a dead cell takes from its unit."""
WEAK_SHARE = 0.4
"""Share of the charge that a weak unit lacks at its worst. Invented."""
LOW_SHARE = 11.0
"""V a unit below which the alarm comes: between full and end. Invented."""
CUT_OUT = 7.2
"""Volts a unit below which the panels go dark: six tenths of nominal. Common practice."""
OVER = 0.05
"""Share of the charge that may be drawn past its end, until the voltage has collapsed. Invented."""
PANELS = 120.0
"""V: direct current for which panels are built where the file says nothing."""


class Electrical(Part):
    """Battery string of 12 V lead-acid units in series (capacity at the 20 h rate), and the panels' load."""

    battery_units: int = Field(ge=1, le=40)
    battery_capacity: Annotated[Charge, between("5 Ah", "2000 Ah")]
    panel_load: Annotated[Current, between("0.5 A", "100 A")] = Field()
    peukert: float = Field(default=1.2, ge=1.0, le=1.6)
    charger: Annotated[Current, between("0.5 A", "200 A")] = 10.0
    rated_hours: float = Field(default=20.0, ge=1.0, le=100.0)
    panel_voltage: Annotated[Voltage, between("12 V", "240 V")] = PANELS

    def lasts(self, load: float) -> float:
        """Seconds that a full string carries ``load`` (A): t = H (C / (I H))^k (Peukert)."""
        hours = self.rated_hours
        share: float = (self.battery_capacity / (load * hours * 3600.0)) ** self.peukert
        return hours * 3600.0 * share

    def build(self, net: Network, further: Sequence[tuple[str, float]] = (), second_bus: bool = False) -> None:
        """Add AC, charger, battery and the panels' power.

        ``further`` are panels on the string beside ``panel_load``: the tag of each one's breaker, its load (A).
        ``second_bus``: some pumps hang on the rig's emergency bus, which the same breaker lets in.
        """
        n = float(self.battery_units)
        unit, both = ("unit",), ("unit", "driller")
        state_reading(net, "power.ac", ("off", "on"), "Rig AC present: its lamp.", both, 1.0)
        switch(net, "power.main", "AC breaker of the control system.", locks="Main switch")
        switch(net, "power.charger", "Charger's breaker: off puts the panels on the battery, to test it.")
        volts, scale = n * FLOAT_VOLTS, self.panel_voltage / PANELS
        band = (126 * scale, 140 * scale)
        reading(net, "battery.volts", "V", 0, 160 * scale, "Battery string.", unit, band, volts)
        reading(net, "battery.amps", "A", -50, 50, "Battery current, out of the battery.", unit)
        weakest = "Lowest of the battery units, by hand voltmeter."
        reading(net, "battery.weakest", "V", 0, 16, weakest, unit, (11.5, 14), FLOAT_VOLTS)
        reading(net, "battery.charge", "%", 0, 100, "Charge left in the battery.", (), None, 1.0)
        state_reading(net, "battery.low", ("off", "on"), "Direct voltage is low: its lamp.", both)
        state_reading(net, "panel.power", ("off", "on"), "The panels have power.", ("driller", "remote"), 1.0)
        net.var("battery.bus", volts, "V")
        self._faults(net)
        net.block(ac_present, inputs=dict(main="power.main", lost="fault.power.ac_lost"), outputs=dict(ac="power.ac"))
        if second_bus:
            self._emergency(net)
        # A cell's weakness and a broken link change nothing while the charger carries the load.
        load, drain = self._carried(net, further)
        net.block(
            battery,
            inputs=dict(
                ac="power.ac",
                breaker="power.charger",
                charger="fault.battery.charger_failed",
                weak="fault.battery.weak_cell",
                open_circuit="fault.battery.open_circuit",
                load=load,
                drain=drain,
                gain=PERIOD * self.charger / self.battery_capacity,
                most=self.charger,
                units=n,
            ),
            states=dict(charge="battery.charge"),
            outputs=under("battery", "volts", "amps", "weakest", "bus"),
            gate=SECOND,
        )
        net.block(
            powered,
            inputs=dict(volts="battery.bus", units=n),
            outputs=dict(power="panel.power", low="battery.low"),
            gate=SECOND,
        )
        build_boxes(net, volts, n, scale)

    def _emergency(self, net: Network) -> None:
        state_reading(net, "power.emergency", ("off", "on"), "Emergency bus present: its lamp.", ("unit",), 1.0)
        lost = component_fault(
            net, "power", "emergency_lost", "Emergency bus lost", ("power.emergency",),
            "Its pumps do not start: charge with those of the main bus, report, restore the bus.",
        )  # fmt: skip
        net.block(ac_present, inputs=dict(main="power.main", lost=lost), outputs=dict(ac="power.emergency"))

    def _carried(self, net: Network, further: Sequence[tuple[str, float]]) -> tuple[str | float, str | float]:
        """What the string carries, A, and the share of its charge that goes in a second: as breakers are in or out.

        By Peukert's law with none and with all of the further panels; between them each counts by its load.
        """
        alone = PERIOD / self.lasts(self.panel_load)
        if not further:
            return self.panel_load, alone
        whole = self.panel_load
        for _, more in further:
            whole += more
        a_amp = (PERIOD / self.lasts(whole) - alone) / (whole - self.panel_load)
        load, drain = net.var("battery.load", whole, "A"), net.var("battery.drain", alone)
        net.block(starts_at, inputs=dict(base=self.panel_load, least=alone), outputs=dict(load=load, drain=drain))
        for breaker, more in further:
            net.block(
                carries,
                inputs=dict(breaker=breaker, more=more, faster=a_amp * more),
                states=dict(load=load, drain=drain),
            )
        return load, drain

    def _faults(self, net: Network) -> None:
        shows = ("battery.volts", "battery.amps")
        for component, kind, title, tags, remedy in (
            (
                "power",
                "ac_lost",
                "Rig AC lost",
                ("power.ac", "alarm.power_loss"),
                "The panels run on the battery: shed load, use the air pumps, watch the volts.",
            ),
            (
                "battery",
                "charger_failed",
                "Battery charger failed",
                shows,
                "Amps flow out of the battery with AC on: restore or replace the charger; test the battery.",
            ),
            (
                "battery",
                "weak_cell",
                "A cell of the battery is weak",
                ("battery.weakest", "battery.volts"),
                "Measure every unit under load, with the charger's breaker off; replace the weak one.",
            ),
            (
                "battery",
                "open_circuit",
                "A link between battery units is broken",
                ("battery.volts", "battery.amps", "panel.power"),
                "Nothing shows until the charger is off: test under load, repair the link.",
            ),
        ):
            component_fault(net, component, kind, title, tags, remedy)


@gives("ac")
def ac_present(main: Number, lost: Number) -> Number:
    """1 with the main breaker in and the rig's supply up, so that charger and motors have AC; else 0."""
    return 1.0 if main > 0.5 and lost <= 0.0 else 0.0


@gives("load", "drain")
def starts_at(base: Current, least: Number) -> tuple[Current, Number]:
    """The load (A) and drain (share of the charge in a second) of the panels that are always on."""
    return base, least


@gives("load", "drain")
def carries(load: Current, drain: Number, breaker: Number, more: Current, faster: Number) -> tuple[Current, Number]:
    """Load (A) and drain of the battery with one panel ``more``, while its breaker is in; unchanged while it is out."""
    return (load + more if breaker > 0.5 else load), (drain + faster if breaker > 0.5 else drain)


@gives("charge", "volts", "amps", "weakest", "bus")
def battery(
    charge: Number,
    ac: Number,
    breaker: Number,
    charger: Number,
    weak: Number,
    open_circuit: Number,
    load: Current,
    drain: Number,
    gain: Number,
    most: Current,
    units: Number,
) -> tuple[Number, Voltage, Current, Voltage, Voltage]:
    """Charge left, string volts, current out (A), the weakest unit's volts and the panels' bus volts, after a second.

    ``gain`` is the share of charge that the charger's ``most`` A give in a second. A weak cell costs its unit up to
    2 V, and the unit runs out when the others still have charge.
    """
    charging = ac > 0.5 and breaker > 0.5 and charger <= 0.0
    linked = 1.0 if open_circuit <= 0.0 else 0.0
    rise = gain * min((1.0 - charge) * 5.0, 1.0) * linked
    left = max(min(charge + (rise if charging else -drain * linked), 1.0), -OVER)
    into = rise / gain * most if charging else 0.0
    amps = -into if charging else load * linked
    # At the end of the charge the voltage on load is END_VOLTS a unit; beyond, it collapses.
    resting = END_VOLTS + RESISTANCE * load + (FULL_VOLTS - END_VOLTS) * max(left, 0.0)
    spent = max(-left, 0.0) / OVER
    unit = FLOAT_VOLTS if charging else (resting - RESISTANCE * amps) * (1.0 - 0.6 * spent)
    own = left - WEAK_SHARE * weak
    dying = min(max(-own / 0.05, 0.0), 1.0) if weak > 0.0 else 0.0
    lowest = max(unit - CELL_VOLTS * weak - (0.0 if charging else dying * unit), 0.0)
    string = units * unit - (0.0 if charging else unit - lowest)
    volts = string * linked if not charging else string
    return left, volts, amps, (lowest if linked > 0.0 else unit), volts


@gives("power", "low")
def powered(volts: Voltage, units: Number) -> tuple[Number, Number]:
    """Whether the panels have power, and the lamp for low direct voltage: each 1 or 0, by volts a battery unit."""
    return (1.0 if volts > units * CUT_OUT else 0.0), (1.0 if volts < units * LOW_SHARE else 0.0)
