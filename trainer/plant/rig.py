"""A whole plant: its declaration, read from a plant file, and its assembly into a network and a running machine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property, partial
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import Field, ValidationError, model_validator

from trainer import resources, toml
from trainer.constants import ATMOSPHERE, GRAVITY, SEA_WATER
from trainer.fluids.control_fluid import mix_viscosity
from trainer.hydraulics.machine import Machine, file_hash
from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import Fixed
from trainer.plant import plant_checks
from trainer.plant.accumulators import Bank
from trainer.plant.air import Air
from trainer.plant.alarms import build_alarms
from trainer.plant.base import PSI, Guard, Part, keep_known
from trainer.plant.bore import build_bore, declare_bore
from trainer.plant.direct import Direct, Hoses, build_direct
from trainer.plant.disconnect import Disconnect
from trainer.plant.diverter import Diverter
from trainer.plant.drill_floor import DrillFloor
from trainer.plant.electrical import Electrical
from trainer.plant.figures import figure
from trainer.plant.filters import Filter
from trainer.plant.flex_joint import FLEX_JOINT, FlexJoint
from trainer.plant.function_mechanics import Bench, build_mechanics, locked_by
from trainer.plant.functions import CHAMBER_WALLS, Feed, Function, build_stirs
from trainer.plant.handwork import build_pace
from trainer.plant.hang_off import build_hang_off
from trainer.plant.manifold import Supply, stiff
from trainer.plant.piloted import Piloted, build_joints
from trainer.plant.pods import PODS, Pod, build_stack_bottles
from trainer.plant.pressure_test import TestUnit
from trainer.plant.pumps import Pump
from trainer.plant.regulators import SURFACE_PILOT, Regulator
from trainer.plant.reservoir import Reservoir
from trainer.plant.sections import build_sections, declare_sections
from trainer.plant.selector import Selector
from trainer.plant.space_out import build_pipe_stirs
from trainer.plant.umbilical import Umbilical
from trainer.plant.well import Well
from trainer.plant.well_alarms import build_well_alarms
from trainer.plant.well_geometry import circle
from trainer.plant.windows import build_windows
from trainer.units import Density, Fraction, Length, Pressure, Temperature, Viscosity, between, from_unit

AnyMachine = TypeVar("AnyMachine", bound=Machine)
WARM = from_unit(70.0, "degF")
"""Temperature at which a plant file gives the viscosity of its control fluid: a shop's. Common practice."""


class ControlFluid(Part):
    """The control fluid as mixed."""

    density: Annotated[Density, between("900 kg/m3", "1300 kg/m3")]
    bulk_modulus: Annotated[Pressure, between("500 MPa", "4000 MPa")]
    viscosity: Annotated[Viscosity, between("0.3 cP", "100 cP")]
    concentrate: Annotated[Fraction, between("0 %", "30 %")]
    glycol: Annotated[Fraction, between("0 %", "60 %")]


