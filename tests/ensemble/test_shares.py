"""Intervals of shares against SciPy's, and the numbers of plants that follow from them."""

from __future__ import annotations

import pytest
from scipy.stats import binomtest

from trainer.planning.ensemble import shares


@pytest.mark.parametrize(("count", "of"), [(0, 1), (0, 10), (4, 4), (9, 10), (43, 50), (200, 200), (1, 3000)])
def test_intervals_are_scipys(count: int, of: int) -> None:
    """``scipy.stats.binomtest(...).proportion_ci(method="wilson")``, a general library."""
    known = binomtest(count, of).proportion_ci(0.95, method="wilson")
    assert shares.interval(count / of, of) == pytest.approx((known.low, known.high), abs=1e-12)


def test_an_interval_holds_what_it_says_of_all_plants() -> None:
    """Of all outcomes of 100 plants that pass with a chance of 0.9, weighed by SciPy's binomial law, 95 % hold 0.9."""
    from scipy.stats import binom

    held = [k for k in range(101) if shares.interval(k / 100, 100)[0] <= 0.9 <= shares.interval(k / 100, 100)[1]]
    assert 0.93 < float(binom.pmf(held, 100, 0.9).sum()) < 0.97


@pytest.mark.parametrize(("half", "share"), [(0.05, 0.5), (0.05, 1.0), (0.02, 0.9), (0.005, 0.0)])
def test_so_many_plants_are_enough_and_one_less_is_not(half: float, share: float) -> None:
    runs = shares.runs_for(half, share)
    assert shares.half_width(share, runs) <= half < shares.half_width(share, runs - 1)


def test_handbook_figure_of_a_survey() -> None:
    """z^2 / 4 h^2 = 384.1 answers for 5 % either way at one half (any handbook of sampling); Wilson: less z^2."""
    assert shares.runs_for(0.05) == pytest.approx(384.1 - shares.Z**2, abs=1.0)


def test_what_is_not_below_a_limit_takes_no_number_of_plants() -> None:
    assert shares.runs_below(0.05, 0.05) is None
    runs = shares.runs_below(0.05, 0.0)
    assert runs is not None
    assert shares.interval(0.0, runs)[1] <= 0.05 < shares.interval(0.0, runs - 1)[1]
