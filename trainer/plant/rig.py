"""A whole plant: its declaration, read from a plant file, and its assembly into a network and a running machine."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache, partial
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, TypeVar, get_args, get_origin

from pydantic import Field, ValidationError, model_validator

from trainer import resources, toml
from trainer.constants import ATMOSPHERE, GRAVITY, SEA_WATER
from trainer.fluids.control_fluid import mix_viscosity
from trainer.hydraulics.compile import check_wiring
from trainer.hydraulics.machine import Machine, file_hash
from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import Fixed
from trainer.plant.accumulators import Bank
from trainer.plant.acoustic import BOAT, Acoustic
from trainer.plant.air import Air
from trainer.plant.alarms import build_alarms
from trainer.plant.attachments import Attachments
from trainer.plant.base import PSI, Component, Guard, Part, keep_known
from trainer.plant.bore import build_bore, declare_bore
from trainer.plant.conduits import Conduits
from trainer.plant.direct import Direct, Hoses, build_direct
from trainer.plant.disconnect import Disconnect
from trainer.plant.diverter import Diverter
from trainer.plant.drill_floor import DrillFloor
from trainer.plant.electrical import Electrical
from trainer.plant.emergency import Emergency
from trainer.plant.figures import figure
from trainer.plant.filters import Filter
from trainer.plant.flex_joint import FLEX_JOINT, FlexJoint
from trainer.plant.function_mechanics import Bench, build_mechanics, locked_by
from trainer.plant.functions import CHAMBER_WALLS, Feed, Function, build_stirs
from trainer.plant.handwork import build_pace
from trainer.plant.hang_off import build_hang_off
from trainer.plant.manifold import Supply, stiff
from trainer.plant.multiplexed import Multiplexed
from trainer.plant.panels import STATIONS, Panel, loads
from trainer.plant.piloted import Piloted
from trainer.plant.pod_fed import build_joints
from trainer.plant.pod_meters import build_pod_meter
from trainer.plant.pods import PODS, Pod, SupplyLine, build_stack_bottles
from trainer.plant.position import Position
from trainer.plant.pressure_test import TestUnit
from trainer.plant.pumps import PUMP_EFFICIENCY, Pump
from trainer.plant.regulators import SURFACE_PILOT, Regulator
from trainer.plant.reservoir import Reservoir
from trainer.plant.rov import Rov
from trainer.plant.sections import build_sections, declare_sections
from trainer.plant.selector import Selector
from trainer.plant.sequences import build_sequences
from trainer.plant.space_out import build_pipe_stirs
from trainer.plant.telemetry import Telemetry
from trainer.plant.umbilical import Umbilical
from trainer.plant.well import Well
from trainer.plant.well_alarms import build_well_alarms
from trainer.plant.well_geometry import circle
from trainer.plant.windows import build_windows
from trainer.plant.workshop import build_workshop
from trainer.units import Density, Fraction, Length, Pressure, Temperature, Viscosity, between, from_unit, show

MOST_PUMPS = 6
"""Pumps: what the panel has room for."""
MOST_BANKS = 8
"""Banks of bottles: what the drawing has room for."""
MOST_STACK_BANKS = 3
"""Banks on the stack: what the drawing has room for."""
MOST_FUNCTIONS = 60
"""Functions: more than any stack has."""
USUAL = 3000
"""psi: the working pressure for which the alarms of low pressure are given; others have the same share of theirs."""
RELIEF_ABOVE = 1.25
"""A relief valve set higher above working pressure than this protects nothing. Common practice is 1.1."""
PANEL_HOLD_IN, PANEL_MOST = 0.7, 1.2
"""Shares of the panels' voltage: below the first their solenoids drop out, the other is the most they take."""
COLDER_THAN_SEA = 40.0
"""K that the weather over a subsea stack may be colder than the sea: one of the two has the wrong unit beyond."""
UNIT_VOLTS = 12.0
"""One lead-acid battery unit, V."""
LEAST_OPEN_HOLE = 30.0
"""Hole drilled below the shoe, m: less cannot take an influx."""

# Keys that only functions of some kinds read. Given for another kind they would do nothing.
_ONLY_FOR: dict[str, tuple[str, ...]] = {
    "closing_ratio": ("pipe_ram", "shear_ram"),
    "opening_ratio": ("pipe_ram", "shear_ram"),
    "below": ("annular", "pipe_ram", "shear_ram", "failsafe_valve", "valve"),
    "bears": ("pipe_ram",),
    "block_height": ("annular", "pipe_ram", "shear_ram"),
    "seals": ("pipe_ram", "shear_ram"),
    "collar_factor": ("shear_ram",),
    "shear_pressure": ("shear_ram",),
    "spring": ("failsafe_valve",),
    "line": ("failsafe_valve", "valve"),
    "locks": ("lock",),
    "joins": ("connector",),
    "isolates": ("valve",),
    "releases": ("unlatch",),
}


def faults_of(plant: Plant) -> list[str]:
    """Everything that does not fit together, or nothing. Each is a sentence: where, what contradicts what, the mend."""
    return [
        *_ids(plant),
        *_control(plant),
        *_functions(plant),
        *_sequences(plant),
        *_pressures(plant),
        *_regulators(plant),
        *_fluid(plant),
        *_well_lines(plant),
        *_supplies(plant),
        *_panels(plant),
        *_hole(plant),
        *_mud(plant),
        *_floor(plant),
        *_shear(plant),
        *_heights(plant),
    ]


