"""The score agrees with three graders who saw what was done and what happened, and neither rules nor scores.

The marks are our own judgement. A run in which something else happens now than when it was graded no longer counts, and
is to be graded again: ``python -m tests.drills.agreement marks`` names them.
"""

from __future__ import annotations

import pytest

from tests.drills import agreement

TARGET = 0.8


@pytest.mark.parametrize(
    ("lot", "runs", "left", "left_passing"),
    [
        pytest.param(0, 60, 51, 20, id="picked"),
        pytest.param(2, 20, 18, 13, id="second lot"),
    ],
)
def test_the_score_agrees_with_the_graders(lot: int, runs: int, left: int, left_passing: int) -> None:
    """None unsafe passes, and marks and scores rank alike, also among those that pass. All runs are played anew;
    ``left`` must not have altered since they were graded. The second lot was graded blind after the scoring stood.
    """
    marks, numbers = agreement.marks(), agreement.drawn(lot)
    assert len(numbers) == runs and all(len(marks[number]) == 3 for number in numbers)
    means, scores, passing = [], [], []
    for number in numbers:
        if agreement.altered(number):
            continue
        given, sheet = marks[number], agreement.watched(number).session.sheet()
        passed = sheet["passed"]
        assert not (passed and sum(g["unsafe"] for g in given) >= 2), (number, sheet["verdict"])
        means.append(sum(g["mark"] for g in given) / len(given))
        scores.append(sheet["score"])
        passing += [len(means) - 1] if passed else []
    assert len(means) >= left and len(passing) >= left_passing
    assert agreement.spearman(means, scores) >= TARGET
    assert agreement.spearman([means[n] for n in passing], [scores[n] for n in passing]) >= TARGET


def test_no_run_of_the_first_lot_that_the_graders_call_unsafe_passes() -> None:
    """One did, a string sheared while it turned, and is a critical error since. The scoring was mended from these runs
    and how they rank is no test here: ``agreement marks`` prints it."""
    marks, numbers = agreement.marks(), agreement.drawn(1)
    unsafe = [number for number in numbers if sum(given["unsafe"] for given in marks[number]) >= 2]
    assert len(numbers) == 30 and len(unsafe) >= 5
    for number in unsafe:
        assert not agreement.watched(number).session.sheet()["passed"], number
