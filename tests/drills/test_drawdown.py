"""A drawdown test can fail: the verdict must follow from the pressure that is left, whatever one hopes."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.drills.crew import Crew
from tests.drills.crews import accumulator_drawdown
from tests.drills.crews_surface import drawdown

SPENT = [(accumulator_drawdown, 7, 1700.0), (drawdown, 1, 1200.0)]
"""Crew, a variation in which the bottles in service have lost their nitrogen, and the least that must be left, psi."""


@pytest.mark.parametrize(("crew", "seed", "least"), SPENT)
def test_bottles_that_have_lost_their_nitrogen_are_called_failed(
    crew: Callable[..., Crew], seed: int, least: float
) -> None:
    honest, hopeful = crew(seed), crew(seed, honest=False)
    left = next(e.value for e in honest.session.log if e.target in ("end_pressure", "left"))
    assert isinstance(left, float) and left < least
    assert honest.sheet["passed"], honest.sheet["verdict"]
    assert "Verdict follows from the pressure left" in hopeful.sheet["verdict"] and not hopeful.sheet["passed"]