def _psi(value: float) -> str:
    return show(value, "psi")


def _ladder(where: str, unit: str, *steps: tuple[str, float], equal: bool = False) -> Iterator[str]:
    """A fault for each neighbouring pair of (name, SI value) that does not rise."""
    for (lower, low), (upper, high) in pairwise(steps):
        if low > high or (low == high and not equal):
            than = "no more than" if equal else "less than"
            yield (
                f"{where}{lower} is {show(low, unit)} and {upper} {show(high, unit)}; {lower} must be {than} {upper}"
            )


def _pressures(plant: Plant) -> Iterator[str]:
    """The ladder: precharge < pump start < pump stop <= working pressure < relief."""
    supply = plant.supply
    yield from _ladder("supply: ", "psi", ("working_pressure", supply.working_pressure),
                       ("relief_pressure", supply.relief_pressure))  # fmt: skip
    if supply.relief_pressure > RELIEF_ABOVE * supply.working_pressure:
        yield (
            f"supply: relief_pressure {_psi(supply.relief_pressure)} is more than {RELIEF_ABOVE:g} times the working "
            f"pressure {_psi(supply.working_pressure)} and protects nothing; lower it"
        )
    for pump in plant.pump:
        where = f"pump {pump.id}: "
        yield from _ladder(where, "psi", ("start_pressure", pump.start_pressure), ("stop_pressure", pump.stop_pressure))
        yield from _ladder(where, "psi", ("stop_pressure", pump.stop_pressure),
                           ("the supply's working_pressure", supply.working_pressure), equal=True)  # fmt: skip
        if pump.drive == "electric":
            yield from _ladder(where, "psi", ("stop_pressure", pump.stop_pressure),
                               ("relief_pressure", pump.relief_pressure))  # fmt: skip
    lowest = min(pump.start_pressure for pump in plant.pump)
    for bank in plant.bank:
        where = f"bank {bank.id}: "
        # The head of the control line adds to what the pumps give at a stack bottle.
        head = plant.head if bank.place == "stack" else 0.0
        if bank.precharge >= lowest + head:
            yield (
                f"{where}precharge {_psi(bank.precharge)} is not below the {_psi(lowest + head)} at which the pumps "
                "start: the bottles would hold no fluid; lower the precharge"
            )
        if bank.place != "stack":
            yield from _ladder(where, "psi", ("the supply's working_pressure", supply.working_pressure),
                               ("relief_pressure", bank.relief_pressure))  # fmt: skip


def _regulators(plant: Plant) -> Iterator[str]:
    for pod in plant.pod:
        yield from _ladder(f"pod {pod.id}: ", "psi", ("shift_off", pod.shift_off), ("shift_on", pod.shift_on),
                           ("the lowest pump start", min(pump.start_pressure for pump in plant.pump)))  # fmt: skip
    for regulator in plant.regulator:
        where = f"regulator {regulator.id}: "
        yield from _ladder(where, "psi", ("low", regulator.low), ("set", regulator.set), ("high", regulator.high),
                           ("the supply's working_pressure", plant.supply.working_pressure), equal=True)  # fmt: skip


def _fluid(plant: Plant) -> Iterator[str]:
    tank, mix = plant.reservoir, plant.fluid
    if not any(f.in_use for f in plant.filter if f.place == "discharge"):
        yield "filter: no discharge filter is in use, so no pump reaches the bottles; set in_use of one"
    yield from _ladder("reservoir: ", "%", ("low_level", tank.low_level), ("mix_start", tank.mix_start),
                       ("mix_stop", tank.mix_stop))  # fmt: skip
    if mix.concentrate + mix.glycol > 0.7:
        yield (
            f"fluid: concentrate {show(mix.concentrate, '%')} and glycol {show(mix.glycol, '%')} leave too little "
            "water; together they are at most 70 %"
        )
    if plant.subsea and plant.surface_temperature < plant.sea_temperature - COLDER_THAN_SEA:
        yield (
            f"surface_temperature {show(plant.surface_temperature, 'degF')} is more than 72 °F (40 K) below "
            f"sea_temperature {show(plant.sea_temperature, 'degF')}: the sea freezes before that; check both and "
            "their units"
        )


def _well_lines(plant: Plant) -> Iterator[str]:
    line, table = plant.supply_line, "conduits" if plant.umbilical is None else "umbilical"
    if line is not None and line.length < plant.water_depth:
        yield (
            f"{table}: length {show(line.length, 'ft')} does not reach the stack in {show(plant.water_depth, 'ft')} "
            "of water; make it longer"
        )
    if plant.subsea and plant.water_depth <= 0.0:
        yield "water_depth is zero and subsea is true; give the depth, or make the stack a surface one"
    if not plant.subsea and (plant.pod or line is not None):
        yield "subsea is false, and the plant has pods or an umbilical; set subsea to true, or take them out"
    if plant.subsea and plant.well.stack_depth is not None:
        yield "well: stack_depth is for a surface stack; a subsea stack stands on the sea floor, so take the key out"


