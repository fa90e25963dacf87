"""Pressure test of the stack: a test plug in the wellhead, a test pump on the kill line, a bleed and a chart recorder.

With the plug landed the well below is closed off, and what lies between the plug and the lowest preventer that seals
is a vessel of its own, full of mud. The pump squeezes more in, the gauge shows the pressure above the mud's weight,
and a packer that leaks lets it past into the riser. Mud comes from the pit and is bled back to it. Pipe that is moved
lifts the plug out.

    squeezed in = volume / K gauge + air gauge / (gauge + atmosphere) + what the packers give way

Air is taken as ideal at one temperature. The packers' rubber gives way slowly: pressure falls a little after the pump
stops although nothing leaks, so a test is timed only once it is stable (common practice; the figures are invented).
Left out: test of the choke and kill valves one by one, the test string's own leaks, heat of compression.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Annotated

from trainer.constants import ATMOSPHERE, SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import Part, choice, gauge, reading, state_reading
from trainer.plant.bore import LEAK_K
from trainer.plant.functions import Function
from trainer.plant.sections import gone
from trainer.plant.space_out import PREVENTERS
from trainer.units import Coefficient, Compliance, Flow, Number, Pressure, Seconds, Velocity, Volume, between, from_unit

PLUG = ("out", "landed")
PUMP = ("stop", "slow", "fast")
BLEED = ("shut", "cracked", "open")
CHART = ("off", "running")
PLACE = ("floor",)
MOST_SHARE = 0.2
"""Share of what there is that may flow in one scan, so that nothing turns negative. Ours."""
MOST_SPEED = 0.02
"""Pipe that moves faster than this, m/s, lifts the plug out."""
BLEED_K = 3.0e-6
"""Bleed valve full open, m3/(s sqrt(Pa)); cracked it passes a fiftieth. Invented."""
CRACKED = 0.02
"""Opening of the bleed valve that is cracked (1 open). Invented."""
VENT_K = 1.0e-4
"""A choke line and choke that are open, m3/(s sqrt(Pa)): nothing can be held. Invented."""
GIVES = 0.03
"""What the rubber gives way in the end, as a share of the vessel's own give. Invented."""
GIVE_TIME = 40.0
"""s in which rubber and mud take up their share of a test pressure. Invented; tests settle within minutes."""


