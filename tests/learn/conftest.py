"""Each shipped plant as a lesson, built once."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from tests.drawing.conftest import PLANTS
from trainer.drawing.context import DrawingContext
from trainer.drawing.rig_view import RigView
from trainer.drawing.schematic import schematic_svg
from trainer.hydraulics.machine import Machine
from trainer.learn.lesson import Lesson
from trainer.plant.rig import build_machine, load_plant


@dataclass(frozen=True)
class Place:
    """A plant, its desk and its drawing."""

    machine: Machine
    desk: DrawingContext
    sheet: str

    def lesson(self, kept: str = "") -> Lesson:
        """A fresh lesson on this plant."""
        return Lesson(self.desk, self.sheet, kept)


@pytest.fixture(scope="session", params=PLANTS)
def place(request: pytest.FixtureRequest) -> Place:
    """Each shipped plant in turn."""
    plant = load_plant(request.param)[0]
    machine = build_machine(plant)
    desk = DrawingContext(RigView(plant), machine.signals)
    return Place(machine, desk, schematic_svg(desk))


@pytest.fixture(scope="session")
def lesson(place: Place) -> Lesson:
    """A lesson whose questions are only looked at."""
    return place.lesson()