def _supplies(plant: Plant) -> Iterator[str]:
    """Power and air are enough for what hangs on them."""
    for pump in plant.pump:
        where = f"pump {pump.id}: "
        if pump.drive == "electric":
            needed = pump.rate * pump.stop_pressure / PUMP_EFFICIENCY
            if pump.motor_power < needed:
                yield (
                    f"{where}motor_power {show(pump.motor_power, 'kW')} cannot give {show(pump.rate, 'gpm')} at "
                    f"{_psi(pump.stop_pressure)}, which takes {show(needed, 'kW')} at its shaft; use a larger "
                    "motor or a smaller rate"
                )
        elif pump.bus != "main":
            yield f"{where}bus is read only for electric pumps, and air drives this one; take the key out"
        elif pump.area_ratio * plant.air.supply_pressure <= pump.stop_pressure:
            yield (
                f"{where}area_ratio {pump.area_ratio:g} with {_psi(plant.air.supply_pressure)} of air stalls at "
                f"{_psi(pump.area_ratio * plant.air.supply_pressure)}, below stop_pressure "
                f"{_psi(pump.stop_pressure)}; use a larger ratio or more air"
            )
    yield from _ladder("air: ", "psi", ("low_alarm", plant.air.low_alarm),
                       ("supply_pressure", plant.air.supply_pressure))  # fmt: skip
    power = plant.electrical
    volts, panels = power.battery_units * UNIT_VOLTS, power.panel_voltage
    if not PANEL_HOLD_IN * panels < volts <= PANEL_MOST * panels:
        least, most = int(PANEL_HOLD_IN * panels / UNIT_VOLTS) + 1, int(PANEL_MOST * panels / UNIT_VOLTS)
        units = f"{least} to {most}" if most > least else f"{most}"
        yield (
            f"electrical: {power.battery_units} units of 12 V give {volts:g} V; panels for {panels:g} V need more "
            f"than {PANEL_HOLD_IN * panels:g} V and at most {PANEL_MOST * panels:g} V, so {units} units; "
            "panel_voltage says what the panels are built for"
        )
    for kind, parts, most in (
        ("pump", plant.pump, MOST_PUMPS),
        ("bank", plant.bank, MOST_BANKS),
        ("function", plant.function, MOST_FUNCTIONS),
    ):
        if len(parts) > most:
            yield f"{kind}: a plant has at most {most} of them, and this one has {len(parts)}"


def _panels(plant: Plant) -> Iterator[str]:
    """What further panels carry is there, and their supply reaches them."""
    air = plant.air.supply_pressure
    for panel in plant.panel:
        yield from panel.faults(plant.function, plant.regulator, plant.electrical, air)


def _hole(plant: Plant) -> Iterator[str]:
    """Geometry: pipe within hole within casing within stack, and depths from the floor down."""
    well = plant.well
    yield from _ladder("well: ", "in", ("pipe_inside", well.pipe_inside), ("pipe", well.pipe),
                       ("collar", well.collar), ("hole", well.hole))  # fmt: skip
    yield from _ladder("well: ", "in", ("hole", well.hole), ("casing_inside", well.casing_inside),
                       ("bore", well.bore), ("riser_inside", well.riser_inside), equal=True)  # fmt: skip
    yield from _ladder("well: ", "in", ("choke_bore", well.choke_bore),
                       ("choke_line_inside", well.choke_line_inside), equal=True)  # fmt: skip
    stack = well.stack_at(plant)
    yield from _ladder("well: ", "ft", ("zero", 0.0), ("the stack's depth", stack),
                       ("casing_shoe", well.casing_shoe))  # fmt: skip
    if plant.subsea:
        yield from _ladder("well: ", "ft", ("the sea floor's depth", well.air_gap + plant.water_depth),
                           ("casing_shoe", well.casing_shoe))  # fmt: skip
    yield from _ladder("well: ", "ft", ("casing_shoe and some open hole", well.casing_shoe + LEAST_OPEN_HOLE),
                       ("depth", well.depth), equal=True)  # fmt: skip
    yield from _ladder("well: ", "ft", ("collar_length", well.collar_length),
                       ("the hole below the stack", well.depth - stack))  # fmt: skip


def _mud(plant: Plant) -> Iterator[str]:
    well = plant.well
    yield from _ladder("well: ", "lb/gal", ("mud", well.mud), ("leak_off", well.leak_off))
    yield from _ladder("well: ", "lb/gal", ("formation", well.formation), ("leak_off", well.leak_off))
    yield from _ladder("well: ", "degF", ("the sea's temperature", plant.sea_temperature),
                       ("formation_temperature", well.formation_temperature), equal=True)  # fmt: skip
    yield from _ladder("well: ", "bbl", ("trip_tank_volume", well.trip_tank_volume),
                       ("trip_tank_capacity", well.trip_tank_capacity), equal=True)  # fmt: skip
    yield from _ladder("well: ", "psi", ("annular_loss", well.annular_loss),
                       ("circulating_pressure", well.circulating_pressure),
                       ("pump_relief", well.pump_relief))  # fmt: skip


def _floor(plant: Plant) -> Iterator[str]:
    floor = plant.floor
    yield from _ladder("floor: ", "ft", ("stand_length", floor.stand_length), ("top_of_travel", floor.top_of_travel))
    yield from _ladder("floor: ", "ft", ("hook", floor.hook), ("top_of_travel", floor.top_of_travel), equal=True)


def _shear(plant: Plant) -> Iterator[str]:
    for function in plant.function:
        if function.kind == "shear_ram" and function.shear_pressure >= plant.supply.working_pressure:
            yield (
                f"function {function.id}: shear_pressure {_psi(function.shear_pressure)} is not below the working "
                f"pressure {_psi(plant.supply.working_pressure)}: the ram could never cut; lower it, or use weaker pipe"
            )