class TestUnit(Part):
    """The test pump and what it works on, table [test] of a file. Flows in m3/s, volumes in m3, pressures in Pa."""

    __test__ = False

    slow: Annotated[Flow, between("0.05 gpm", "5 gpm")] = from_unit(0.5, "gpm")
    fast: Annotated[Flow, between("0.5 gpm", "50 gpm")] = from_unit(6.0, "gpm")
    # between plug and preventer, with the line to it
    volume: Annotated[Volume, between("20 gal", "5000 gal")] = from_unit(800.0, "gal")
    air: Annotated[Volume, between("0 gal", "50 gal")] = from_unit(1.0, "gal")
    # of what is tested with
    bulk_modulus: Annotated[Pressure, between("500 MPa", "4000 MPa")] = 2.2e9
    relief: Annotated[Pressure, between("1000 psi", "30000 psi")] = from_unit(10500.0, "psi")

    def build(self, net: Network, functions: Sequence[Function]) -> None:
        """Add the unit, after the bore and its sections and before the well."""
        state_reading(net, "test.plug", PLUG, "Test plug in the wellhead, under the stack.", PLACE)
        state_reading(net, "test.pump", PUMP, "Test pump.", PLACE)
        state_reading(net, "test.bleed", BLEED, "Bleed valve of the test unit, to the pit.", PLACE)
        state_reading(net, "test.chart", CHART, "Chart recorder of the test unit.", PLACE)
        for name, initial, unit in (
            ("extra", 0.0, "m3"),
            ("give", 0.0, "m3"),
            ("sealed", 0.0, "1"),
            ("leak", 0.0, "m3/(s sqrt(Pa))"),
            ("started", 0.0, "Pa"),
            ("shown", ATMOSPHERE, "Pa"),
        ):
            net.var(f"test.{name}", initial, unit)
        high = 15000.0
        gauge(net, "test.pressure", "test.shown", high, "Pressure at the test unit.", PLACE)
        reading(net, "test.pumped", "gal", -5, 200, "Mud pumped in by the test unit and not bled back.", PLACE)
        reading(net, "test.held", "min", 0, 120, "Time on the chart since pump and bleed were last worked.", PLACE)
        reading(net, "test.fall", "psi", -500, high, "Fall of the pressure on the chart in that time.", PLACE)
        choice(net, "test.plug", PLUG, "Land the test plug in the wellhead, or pull it.", PLACE, guard=_plug_guard)
        choice(net, "test.pump", PUMP, "Run the test pump.", PLACE, guard=_pump_guard)
        choice(net, "test.bleed", BLEED, "Bleed the test pressure to the pit.", PLACE)
        choice(net, "test.chart", CHART, "Start or stop the chart.", PLACE)
        net.block(none_sealing, outputs=under("test", "sealed", "leak"))
        for f in sorted((f for f in functions if f.kind in PREVENTERS), key=lambda f: f.below):
            net.block(
                lowest,
                inputs=dict(sealing=f"{f.id}.sealing", leaks=f"{f.id}.leaks", away=gone(f)),
                states=under("test", "sealed", "leak"),
            )
        net.block(
            lifted, inputs=dict(speed="bore.pipe_speed", away="bore.wellhead_open"), states=dict(plug="test.plug")
        )
        net.block(vented, inputs=dict(line="choke_line.sees_well", choke="floor.choke"), states=dict(leak="test.leak"))
        net.block(
            plugged,
            inputs=dict(plug="test.plug"),
            states=dict(area="bore.area", leak="bore.leak", choke="choke_line.sees_well", kill="kill_line.sees_well"),
        )
        net.block(
            squeezed,
            inputs=dict(
                **under("test", "plug", "sealed", "leak", "pump", "bleed"),
                slow=self.slow,
                fast=self.fast,
                compliance=self.volume / self.bulk_modulus,
                air=self.air,
                relief=self.relief,
            ),
            states=dict(**under("well", "pit", "riser_mud", "annulus_mud"), extra="test.extra", give="test.give"),
            outputs=dict(shown="test.shown"),
        )
        net.block(
            charted,
            inputs=under("test", "chart", "pump", "bleed", "shown", "extra"),
            states=under("test", "started", "held"),
            outputs=under("test", "fall", "pumped"),
            rate="observe",
        )


def _plug_guard(machine: Variables, command: Order) -> Refusal | None:
    if command.value == "out" and machine.read("test.shown") > ATMOSPHERE + from_unit(20.0, "psi"):
        return Refusal(
            "under_pressure", "There is test pressure on the plug: bleed it to zero before pulling the plug."
        )
    if command.value == "landed" and machine.read("bore.pipe") < 0.5:
        return Refusal("no_pipe", "The plug is landed on pipe: run pipe through the stack first.")
    return None


def _pump_guard(machine: Variables, command: Order) -> Refusal | None:
    if command.value != "stop" and machine.read("test.bleed") > 0.5:
        return Refusal("bleed_open", "The bleed valve of the test unit is open: shut it before pumping.")
    return None


@gives("sealed", "leak")
def none_sealing() -> tuple[Number, Coefficient]:
    """Before the preventers are gone through: none seals (0), and nothing leaks by one, m3/(s sqrt(Pa))."""
    return 0.0, 0.0


@gives("sealed", "leak")
def lowest(
    sealed: Number, leak: Coefficient, sealing: Number, leaks: Number, away: Number
) -> tuple[Number, Coefficient]:
    """The lowest preventer that seals counts, with its leak (m3/(s sqrt(Pa))): those above stand in no pressure."""
    seals = sealing > 0.5 and away < 0.5
    return (1.0 if seals else sealed), (leaks * LEAK_K if seals else leak)


