"""For each well-control drill: crews that do it right pass, the same with one dangerous change do not.

``python -m tests.drills.pairs`` is the long form: many operators and near misses, held against the oracle.
"""

from __future__ import annotations

import pytest

from tests.chromium import THOROUGH
from tests.drills import pairs
from tests.drills.crews_other import OTHER

SEED = 3


def test_every_drill_has_three_right_crews_and_four_dangerous_ones() -> None:
    for drill in pairs.WELL:
        assert len(pairs.ways(drill)) >= 3, drill
        assert len(pairs.DANGEROUS[drill]) >= 4, drill
    assert set(OTHER) == set(pairs.WELL)


@pytest.mark.parametrize("drill", pairs.WELL)
def test_what_is_right_but_for_one_thing_does_not_pass(drill: str) -> None:
    changes = list(pairs.DANGEROUS[drill].items())
    for name, change in changes if THOROUGH else changes[pairs.WELL.index(drill) % len(changes) :][:1]:
        session = pairs.played(drill, SEED, change(list(pairs.right(drill, 0, SEED)), 0))
        passed, judgement = pairs.marked(drill, SEED, session)
        assert not judgement.safe or not judgement.complete, (name, str(judgement))
        assert not passed, (name, str(judgement))
