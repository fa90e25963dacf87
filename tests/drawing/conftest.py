"""A compiled rig, its drawing context, and a headless browser for what only a browser can measure."""

from __future__ import annotations

import pytest

from trainer.drawing.desk import Desk
from trainer.drawing.rig_view import read_rig
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import Plant, build_machine, load_plant


@pytest.fixture(scope="session")
def plant() -> Plant:
    return load_plant("quillback")[0]


@pytest.fixture(scope="session")
def machine(plant: Plant) -> Machine:
    built = build_machine(plant)
    for _ in range(50):
        built.scan()
    return built


@pytest.fixture(scope="session")
def desk(plant: Plant, machine: Machine) -> Desk:
    return Desk(read_rig(plant), machine.signals)