class Plant(Part):
    """Everything that a plant file declares."""

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
    condition: dict[str, Annotated[Fraction, between("0 %", "100 %")]] = Field(default_factory=dict)
    """Faults that the plant stands with, each with its severity: what a test of the real rig has found."""

    @model_validator(mode="after")
    def _whole(self) -> Plant:
        faults = plant_checks.faults_of(self)
        if faults:
            raise ValueError("\n".join(faults))
        return self

    @cached_property
    def head(self) -> float:
        """Pressure of the control-fluid column from the unit to the stack, Pa: none for a stack at the surface."""
        if not self.subsea:
            return 0.0
        return self.fluid.density * GRAVITY * self.water_depth

    @cached_property
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
    def modulus(self) -> float:
        """Modulus of the control fluid in steel, Pa."""
        return stiff(self.fluid.bulk_modulus)

    @property
    def pods(self) -> tuple[str, ...]:
        """Ids of the pods; empty for direct hydraulics."""
        return tuple(pod.id for pod in self.pod)

    def piloted(self, function: Function) -> bool:
        """Whether a function is fed through the pods, or else straight from the unit."""
        return bool(self.pod) and function.place != "diverter"

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
        self._stack(net, start)
        self.floor.build(net, self)
        self.well.build(net, self)
        build_well_alarms(net)
        build_alarms(net, 2400 * PSI, 2200 * PSI, self.air.low_alarm)
        keep_known(net)
        return net

    @property
    def _has_pilot(self) -> bool:
        return any(r.serves == SURFACE_PILOT for r in self.regulator)

    def _unit(self, net: Network, start: float) -> None:
        """What stands on deck."""
        self.electrical.build(net)
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

    def _below(self, net: Network, start: float) -> None:
        """Regulators, pods and their lines."""
        serves = {r.serves: r for r in self.regulator if r.in_pod}
        if self.umbilical is not None:
            cold = self.viscosity(self.sea_temperature)
            for pod in self.pod:
                live = pod is self.pod[0]
                pod.build(
                    net, self.umbilical, self.fluid.density, cold, self.modulus, self.head, start, serves, live
                )  # fmt: skip
            self.selector.build(net, self.pods)
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
                regulator.build(net, self.head, [f"pod_{pod}.{regulator.serves}" for pod in self.pods])

    def _feeds(self, start: float) -> tuple[Feed | None, Feed | None]:
        """The ways by which functions are fed: through the pods, and by hoses from the unit."""
        piloted, direct = None, None
        if self.umbilical is not None:
            held = {r.serves: r.set + ATMOSPHERE + self.head for r in self.regulator if r.in_pod}
            cold = self.viscosity(self.sea_temperature)
            chamber = stiff(self.fluid.bulk_modulus, CHAMBER_WALLS)
            held["supply"] = start + self.head
            piloted = Piloted(
                self.pod, self.umbilical, self.fluid.density, cold, chamber, self.head, self.sea, held
            )  # fmt: skip
        if self.hoses is not None:
            held = {r.serves: r.set + ATMOSPHERE for r in self.regulator if r.place == "unit"}
            warm = self.viscosity(self.surface_temperature)
            direct = Direct(self.hoses, self.fluid.density, warm, ATMOSPHERE, held)
        return piloted, direct

    def _stack(self, net: Network, start: float) -> None:
        """Functions, what they do to the bore, the disconnect sequence and the diverter."""
        piloted, direct = self._feeds(start)
        declare_bore(net)
        declare_sections(net, self.function, ATMOSPHERE + self.well.gradient * self.well.stack_at(self))
        build_stirs(net)
        build_pipe_stirs(net)
        if self.pod:
            build_joints(net, self.pods, {pod: c for pod in self.pods if (c := self.connector(pod))})
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
        build_bore(net, self.function, self.connector("riser"), self.connector("wellhead"))
        build_hang_off(net, self.function, self.floor.joint_length, self.floor.tool_joint)
        floor = self.floor
        build_windows(net, self.function, floor.joint_length, floor.tool_joint, floor.heave, floor.top_of_travel)
        soft, fall = 1.0 / self.well.mud_bulk_modulus, GRAVITY * self.well.stack_at(self)
        build_sections(net, self.function, circle(self.well.bore), soft, fall)
        if self.test is not None:
            self.test.build(net, self.function)
        if self.disconnect is not None:
            self.disconnect.build(net)
        if self.diverter is not None:
            self.diverter.build(net, interlocks)


class PlantError(ValueError):
    """A plant file that cannot be used; one line a fault, each with its key path and how to mend it."""


def read_plant(path: Path) -> tuple[Plant, str]:
    """A plant file's declaration and its hash; PlantError tells everything wrong with it."""
    try:
        data = path.read_bytes()
        return parse_plant(data, path.name), file_hash(data)
    except OSError as error:
        raise PlantError(f"{path}: cannot be read ({error.strerror})") from None


def parse_plant(data: bytes, where: str) -> Plant:
    """A declaration from the bytes of a plant file."""
    if len(data) > 1_000_000:
        raise PlantError(f"{where}: a plant file is at most 1 MB")
    try:
        return plant_of(toml.loads(data.decode("utf-8")), where)
    except PlantError:
        raise
    except ValueError as error:
        raise PlantError(f"{where}: not a TOML file: {error}") from None


def plant_of(data: Mapping[str, Any], where: str) -> Plant:
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
    """Ids of the shipped plants."""
    return sorted(p.stem for p in (resources.assets() / "plants").glob("*.toml"))


def load_plant(plant_id: str) -> tuple[Plant, str]:
    """A plant by its id, shipped or one's own, and its hash."""
    return read_plant(plant_path(plant_id))


def build_machine(plant: Plant, plant_hash: str = "") -> Machine:
    """A machine of the plant, at its charged rest."""
    return fit_out(Machine(plant.network(), plant_hash), plant)


def fit_out(machine: AnyMachine, plant: Plant) -> AnyMachine:
    """The plant's named starts, and the condition that it stands with, given to a machine just made of it."""
    well = plant.well
    machine.starts, machine.depths = well.starts(plant), well.depths
    machine.start_at = partial(well.start_at, plant)
    kinds = dict.fromkeys(function.kind for function in plant.function)
    machine.kinds = {kind: tuple(f.id for f in plant.function if f.kind == kind) for kind in kinds}
    machine.figures = partial(figure, plant)
    for fault, severity in plant.condition.items():
        if fault not in machine.faults:
            raise PlantError(f"condition.{fault}: the plant has no such fault")
        machine.set_fault(fault, severity)
    return machine
