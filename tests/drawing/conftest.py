"""Compiled rigs with their drawing contexts: the subsea one for most tests, each of both for the rest."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import pytest

from trainer.drawing.context import DrawingContext
from trainer.drawing.rig_view import RigView
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import Plant, build_machine, load_plant

PLANTS = ("quillback", "sandpiper", "wentletrap")


@dataclass(frozen=True)
class Rig:
    """A plant, its machine at rest, and the desk on which it is drawn."""

    plant: Plant
    machine: Machine
    desk: DrawingContext


@cache
def rig(name: str) -> Rig:
    """One of the shipped plants, compiled once for all tests."""
    plant = load_plant(name)[0]
    machine = build_machine(plant)
    for _ in range(50):
        machine.scan()
    return Rig(plant, machine, DrawingContext(RigView(plant), machine.signals))


@pytest.fixture(scope="session", params=PLANTS)
def each(request: pytest.FixtureRequest) -> Rig:
    """Each shipped plant in turn."""
    return rig(request.param)


@pytest.fixture(scope="session")
def plant() -> Plant:
    return rig("quillback").plant


@pytest.fixture(scope="session")
def machine() -> Machine:
    return rig("quillback").machine


@pytest.fixture(scope="session")
def desk() -> DrawingContext:
    return rig("quillback").desk
