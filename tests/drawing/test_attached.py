"""A part whose kind is whole in one module is drawn, worked, carded, taught and failing like every other part."""

from __future__ import annotations

from functools import cache

import pytest

from tests.drawing.conftest import Rig
from tests.drawing.test_picture import check
from tests.plant.test_attached import TABLE, with_tables
from trainer.drawing.cards import card_of
from trainer.drawing.context import DrawingContext
from trainer.drawing.picture.view import picture
from trainer.drawing.rig_view import RigView
from trainer.drawing.schematic import schematic_svg
from trainer.drawing.unit_care import unit_care
from trainer.learn.by_sight import SightQuestions
from trainer.learn.parts import things
from trainer.learn.path import before, feeds, goal_of, isolators
from trainer.planning.fit_page import Drawn
from trainer.plant.rig import fit_out

TWO = TABLE + TABLE.replace("flushing", "second").replace("Flushing", "Second")


@cache
def rig(name: str) -> Rig:
    plant = with_tables(TWO, name)
    machine = fit_out(Drawn(plant.network()), plant)
    return Rig(plant, machine, DrawingContext(RigView(plant), machine.signals))


@pytest.mark.parametrize("name", ["quillback", "sandpiper"])
def test_it_is_drawn_worked_and_taught_by_what_its_module_says(name: str) -> None:
    one = rig(name)
    desk, view = one.desk, one.desk.rig
    sheet, seen, care = (str(draw(desk)) for draw in (schematic_svg, picture, unit_care))
    for drawn in (sheet, seen):
        assert 'data-component="flushing"' in drawn and 'data-component="second.valve"' in drawn
    for done_at in (seen, care):
        assert "flushing.clean" in done_at and "second.valve" in done_at
    check(desk)
    card = card_of(view, "flushing")
    assert card is not None and card.kind == "restrictor" and card.title == "Flushing orifice"
    thing = things(desk, sheet)["flushing"]
    assert (thing.gauge, thing.drawn) == ("flushing.flow", True)
    network = feeds(view)
    assert "accumulator" in before(network, "flushing") and goal_of(network, "flushing", view.tank) == "accumulator"
    assert isolators(view)["second"] == "second.valve"
    assert one.machine.faults["flushing.blocked"].shows == ("flushing.flow",)
    assert "look flushing" in SightQuestions(desk).keys