def _heights(plant: Plant) -> Iterator[str]:
    """No two preventers stand in the same place."""
    stack = sorted((f for f in plant.function if f.kind in _ONLY_FOR["block_height"]), key=lambda f: f.below)
    for upper, lower in pairwise(stack):
        room = 0.5 * (upper.block_height + lower.block_height)
        if lower.below - upper.below < room:
            yield (
                f"function {lower.id}: below {show(lower.below, 'ft')} stands too near {upper.id}, "
                f"at {show(upper.below, 'ft')}; their blocks need {show(room, 'in')} between their middles"
            )


def _unread(function: Function) -> Iterator[str]:
    """Keys of a function that its kind never reads."""
    for key, kinds in _ONLY_FOR.items():
        if key in function.model_fields_set and function.kind not in kinds:
            yield (
                f"function {function.id}: '{key}' is read only for {' and '.join(kinds)}, and this is "
                f"a {function.kind}; take the key out"
            )


def _ids(plant: Plant) -> list[str]:
    found, seen = [], set()
    for part in (part for kind in plant.kinds() for part in getattr(plant, kind)):
        if part.id in seen:
            found.append(f"two parts are called '{part.id}'; give one of them another id")
        seen.add(part.id)
    return found


def _lines_to_pods(plant: Plant) -> Iterator[str]:
    """Pods are shifted by pilot lines in an umbilical, or by telemetry with conduits for the power fluid."""
    if plant.pod and plant.umbilical is None and plant.conduits is None:
        yield "pods hang on a table [umbilical]"
    if plant.umbilical is not None and not plant.pod:
        yield "an [umbilical] needs tables [[pod]], one to three"
    if (plant.telemetry is None) != (plant.conduits is None):
        yield "[telemetry] and [conduits] belong together: one brings the orders to the pods, the other the fluid"
    if plant.telemetry is None:
        if plant.disconnect is not None and plant.disconnect.sequence:
            yield "[[disconnect.sequence]] is for orders by [telemetry]; without it give [[disconnect.step]]"
        if plant.emergency is not None:
            yield "[emergency] watches the pods' power and signal, and there is no [telemetry]; take it out"
        return
    if plant.umbilical is not None:
        yield "[umbilical] has pilot lines, and [telemetry] needs none; take one of the two out"
    if not plant.pod:
        yield "[telemetry] needs tables [[pod]], one to three"
    if plant.disconnect is not None and plant.disconnect.step:
        yield "[disconnect] works the valves of a control unit on deck, and [telemetry] leaves none; give it sequences"
    for panel in (panel for panel in plant.panel if not panel.electric):
        yield f"panel {panel.id}: rig air sends no messages, and the pods take no other orders; give it another supply"


def _control(plant: Plant) -> list[str]:
    found = [*_lines_to_pods(plant)]
    if plant.pod and tuple(plant.pods) != PODS[: len(plant.pod)]:
        found.append(f"pods are called {', '.join(repr(pod) for pod in PODS)}, in this order; a plant has one to three")
    pilots = any(r.serves == SURFACE_PILOT and r.place == "unit" for r in plant.regulator)
    if plant.pod and not pilots and plant.telemetry is None:
        found.append(f"pods are shifted by pilot pressure: a regulator with place 'unit' must serve '{SURFACE_PILOT}'")
    if not pilots:
        held = [f.id for f in plant.filter if f.place == "pilot"] + [b.id for b in plant.bank if b.place == "pilot"]
        found += [
            f"'{i}' stands in the pilot supply, and no regulator at the unit serves '{SURFACE_PILOT}'" for i in held
        ]
    served = [r.serves for r in plant.regulator]
    found += [
        f"two regulators serve '{name}'; each supply has one" for name in sorted(set(served)) if served.count(name) > 1
    ]
    if sum(b.place == "stack" for b in plant.bank) > MOST_STACK_BANKS:
        found.append(
            f"a stack has at most {MOST_STACK_BANKS} banks of bottles; put some together, or place one at the surface"
        )
    flexes = any(r.serves == FLEX_JOINT and r.in_pod for r in plant.regulator)
    if flexes and plant.flex_joint is None:
        found.append(f"a regulator serves '{FLEX_JOINT}', and there is no table [flex_joint]; add it with its volume")
    if plant.flex_joint is not None and not (flexes and plant.pod):
        found.append(f"[flex_joint] is fed by nothing: a regulator in the pods must serve '{FLEX_JOINT}'")
    if not plant.pod:
        if "selector" in plant.model_fields_set:
            found.append("[selector] is the pods', and there are none; take the table out")
        found += [f"'{b.id}': stack bottles need pods" for b in plant.bank if b.place == "stack"]
        found += [f"'{r.id}' stands in pods, and there are none" for r in plant.regulator if r.place == "pods"]
    return found


