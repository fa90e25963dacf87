"""Fluid moves on the schematic where a function is on its way, and is shown to nobody in a check."""

from __future__ import annotations

import pytest

from tests.drawing.conftest import rig
from trainer.console.bindings import bindings
from trainer.console.moving import STILL, Moving
from trainer.console.presenter import Presenter
from trainer.drawing.schematic import schematic
from trainer.drawing.sheet import FLOW, MOVES, RUNS
from trainer.simulator import Session


def test_a_stroke_goes_forward_closing_and_back_opening() -> None:
    at = [0.5, 0.0]
    moving = Moving(
        ["page.flow:ram", "page.moves:ram,annular", "page.clock"], {"ram.position": 0, "annular.position": 1}
    )

    def ways() -> list[str]:
        return [reading["flow"] for reading in moving.look(at).values()]

    assert ways() == ["none", "none"]
    at[0] += 2 * STILL
    assert ways() == ["forward", "forward"]
    at[0] -= 2 * STILL
    assert ways() == ["back", "forward"]
    at[1] += 0.5 * STILL
    assert ways() == ["none", "none"]
    # Told once that all stands, a look at the same numbers has nothing to tell.
    assert ways() == ["none", "none"]
    assert ways() == []


@pytest.mark.parametrize(("plant", "target"), [("quillback", "lower_annular"), ("sandpiper", "annular")])
def test_only_the_lines_to_what_moves_move(plant: str, target: str) -> None:
    drawn = bindings(schematic(rig(plant).desk))
    run = Session.start(None, plant)
    presenter = Presenter(run, boards={"schematic": drawn})
    shown = dict(presenter.first()["schematic"]["readings"])
    run.submit({"do": "set", "target": target, "value": "close", "from": "driller"})
    for _ in range(40):
        run.advance(0.1)
        shown.update(presenter.patch().get("schematic", {}).get("readings", {}))
    moving = {key for key, reading in shown.items() if key.startswith((FLOW, MOVES)) and reading["flow"] != "none"}
    assert f"{FLOW}{target}" in moving
    assert all(target in key for key in moving)
    hidden = bindings(schematic(rig(plant).desk, truth=False))
    assert not [key for key in hidden if key.startswith((FLOW, MOVES))]


def test_the_headers_and_the_filter_in_use_move_while_a_pump_runs() -> None:
    drawn = bindings(schematic(rig("quillback").desk))
    run = Session.start(None, "quillback")
    presenter = Presenter(run, boards={"schematic": drawn})

    def running() -> set[str]:
        shown = presenter.first()["schematic"]["readings"]
        return {key for key, reading in shown.items() if key.startswith(RUNS) and reading["flow"] != "none"}

    assert running() == set()
    run.submit({"do": "set", "target": "triplex_1.mode", "value": "manual", "from": "unit"})
    run.advance(5.0)
    tags = {tag for key in running() for tag in key.removeprefix(RUNS).split(",")}
    assert {"triplex_1.flow", "filter_1.dp"} <= tags
    assert f"{RUNS}filter_2.dp" not in running()
