"""Drawing one function after another from the bottles."""

from __future__ import annotations

from itertools import pairwise

import pytest

from trainer.planning import accumulators
from trainer.planning.sequences import Bottles, draw_sequence, pressure_after
from trainer.units import from_unit, to_unit

PSI = from_unit(1.0, "psi")
WARM = 294.26


def bank(volume: float = 1.0, fast: bool = True, head: float = 0.0) -> Bottles:
    """A bank precharged to 1000 psi (plus head), charged to 3000 psi at the header."""
    return Bottles(volume, 1000 * PSI + head, 3000 * PSI, WARM, head, fast=fast)


def test_a_dry_bank_leaves_nothing() -> None:
    rows = draw_sequence([bank()], [("too much", 0.7, 1200 * PSI)])
    assert rows[0].pressure_left == 0.0 and not rows[0].ok


@pytest.mark.parametrize("parts", [1, 7])
@pytest.mark.parametrize("fast", [True, False])
def test_a_sequence_agrees_with_the_usable_fraction(fast: bool, parts: int) -> None:
    """Drawing exactly the usable volume ends at the lowest pressure, in one step or in many, slow or fast."""
    method = accumulators.real_adiabatic if fast else accumulators.real_isothermal
    usable = method(1000 * PSI, 3000 * PSI, 1200 * PSI, WARM)
    steps = [(str(n), usable / parts, 1199 * PSI) for n in range(parts)]
    rows = draw_sequence([bank(fast=fast)], steps)
    assert to_unit(rows[-1].pressure_left, "psi") == pytest.approx(1200, abs=0.5)
    assert all(row.ok for row in rows)
    assert all(a.pressure_left > b.pressure_left for a, b in pairwise(rows))


def test_an_easy_last_step_does_not_hide_a_short_one() -> None:
    """Each step is judged when it has moved: Fatigati et al. 2018."""
    rows = draw_sequence([bank()], [("annular", 0.20, 1500 * PSI), ("valve", 0.01, 500 * PSI)])
    assert [row.ok for row in rows] == [False, True]


def test_two_half_banks_are_one_bank() -> None:
    assert pressure_after([bank(0.5), bank(0.5)], 0.2) == pytest.approx(pressure_after([bank()], 0.2), rel=1e-9)


def test_bottles_under_the_sea_give_less() -> None:
    """The same usable pressures under 735 psi of sea: the gas is denser and moves less (base case of the handbooks)."""
    deep = bank(head=735 * PSI)
    assert deep.given(1200 * PSI) < bank().given(1200 * PSI)
    expected = accumulators.real_adiabatic(1735 * PSI, 3735 * PSI, 1935 * PSI, WARM)
    assert deep.given(1200 * PSI) == pytest.approx(expected, rel=1e-3)


def test_a_bank_below_its_precharge_gives_nothing() -> None:
    empty = Bottles(1.0, 1000 * PSI, 900 * PSI, WARM)
    assert empty.given(0.0) == 0.0
    assert pressure_after([empty], 0.1) == 0.0
