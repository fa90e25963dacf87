"""Further panels of a rig, beside the driller's panel and the toolpusher's panel: a third at an escape exit, say.

A plant file declares what such a panel carries (functions, regulators, gauges, warning lamps) and what feeds it:

- the unit's battery: its load is added to the battery's, and the cable loses voltage on the way;
- a battery of its own at the panel, of as many units, which the unit keeps charged: it lives on when the unit's is
  dead, and draws the solenoid valves itself;
- rig air: no voltage and no solenoid at all. An order travels down its tubing before the valve's cylinder moves.

Orders act on the same four-way valves at the unit as those of the other panels, by the panel's own supply. With
telemetry they are messages to the pods, as theirs are, and rig air sends none. Its position lamps show the pressure
switches at the unit, or what the pods answer, by that supply too. Left out: the fill of the valve's cylinder through a
long air line, and what the solenoids draw beside the panel's own load.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Annotated, Final, Literal

from pydantic import Field

from trainer import naming
from trainer.constants import ATMOSPHERE, SCAN
from trainer.hydraulics.catalogue import Effect, Order, Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.alarms import ENABLE_SECONDS, TEST_SECONDS, hold_enable
from trainer.plant.base import Component, Guard, component_fault, reading, state_reading
from trainer.plant.electrical import CUT_OUT, FULL_VOLTS, PANELS, Electrical, battery
from trainer.plant.function_laws import lamps
from trainer.plant.functions import AIR_NEEDED, STIR, WAYS, Feed, Function
from trainer.plant.handwork import PERIOD, SECOND, hand_valve, switch
from trainer.plant.junction_boxes import PULL_IN, solenoids
from trainer.plant.regulators import Regulator
from trainer.units import Area, Charge, Current, Length, Number, Pressure, Seconds, Voltage, between, from_unit, show

STATIONS: Final = tuple(naming.FURTHER)
"""The stations that further panels are, in the order of the plant file."""
MOST_GAUGES = 6
"""Gauges that a panel has room for."""
COPPER = 1.724e-8
"""Ohm m of annealed copper at 20 degC: IEC 60028."""
SOUND = 343.0
"""m/s of sound in dry air at 20 degC: common tables (from memory)."""
AIR_VISCOSITY = 1.82e-5
"""Pa s of air at 20 degC: common tables (from memory)."""
AIR_BORE = from_unit(0.18, "in")
"""Bore of quarter-inch instrument tubing, m. Common practice."""
ALWAYS_AIR = 1.0e9
"""Pa: what an order by message meets in place of pilot air, which it does not need."""
MOST_DELAY = 5.0
"""s after which an air signal comes too late for a panel. Invented."""

_ONLY_FOR: Final[Mapping[str, tuple[str, ...]]] = {
    "load": ("unit_battery", "own_battery"),
    "conductor": ("unit_battery", "own_battery"),
    "bore": ("rig_air",),
    "battery_capacity": ("own_battery",),
    "charger": ("own_battery",),
}
"""Keys that only some supplies read. Given for another they would do nothing."""


class Panel(Component):
    """One further panel: what it carries, its supply, its cable or tubing, and the way there on foot."""

    supply: Literal["unit_battery", "own_battery", "rig_air"] = "unit_battery"
    functions: tuple[str, ...] = Field(min_length=1, max_length=60)
    regulators: tuple[str, ...] = Field(default=(), max_length=20)
    gauges: tuple[str, ...] = Field(default=(), max_length=MOST_GAUGES)
    """Tags of readings that it shows; none: no gauges."""
    warnings: bool = True
    """Whether it has the warning lamps, acknowledge and silence."""
    length: Annotated[Length, between("3 ft", "3000 ft")]
    """Of its cable or of its air tubing, one way."""
    conductor: Annotated[Area, between("0.5 mm2", "70 mm2")] = 2.5e-6
    """Copper of each wire of the cable."""
    load: Annotated[Current, between("0.1 A", "20 A")] = 0.8
    bore: Annotated[Length, between("0.1 in", "1 in")] = AIR_BORE
    battery_capacity: Annotated[Charge, between("1 Ah", "500 Ah")] = 36000.0
    charger: Annotated[Current, between("0.1 A", "50 A")] = 2.0
    walk: Annotated[Seconds, between("0 s", "1200 s")] = 45.0
    """The way from the driller's panel, on foot."""

    @property
    def electric(self) -> bool:
        """Whether it works by voltage and solenoid valves; False where it is fed with rig air alone."""
        return self.supply != "rig_air"

    @property
    def lost(self) -> float:
        """Volts that its load loses in both wires of its cable, R = 2 rho L / A."""
        return self.load * 2.0 * COPPER * self.length / self.conductor if self.electric else 0.0

    def delay(self, air: float) -> float:
        """Seconds until an order reaches the unit, with rig air of ``air`` Pa gauge: none by wire.

        An air signal travels with sound, and the tubing fills behind it: half of resistance (Hagen-Poiseuille) times
        capacity, t = L / c + 16 mu L^2 / (d^2 p).
        """
        if self.electric:
            return 0.0
        fills = 16.0 * AIR_VISCOSITY * self.length * self.length / (self.bore * self.bore * (air + ATMOSPHERE))
        return self.length / SOUND + fills

    def lasts(self, power: Electrical) -> float:
        """Seconds that its own full battery carries it (Peukert, with the figures of the unit's)."""
        return power.model_copy(update={"battery_capacity": self.battery_capacity}).lasts(self.load)

    # -- as part of a plant

    def faults(
        self, functions: Sequence[Function], regulators: Sequence[Regulator], power: Electrical, air: float
    ) -> Iterator[str]:
        """Everything in its declaration that does not fit the plant, each a sentence with the mend."""
        where = f"panel {self.id}: "
        for key, kinds in _ONLY_FOR.items():
            if key in self.model_fields_set and self.supply not in kinds:
                yield (
                    f"{where}'{key}' is read only with supply {' or '.join(kinds)}, and this has {self.supply}; "
                    "take the key out"
                )
        for key, named, known in (
            ("functions", self.functions, [f.id for f in functions]),
            ("regulators", self.regulators, [r.id for r in regulators]),
            ("gauges", self.gauges, list(self.gauges)),
        ):
            for one in dict.fromkeys(named):
                if named.count(one) > 1:
                    yield f"{where}{key} names '{one}' twice; once is enough"
                if one not in known:
                    yield f"{where}{key} names '{one}', which the plant does not have; there are: {', '.join(known)}"
        if self.supply != "unit_battery" and self.regulators:
            yield (
                f"{where}regulators are raised and lowered by solenoids on the unit's battery, and this panel is fed "
                f"by {self.supply}; take regulators out, or feed it from unit_battery"
            )
        if self.electric:
            yield from self._volts(where, power)
        elif (late := self.delay(air)) > MOST_DELAY:
            yield (
                f"{where}an air signal takes {show(late, 's')} through {show(self.length, 'ft')} of "
                f"{show(self.bore, 'in')} tubing, and {show(MOST_DELAY, 's')} is the most; use wider tubing or a "
                "shorter way"
            )

    def _volts(self, where: str, power: Electrical) -> Iterator[str]:
        left = (FULL_VOLTS - PULL_IN) * power.battery_units
        if self.lost >= left:
            yield (
                f"{where}{show(self.length, 'ft')} of cable of {show(self.conductor, 'mm2')} lose "
                f"{show(self.lost, 'V')} at {show(self.load, 'A')}, and a full battery has only {show(left, 'V')} to "
                "spare for the solenoids; use a thicker conductor or a shorter way"
            )

    def declare(self, net: Network) -> None:
        """Add its switch or valve at the unit, which the battery's load depends on."""
        if self.electric:
            what = "charger of its battery" if self.supply == "own_battery" else "supply"
            switch(net, self.feed, f"{self.name}: breaker of its {what}.")
        else:
            hand_valve(net, self.feed, f"{self.name}: valve of its air line.")

    @property
    def feed(self) -> str:
        """The tag of the switch or valve at the unit that feeds it; the panel is dead while that is off."""
        return f"{self.id}.feed"

    def build(
        self,
        net: Network,
        station: str,
        functions: Sequence[Function],
        regulators: Sequence[Regulator],
        ways: Mapping[str, Feed | None],
        power: Electrical,
        air: float,
        interlocks: Mapping[str, Sequence[Guard]],
    ) -> None:
        """Add supply, faults, lamps and orders. It comes last: what it carries is there already.

        ``ways`` tells how each function is fed, ``interlocks`` the checks of each function's commands, by its id.
        ValueError for a gauge that the plant does not have.
        """
        if self.electric:
            self._wired(net, station, power)
        else:
            self._piped(net, station)
        carried = [f for f in functions if f.id in self.functions]
        for function in carried:
            way = ways[function.id]
            if way is not None:
                self._lamps(net, station, function, way)
            by_message = way is not None and "unit" not in way.stations
            delay = 0.0 if by_message else self.delay(air)
            self._orders(net, station, function, delay, tuple(interlocks.get(function.id, ())), by_message)
        for regulator in regulators:
            if regulator.id in self.regulators:
                for do, sign in (("raise", 1.0), ("lower", -1.0)):
                    self._also(net, station, do, regulator.id, self._nudge(regulator, sign))
        self._keys(net, station, any(f.critical for f in carried))
        self._shown(net, station)

    def _wired(self, net: Network, station: str, power: Electrical) -> None:
        i, units, own = self.id, float(power.battery_units), self.supply == "own_battery"
        scale = power.panel_voltage / PANELS
        at_rest = net.variables["battery.bus"]
        reading(net, f"{i}.volts", "V", 0, 160 * scale, f"{self.name}: direct voltage at it.", ("unit", station),
                (108 * scale, 140 * scale), at_rest - self.lost)  # fmt: skip
        state_reading(net, f"{i}.power", ("off", "on"), f"{self.name} has power.", (station,), 1.0)
        net.var(f"{i}.live", 1.0)
        cut = component_fault(
            net, i, "cable_broken", f"{self.name}: cable broken", (f"{i}.volts", f"{i}.power"),
            "It is dark while its breaker is in: use another panel; find and repair the cable.",
        )  # fmt: skip
        bus = self._own_battery(net, units, at_rest, power) if own else "battery.bus"
        net.block(
            by_wire,
            inputs=dict(bus=bus, lost=self.lost, feed=1.0 if own else self.feed, broken=cut, units=units),
            states=dict(live=f"{i}.live"),
            outputs=dict(volts=f"{i}.volts", power=f"{i}.power"),
        )

    def _own_battery(self, net: Network, units: float, at_rest: float, power: Electrical) -> str:
        """A string at the panel, charged from the unit: the name of its voltage."""
        i = self.id
        shows = (f"{i}.volts",)
        failed = component_fault(
            net, i, "charger_failed", f"{self.name}: charger of its battery failed", shows,
            "Its volts are below those of a charged string with AC on: restore or replace the charger.",
        )  # fmt: skip
        weak = component_fault(
            net, i, "weak_cell", f"{self.name}: a cell of its battery is weak", shows,
            "Nothing shows on the charger: take its breaker out and watch the volts; replace the unit.",
        )  # fmt: skip
        reading(net, f"{i}.charge", "%", 0, 100, f"{self.name}: charge left in its battery.", (), None, 1.0)
        for name, unit in (("string", "V"), ("amps", "A"), ("weakest", "V"), ("bus", "V")):
            net.var(f"{i}.{name}", 0.0 if name == "amps" else at_rest, unit)
        net.block(
            battery,
            inputs=dict(
                ac="power.ac",
                breaker=self.feed,
                charger=failed,
                weak=weak,
                open_circuit=0.0,
                load=self.load,
                drain=PERIOD / self.lasts(power),
                gain=PERIOD * self.charger / self.battery_capacity,
                most=self.charger,
                units=units,
            ),
            states=dict(charge=f"{i}.charge"),
            outputs=dict(volts=f"{i}.string", **under(i, "amps", "weakest", "bus")),
            gate=SECOND,
        )
        return f"{i}.bus"

    def _piped(self, net: Network, station: str) -> None:
        i = self.id
        reading(net, f"{i}.air", "psi", 0, 200, f"{self.name}: rig air at it.", ("unit", station), (85, 130),
                net.variables["air.p"])  # fmt: skip
        state_reading(net, f"{i}.power", ("off", "on"), f"{self.name} has air.", (station,), 1.0)
        parted = component_fault(
            net, i, "line_parted", f"{self.name}: air line parted or frozen", (f"{i}.air", f"{i}.power"),
            "Rig air is normal and the panel has none: shut its valve at the unit, use another panel, repair the line.",
        )  # fmt: skip
        net.block(
            by_air,
            inputs=dict(supply="air.p", feed=self.feed, parted=parted, needed=AIR_NEEDED),
            outputs=dict(air=f"{i}.air", power=f"{i}.power"),
        )

    def lamp(self, function: str, way: str) -> str:
        """The reading of its lamp of a function: open, block or close."""
        return f"{self.id}.{function}_{way}"

    def _lamps(self, net: Network, station: str, function: Function, feed: Feed) -> None:
        by = "by pressure switch at the unit" if "unit" in feed.stations else feed.lamp_by
        for way in ("open", "block", "close"):
            meaning = f"{self.name}: {function.name}, {way} lamp, {by}."
            state_reading(net, self.lamp(function.id, way), ("off", "on"), meaning, (station,))
        near_open, near_close = feed.switches(net, function)
        net.block(
            lamps,
            inputs=dict(
                near_open=near_open,
                near_close=near_close,
                power=f"{self.id}.power",
                test="driller.lamp_test" if self.electric else 0.0,
                burnt=0.0,
                stuck=function.fault("switch_stuck"),
                dead=function.fault("switch_dead"),
            ),
            outputs={f"lamp_{way}": self.lamp(function.id, way) for way in ("open", "block", "close")},
            rate="observe",
        )

    def _orders(
        self,
        net: Network,
        station: str,
        function: Function,
        delay: float,
        interlocks: Sequence[Guard],
        by_message: bool,
    ) -> None:
        """An order for a function: given at the panel, carried out at its valve once it has come there.

        ``by_message``: it is sent to the pods, and takes no air and no solenoid on deck.
        """
        i, f = self.id, function.id
        order, left = net.var(f"{i}.{f}.order"), net.var(f"{i}.{f}.left", 0.0, "s")
        net.block(
            arrives,
            inputs=dict(
                fresh=STIR,
                needed=AIR_NEEDED,
                live=f"{i}.live" if self.electric else f"{i}.power",
                air=ALWAYS_AIR if by_message else ("boxes.air" if self.electric else f"{i}.air"),
                stuck=0.0 if by_message else function.fault("valve_stuck"),
                dead=function.fault("solenoid_dead") if self.electric and not by_message else 0.0,
                locked="eds.running" if "eds.running" in net.variables else 0.0,
            ),
            states=dict(order=order, left=left, valve=f"{f}.valve", stir="functions.stir"),
            gate=order,
        )

        def allowed(machine: Variables, command: Order) -> Refusal | None:
            return function.refuses(machine, command, self._dead(machine, f"work {function.name.lower()}"))

        def give(machine: Variables, command: Order) -> Refusal | None:
            for check in (allowed, *interlocks):
                refusal = check(machine, command)
                if refusal:
                    return refusal
            if command.value not in WAYS:
                return Refusal("out_of_range", f"'{f}' takes {', '.join(WAYS)}, not {command.value!r}.")
            way = float(WAYS.index(str(command.value)))
            machine.put(f"{f}.wanted", way)
            machine.put(order, way + 1.0)
            machine.put(left, delay)
            if not by_message:
                machine.put("air.puffs", machine.read("air.puffs") + 1.0)
            return None

        self._also(net, station, "set", f, give)

    def _dead(self, machine: Variables, instead: str) -> Refusal | None:
        """Why nothing can be done at it while its supply is away."""
        if machine.read(f"{self.id}.power") > 0.5:
            return None
        none = "has no power" if self.electric else "has no air"
        return Refusal("no_power", f"{self.name} {none}: {instead} from another panel or at the control unit.")

    def _nudge(self, regulator: Regulator, sign: float) -> Effect:
        def effect(machine: Variables, command: Order) -> Refusal | None:
            refusal = regulator.set_elsewhere(machine, command) or self._dead(machine, "work the regulator")
            return refusal or regulator.nudge(machine, command, sign)

        return effect

    def _keys(self, net: Network, station: str, critical: bool) -> None:
        """Its enable push, lamp test, acknowledge and silence: the alarms' own, worked by its supply."""
        wanted = {"driller.enable": critical, "driller.lamp_test": self.electric}
        wanted |= dict.fromkeys(("alarms.acknowledge", "alarms.silence"), self.warnings)
        for target in (target for target, has in wanted.items() if has):

            def press(machine: Variables, command: Order, target: str = target) -> Refusal | None:
                dead = self._dead(machine, "press it")
                if dead is None:
                    machine.put(target, _PRESSES[target])
                return dead

            self._also(net, station, "push", target, press)
        if critical and ("set", "driller.enable") in net.operables:

            def hold(machine: Variables, command: Order) -> Refusal | None:
                return self._dead(machine, "hold it") or hold_enable(machine, command)

            self._also(net, station, "set", "driller.enable", hold)

    def _also(self, net: Network, station: str, do: str, target: str, here: Effect) -> None:
        """Let a command be given at this panel too, where it has an effect of its own."""
        operable, elsewhere = net.operables[do, target], net.effects[do, target]

        def effect(machine: Variables, command: Order) -> Refusal | None:
            return here(machine, command) if command.from_ == station else elsewhere(machine, command)

        net.operable(replace(operable, station=(*operable.station, station)), effect)

    def _shown(self, net: Network, station: str) -> None:
        """Show its gauges, and with warning lamps the alarms that the toolpusher's panel has."""
        unknown = [tag for tag in self.gauges if tag not in net.signals or not net.signals[tag].station]
        if unknown:
            raise ValueError(
                f"panel {self.id}: gauges names '{unknown[0]}', which no instrument of the plant shows; "
                "'trainer signals' lists them"
            )
        shown = {*self.gauges, *(f"{regulator}.authority" for regulator in self.regulators)}
        shown |= {f"{function}.answer" for function in self.functions}
        if self.warnings:
            shown |= {
                tag for tag, signal in net.signals.items() if tag.startswith("alarm.") and "remote" in signal.station
            }
            shown.add("alarms.horn")
        if station in net.operables["push", "driller.enable"].station:
            shown.add("driller.enabled")
        for tag, signal in net.signals.items():
            if tag in shown and station not in signal.station:
                net.signals[tag] = replace(signal, station=(*signal.station, station))


