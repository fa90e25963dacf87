"""What the shipped drills teach and what they mark fit together, as a training manager would look at it."""

from __future__ import annotations

import pytest

from trainer.drills import library
from trainer.drills.hints import hints
from trainer.drills.schema import Drill

DRILLS = library.all_drills()
#: What a drill of well control must be marked on, whatever else.
ALWAYS = {"outcome", "instruments", "communication"}


@pytest.mark.parametrize("drill", DRILLS.values(), ids=DRILLS)
def test_every_learning_point_is_shown_by_a_criterion(drill: Drill) -> None:
    shown = {point for criterion in drill.criterion for point in criterion.teaches}
    assert shown == set(range(1, len(drill.learning) + 1))


@pytest.mark.parametrize("drill", DRILLS.values(), ids=DRILLS)
def test_every_criterion_says_what_it_shows(drill: Drill) -> None:
    assert hints(drill) == []


def test_a_drill_that_leaves_it_out_is_told_so() -> None:
    drill = DRILLS["lost-ac-power"]
    first = drill.criterion[0].model_copy(update={"teaches": []})
    first.model_fields_set.discard("teaches")
    rest = [c for c in drill.criterion[1:] if 2 not in c.teaches]
    told = [str(hint) for hint in hints(drill.model_copy(update={"criterion": [first, *rest]}))]
    assert told[0].startswith("criterion: No learning point named by alarm.")
    assert len(told) == 2 and told[1].startswith("learning[2]: ") and "Add teaches = [2]" in told[1]


@pytest.mark.parametrize("drill", [d for d in DRILLS.values() if d.well_control], ids=lambda d: d.id)
def test_well_control_is_marked_on_what_came_of_it_and_how(drill: Drill) -> None:
    weights: dict[str, float] = {}
    for criterion in drill.criterion:
        weights[criterion.category] = weights.get(criterion.category, 0.0) + criterion.points
    assert set(weights) >= ALWAYS
    assert {"sequence", "timing", "safety"} & set(weights)
    # Nothing but what came of the well is worth half of the whole by itself, and that is never worth nothing.
    whole = sum(weights.values())
    assert max(weights.values()) <= 0.6 * whole
    assert weights["outcome"] >= 0.2 * whole
    assert drill.critical or drill.rules


@pytest.mark.parametrize("drill", DRILLS.values(), ids=DRILLS)
def test_every_lost_point_says_why_it_matters_and_who_says_so(drill: Drill) -> None:
    for criterion in drill.criterion:
        assert criterion.why and criterion.source, criterion.id
    for failure in drill.critical:
        assert failure.reason and failure.source, failure.id
