"""A drill suits a rig when its good crew passes on it, and the steps say why when it does not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.chromium import THOROUGH
from trainer.cli import app
from trainer.drills import library
from trainer.planning import fit_page
from trainer.planning.errors import PlanningError
from trainer.planning.rehearsal import beside, by_choke, rehearse
from trainer.planning.suited import tried
from trainer.plant.rig import load_plant

FEW = ("kick-while-drilling", "closing-time-test", "surface-accumulator-drawdown")


@pytest.mark.parametrize("drill", sorted(library.all_drills()) if THOROUGH else FEW)
def test_each_good_crew_passes_on_the_rig_it_was_recorded_on(drill: str) -> None:
    plant, _ = load_plant(library.all_drills()[drill].plants[0])
    found = rehearse(plant, drill)
    assert found.passed, found.why()
    assert found.why() == []


def test_a_larger_rig_still_suits_though_all_its_times_differ() -> None:
    """Twice the annular's volume, a ram and a panel more, fewer bottles: the crew waits for its own events."""
    orders = [
        ["add", "panel", "escape_panel", ""],
        ["add", "function", "test_ram", "lower_pipe_ram"],
        ["put", "bank.bank_a.bottles", "30"],
        ["put", "function.upper_annular.close_volume", "70 gal"],
        ["put", "function.upper_annular.open_volume", "70 gal"],
    ]
    row = fit_page.drills(fit_page.drafted("quillback", "my_rig", "", orders), "kick-while-drilling")
    assert row == [{"id": "kick-while-drilling", "title": row[0]["title"], "outcome": "suits", "why": []}]


def test_a_valve_added_on_the_choke_line_is_worked_with_its_like() -> None:
    """The path is open through both only; pumps go by drive, a ram is no twin of another."""
    orders = [
        ["add", "function", "choke_valve_2", "choke_valve"],
        ["add", "pump", "triplex_2", "triplex_1"],
        ["add", "function", "test_ram", "lower_pipe_ram"],
        ["put", "function.test_ram.below", "12 ft"],
    ]
    plant = fit_page.drafted("sandpiper", "my_rig", "", orders).plant()
    assert beside(plant) == {"choke_valve": ["choke_valve_2"], "triplex_1": ["triplex_2"]}
    assert rehearse(plant, "surface-kick-while-drilling").passed
    assert by_choke("kill-drillers-method") and not by_choke("surface-kick-while-drilling")


def test_a_rig_that_cannot_do_it_does_not_suit_and_the_steps_say_why() -> None:
    """Names fit; an annular whose ports are a hundredth takes longer than the well gives."""
    plant = fit_page.drafted("quillback", "my_rig", "", [["add", "function", "test_ram", "lower_pipe_ram"]]).plant()
    slow = tuple(f.model_copy(update={"capacity": 0.01 * f.k}) if f.kind == "annular" else f for f in plant.function)
    rows = {row.drill: row for row in tried(plant.model_copy(update={"function": slow}), ["kick-while-drilling"])}
    told = rows["kick-while-drilling"]
    assert told.outcome == "does not suit"
    assert any("Well shut in" in why or "shut-in" in why.lower() for why in told.why), told.why
    assert "does not work what was added to this rig: Test ram" in told.why[-1], told.why
    assert rows["lamp-lies"].outcome == "not tried yet"
    assert (
        rows["surface-lamp-lies"].outcome == "does not suit"
        and "written for sandpiper" in rows["surface-lamp-lies"].why[0]
    )


def test_the_command_tries_what_it_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRAINER_PLANTS", str(tmp_path))
    done = CliRunner().invoke(app, ["fit", "quillback", "--id", "mine", "--try", "regulator-setting", "--json"])
    rows = {row["id"]: row["outcome"] for row in json.loads(done.stdout)["drills"]}
    assert rows["regulator-setting"] == "suits"
    assert rows["kick-while-drilling"] == "not tried yet"
    with pytest.raises(PlanningError, match="there is no drill 'moon'"):
        tried(load_plant("quillback")[0], ["moon"])
