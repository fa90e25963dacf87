"""The coach: on demand, when late, about refusals, and less as the trainee succeeds."""

from __future__ import annotations

from tests.drills.fake import run
from tests.drills.test_runner import GOOD, act, start


def test_nothing_is_said_before_there_is_something_to_do() -> None:
    runner, machine = start()
    run(runner, machine, [], 5.0)
    assert runner.ask() is None and runner.advice() is None


def test_on_demand_and_when_late() -> None:
    runner, machine = start()
    run(runner, machine, [], 30.0)
    assert runner.advice() is None
    run(runner, machine, [], 36.0)
    assert runner.advice() == ("Stop the mud pumps.", "So that you see the well's own flow.")
    run(runner, machine, [act(36, "set", "floor.mud_pumps", 0)], 37.0)
    assert runner.advice() is None
    assert runner.ask() == ("Close the ram.", "It seals the annulus.")


def test_a_refused_action_is_explained() -> None:
    runner, machine = start()
    run(runner, machine, [], 30.0)
    assert runner.advice() is None
    run(runner, machine, [act(30, "set", "ram", "close")], 31.0)
    assert runner.advice() == ("That was refused: push enable first", "The pumps still run.")


def test_an_ill_judged_action_earns_a_caution() -> None:
    runner, machine = start()
    run(runner, machine, [act(2, "push", "driller.enable"), act(3, "set", "ram", "close")], 4.0)
    assert runner.advice() == ("The pumps still run.", "")
    run(runner, machine, [], 25.0)
    assert runner.advice() != ("The pumps still run.", "")


def test_it_fades_with_success() -> None:
    runner, machine = start()
    run(runner, machine, [], 29.0)
    assert runner.advice() is None and runner.coach.patience == 1.0
    run(runner, machine, GOOD[:2], 33.0)
    assert runner.advice() is None
    assert runner.coach.streak == 1 and runner.coach.patience == 1.5


def test_the_coach_leaves_no_trace_in_the_state() -> None:
    runner, machine = start()
    run(runner, machine, [], 40.0)
    before = runner.state()
    runner.ask()
    runner.advice()
    assert runner.state() == before
