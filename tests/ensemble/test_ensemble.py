"""A drill over many plants: outcomes as single sessions give them, kept on disk, over processes and a cluster."""

from __future__ import annotations

import csv
import json
import os
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.chromium import in_the_long_form
from trainer import units
from trainer.cli import app
from trainer.drills import library
from trainer.drills.criteria_schema import Reach
from trainer.planning.ensemble import answers, evidence_folder, order, plots, reasons, shares, study, tolerances
from trainer.planning.ensemble.block import Block, run_block
from trainer.planning.ensemble.eyes import as_read, truth
from trainer.planning.ensemble.first_signs import first_signs
from trainer.planning.ensemble.operator import Operator, Step
from trainer.planning.errors import PlanningError
from trainer.session import actions
from trainer.session.commands import Command
from trainer.session.script import play
from trainer.simulator import Session, build, vocabulary

DRILL = "surface-lamp-lies"
ACTIONS = Path(__file__).parents[1] / "drills" / "actions" / f"{DRILL}.good.jsonl"


@pytest.fixture(scope="module")
def wanted() -> order.Order:
    return order.make(DRILL, actions_file=ACTIONS, plants_seed=7)


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
    assert wanted.spreads().draws(machine, wanted.plants_seed, range(2, 3)) == [drawn[2]]
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
    # More plants, and in blocks of another size, as another number of processes would have it.
    more = study.run(wanted, 5, folder=study.Folder(tmp_path / "kept", wanted), block=4)
    assert asked[1:] == [(3, 5)]
    assert [plant["number"] for b in more for plant in b["plants"]] == [0, 1, 2, 3, 4]
    fewer = study.run(wanted, 2, folder=study.Folder(tmp_path / "kept", wanted), block=1)
    assert asked[2:] == []
    assert [plant["number"] for b in fewer for plant in b["plants"]] == [0, 1]


def test_another_ensemble_does_not_mix_in(wanted: order.Order, tmp_path: Path) -> None:
    study.Folder(tmp_path, wanted)
    with pytest.raises(PlanningError, match="holds another ensemble"):
        study.Folder(tmp_path, order.make(DRILL, actions_file=ACTIONS, seed=8))


def test_answers_and_plots(wanted: order.Order, block: dict[str, Any]) -> None:
    document = answers.summary(wanted, [block])
    assert document["runs"] == 4
    assert document["answers"]
    assert json.loads(json.dumps(document, allow_nan=False))["pass_interval"] == list(document["pass_interval"])
    assert any("passed" in line for line in answers.lines(document))
    page = plots.page(wanted, [block], document)
    assert page.count("<svg") == len(wanted.traces) + 1
    # Wilson's interval of 4 of 4 begins at 4 / (4 + 1.96^2) = 51.0 %, as worked out by hand.
    assert document["pass_share"] == 1.0
    for shown in (page, "\n".join(answers.lines(document)), " ".join(document["answers"])):
        assert "51.0 to 100.0 %" in shown or "surely on 51.0 % or more" in shown
    assert "To know a share within 5 % more or less" in page


def told(plants: list[dict[str, Any]]) -> list[str]:
    """What is answered about plants that came out so; a criterion with a window of 120 s, and one without."""
    drill = library.load_file(library.find("kick-while-drilling"))
    timed = next(item for item in drill.criterion if item.id == "shut_in")
    criteria = []
    for key, title in (("shut_in", timed.title), ("sidpp", "SIDPP read right")):
        good = [plant["criteria"][key][0] == 10.0 for plant in plants]
        window = answers._window(reasons.times_taken(drill, key, plants))
        criteria.append({"title": title, "points": 10.0, "full_share": sum(good) / len(plants), "judged": len(plants),
                         "full_interval": shares.interval(sum(good) / len(good), len(good)),
                         "window": window})  # fmt: skip
    passed = len([plant for plant in plants if plant["passed"]])
    return answers.answers({"runs": len(plants), "passed": passed, "pass_share": passed / len(plants),
                            "criteria": criteria, "critical": {"lost": 2},
                            "separating": reasons.separating(plants)})  # fmt: skip


def came_out(n: int, took: float | None, read: bool = True) -> dict[str, Any]:
    spec = next(c for c in library.load_file(library.find("kick-while-drilling")).criterion if c.id == "shut_in")
    assert isinstance(spec, Reach) and spec.full is not None
    late = took is None or took > spec.full
    drawn = {"fault:annular.worn": 0.01 * n, "precharge:bank_a": 1.0 + 0.01 * ((7 * n) % 5)}
    return {"passed": not late, "drawn": drawn, "milestones": {spec.from_: 100.0},
            "criteria": {"shut_in": [0.0 if late else 10.0, took and 100.0 + took],
                         "sidpp": [10.0 if read else 0.0, 200.0]}}  # fmt: skip


def test_a_limit_that_some_plants_cannot_keep_is_called_luck_and_what_they_share_is_told() -> None:
    said = " ".join(told([came_out(n, 12.0 + 15.0 * n) for n in range(10)]))
    assert "Solvable on" in said
    assert "the same hands take 12 to 147 s" in said and "Give it more time" in said
    assert "in common: annular.worn (" in said and "bank_a" not in said
    assert "Critical error 'lost' on 2 of 10 (5.7 to 51.0 %)" in said


