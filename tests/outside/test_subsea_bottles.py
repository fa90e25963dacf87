"""Usable fluid of a bottle from deck to deep water, beside CoolProp.

Source: Span, Lemmon, Jacobsen, Wagner and Yokozeki, *J. Phys. Chem. Ref. Data* 29 (2000), the reference equation of
nitrogen, as CoolProp computes it: a route of its own from densities and entropies, none of our fits or steps.
"""

from __future__ import annotations

from itertools import product

import pytest

from tests.outside.by_steps import adiabatic_temperature
from tests.outside.sources import held_against
from trainer.constants import ATMOSPHERE
from trainer.fluids import gas
from trainer.planning import accumulators
from trainer.units import from_unit, to_unit

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


# An invented stack at 7,400 ft: bottles charged on deck at 70 degF, standing in a sea of 39 degF under 3,295 psi of it,
# behind a control line whose column adds 3,218 psi to the pumps' 5,000.
DECK, SEA = from_unit(70.0, "degF"), from_unit(39.0, "degF")
AROUND = from_unit(3295.0 + 14.696, "psi")
CHARGED = from_unit(8232.4, "psi")
BOTTLE = from_unit(80.0, "gal")


def charged_on_deck(precharge: float, supply: float = CHARGED, kelvin: float = SEA) -> tuple[float, float]:
    """Densities of the gas as precharged (psi gauge) on deck and as charged with fluid where it stands, kg/m3."""
    return gas.density(from_unit(precharge, "psi") + ATMOSPHERE, DECK), gas.density(supply, kelvin)


@pytest.mark.parametrize("over_sea", [2417.0, 2820.0])
@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: usable fluid of a bottle at 7,400 ft")
def test_a_bottle_in_deep_water(over_sea: float) -> None:
    """Precharge 4,500 psi on deck, down to what two shear rams need: slow and fast, within 0.5 %."""
    low = AROUND + from_unit(over_sea, "psi")
    rho0 = PropsSI("D", "P", from_unit(4500.0, "psi") + ATMOSPHERE, "T", DECK, "Nitrogen")
    rho1 = PropsSI("D", "P", CHARGED, "T", SEA, "Nitrogen")
    slow = rho0 / PropsSI("D", "P", low, "T", SEA, "Nitrogen") - rho0 / rho1
    fast = (
        rho0 / PropsSI("D", "P", low, "S", PropsSI("S", "P", CHARGED, "T", SEA, "Nitrogen"), "Nitrogen") - rho0 / rho1
    )
    own0, own1 = charged_on_deck(4500.0)
    assert own0 / gas.density(low, SEA) - own0 / own1 == pytest.approx(slow, rel=5e-3)
    assert own0 / gas.adiabatic_density(SEA, own1, low)[0] - own0 / own1 == pytest.approx(fast, rel=5e-3)


@pytest.mark.parametrize(
    ("bottles", "precharge", "cuts", "seals"),
    [
        (14, 4500, True, True),
        (11, 4500, True, True),
        (10, 4500, True, False),
        (14, 3500, True, True),
        (14, 3000, True, False),
    ],
)
@held_against("gas, steps of the engine", "Span and others (2000) by CoolProp: two shear rams on bottles of their own")
def test_two_shear_rams_on_bottles_of_their_own(bottles: int, precharge: float, cuts: bool, seals: bool) -> None:
    """34 gal for one that needs 2,820 psi over the sea, 28 gal for one that needs 2,417, fast and with no refill."""
    rho0, rho1 = charged_on_deck(precharge)
    shell = bottles * BOTTLE
    for gallons, needs, enough in ((34.0, 2820.0, cuts), (62.0, 2417.0, seals)):
        rho2 = shell * rho0 / (shell * rho0 / rho1 + from_unit(gallons, "gal"))
        own = gas.nitrogen_pressure(rho2, adiabatic_temperature(SEA, rho1, rho2))[0] - AROUND
        real0 = PropsSI("D", "P", from_unit(precharge, "psi") + ATMOSPHERE, "T", DECK, "Nitrogen")
        real1, entropy = (PropsSI(q, "P", CHARGED, "T", SEA, "Nitrogen") for q in "DS")
        real2 = shell * real0 / (shell * real0 / real1 + from_unit(gallons, "gal"))
        assert own == pytest.approx(PropsSI("P", "D", real2, "S", entropy, "Nitrogen") - AROUND, rel=5e-3)
        assert (to_unit(own, "psi") >= needs) is enough


def test_a_good_test_on_deck_proves_little() -> None:
    """The same 14 bottles on deck with 5,000 psi: after both rams more is left than ever at depth (by CoolProp)."""
    rho0, rho1 = charged_on_deck(4500.0, from_unit(5000.0, "psi") + ATMOSPHERE, DECK)
    shell = 14 * BOTTLE
    rho2 = shell * rho0 / (shell * rho0 / rho1 + from_unit(62.0, "gal"))
    left = gas.nitrogen_pressure(rho2, adiabatic_temperature(DECK, rho1, rho2))[0] - ATMOSPHERE
    assert to_unit(left, "psi") == pytest.approx(4334.0, abs=5.0)
