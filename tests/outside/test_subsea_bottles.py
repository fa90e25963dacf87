"""Usable fluid of a bottle from deck to deep water, beside CoolProp.

Source: Span, Lemmon, Jacobsen, Wagner and Yokozeki, *J. Phys. Chem. Ref. Data* 29 (2000), the reference equation of
nitrogen, as CoolProp computes it: a route of its own from densities and entropies, none of our fits or steps.
"""

from __future__ import annotations

from itertools import product

import pytest

from tests.outside.sources import held_against
from trainer.constants import ATMOSPHERE
from trainer.planning import accumulators
from trainer.units import from_unit

PropsSI = pytest.importorskip("CoolProp.CoolProp").PropsSI

GRADIENT = from_unit(0.433, "psi/ft")
"""Fresh water, close to control fluid."""
DEPTHS = (0.0, 500.0, 1650.0, 3000.0, 6000.0, 10_000.0)
CELSIUS = (4.0, 20.0, 38.0)
RIGS = ((1000.0, 3000.0, 1200.0), (1500.0, 5000.0, 2000.0))
"""Precharge, working pressure and lowest pressure at the surface, psi; invented."""
CASES = list(product(DEPTHS, CELSIUS, RIGS))


def pressures(feet: float, rig: tuple[float, float, float]) -> list[float]:
    """The three pressures at the bottle, gauge Pa."""
    head = GRADIENT * from_unit(feet, "ft")
    return [from_unit(p, "psi") + head for p in rig]


@pytest.mark.parametrize(("feet", "celsius", "rig"), CASES)
@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: usable share of a bottle, 36 cases")
def test_slow_and_fast_within_0_3_percent(feet: float, celsius: float, rig: tuple[float, float, float]) -> None:
    pre, high, low = pressures(feet, rig)
    kelvin = celsius + 273.15
    rho0, rho1, rho2 = (PropsSI("D", "P", p + ATMOSPHERE, "T", kelvin, "Nitrogen") for p in (pre, high, low))
    slow = rho0 / rho2 - rho0 / rho1
    assert accumulators.real_isothermal(pre, high, low, kelvin) == pytest.approx(slow, rel=3e-3)
    entropy = PropsSI("S", "P", high + ATMOSPHERE, "T", kelvin, "Nitrogen")
    cold = PropsSI("D", "P", low + ATMOSPHERE, "S", entropy, "Nitrogen")
    fast = rho0 / max(cold, rho0) - rho0 / rho1
    assert accumulators.real_adiabatic(pre, high, low, kelvin) == pytest.approx(fast, rel=3e-3)


def test_enough_cases() -> None:
    assert len(CASES) >= 30