def _functions(plant: Plant) -> list[str]:
    found: list[str] = []
    below = {r.serves for r in plant.regulator if r.in_pod} | {"supply"}
    above = {r.serves for r in plant.regulator if r.place == "unit"}
    ids = {f.id: f for f in plant.function}
    banks = {b.id for b in plant.bank}
    joints = {"riser", "wellhead", *plant.pods}
    for function in plant.function:
        found += _unread(function)
        known = below if plant.piloted(function) else above
        if function.supply not in known:
            names = ", ".join(sorted(known)) or "none"
            found.append(f"'{function.id}' is fed from '{function.supply}'; there are: {names}")
        if not plant.piloted(function) and plant.hoses is None:
            found.append(f"'{function.id}' hangs on hoses, and there is no table [hoses]")
        if function.isolates and function.isolates not in banks:
            found.append(f"'{function.id}' isolates '{function.isolates}', which is no bank")
        if function.joins and function.joins not in joints:
            found.append(f"'{function.id}' joins '{function.joins}'; there are: {', '.join(sorted(joints))}")
        if function.kind == "unlatch" and (function.releases not in ids or ids[function.releases].kind != "connector"):
            found.append(f"'{function.id}' releases '{function.releases}', which is no connector")
        for ram in function.locks:
            if ram not in ids or ids[ram].kind not in ("pipe_ram", "shear_ram"):
                found.append(f"'{function.id}' locks '{ram}', which is no ram")
    return found


def _sequences(plant: Plant) -> list[str]:
    found: list[str] = []
    ids = {f.id for f in plant.function}
    if plant.rov is not None:
        found += plant.rov.faults(plant.function)
    if plant.acoustic is not None:
        found += plant.acoustic.faults(plant.function, plant.emergency)
    if plant.position is not None:
        leaves = plant.disconnect.sequence if plant.disconnect is not None else ()
        found += plant.position.faults(leaves, plant.water_depth)
    if plant.emergency is not None:
        found += plant.emergency.faults(plant.function)
    if plant.disconnect is not None:
        found += plant.disconnect.faults(plant.function, plant.regulator)
    if plant.diverter is not None:
        found += [f"[diverter] names '{n}', which is no function" for n in plant.diverter.parts() if n not in ids]
    return found


AnyMachine = TypeVar("AnyMachine", bound=Machine)
WARM = from_unit(70.0, "degF")
"""Temperature at which a plant file gives the viscosity of its control fluid: a shop's. Common practice."""


class ControlFluid(Part):
    """The control fluid as mixed: density in kg/m3, bulk modulus in Pa, viscosity in Pa s, shares of volume from 0 to
    1."""

    density: Annotated[Density, between("900 kg/m3", "1300 kg/m3")]
    bulk_modulus: Annotated[Pressure, between("500 MPa", "4000 MPa")]
    viscosity: Annotated[Viscosity, between("0.3 cP", "100 cP")]
    concentrate: Annotated[Fraction, between("0 %", "30 %")]
    glycol: Annotated[Fraction, between("0 %", "60 %")]