def test_luck_that_is_not_of_time_does_not_ask_for_time() -> None:
    said = " ".join(told([came_out(n, 20.0 + n, read=n < 6) for n in range(10)]))
    assert "Solvable: " in said
    assert "Time limits are fair" in said and "29 s at most" in said
    assert "up to 27.8 % of all such plants may be late. Run 73 plants or more" in said
    assert "not time: the same hands earn in full 'SIDPP read right' (60 % of plants, 31.3 to 83.2 %)" in said
    assert "more time" not in said


def test_who_is_late_everywhere_has_late_actions() -> None:
    said = " ".join(told([came_out(n, 900.0) for n in range(4)]))
    assert "Not solved" in said and "Earned in full on no plant" in said
    assert "luck" not in said and "fair" not in said


def test_each_crew_reads_its_own_gauges() -> None:
    """A script entered beside the plant of the description serves a rig whose gauges are off, and its errors stay."""
    record = {"do": "read", "target": "manifold_regulator.readback", "from": "driller"}
    referees = [Block(unsettled(DRILL), 0, 1).referees[n] for n in (0, 1)]
    plant, model = referees
    shown = [units.to_unit(one.scope.read(record["target"]), "psi") for one in referees]
    assert shown[0] != shown[1], "the gauge is off"
    given = Command.model_validate({"t": 1.0, "value": shown[1] + 5.0, **record})
    there = truth(given, model)
    own = as_read(given, plant, there)
    assert own.value == pytest.approx(shown[0] + 5.0)
    other = Command.model_validate({"t": 1.0, "do": "push", "target": "lamps.test", "from": "driller"})
    assert as_read(other, plant, truth(other, model)) is other
    damaged = Command.model_validate({"t": 1.0, "value": "much", **record})
    assert as_read(damaged, plant, there) is damaged


def test_a_crew_that_waits_follows_its_own_plant() -> None:
    def step(what: str, after: str, ahead: float, gap: float) -> Step:
        command = Command.model_validate({"t": 0.0, "do": "push", "target": what, "from": "driller"})
        return Step(command, after, ahead, gap, None)

    script = (step("a", "", 0.0, 5.0), step("b", "flows", 10.0, 3.0), step("c", "", 0.0, 2.0))

    def done(flows: float | None) -> list[tuple[float, str]]:
        crew, found = Operator(script), []
        for scan in range(3000):
            t = scan / 10.0
            reached = {} if flows is None or t < flows else {"flows": flows}
            found += [(t, one.command.target) for one in crew.due(t, reached)]
        return found

    assert done(15.0) == [(5.0, "a"), (18.0, "b"), (20.0, "c")]
    assert done(30.0) == [(5.0, "a"), (33.0, "b"), (35.0, "c")], "later where the plant is slower"
    assert done(6.0) == [(5.0, "a"), (9.0, "b"), (11.0, "c")], "and sooner"
    assert [t for t, _ in done(None)] == [5.0, 255.0, 257.0], "for ever it does not wait"


def test_crews_that_wait_do_on_the_plant_of_the_description_what_the_script_did(tmp_path: Path) -> None:
    none = tmp_path / "none.toml"
    none.write_text('id = "none"\ntitle = "All alike"\n')
    given = {"actions_file": ACTIONS, "spread": str(none), "seed": 3}
    waits, plain = order.make(DRILL, waits=True, **given), order.make(DRILL, **given)
    assert waits.reached and waits.identity() != plain.identity()
    assert run_block(waits, 0, 1)["plants"][0] == run_block(plain, 0, 1)["plants"][0]


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
    assert looks < 0.5 * len(quick.still) * quick.scans
    assert quick.sheets == slow.sheets
    memories = [[{**referee.state(), "t": 0.0} for referee in block.referees] for block in both]
    assert memories[0] == memories[1]


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


def test_a_process_that_is_ended_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(evidence_folder, "files", lambda _: [1, 2])
    monkeypatch.setattr(evidence_folder, "verify_file", os._exit)
    with pytest.raises(PlanningError, match=r"ended from outside.*fewer --workers"):
        evidence_folder.recompute(tmp_path, workers=2)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--runs", "0"), "give 1 to"),
        (("--tolerances", "moon"), "usual"),
        (("--trace", "moon.pressure"), "no signal"),
        (("--plot", "plots.txt"), "OUT.html"),
        (("--csv", "plants.txt"), "OUT.csv"),
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
    table = tmp_path / "plants.csv"
    arguments = ["ensemble", DRILL, "--runs", "2", "--actions", str(ACTIONS), "--plot", str(plot), "--json",
                 "--csv", str(table)]  # fmt: skip
    done = CliRunner().invoke(app, arguments)
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    assert document["runs"] == 2
    assert plot.read_text().count("<svg") >= 2
    with table.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["plant"] for row in rows] == ["0", "1"]
    assert sum(int(row["passed"]) for row in rows) == document["passed"]
    assert min(float(row["score"]) for row in rows) == document["score"]["least"]
    assert rows[0]["drawn precharge:bank_a"] != rows[1]["drawn precharge:bank_a"]
    shutil.rmtree(tmp_path / "none", ignore_errors=True)


def test_every_word_of_a_drill_is_known() -> None:
    session = Session.start(DRILL)
    assert session.words == vocabulary(session.referee.drill)  # type: ignore[attr-defined]
