"""The coach: on demand, when late, about refusals, and less as the trainee succeeds."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from tests.drills.fake import FakeMachine, run
from tests.drills.test_runner import GOOD, TEXT, act, start, with_true_sicp
from trainer.console import moment
from trainer.drills.coach import GO_ON, Coach, in_a_row
from trainer.drills.prepare import prepare
from trainer.drills.runner import Runner
from trainer.drills.schema import read_drill


class Practice:
    """A run with a coach looking on."""

    def __init__(self) -> None:
        self.runner, self.machine = start()
        self.coach = Coach(self.runner)

    def play(self, commands: list[dict[str, Any]], until: float) -> None:
        machine: FakeMachine = self.machine
        run(self.runner, machine, commands, until, self.coach)


def test_nothing_is_said_before_there_is_something_to_do() -> None:
    practice = Practice()
    practice.play([], 5.0)
    assert practice.coach.ask() is None and practice.coach.advice() is None
    # Then it can say what to watch meanwhile.
    assert practice.coach.meanwhile() == ("tag:well.pit_gain",)
    # What will come is found out by watching; only later waits say what for.
    assert practice.coach.awaited() == ()
    practice.play([], 30.0)
    assert practice.coach.meanwhile() is None


def test_on_demand_and_when_late() -> None:
    practice = Practice()
    practice.play([], 30.0)
    assert practice.coach.advice() is None
    practice.play([], 36.0)
    assert practice.coach.advice() == ("Stop the mud pumps.", "So that you see the well's own flow.")
    practice.play([act(36, "set", "floor.mud_pumps", 0)], 37.0)
    assert practice.coach.advice() is None
    # What a criterion waits for and no step asks for comes beside the author's own step.
    assert practice.coach.ask() == (
        "Close the ram.",
        "It seals the annulus. Also: when this is true, report: “The well flows.”",
    )


def test_a_refused_action_is_explained() -> None:
    practice = Practice()
    practice.play([], 30.0)
    assert practice.coach.advice() is None
    practice.play([act(30, "set", "ram", "close")], 31.0)
    assert practice.coach.advice() == ("That was refused: push enable first", "The pumps still run.")


def test_an_ill_judged_action_earns_a_caution() -> None:
    practice = Practice()
    practice.play([act(2, "push", "driller.enable"), act(3, "set", "ram", "close")], 4.0)
    assert practice.coach.advice() == ("The pumps still run.", "")
    practice.play([], 25.0)
    assert practice.coach.advice() != ("The pumps still run.", "")


def test_it_fades_with_success() -> None:
    practice = Practice()
    practice.play([], 29.0)
    assert practice.coach.advice() is None and practice.coach.patience == 1.0
    practice.play(GOOD[:2], 33.0)
    assert practice.coach.advice() is None
    assert practice.coach.streak == 1 and practice.coach.patience == 1.5


def test_the_coach_leaves_no_trace_in_the_state() -> None:
    practice = Practice()
    practice.play([], 40.0)
    before = practice.runner.state()
    practice.coach.ask()
    practice.coach.advice()
    assert practice.runner.state() == before


def test_after_passes_in_a_row_it_waits_longer_and_then_only_answers() -> None:
    def when(passes: int) -> float | None:
        practice = Practice()
        practice.coach.passes = passes
        for t in range(16, 80):  # then the try is lost, which is told to everybody
            practice.play([], float(t))
            if practice.coach.advice() is not None:
                return float(t)
        assert practice.coach.ask() is not None
        return None

    first, second, third = when(0), when(1), when(2)
    assert first is not None and second is not None and third is not None
    assert second - first == 5.0 and third - second == 5.0  # of a step that is late after 5 s
    assert when(3) is None
    assert [in_a_row(p) for p in ([], [True], [True, False], [True, False, True, True])] == [0, 1, 0, 2]


def test_once_all_is_done_it_says_that_the_drill_ends() -> None:
    machine = FakeMachine()
    text = TEXT.replace('when = "done(shut_in) and since(shut_in) > 30 s"', 'when = "done(shut_in)"\nfor = "30 s"')
    runner = Runner(prepare(read_drill(text), machine), 1)
    runner.begin(machine)
    coach = Coach(runner)
    run(runner, machine, with_true_sicp(GOOD, 1), 60.0, coach)
    seat = SimpleNamespace(coach=coach, referee=runner)
    assert runner.left is not None and not runner.finished
    assert moment.meanwhile(seat) == moment.DONE  # type: ignore[arg-type]


def test_it_says_that_a_try_can_no_longer_pass_and_then_only_helps_on_asking() -> None:
    practice = Practice()
    # Without the ram the points of a well that is shut in melt away.
    practice.play([], 60.0)
    while practice.runner.passable and practice.runner.scope.t < 119.0:
        practice.play([], practice.runner.scope.t + 1.0)
        practice.coach.advice()
    said = practice.coach.advice()
    assert said is not None and practice.coach.lost
    assert said[0].startswith("This try can no longer pass: at most") and "can still be reached" in said[0]
    assert said[1] == f"Most points lost: Well shut in. {GO_ON}"
    # Whoever practices on is led on.
    asked = practice.coach.ask()
    assert asked is not None and practice.coach.advice() == asked and asked[0] == "Stop the mud pumps."


FOUND = """
[[criterion]]
id = "found"
kind = "diagnose"
title = "Fault found"
points = 5
category = "instruments"
fault = "ram.lamp"
why = "It is to be mended."
source = "Invented for the tests."
"""
"""A drill with a fault to be named, by a step that asks for that and for a report."""
STEP = """
[[coach]]
id = "name"
need = "done(kick)"
done = "said(well_flows)"
names = ["found"]
say = "Report the lamp under Diagnosis, then report the flow."
why = "The lamp does not follow."

[[caution]]"""


def test_a_step_that_asks_for_a_fault_and_a_report_says_which_is_left() -> None:
    text = TEXT.replace("[[critical]]", f"{FOUND}\n[[critical]]").replace("[[caution]]", STEP)
    for done, left in (
        ("say", "Still to report under Diagnosis: the fault."),
        ("name", "Still to report: “The well flows”."),
    ):
        machine = FakeMachine()
        runner = Runner(prepare(read_drill(text), machine), 1)
        runner.begin(machine)
        coach = Coach(runner)
        word = act(31, "say", "well_flows") if done == "say" else act(31, "name", "ram.lamp")
        run(runner, machine, [*GOOD[1:4], word], 40.0, coach)
        asked = coach.ask()
        assert asked is not None and asked[0] == left
        run(runner, machine, [act(41, "say", "well_flows"), act(41, "name", "ram.lamp")], 42.0, coach)
        asked = coach.ask()
        assert asked is None or "Diagnosis" not in " ".join(asked)


def test_a_later_wait_says_what_for() -> None:
    text = TEXT.replace("[[caution]]", STEP.replace("done(kick)", "done(shut_in)").replace('names = ["found"]\n', ""))
    machine = FakeMachine()
    runner = Runner(prepare(read_drill(text), machine), 1)
    runner.begin(machine)
    coach = Coach(runner)
    run(runner, machine, GOOD[1:4], 36.0, coach)
    assert coach.advice() is None and coach.meanwhile() is not None
    assert coach.awaited() == ("Well shut in",)