class Plant(Attachments):
    """Everything that a plant file declares: one field a table, in SI; parts in the order of the file."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_-]*$", max_length=40)
    title: str = Field(max_length=60)
    rig: str = ""
    well_name: str = ""
    note: str = ""
    base: str = Field(default="", max_length=40)
    """Id of the plant that this one was fitted from: its drills are tried on this one."""
    subsea: bool
    rated_pressure: Annotated[Pressure, between("1000 psi", "30000 psi")] | None = None
    """Rated working pressure of the preventers; none: planning judges by the highest pressure of this well alone."""
    water_depth: Annotated[Length, between("0 ft", "13000 ft")]
    surface_temperature: Annotated[Temperature, between("-20 degF", "140 degF")]
    sea_temperature: Annotated[Temperature, between("28 degF", "100 degF")]
    fluid: ControlFluid
    reservoir: Reservoir
    pump: tuple[Pump, ...] = Field(min_length=1)
    filter: tuple[Filter, ...] = Field(min_length=1)
    supply: Supply
    bank: tuple[Bank, ...] = Field(min_length=1)
    regulator: tuple[Regulator, ...]
    umbilical: Umbilical | None = None
    conduits: Conduits | None = None
    telemetry: Telemetry | None = None
    emergency: Emergency | None = None
    position: Position | None = None
    acoustic: Acoustic | None = None
    rov: Rov | None = None
    selector: Selector = Selector()
    pod: tuple[Pod, ...] = Field(default=(), max_length=len(PODS))
    flex_joint: FlexJoint | None = None
    hoses: Hoses | None = None
    function: tuple[Function, ...] = Field(min_length=1)
    disconnect: Disconnect | None = None
    diverter: Diverter | None = None
    test: TestUnit | None = None
    well: Well
    floor: DrillFloor = DrillFloor()
    electrical: Electrical
    air: Air
    panel: tuple[Panel, ...] = Field(default=(), max_length=len(STATIONS))
    """Panels beside the driller's and the second: the third, the fourth and the fifth."""
    condition: dict[str, Annotated[Fraction, between("0 %", "100 %")]] = Field(default_factory=dict)
    """Faults that the plant stands with, each with its severity: what a test of the real rig has found."""

    @model_validator(mode="after")
    def _whole(self) -> Plant:
        faults = faults_of(self)
        if faults:
            raise ValueError("\n".join(faults))
        return self

    @property
    def head(self) -> float:
        """Pressure of the control-fluid column from the unit to the stack, Pa: none for a stack at the surface."""
        if not self.subsea:
            return 0.0
        return self.fluid.density * GRAVITY * self.water_depth

    @property
    def sea(self) -> float:
        """Absolute pressure around the stack, Pa: the sea's, or the air's for a stack at the surface."""
        if not self.subsea:
            return ATMOSPHERE
        return ATMOSPHERE + SEA_WATER * GRAVITY * self.water_depth

    def viscosity(self, temperature: float) -> float:
        """Viscosity of the mix, Pa s: the file's, given at ``WARM``, brought to ``temperature`` (K)."""
        warm, there = (mix_viscosity(t, self.fluid.glycol) for t in (WARM, temperature))
        return self.fluid.viscosity * there / warm

    @property
    def supply_line(self) -> Umbilical | Conduits | None:
        """What brings power fluid to the pods, hoses of the umbilical or rigid conduits; None without pods."""
        return self.umbilical or self.conduits

    @property
    def modulus(self) -> float:
        """Effective bulk modulus of the control fluid in steel lines, Pa."""
        return stiff(self.fluid.bulk_modulus)

    @property
    def pods(self) -> tuple[str, ...]:
        """Ids of the pods in the order of the file; empty for direct hydraulics, where hoses reach the stack."""
        return tuple(pod.id for pod in self.pod)

    @classmethod
    def kinds(cls) -> tuple[str, ...]:
        """The tables of which a plant's file has any number, each a component with an id of its own."""
        return tuple(
            name
            for name, field in cls.model_fields.items()
            if get_origin(field.annotation) is tuple and issubclass(get_args(field.annotation)[0], Component)
        )

    @property
    def parts(self) -> dict[str, Component]:
        """Every declared part with an id of its own, by the name that readings, faults and drawings have for it."""
        found: dict[str, Component] = {}
        for field in type(self).model_fields:
            value = getattr(self, field)
            for part in value if isinstance(value, tuple) else (value,):
                if isinstance(part, Component):
                    found[part.known_as] = part
        return found

    @property
    def further(self) -> dict[str, Panel]:
        """The further panels by the ids of their stations, in the order of the file; empty where there are none."""
        return dict(zip(STATIONS, self.panel, strict=False))

    @property
    def apart(self) -> dict[str, float]:
        """Stations that the rig has for what is worked there alone, with the way on foot from the driller's panel, s.

        The ways are invented.
        """
        there = {"workshop": self.telemetry, "bridge": self.position, "vehicle": self.rov, "boat": self.acoustic}
        sound = {BOAT: self.acoustic.walk} if self.acoustic is not None else {}
        ways = {"workshop": 60.0, "bridge": 120.0, "vehicle": 90.0, "boat": 150.0}
        return {station: ways[station] for station, part in there.items() if part is not None} | sound

    @property
    def battery_load(self) -> float:
        """What hangs on the unit's battery, A: its panels, and the further ones that it feeds."""
        load = self.electrical.panel_load
        for _, more in loads(self.panel):
            load += more
        return load

    def piloted(self, function: Function) -> bool:
        """Whether a function is fed through the pods, or else straight from the unit."""
        return bool(self.pod) and function.place != "diverter"

    def ordered(self, function: Function) -> bool:
        """Whether orders for a function are messages to the pods: no lever at the unit works it."""
        return self.telemetry is not None and self.piloted(function)

    def connector(self, place: str) -> str:
        """Id of the connector that joins ``place`` ('riser', 'wellhead' or a pod's id), or an empty string."""
        return next((f.id for f in self.function if f.joins == place), "")

    def network(self, net: Network | None = None) -> Network:
        """Assemble the network: unit first, then what hangs from it, the stack and the well."""
        net = net or Network()
        start = self.supply.working_pressure + ATMOSPHERE
        net.var("ambient.surface", self.surface_temperature, "K")
        net.var("ambient.sea", self.sea_temperature, "K")
        net.node("sea", Fixed(self.sea))
        build_pace(net)
        self._unit(net, start)
        self._below(net, start)
        interlocks = self._stack(net, start)
        self.floor.build(net, self)
        self.well.build(net, self)
        build_well_alarms(net)
        share = round(self.supply.working_pressure / PSI) / USUAL
        build_alarms(net, share * 2400 * PSI, share * 2200 * PSI, self.air.low_alarm, held=self.telemetry is not None)
        ways = self._feeds(start)
        for station, panel in self.further.items():
            fed = {f.id: ways[0 if self.piloted(f) else 1] for f in self.function}
            air = self.air.supply_pressure
            panel.build(net, station, self.function, self.regulator, fed, self.electrical, air, interlocks)
        keep_known(net)
        return net

    @property
    def _has_pilot(self) -> bool:
        return any(r.serves == SURFACE_PILOT for r in self.regulator)

    def _unit(self, net: Network, start: float) -> None:
        """What stands on deck."""
        for panel in self.panel:
            panel.declare(net)
        self.electrical.build(net, loads(self.panel), any(pump.bus != "main" for pump in self.pump))
        self.air.build(net, [p.id for p in self.pump if p.drive == "air"])
        self.reservoir.build(net, (self.fluid.concentrate, self.fluid.glycol), self.surface_temperature)
        dual = len({bank.header for bank in self.bank if bank.place == "surface"}) > 1
        pilot_filter = next((f.id for f in self.filter if f.place == "pilot"), "")
        self.supply.build(net, start, self.modulus, pilot_filter, dual, self._has_pilot)
        for pump in self.pump:
            pump.build(net)
        for element in self.filter:
            element.build(net)
        for bank in self.bank:
            if bank.place == "surface":
                node = f"header_{bank.header}" if dual else "header"
                bank.build(net, node, "ambient.surface", self.surface_temperature, start)
            elif bank.place == "pilot":
                bank.build(net, "pilot_supply", "ambient.surface", self.surface_temperature, start)
        for part in self.attached:
            part.build(net)

    def _below(self, net: Network, start: float) -> None:
        """Regulators, pods and their lines."""
        serves = {r.serves: r for r in self.regulator if r.in_pod}
        line: SupplyLine | None = self.supply_line
        if line is not None:
            cold = self.viscosity(self.sea_temperature)
            for pod in self.pod:
                live = pod is self.pod[0]
                pod.build(
                    net, line, self.fluid.density, cold, self.modulus, self.head, start, serves, live
                )  # fmt: skip
            self.selector.build(net, self.pods)
            if self.telemetry is not None:
                self.telemetry.build(net, self.pods)
            if self.flex_joint is not None:
                self.flex_joint.build(net, self.pods, serves[FLEX_JOINT].set + ATMOSPHERE + self.head)
        bottles = tuple(bank for bank in self.bank if bank.place == "stack")
        build_stack_bottles(net, bottles, self.sea_temperature, start + self.head, self.modulus, self.pods)
        for regulator in self.regulator:
            if regulator.serves == SURFACE_PILOT:
                regulator.build(net, 0.0, ["pilot"])
            elif regulator.place == "unit":
                regulator.build(net, 0.0, [f"direct.{regulator.serves}"])
                build_direct(net, regulator, start, self.modulus)
            else:
                heard = f"{self.telemetry.id}.heard" if self.telemetry is not None else ""
                regulator.build(net, self.head, [f"pod_{pod}.{regulator.serves}" for pod in self.pods], heard)

    def _feeds(self, start: float) -> tuple[Feed | None, Feed | None]:
        """The ways by which functions are fed: through the pods, and by hoses from the unit."""
        piloted: Feed | None = None
        direct: Feed | None = None
        if self.supply_line is not None:
            held = {r.serves: r.set + ATMOSPHERE + self.head for r in self.regulator if r.in_pod}
            chamber = stiff(self.fluid.bulk_modulus, CHAMBER_WALLS)
            held["supply"] = start + self.head
            if self.umbilical is not None:
                piloted = Piloted(
                    valves=self.pod,
                    line=self.umbilical,
                    density=self.fluid.density,
                    viscosity=self.viscosity(self.sea_temperature),
                    modulus=chamber,
                    head=self.head,
                    outside=self.sea,
                    held=held,
                )
            elif self.telemetry is not None:
                piloted = Multiplexed(
                    valves=self.pod, telemetry=self.telemetry, modulus=chamber, outside=self.sea, held=held
                )
        if self.hoses is not None:
            held = {r.serves: r.set + ATMOSPHERE for r in self.regulator if r.place == "unit"}
            warm = self.viscosity(self.surface_temperature)
            direct = Direct(self.hoses, self.fluid.density, warm, ATMOSPHERE, held)
        return piloted, direct

    def _stack(self, net: Network, start: float) -> dict[str, list[Guard]]:
        """Functions, what they do to the bore, disconnect sequence and diverter; gives the interlocks of functions."""
        piloted, direct = self._feeds(start)
        declare_bore(net)
        declare_sections(net, self.function, ATMOSPHERE + self.well.gradient * self.well.stack_at(self))
        build_stirs(net)
        build_pipe_stirs(net)
        if self.pod:
            connectors = {pod: c for pod in self.pods if (c := self.connector(pod))}
            build_joints(net, self.pods, connectors, stingers=self.telemetry is not None)
        if self.telemetry is not None:
            for pod in self.pods:
                lines = [r.serves for r in self.regulator if r.in_pod]
                build_pod_meter(net, pod, lines, f"fault.{self.telemetry.id}.frozen")
        interlocks: dict[str, list[Guard]] = {}
        locks = locked_by(self.function)
        bench = Bench(self.sea, self.floor.joint_length, self.floor.tool_joint)
        for function in self.function:
            feed = piloted if self.piloted(function) else direct
            if feed is None:
                raise ValueError(f"'{function.id}' hangs on hoses, and the plant has no table [hoses]")
            function.build(net, feed, interlocks)
            build_mechanics(net, function, replace(bench, outside=feed.outside), locks)
            function.finish(net, feed)
        if self.telemetry is not None:
            build_workshop(net, [f for f in self.function if self.ordered(f)], self.pods)
        lifts = self.position.declare(net) if self.position is not None and self.disconnect is not None else ""
        build_bore(net, self.function, self.connector("riser"), self.connector("wellhead"), lifts)
        self._backups(net, start)
        build_hang_off(net, self.function, self.floor.joint_length, self.floor.tool_joint)
        floor = self.floor
        build_windows(net, self.function, floor.joint_length, floor.tool_joint, floor.heave, floor.top_of_travel)
        soft, fall = 1.0 / self.well.mud_bulk_modulus, GRAVITY * self.well.stack_at(self)
        build_sections(net, self.function, circle(self.well.bore), soft, fall)
        if self.test is not None:
            self.test.build(net, self.function)
        if self.disconnect is not None and self.disconnect.sequence:
            build_sequences(net, self.disconnect)
        elif self.disconnect is not None:
            self.disconnect.build(net)
        if self.position is not None and self.disconnect is not None:
            self.position.build(net, self.disconnect.sequence, self.water_depth)
        if self.diverter is not None:
            self.diverter.build(net, interlocks)
        return interlocks

    def _backups(self, net: Network, start: float) -> None:
        """What closes the well when the pods are lost: deadman and autoshear, sound, and a vehicle."""
        by_id, walls = {f.id: f for f in self.function}, stiff(self.fluid.bulk_modulus, CHAMBER_WALLS)
        if self.emergency is not None:
            self.emergency.build(
                net,
                by_id,
                self.pods,
                start + self.head,
                self.sea,
                walls,
                self.surface_temperature,
                self.sea_temperature,
            )
            if self.acoustic is not None:
                held = start + self.head
                self.acoustic.build(net, by_id, self.pods, self.emergency, self.sea, held, self.water_depth)
        if self.rov is not None:
            bank = self.emergency.id if self.emergency is not None else ""
            self.rov.build(net, by_id, self.pods, self.sea, walls, bank)


