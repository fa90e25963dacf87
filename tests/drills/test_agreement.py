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
    assert len(agreement.RUNS) == 60 and all(len(given) == 3 for given in agreement.marks().values())
    means, scores, passing = [], [], []
    for number, given in agreement.marks().items():
        if agreement.altered(number):
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
