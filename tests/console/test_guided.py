"""The guided first run: the coach leads somebody who only does what it says to a closed and opened preventer."""

from __future__ import annotations

import re

from trainer.classroom.rooms import shipped_seat
from trainer.console.seat import Seat

SAID = re.compile(r"Press (Open|Close) beside the annular")
LONGEST = 300.0
"""Five minutes, s: what somebody new gives it (an aim of this project)."""


def begun() -> Seat:
    seat = shipped_seat()
    assert "Start the first run" in seat.hello()["chooser"]["markup"]
    seat.handle({"page": "start", "drill": "first-run", "mode": "check"})
    seat.handle({"page": "begin"})
    return seat


def test_who_does_what_the_coach_says_closes_and_opens_a_preventer_within_five_minutes() -> None:
    seat = begun()
    run, pressed, lit = seat.run, [], []
    assert run is not None and run.coach is not None
    while seat.page == "console" and run.time < LONGEST:
        seat.tick(1.0)
        said = SAID.search(" ".join(run.coach.advice() or ()))
        if said and said[1].lower() not in pressed:
            lit.append(run.coach.points[0])
            pressed.append(said[1].lower())
            seat.handle({"do": "set", "target": "annular", "value": pressed[-1], "from": "driller"})
    assert (seat.page, pressed) == ("sheet", ["close", "open"])
    assert lit == ["control:annular=close", "control:annular=open"]
    over = seat.first()["sheet"]["readings"]["page.sheet"]["html"]
    fell = [int(number) for number in re.findall(r"accumulator pressure fell by (\d+) psi", over)]
    assert len(fell) == 2 and fell[0] > fell[1] > 100
    assert "Why the pressures moved" in over and "Start your first drill" in over and "Learn the parts" in over
    # No score, and no attempt that progress or the records would count.
    assert "of 100" not in over and "assed" not in over
    assert seat.attempts == []
    assert seat.handle({"page": "learn", "plant": "sandpiper"})["header"]["readings"]["page.page"] == {"state": "learn"}


def test_a_first_run_that_is_ended_early_says_so() -> None:
    seat = begun()
    seat.tick(1.0)
    seat.handle({"page": "finish"})
    over = seat.handle({"page": "finish"})["sheet"]["readings"]["page.sheet"]["html"]
    assert "not finished" in over and "You operated no preventer." in over
    assert "Do the first run again" in over