class PlantError(ValueError):
    """A plant file that cannot be used; one line a fault, each with its key path and how to mend it."""


def read_plant(path: Path) -> tuple[Plant, str]:
    """A plant file's declaration and its hash; PlantError tells everything wrong with it."""
    try:
        data = path.read_bytes()
        return parse_plant(data, path.name), file_hash(data)
    except OSError as error:
        raise PlantError(f"{path}: cannot be read ({error.strerror})") from None


@lru_cache(maxsize=8)
def parse_plant(data: bytes, where: str) -> Plant:
    """A declaration from the bytes of a plant file; PlantError tells everything wrong with it. The same bytes of the
    same name give the same object, which nobody may change: reading a rig takes longer than drawing the page that
    names it."""
    if len(data) > 1_000_000:
        raise PlantError(f"{where}: a plant file is at most 1 MB")
    try:
        return plant_of(toml.loads(data.decode("utf-8")), where)
    except PlantError:
        raise
    except ValueError as error:
        raise PlantError(f"{where}: not a TOML file: {error}") from None


def plant_of(data: Mapping[str, object], where: str) -> Plant:
    """A declaration from the data of a plant file; PlantError tells everything wrong with it."""
    try:
        return Plant.model_validate(data)
    except ValidationError as error:
        raise PlantError(
            "\n".join(line for e in error.errors(include_url=False) for line in _lines(e, where))
        ) from None


