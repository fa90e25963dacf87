"""A drill over many plants: outcomes as single sessions give them, kept on disk, over processes and a cluster."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.chromium import in_the_long_form
from trainer.cli import app
from trainer.planning.ensemble import answers, evidence_folder, order, plots, study, tolerances
from trainer.planning.ensemble.block import Block, run_block
from trainer.planning.ensemble.first_signs import first_signs
from trainer.planning.errors import PlanningError
from trainer.session import actions
from trainer.session.commands import Command
from trainer.session.script import play
from trainer.simulator import Session, build, vocabulary

DRILL = "surface-lamp-lies"
ACTIONS = Path(__file__).parents[1] / "drills" / "actions" / f"{DRILL}.good.jsonl"


@pytest.fixture(scope="module")
def wanted() -> order.Order:
    return order.make(DRILL, actions_file=ACTIONS, seed=7)


@pytest.fixture(scope="module")
def block(wanted: order.Order) -> dict[str, Any]:
    return run_block(wanted, 0, 4)


def test_a_plant_without_tolerances_scores_as_a_session(tmp_path: Path) -> None:
    none = tmp_path / "none.toml"
    none.write_text('id = "none"\ntitle = "All alike"\n')
    alike = order.make(DRILL, actions_file=ACTIONS, spread=str(none), seed=3)
    plant = run_block(alike, 0, 1)["plants"][0]
    session = Session.start(DRILL, seed=3)
    play(session, actions.read(ACTIONS, session.machine, session.words))
    sheet = session.sheet()
    assert plant["score"] == sheet["score"]
    assert plant["passed"] == sheet["passed"]
    assert plant["criteria"] == {row["id"]: [row["earned"], row["t"]] for row in sheet["criteria"]}


def test_plants_differ_and_the_draw_repeats(wanted: order.Order, block: dict[str, Any]) -> None:
    drawn = [plant["drawn"] for plant in block["plants"]]
    assert drawn[0] != drawn[1]
    machine = wanted.machine()
    assert wanted.spreads().draw(machine, wanted.seed + 2) == drawn[2]
    values = block["traces"]["accumulator.pressure"]
    assert len(values) == 4
    assert len({tuple(row) for row in values}) == 4


def test_a_block_does_not_depend_on_its_neighbours(wanted: order.Order, block: dict[str, Any]) -> None:
    alone = run_block(wanted, 2, 3)
    assert alone["plants"][0] == block["plants"][2]
    assert alone["traces"]["accumulator.pressure"][0] == block["traces"]["accumulator.pressure"][2]


def test_precharge_draw_keeps_the_pressure() -> None:
    machine = build("quillback")
    before = machine.read("bank_a.p")
    tolerances.apply(machine, {"precharge:bank_a": 0.9, "variable:ambient.surface": 5.0})
    assert machine.read("bank_a.p") == pytest.approx(before, rel=1e-9)
    assert machine.read("bank_a.gas") < build("quillback").read("bank_a.gas")


def test_what_is_done_is_not_done_again(wanted: order.Order, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = study.Folder(tmp_path / "kept", wanted)
    told: list[tuple[int, int]] = []
    first = study.run(wanted, 3, folder=folder, block=2, done=lambda n, of: told.append((n, of)))
    assert told[0] == (0, 3)
    assert told[-1] == (3, 3)
    asked: list[tuple[int, int]] = []

    def counted(wanted: order.Order, start: int, stop: int, *_: object) -> dict[str, Any]:
        asked.append((start, stop))
        return run_block(wanted, start, stop)

    monkeypatch.setattr(study, "run_block", counted)
    (tmp_path / "kept" / "plants-000002-000003.json").write_text('{"cut of')
    again = study.run(wanted, 3, folder=study.Folder(tmp_path / "kept", wanted), block=2)
    assert asked == [(2, 3)]
    assert [b["plants"] for b in again] == [b["plants"] for b in first]


def test_another_ensemble_does_not_mix_in(wanted: order.Order, tmp_path: Path) -> None:
    study.Folder(tmp_path, wanted)
    with pytest.raises(PlanningError, match="holds another ensemble"):
        study.Folder(tmp_path, order.make(DRILL, actions_file=ACTIONS, seed=8))


def test_answers_and_plots(wanted: order.Order, block: dict[str, Any]) -> None:
    document = answers.summary(wanted, [block])
    assert document["runs"] == 4
    assert document["answers"]
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert any("passed" in line for line in answers.lines(document))
    page = plots.page(wanted, [block], document)
    assert page.count("<svg") == len(wanted.traces) + 1


def test_answers_name_luck() -> None:
    row = {"id": "a", "title": "Shut in", "points": 10.0, "full_share": 0.6, "judged": 10,
           "t": {"least": 20.0, "greatest": 44.0}}  # fmt: skip
    told = answers.answers({"runs": 10, "passed": 6, "pass_share": 0.6, "criteria": [row], "critical": {"lost": 2}})
    assert any("Luck of the plant decides 'Shut in'" in line and "60 %" in line for line in told)
    assert any("Critical failure 'lost' on 2 of 10" in line for line in told)


@in_the_long_form
def test_lost_air_shows_on_its_own_gauge_first() -> None:
    found = first_signs(order.make("surface-lost-rig-air", seed=1), plants=2)
    assert found[0]["tag"] == "air.pressure"
    assert found[0]["after_s"] >= 0.0
    assert {"tag", "meaning", "station", "share", "after_s"} == set(found[0])


def unsettled(drill: str) -> order.Order:
    """An order whose plants settle for a second only: what is looked at here does not ask for more."""
    made = order.make(drill)
    return replace(made, drill=made.drill.replace('settle = "50 s"', 'settle = "1 s"'))


def test_what_is_left_alone_would_have_come_to_the_same() -> None:
    both = [Block(order.make(DRILL, actions_file=ACTIONS, seed=5, vary=True), 0, 2) for _ in range(2)]
    commands = both[0].order.script()
    looks = 0
    for lazy in (True, False):
        block, done = both[not lazy], 0
        while not block.finished:
            if lazy:
                looks += int((~block.still).sum())
            else:
                block.still[:] = False
            done = block.step(commands, done)
    quick, slow = both
    assert looks < 0.5 * 2 * quick.scans
    assert quick.sheets == slow.sheets
    memories = [[{**referee.state(), "t": 0.0} for referee in block.referees] for block in both]
    assert memories[0] == memories[1]


def test_faults_of_the_drill_are_armed_at_once() -> None:
    block = Block(unsettled("find-the-leak"), 0, 1, compiled=False)
    assert order.drill_faults(block.prepared.drill) <= block.columns.armed


@in_the_long_form
def test_who_works_alone_walks_in_an_ensemble_too() -> None:
    block = Block(unsettled("dead-panel"), 0, 1)
    lever = Command.model_validate({"t": 0.0, "do": "set", "target": "upper_annular", "value": "close", "from": "unit"})
    block.give(lever)
    assert "walk there first" in block.refused[0][0]
    block.give(Command.model_validate({"t": 0.0, "do": "go", "target": "unit"}))
    for _ in range(301):
        block.scan()
    block.give(lever)
    assert len(block.refused[0]) == 1


def test_processes_give_the_same(wanted: order.Order, block: dict[str, Any]) -> None:
    both = study.run(wanted, 4, workers=2, block=2)
    assert [plant for part in both for plant in part["plants"]] == block["plants"]


def test_a_cluster_of_two_gives_the_same(wanted: order.Order, block: dict[str, Any], tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    folder = tmp_path / "evidence"
    folder.mkdir()
    session = Session.start(DRILL)
    session.advance(5.0)
    (folder / "one.json").write_text(json.dumps(session.evidence()))
    (folder / "two.json").write_text('{"not": "evidence"}')
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        both = study.run(wanted, 4, cluster=cluster.scheduler_address, block=2)
        rows = evidence_folder.recompute(folder, cluster=cluster.scheduler_address)
    assert [plant for part in both for plant in part["plants"]] == block["plants"]
    assert [row["ok"] for row in rows] == [True, False]
    assert rows == evidence_folder.recompute(folder)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--runs", "0"), "give 1 to"),
        (("--tolerances", "moon"), "usual"),
        (("--trace", "moon.pressure"), "no signal"),
        (("--plot", "plots.txt"), "OUT.html"),
        (("--cluster", "tcp://127.0.0.1:9"), "no cluster answers"),
    ],
)
def test_wrong_orders_are_told(arguments: tuple[str, ...], told: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(study, "ANSWER", 0.5)
    done = CliRunner().invoke(app, ["ensemble", DRILL, *arguments])
    assert isinstance(done.exception, PlanningError)
    assert told in str(done.exception)


def test_bad_tolerances_are_told_by_place(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text('id = "bad"\ntitle = "Bad"\n[[spread]]\ntitle = "x"\nvariable = "a"\nplus_minus = "much"\n')
    with pytest.raises(PlanningError, match=r"spread\.0\.plus_minus.*12 K"):
        tolerances.parse(*tolerances.read(str(path)))


def test_command_writes_json_and_plots(tmp_path: Path) -> None:
    plot = tmp_path / "spread.html"
    arguments = ["ensemble", DRILL, "--runs", "2", "--actions", str(ACTIONS), "--plot", str(plot), "--json"]
    done = CliRunner().invoke(app, arguments)
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    assert document["runs"] == 2
    assert plot.read_text().count("<svg") >= 2
    shutil.rmtree(tmp_path / "none", ignore_errors=True)


def test_every_word_of_a_drill_is_known() -> None:
    session = Session.start(DRILL)
    assert session.words == vocabulary(session.referee.drill)  # type: ignore[attr-defined]