_PRESSES: Final[Mapping[str, float]] = {
    "driller.enable": ENABLE_SECONDS,
    "driller.lamp_test": TEST_SECONDS,
    "alarms.acknowledge": 1.0,
    "alarms.silence": 1.0,
}
"""What a press of each key puts."""


def loads(panels: Sequence[Panel]) -> list[tuple[str, float]]:
    """What hangs on the unit's battery: the tag of each panel's breaker, and its load, A."""
    return [(panel.feed, panel.load) for panel in panels if panel.supply == "unit_battery"]


@gives("volts", "power", "live")
def by_wire(
    bus: Voltage, lost: Voltage, feed: Number, broken: Number, units: Number, live: Number
) -> tuple[Voltage, Number, Number]:
    """Volts at a panel behind its cable, whether it has power, and whether the solenoid valves answer it.

    They do as for the other panels.
    """
    volts = max(bus - lost, 0.0) if feed > 0.5 and broken <= 0.0 else 0.0
    return volts, (1.0 if volts > units * CUT_OUT else 0.0), solenoids(volts, live, units)


@gives("air", "power")
def by_air(supply: Pressure, feed: Number, parted: Number, needed: Pressure) -> tuple[Pressure, Number]:
    """Rig air at a panel, Pa gauge, and whether it is enough to shift a valve's cylinder."""
    air = supply * (1.0 - parted) if feed > 0.5 else 0.0
    return air, (1.0 if air > needed else 0.0)


@gives("order", "left", "valve", "stir")
def arrives(
    order: Number,
    left: Seconds,
    valve: Number,
    stir: Seconds,
    fresh: Seconds,
    needed: Pressure,
    live: Number,
    air: Pressure,
    stuck: Number,
    dead: Number,
    locked: Number,
) -> tuple[Number, Seconds, Number, Seconds]:
    """An order under way (its way and one more; 0 for none) and the seconds it has to go, after a scan.

    Once there it moves the surface valve, unless valve, solenoid, air or voltage fail, or a sequence holds the panels
    off: then nothing happens, and nobody says so.
    """
    there = left <= SCAN * 1.0e-3
    works = live > 0.5 and air >= needed and stuck <= 0.0 and dead <= 0.0 and locked < 0.5
    moves = there and works
    return (
        (0.0 if there else order),
        max(left - SCAN, 0.0),
        (order - 1.0 if moves else valve),
        (fresh if moves else stir),
    )