@gives("plug")
def lifted(plug: Number, speed: Velocity, away: Number) -> Number:
    """The plug, 1 landed: pipe that moves lifts it out, and it goes with the wellhead connector."""
    return 0.0 if abs(speed) > MOST_SPEED or away > 0.5 else plug


@gives("leak")
def vented(leak: Coefficient, line: Number, choke: Number) -> Coefficient:
    """What passes, with the choke ``line`` open to the stack and the ``choke`` (0 to 1)."""
    return leak + VENT_K * choke if line > 0.5 else leak


@gives("area", "leak", "choke", "kill")
def plugged(
    plug: Number, area: Number, leak: Coefficient, choke: Number, kill: Number
) -> tuple[Number, Coefficient, Number, Number]:
    """Opening of the bore, its leak, and whether either line sees the well: none of them past a landed plug."""
    landed = plug > 0.5
    return (
        (0.0 if landed else area),
        (0.0 if landed else leak),
        (0.0 if landed else choke),
        (0.0 if landed else kill),
    )


@gives("extra", "give", "shown", "pit", "riser_mud", "annulus_mud")
def squeezed(
    extra: Volume,
    give: Volume,
    plug: Number,
    sealed: Number,
    leak: Coefficient,
    pump: Number,
    bleed: Number,
    slow: Flow,
    fast: Flow,
    compliance: Compliance,
    air: Volume,
    relief: Pressure,
    pit: Volume,
    riser_mud: Volume,
    annulus_mud: Volume,
) -> tuple[Volume, Volume, Pressure, Volume, Volume, Volume]:
    """One scan of the closed vessel: mud squeezed in (m3), what gave way (m3), its pressure (absolute Pa), pit, riser.

    Without plug or seal nothing holds: what is pumped goes up the riser, or down the hole once the plug is out.
    ``compliance`` m3/Pa, ``air`` m3 at atmosphere. The gauge pressure g is the root of
    c g^2 + (c p0 + air - e) g - e p0 = 0, with e what was squeezed in less what gave way.
    """
    held = plug > 0.5 and sealed > 0.5
    e = max(extra - give, 0.0)
    b = compliance * ATMOSPHERE + air - e
    g = (sqrt(b * b + 4.0 * compliance * e * ATMOSPHERE) - b) / (2.0 * compliance) if held else 0.0
    rate = fast if pump > 1.5 else (slow if pump > 0.5 else 0.0)
    pumped = min(rate * SCAN, MOST_SHARE * pit) if g < relief else 0.0
    root = sqrt(g)
    opening = 1.0 if bleed > 1.5 else (CRACKED if bleed > 0.5 else 0.0)
    bled = min(BLEED_K * opening * root * SCAN, MOST_SHARE * extra) if held else (extra if bleed > 0.5 else 0.0)
    passed = min(leak * root * SCAN, MOST_SHARE * extra) if held else extra - bled
    up = passed if plug > 0.5 else 0.0
    given = give + (GIVES * compliance * g - give) * (SCAN / GIVE_TIME) if held else 0.0
    return (
        extra + pumped - bled - passed,
        given,
        g + ATMOSPHERE,
        pit - pumped + bled,
        riser_mud + up,
        annulus_mud + passed - up,
    )


@gives("started", "held", "fall", "pumped")
def charted(
    chart: Number, pump: Number, bleed: Number, shown: Pressure, started: Pressure, held: Seconds, extra: Volume
) -> tuple[Pressure, Seconds, Pressure, Volume]:
    """The chart: pressure at which the hold began (absolute Pa), time held (s), fall since (Pa), mud squeezed in (m3).

    A hold begins anew while the pump runs or the bleed is open.
    """
    holds = chart > 0.5 and pump < 0.5 and bleed < 0.5
    began = started if holds else shown
    return began, (held + SCAN if holds else 0.0), began - shown, extra