def _lines(error: Mapping[str, Any], where: str) -> list[str]:
    """One fault of a declaration as lines: file, key path, what is wrong and how to mend it."""
    place = ".".join(str(p) for p in error["loc"])
    if error["type"] == "extra_forbidden":
        return [f"{where}: {place}: nothing reads a key of this name here; check its spelling, or take it out"]
    message = error["msg"].removeprefix("Value error, ")
    # The checks of the whole plant come in one message.
    return [f"{where}: {place or 'plant'}: {one}" for one in (message.split("\n") if not place else [message])]


def plant_path(plant_id: str) -> Path:
    """Where a plant's file lies, shipped or one's own; PlantError lists those there are."""
    known = resources.plant_files()
    if plant_id not in known:
        raise PlantError(f"there is no plant '{plant_id}'; there are: {', '.join(sorted(known))}")
    return known[plant_id]


def plant_ids() -> list[str]:
    """Ids of the shipped plants, which are their files' names, in alphabetical order; without plants of one's own."""
    return sorted(p.stem for p in (resources.assets() / "plants").glob("*.toml"))


def load_plant(plant_id: str) -> tuple[Plant, str]:
    """A plant by its id, shipped or one's own, with the hash of its file; PlantError for none."""
    return read_plant(plant_path(plant_id))


def base_of(name: str) -> Plant | None:
    """The plant called ``name`` that another was fitted from; None where there is none, or none that can be read."""
    try:
        return load_plant(name)[0]
    except PlantError:
        return None


MOST_KEPT = 4
"""Plants whose networks are kept, the last ones; each is some megabytes."""
_kept: list[tuple[Plant, Network]] = []


def _assembled(plant: Plant) -> Network:
    """The network of a plant from a file. All machines of the plant share it: to put it together takes longer than to
    run it for a minute, and what runs is the machine's own."""
    for known, net in _kept:
        if known == plant:
            return net
    net = plant.network()
    check_wiring(net)
    net.finished = net.fingerprint()
    _kept.append((plant, net))
    del _kept[:-MOST_KEPT]
    return net


def build_machine(plant: Plant, plant_hash: str = "") -> Machine:
    """A running plant of the declaration, at its charged rest; PlantError for what shows only when it is built."""
    try:
        return fit_out(Machine(_assembled(plant) if plant_hash else plant.network(), plant_hash), plant)
    except PlantError:
        raise
    except ValueError as error:
        raise PlantError(f"plant: {error}") from error


def fit_out(machine: AnyMachine, plant: Plant) -> AnyMachine:
    """The plant's named starts, and the condition that it stands with, given to a machine just made of it."""
    well = plant.well
    machine.starts, machine.depths = well.starts(plant), well.depths
    machine.start_at = partial(well.start_at, plant)
    kinds = dict.fromkeys(function.kind for function in plant.function)
    machine.kinds = {kind: tuple(f.id for f in plant.function if f.kind == kind) for kind in kinds}
    banks = tuple(bank.id for bank in plant.bank if bank.place == "surface")
    machine.kinds |= {"pump": tuple(pump.id for pump in plant.pump), "bank": banks}
    machine.walks = {station: panel.walk for station, panel in plant.further.items()} | plant.apart
    machine.figures = partial(figure, plant)
    for fault, severity in plant.condition.items():
        if fault not in machine.faults:
            raise PlantError(f"condition.{fault}: the plant has no such fault")
        machine.set_fault(fault, severity)
    return machine
