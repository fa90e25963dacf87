"""A whole plant: its declaration, read from a plant file, and its assembly into a network and a running machine."""

from __future__ import annotations

import tomllib
from functools import cached_property
from pathlib import Path
from typing import Any

from pydantic import Field, ValidationError, model_validator

from trainer import resources
from trainer.hydraulics.machine import Machine, file_hash
from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import ATMOSPHERE, Fixed
from trainer.plant.accumulators import Bank
from trainer.plant.air import Air
from trainer.plant.alarms import build_alarms
from trainer.plant.base import PSI, Part, keep_known
from trainer.plant.bore import build_bore
from trainer.plant.drill_floor import DrillFloor
from trainer.plant.electrical import Electrical
from trainer.plant.filters import Filter
from trainer.plant.functions import Function, Surroundings, build_stir
from trainer.plant.handwork import build_pace
from trainer.plant.manifold import Supply
from trainer.plant.pods import Pod, build_stack_bottles
from trainer.plant.pumps import Pump
from trainer.plant.regulators import SURFACE_PILOT, Regulator
from trainer.plant.reservoir import Reservoir
from trainer.plant.selector import build_selector
from trainer.plant.umbilical import Umbilical
from trainer.plant.well import Well
from trainer.units import Density, Fraction, Length, Pressure, Temperature, Viscosity

GRAVITY = 9.80665
SEAWATER = 1027.0


class ControlFluid(Part):
    """The control fluid as mixed."""

    density: Density
    bulk_modulus: Pressure
    viscosity: Viscosity
    concentrate: Fraction
    glycol: Fraction


class Plant(Part):
    """Everything that a plant file declares."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_-]*$", max_length=40)
    title: str = Field(max_length=60)
    rig: str = ""
    well_name: str = ""
    note: str = ""
    subsea: bool
    water_depth: Length
    surface_temperature: Temperature
    sea_temperature: Temperature
    fluid: ControlFluid
    reservoir: Reservoir
    pump: tuple[Pump, ...] = Field(min_length=1)
    filter: tuple[Filter, ...] = Field(min_length=1)
    supply: Supply
    bank: tuple[Bank, ...] = Field(min_length=1)
    regulator: tuple[Regulator, ...]
    umbilical: Umbilical
    pod: tuple[Pod, ...] = Field(min_length=2, max_length=2)
    function: tuple[Function, ...] = Field(min_length=1)
    well: Well
    floor: DrillFloor = DrillFloor()
    electrical: Electrical
    air: Air

    @model_validator(mode="after")
    def _unique(self) -> Plant:
        seen: set[str] = set()
        parts: list[Any] = [*self.pump, *self.filter, *self.bank, *self.regulator, *self.pod, *self.function]
        for part in parts:
            if part.id in seen:
                raise ValueError(f"two parts are called '{part.id}'; give one of them another id")
            seen.add(part.id)
        return self

    @cached_property
    def head(self) -> float:
        """Pressure of the control-fluid column from the unit to the sea floor, Pa."""
        return self.fluid.density * GRAVITY * self.water_depth

    @cached_property
    def sea(self) -> float:
        """Absolute pressure of the sea at the stack, Pa."""
        return ATMOSPHERE + SEAWATER * GRAVITY * self.water_depth

    @property
    def pods(self) -> tuple[str, str]:
        """Ids of the two pods."""
        return self.pod[0].id, self.pod[1].id

    def network(self, net: Network | None = None) -> Network:
        """Assemble the network: unit first, then what hangs from it, the stack and the well."""
        net = net or Network()
        start = self.supply.working_pressure + ATMOSPHERE
        net.var("ambient.surface", self.surface_temperature)
        net.var("ambient.sea", self.sea_temperature)
        net.node("sea", Fixed(self.sea))
        build_pace(net)
        self.electrical.build(net)
        self.air.build(net, [p.id for p in self.pump if p.drive == "air"])
        self.reservoir.build(net, (self.fluid.concentrate, self.fluid.glycol), self.surface_temperature)
        dual = len({bank.header for bank in self.bank if bank.place == "surface"}) > 1
        pilot_filter = next((f.id for f in self.filter if f.place == "pilot"), "")
        self.supply.build(net, start, pilot_filter, dual)
        for pump in self.pump:
            pump.build(net)
        for element in self.filter:
            element.build(net)
        for bank in self.bank:
            if bank.place == "surface":
                bank.build(net, "header", "ambient.surface", self.surface_temperature, start, dual)
            elif bank.place == "pilot":
                bank.build(net, "pilot_supply", "ambient.surface", self.surface_temperature, start)
        serves: dict[str, Regulator] = {r.serves: r for r in self.regulator if r.in_pod}
        for pod in self.pod:
            pod.build(net, self.umbilical, self.fluid.density, self.head, start, serves)
        build_selector(net)
        for bank in self.bank:
            if bank.place == "stack":
                build_stack_bottles(net, bank, self.sea_temperature, start + self.head, self.pods)
        for regulator in self.regulator:
            if regulator.serves == SURFACE_PILOT:
                regulator.build(net, 0.0, ["pilot"])
                continue
            end = regulator.serves if regulator.in_pod else "supply"
            regulator.build(net, self.head, [f"pod_{pod}.{end}" for pod in self.pods])
        around = Surroundings(
            self.pods,
            self.umbilical.pilot_volume(),
            self.umbilical.pilot_modulus,
            self.umbilical.pilot_g(self.fluid.viscosity),
            self.head,
            self.sea,
            {name: regulator.set + ATMOSPHERE + self.head for name, regulator in serves.items()},
        )
        build_stir(net)
        for function in self.function:
            function.build(net, around)
        build_bore(net, list(self.function))
        self.floor.build(net, self)
        self.well.build(net, self)
        build_alarms(net, 2400 * PSI, 2200 * PSI, self.air.low_alarm)
        keep_known(net)
        return net


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
        return Plant.model_validate(tomllib.loads(data.decode("utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise PlantError(f"{where}: not a TOML file: {error}") from None
    except ValidationError as error:
        lines = [
            f"{where}: {'.'.join(str(p) for p in e['loc']) or 'plant'}: {e['msg'].removeprefix('Value error, ')}"
            for e in error.errors(include_url=False)
        ]
        raise PlantError("\n".join(lines)) from None


def plant_path(plant_id: str) -> Path:
    """Where a shipped plant's file lies; PlantError lists those there are."""
    known = plant_ids()
    if plant_id not in known:
        raise PlantError(f"there is no plant '{plant_id}'; there are: {', '.join(known)}")
    return resources.assets() / "plants" / f"{plant_id}.toml"


def plant_ids() -> list[str]:
    """Ids of the shipped plants."""
    return sorted(p.stem for p in (resources.assets() / "plants").glob("*.toml"))


def load_plant(plant_id: str) -> tuple[Plant, str]:
    """A shipped plant by its id, and its hash."""
    return read_plant(plant_path(plant_id))


def build_machine(plant: Plant, plant_hash: str = "") -> Machine:
    """A machine of the plant, at its charged rest."""
    machine = Machine(plant.network(), plant_hash)
    machine.starts = plant.well.starts(plant)
    return machine
