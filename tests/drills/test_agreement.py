"""The score agrees with three graders who saw what was done and what happened, and neither rules nor scores.

The marks are our own judgement. A run in which something else happens now than when it was graded no longer counts, and
is to be graded again: ``python -m tests.drills.agreement marks`` names them.
"""

from __future__ import annotations

from tests.drills import agreement

ALTERED = 9
"""So many runs may have altered before the rest say too little."""
TARGET = 0.8


def test_the_score_agrees_with_the_graders() -> None:
    """One test, since playing the runs takes a while: none unsafe passes, and marks and scores rank alike."""
    marks = agreement.marks()
    assert len(marks) == 90 and all(len(given) >= (2 if n in agreement.DRAWN else 3) for n, given in marks.items())
    means, scores, passing = [], [], []
    for number, given in marks.items():
        if number in agreement.DRAWN or agreement.altered(number):
            continue
        sheet = agreement.watched(number).session.sheet()
        passed = sheet["passed"]
        assert not (passed and sum(g["unsafe"] for g in given) >= 2), (number, sheet["verdict"])
        means.append(sum(g["mark"] for g in given) / len(given))
        scores.append(sheet["score"])
        passing += [len(means) - 1] if passed else []
    assert len(means) >= 60 - ALTERED and len(passing) >= 20
    assert agreement.spearman(means, scores) >= TARGET
    assert agreement.spearman([means[n] for n in passing], [scores[n] for n in passing]) >= TARGET


def test_no_run_drawn_by_lot_that_the_graders_call_unsafe_passes() -> None:
    """One did, a string sheared while it turned, and is a critical error since. How these runs rank is no test here:
    ``agreement marks`` prints it."""
    unsafe = [n for n in agreement.DRAWN if sum(given["unsafe"] for given in agreement.marks()[n]) >= 2]
    assert len(agreement.DRAWN) == 30 and len(unsafe) >= 5
    for number in unsafe:
        assert not agreement.watched(number).session.sheet()["passed"], number
