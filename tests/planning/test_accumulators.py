"""Bottles in planning: docstrings, bad input, order of the methods, sequences."""

from __future__ import annotations

import doctest
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import killsheet
from trainer.planning import accumulators, battery, pumps, response
from trainer.units import from_unit

PSI = from_unit(1.0, "psi")


@pytest.mark.parametrize("module", [accumulators, battery, killsheet, pumps, response])
def test_docstring_examples(module: ModuleType) -> None:
    result = doctest.testmod(module)
    assert result.failed == 0 and result.attempted > 0


@pytest.mark.parametrize("method", sorted(accumulators.METHODS))
def test_methods_refuse_pressures_out_of_order(method: str) -> None:
    for pre, high, low in ((1200, 3000, 1000), (1000, 1100, 1200), (0, 3000, 1200)):
        with pytest.raises(ValueError, match="0 < precharge <= lowest <= highest"):
            accumulators.METHODS[method](pre * PSI, high * PSI, low * PSI, 294.0)


@given(st.floats(500, 2000), st.floats(1.1, 2.0), st.floats(1.1, 2.5), st.floats(275, 320))
def test_a_fast_discharge_gives_less_than_a_slow_one_and_never_more_than_is_stored(
    precharge: float, low: float, high: float, temperature: float
) -> None:
    case = (precharge * PSI, precharge * low * high * PSI, precharge * low * PSI, temperature)
    slow, fast = accumulators.real_isothermal(*case), accumulators.real_adiabatic(*case)
    assert accumulators.stored_fraction(case[0], case[1], temperature) > slow > fast >= 0.0
    assert accumulators.ideal_absolute(*case) > accumulators.ideal_adiabatic(*case)


def test_a_bottle_gives_no_more_than_it_holds() -> None:
    """At 1000/3000/1000 the cold gas fills the bottle before the pressure is drawn: what is stored is the limit."""
    fast = accumulators.real_adiabatic(1000 * PSI, 3000 * PSI, 1000 * PSI)
    slow = accumulators.real_isothermal(1000 * PSI, 3000 * PSI, 1000 * PSI)
    assert fast < slow == pytest.approx(accumulators.stored_fraction(1000 * PSI, 3000 * PSI))


def test_average_precharge_refuses_readings_that_say_nothing() -> None:
    for removed, start, end in ((20, 2200, 3000), (200, 3000, 2200), (20, 3000, 3000)):
        with pytest.raises(ValueError, match="says nothing about the precharge"):
            accumulators.average_precharge(removed, 180, start, end)


def test_bottles_are_whole_and_possible() -> None:
    assert accumulators.bottles_needed(50.0, 5.0) == 10
    assert accumulators.bottles_needed(50.01, 5.0) == 11
    with pytest.raises(ValueError, match="never suffices"):
        accumulators.bottles_needed(50.0, 0.0)


def test_design_fraction_takes_the_tighter_bound() -> None:
    assert accumulators.volumetric_efficiency(80, 220, 95, 1.0, 1.0) == pytest.approx(80 / 95 - 80 / 220)
    assert accumulators.volumetric_efficiency(80, 220, 80, 1.0, 2.0) == pytest.approx((1 - 80 / 220) / 2)


def test_battery_refuses_nonsense() -> None:
    with pytest.raises(ValueError, match="exponent at least 1"):
        battery.peukert_hours(100, 20, 10, 0.9)


def test_recharge_without_pumps_never_ends() -> None:
    assert pumps.recharge_time(1.0, 0.0) == float("inf")


def test_kill_sheet_steps_and_refusals() -> None:
    sheet = killsheet.kill_sheet(530, 14.1, 12_366, 650, 200, 600, 0.1)
    assert sheet.steps[0] == (0, sheet.initial) and sheet.steps[-1][0] == 2000
    assert sheet.steps[-1][1] == pytest.approx(sheet.final)
    assert sheet.strokes_bit_to_surface == 6000 and sheet.mixed_weight == 15.0
    with pytest.raises(ValueError, match="must be above zero"):
        killsheet.kill_sheet(0, 14.1, 12_366, 650, 200, 600, 0.1)
    with pytest.raises(ValueError, match="does not fit a hole"):
        killsheet.annular_capacity(5, 8.5)
    with pytest.raises(ValueError, match="heavier than the mud"):
        killsheet.influx_gradient(12.0, 600, 450, 500)
