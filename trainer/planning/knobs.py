"""What calibration may turn on a plant: each knob with its bounds, how it is set, where the plant file has it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trainer.constants import ATMOSPHERE
from trainer.fluids.gas import density
from trainer.hydraulics.machine import Machine
from trainer.planning.errors import PlanningError
from trainer.plant.rig import Plant
from trainer.units import to_unit

DEFAULT_LEAK = "header.leak"


@dataclass(frozen=True)
class Knob:
    """A quantity to fit: SI value at the start, bounds, unit for people, and how a plant gets it.

    ``places`` are where it stands in the plant file.
    """

    name: str
    title: str
    start: float
    low: float
    high: float
    unit: str
    turn: Callable[[Plant, float], Plant]
    places: tuple[tuple[str, ...], ...]
    put: Callable[[Machine, float], None] | None = None
    """Sets it on a machine that was built with the greatest value, where that needs no other; quicker than ``turn``."""

    def text(self, value: float) -> str:
        """A value (SI) as the plant file writes it: a number of six digits and the knob's unit."""
        return f"{to_unit(value, self.unit):.6g} {self.unit}"


def precharge(plant: Plant) -> Knob:
    """Precharge of the main banks at the surface, all alike, Pa; PlanningError where there is no such bank."""
    banks = [bank for bank in plant.bank if bank.place == "surface"]
    if not banks:
        raise PlanningError("the plant has no bank at the surface whose precharge could be fitted")

    def turn(one: Plant, value: float) -> Plant:
        changed = [b.model_copy(update={"precharge": value}) if b.place == "surface" else b for b in one.bank]
        return one.model_copy(update={"bank": tuple(changed)})

    def put(machine: Machine, value: float) -> None:
        for bank in banks:
            shell = bank.bottles * bank.bottle_volume
            machine.put(f"{bank.id}.gas", shell * density(value + ATMOSPHERE, plant.surface_temperature))

    start = banks[0].precharge
    places = tuple(("bank", bank.id, "precharge") for bank in banks)
    title = "Precharge of the surface banks"
    return Knob("precharge", title, start, 0.4 * start, 2.2 * start, "psi", turn, places, put)


def leak(plant: Plant, fault: str = DEFAULT_LEAK) -> Knob:
    """A leak, as the severity of a fault that the plant stands with."""

    def turn(one: Plant, value: float) -> Plant:
        return one.model_copy(update={"condition": {**one.condition, fault: value}})

    def put(machine: Machine, value: float) -> None:
        machine.set_fault(fault, value)

    start = plant.condition.get(fault, 0.02)
    return Knob("leak", f"Leak ({fault})", start, 0.0, 1.0, "%", turn, (("condition", fault),), put)


def valve(plant: Plant, function: str) -> Knob:
    """Flow coefficient of valve and ports of the function that the test moves."""
    found = next((f for f in plant.function if f.id == function), None)
    if found is None:
        names = ", ".join(f.id for f in plant.function)
        raise PlanningError(f"the plant has no function {function!r}; there are: {names}")

    def turn(one: Plant, value: float) -> Plant:
        changed = [f.model_copy(update={"capacity": value}) if f.id == function else f for f in one.function]
        return one.model_copy(update={"function": tuple(changed)})

    start = found.k
    title = f"Flow coefficient of {found.name}"
    return Knob("valve", title, start, 0.2 * start, 5.0 * start, "Cv", turn, (("function", function, "capacity"),))


def line(plant: Plant) -> Knob:
    """How much the control lines give: effective modulus of the pilot lines, or of the hoses of a surface stack."""
    part, key = ("umbilical", "pilot_modulus") if plant.umbilical is not None else ("hoses", "modulus")
    held: object = getattr(plant, part)
    if held is None:
        raise PlanningError("the plant has neither umbilical nor hoses to fit")

    def turn(one: Plant, value: float) -> Plant:
        return one.model_copy(update={part: getattr(one, part).model_copy(update={key: value})})

    start = float(getattr(held, key))
    title = "Effective modulus of the pilot lines" if part == "umbilical" else "Effective modulus of the hoses"
    return Knob("line", title, start, 0.15 * start, 6.0 * start, "MPa", turn, ((part, key),))


NAMES = ("precharge", "leak", "valve", "line")


def knobs(plant: Plant, names: tuple[str, ...], function: str, fault: str) -> list[Knob]:
    """The knobs called by ``names``; PlanningError for one that is none."""
    made = []
    for name in names:
        if name == "precharge":
            made.append(precharge(plant))
        elif name == "leak":
            made.append(leak(plant, fault))
        elif name == "valve":
            made.append(valve(plant, function))
        elif name == "line":
            made.append(line(plant))
        else:
            raise PlanningError(f"there is nothing called {name!r} to fit; there are: {', '.join(NAMES)}")
    return made
