"""The coach covers every scored criterion of every drill, points to what the page shows, and says what was wrong."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

import pytest

from tests.drills.fake import FakeMachine, run
from tests.drills.test_runner import GOOD, NAMED, TEXT, act, with_true_sicp
from trainer import resources
from trainer.console.boards import Boards
from trainer.console.pointing import point, reached
from trainer.drills import library
from trainer.drills.coach import Coach
from trainer.drills.criteria_schema import Assess
from trainer.drills.guide import Guide
from trainer.drills.pointing import UNIT
from trainer.drills.prepare import prepare
from trainer.drills.runner import Runner
from trainer.drills.schema import read_drill
from trainer.drills.steady import Steady
from trainer.hydraulics.machine import Machine
from trainer.simulator import build

DRILLS = library.all_drills()
BOARDS = Boards()
AS_WRITTEN = re.compile(r"[=!<>]=|[<>_]|'[a-z]\w*'|\b(?:done|said|noted|since|at|any|vary|floor|well)[(.]\w")
"""What a condition has and no sentence: signs, ids, a state in quotes, calls and tags."""


@pytest.fixture(scope="module")
def plants() -> dict[str, Machine]:
    return {name: build(name) for name in resources.plant_files()}


def _all_that_is_said(runner: Runner, guide: Guide) -> Iterator[str]:
    """What coach, sheet and debrief of a drill say: what its file writes, and what is made of its conditions."""
    for step in (*guide.steps, *guide.watches):
        yield f"{step.say} {step.why}"
    for judge in runner.judges:
        row = judge.row(10.0)
        yield f"{row.title} {row.reason} {row.why}"
        for name in ("when", "holds"):
            if name in judge.ready:
                yield judge.desk.expected(judge.spec, judge.ready[name].tree)
    drill = runner.drill
    yield from (runner.words(text) for text in (drill.method, drill.purpose, drill.initial.text, *drill.safety) if text)
    yield from (f"{rule.title} {rule.reason}" for rule in drill.critical)
    yield from (one.title for one in (*drill.milestone, *drill.reading))
    yield from (one.text for one in drill.statement)
    yield from (
        runner.words(text) for text in (*(e.tell for e in drill.event), *(c.say for c in drill.caution)) if text
    )


@pytest.mark.parametrize("drill", DRILLS)
def test_every_scored_criterion_is_covered_and_every_step_points(drill: str, plants: dict[str, Machine]) -> None:
    spec = DRILLS[drill]
    for plant in spec.plants:
        runner = Runner(prepare(spec, plants[plant]), 0, plant)
        runner.attach(plants[plant])
        guide = Guide(runner)
        scored = {judge.spec.id for judge in runner.judges if not isinstance(judge.spec, Assess)}
        assert guide.covered() >= scored, scored - guide.covered()
        drawn = BOARDS.draw(plants[plant], plant, spec, "field")
        for step in (*guide.steps, *guide.watches):
            assert step.say and step.why
            assert reached(step.points, drawn), (step.say, step.points)
        if any(judge.spec.kind == "diagnose" for judge in runner.judges):
            # Whoever reads the method knows that the call to the crew alone names no fault.
            assert "Diagnosis" in spec.method
        for said in _all_that_is_said(runner, guide):
            assert not AS_WRITTEN.search(said), said


def test_what_is_to_be_done_at_the_unit_is_pointed_to_there() -> None:
    drawn = dict.fromkeys(("driller", "unit"), '<b data-text="x.y"></b>')
    assert json.loads(point(("tag:x.y",), drawn)["state"]) == {"tag:x.y": ["driller", "unit"]}
    there = json.loads(point((UNIT, "tag:x.y"), drawn)["state"])
    assert there == {"tag:x.y": ["unit"], UNIT: ["unit"]}


def test_a_panel_that_the_coach_names_is_the_one_that_is_lit() -> None:
    pressed = '<b data-send="{&quot;do&quot;:&quot;set&quot;,&quot;target&quot;:&quot;x&quot;}" data-text="x.y"></b>'
    drawn = dict.fromkeys(("driller", "remote"), pressed)
    for said, at in (
        ("Close x.", ["driller", "remote"]),
        ("From the toolpusher's panel, close x.", ["remote"]),
        ("Close x at the driller's panel.", ["driller"]),
        ("From the toolpusher's panel; read it on the driller's panel.", ["driller", "remote"]),
    ):
        where = json.loads(point(("control:x", "tag:x.y"), drawn, said=said)["state"])
        assert where == {"control:x": at, "tag:x.y": ["driller", "remote"]}, said


def _coached() -> tuple[Runner, FakeMachine, Coach]:
    machine = FakeMachine()
    runner = Runner(prepare(read_drill(TEXT.replace("[end]", NAMED + "\n[end]")), machine), 1)
    runner.begin(machine)
    return runner, machine, Coach(runner)


@pytest.mark.parametrize(
    ("command", "said", "at"),
    [
        (act(3, "say", "well_flows"), "'The well flows' comes first. Report it again then.", "say:well_flows"),
        (act(3, "read", "sicp", "500 psi"), "Entered too early: 'Well shut in' comes first.", "read:sicp"),
        (act(3, "name", "well.kick"), "That is not the fault. After 2 more wrong ones", "name"),
    ],
)
def test_a_wrong_call_and_an_early_reading_are_told(command: dict, said: str, at: str) -> None:
    runner, machine, coach = _coached()
    run(runner, machine, [command], 5.0, coach)
    advice = coach.advice()
    assert advice is not None and said in advice[0], advice
    assert at in coach.points


def test_a_right_word_is_not_blamed() -> None:
    runner, machine, coach = _coached()
    run(runner, machine, with_true_sicp(GOOD, 1), 53.0, coach)
    advice = coach.advice()
    assert advice is None or not any(word in advice[0] for word in ("early", "wrong", "agree"))


def test_what_costs_points_is_told_while_it_does() -> None:
    runner, machine, coach = _coached()
    run(runner, machine, GOOD, 60.0, coach)
    machine.put("header.pressure", 0.0)
    run(runner, machine, [], 61.0, coach)
    said = coach.advice()
    assert said is not None and said[0].startswith("Pressure kept: points are being lost.")
    assert "tag:header.pressure" in coach.points


def test_only_what_this_variation_asks_for_is_lit_and_named(plants: dict[str, Machine]) -> None:
    named = set()
    for seed in range(4):
        runner = Runner(prepare(DRILLS["dead-panel"], plants["quillback"]), seed)
        runner.attach(plants["quillback"])
        step = next(step for step in Guide(runner).steps if step.id == "lever")
        ordered, other = ("upper", "lower") if "upper annular" in step.say else ("lower", "upper")
        assert f"lever of the {ordered} annular" in step.say
        assert f"control:{ordered}_annular=close" in step.points and not any(
            f"{other}_annular" in at for at in step.points
        )
        named.add(ordered)
    assert named == {"upper", "lower"}


def test_a_reading_is_asked_for_once_its_instrument_stands() -> None:
    machine = FakeMachine()
    drill = read_drill(TEXT)
    steady = Steady(prepare(drill, machine), machine.read, {})
    tag = next(reading.tag for reading in drill.reading if reading.tag)
    for t in range(20):
        machine.put(tag, 1e5 * min(t, 10))
        steady.look(float(t))
        # It moves for ten seconds; what has been looked at for less than four is not known to stand.
        assert (steady.moving([tag], float(t)) == []) is (t >= 14), t
    still = Steady(prepare(drill, machine), machine.read, {})
    # What stands from the beginning is not called moving because nobody has looked for four seconds yet.
    for t in range(3):
        still.look(float(t))
        assert (still.moving([tag], float(t)) == []) is (t >= 1), t


def test_what_costs_points_is_told_with_the_step_that_is_due() -> None:
    runner, machine, coach = _coached()
    run(runner, machine, [], 31.0, coach)
    step = coach.ask()
    assert step is not None
    machine.put("header.pressure", 0.0)
    run(runner, machine, [], 32.0, coach)
    said = coach.advice()
    assert said is not None and "points are being lost" in said[0] and said[1] == f"Next: {step[0]}"
    # Once that step is done, the warning that names it goes: it would ask for what has been done.
    led = coach._led_to
    assert led is not None
    coach._finished.add(led)
    after = coach.advice()
    assert after is None or step[0] not in " ".join(after)


def test_a_reading_to_be_entered_is_lit_where_it_is_shown_too(plants: dict[str, Machine]) -> None:
    runner = Runner(prepare(DRILLS["riser-gas"], plants["quillback"]), 0)
    runner.attach(plants["quillback"])
    step = next(step for step in Guide(runner).steps if step.id == "wind")
    assert step.say == "Read the wind direction and enter it."
    assert {"tag:weather.wind_from", "read:wind"} <= set(step.points)
