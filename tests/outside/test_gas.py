"""Nitrogen against published reference data.

Source of every number in this file, unless a test names another: the reference equation of state of Span,
Lemmon, Jacobsen, Wagner and Yokozeki, J. Phys. Chem. Ref. Data 29 (2000) 1361-1433, computed with
CoolProp 8.0.0. Atmosphere 14.696 psi.
"""

from __future__ import annotations

import math

import pytest

from tests.outside.sources import held_against
from trainer.fluids import gas
from trainer.fluids.methane import methane, methane_density
from trainer.units import from_unit, to_unit

CoolProp = pytest.importorskip("CoolProp.CoolProp", reason="CoolProp is a test-only dependency")

DENSITY = {  # psia: kg/m3 at 40, 70, 100, 120 degF
    1000: (84.8949, 79.2936, 74.4703, 71.6040),
    1500: (126.8523, 118.1204, 110.6799, 106.2902),
    2000: (167.2259, 155.4816, 145.5208, 139.6646),
    3000: (240.5648, 223.9124, 209.7192, 201.3557),
    4000: (302.4452, 282.7368, 265.6865, 255.5448),
    5000: (353.7448, 332.4648, 313.7459, 302.4857),
    6000: (396.4765, 374.5608, 354.9926, 343.0957),
}

# Bottle cases: precharge, maximum, minimum psig, degF; usable fraction of the bottle by ideal gas on
# gauge pressures, ideal on absolute, real isothermal, real adiabatic, ideal adiabatic; gas temperature at
# the end, degF.
FRACTIONS = [
    (1000, 3000, 1200, 70, 0.50000, 0.49877, 0.47931, 0.23480, 0.30770, -53.74),
    (1000, 3000, 1200, 40, 0.50000, 0.49877, 0.47933, 0.22543, 0.30770, -76.04),
    (1000, 3000, 1200, 120, 0.50000, 0.49877, 0.47922, 0.24678, 0.30770, -15.97),
    (1668, 3668, 1868, 40, 0.43819, 0.43685, 0.39868, 0.19054, 0.28094, -46.26),
    (1500, 5000, 1800, 70, 0.53333, 0.53263, 0.48272, 0.21095, 0.32225, -60.48),
]


def absolute(psig: float) -> float:
    """Gauge psi as absolute Pa."""
    return from_unit(psig + 14.696, "psi")


def kelvin(degf: float) -> float:
    """Degrees Fahrenheit as K."""
    return from_unit(degf, "degF")


@pytest.mark.parametrize("psia", sorted(DENSITY))
@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: table of densities")
def test_density_table(psia: int) -> None:
    for degf, expected in zip((40, 70, 100, 120), DENSITY[psia], strict=True):
        assert gas.density(from_unit(psia, "psi"), kelvin(degf)) == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("case", FRACTIONS)
@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: fractions by steps of the engine")
def test_usable_fraction(case: tuple[float, ...]) -> None:
    pre, high, low, degf, gauge, ideal, isothermal, adiabatic, ideal_adiabatic, end = case
    assert pre / low - pre / high == pytest.approx(gauge, abs=5e-6)
    p0, p1, p2 = absolute(pre), absolute(high), absolute(low)
    assert p0 / p2 - p0 / p1 == pytest.approx(ideal, abs=5e-6)
    t = kelvin(degf)
    r0, r1 = gas.density(p0, t), gas.density(p1, t)
    assert r0 / gas.density(p2, t) - r0 / r1 == pytest.approx(isothermal, rel=3e-4)
    r2, t2 = gas.adiabatic_density(t, r1, p2)
    assert r0 / r2 - r0 / r1 == pytest.approx(adiabatic, rel=2e-3)
    assert to_unit(t2, "degF") == pytest.approx(end, abs=0.15)
    assert p0 / p1 * ((p1 / p2) ** (1 / 1.4) - 1) == pytest.approx(ideal_adiabatic, abs=5e-6)


@held_against("gas, steps of the engine", "the adiabat of an ideal gas in closed form", "verification")
def test_ideal_law_by_small_steps_gives_the_ideal_adiabat() -> None:
    """Ideal gas, gamma 1.4, 1000/3000/1200 psig: 0.30770 of the bottle (computed)."""
    t = kelvin(70)
    r0, r1 = (absolute(psi) / (gas.N2_GAS_CONSTANT * t) for psi in (1000, 3000))
    rho = r1
    while True:
        following = rho * 0.9995
        # The rule of ``bottle_temperature`` without a wall, with the ideal gas in place of the real one.
        half = 0.5 * (following - rho) / (0.5 * (rho + following)) * gas.N2_GAS_CONSTANT / gas.IDEAL_N2_CV
        cooler = t * (1.0 + half) / (1.0 - half)
        if gas.ideal_nitrogen(following, cooler)[0] < absolute(1200):
            break
        rho, t = following, cooler
    assert r0 / rho - r0 / r1 == pytest.approx(0.30770, rel=2e-3)


def test_the_base_bottle_in_gallons() -> None:
    """10 gal, 1000 psig at 70 degF, charged to 3000, drawn to 1200: at surface and under 445 psi of sea."""
    t = kelvin(70)
    for head, isothermal, adiabatic, end, stored in (
        (0, 4.79311, 2.34801, -53.74, 6.42204),
        (445, 4.27042, 2.11832, -31.15, 5.43784),
    ):
        r0, r1 = gas.density(absolute(1000 + head), t), gas.density(absolute(3000 + head), t)
        assert 10 * (1 - r0 / r1) == pytest.approx(stored, rel=5e-4)
        assert 10 * (r0 / gas.density(absolute(1200 + head), t) - r0 / r1) == pytest.approx(isothermal, rel=5e-4)
        r2, t2 = gas.adiabatic_density(t, r1, absolute(1200 + head))
        assert 10 * (r0 / r2 - r0 / r1) == pytest.approx(adiabatic, rel=2e-3)
        assert to_unit(t2, "degF") == pytest.approx(end, abs=0.15)


@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: warming back of a blocked-in bottle")
def test_polytropic_index_and_warming_back() -> None:
    """Base case: effective index 1.8016; blocked in at 1200 psig and warmed to 70 degF: 1718.4."""
    t = kelvin(70)
    r1 = gas.density(absolute(3000), t)
    r2, _ = gas.adiabatic_density(t, r1, absolute(1200))
    assert math.log(absolute(3000) / absolute(1200)) / math.log(r1 / r2) == pytest.approx(1.8016, abs=0.003)
    warm = to_unit(gas.nitrogen_pressure(r2, t)[0], "psi") - 14.696
    assert warm == pytest.approx(1718.4, abs=1.0)


@pytest.mark.parametrize(("degf", "psig"), [(32, 915.08), (40, 932.98), (100, 1066.9), (120, 1111.3)])
def test_precharge_follows_temperature(degf: float, psig: float) -> None:
    """A precharge of 1000 psig at 70 degF in a closed bottle at another temperature."""
    rho = gas.density(absolute(1000), kelvin(70))
    assert to_unit(gas.nitrogen_pressure(rho, kelvin(degf))[0], "psi") - 14.696 == pytest.approx(psig, abs=0.25)


def _reference(name: str, pressure: float, temperature: float) -> tuple[float, float, float, float]:
    """Density, cv, speed of sound and dp/dT of the reference equation."""
    state = CoolProp.AbstractState("HEOS", name)
    state.update(CoolProp.PT_INPUTS, pressure, temperature)
    thermal = state.first_partial_deriv(CoolProp.iP, CoolProp.iT, CoolProp.iDmass)
    return state.rhomass(), state.cvmass(), state.speed_sound(), thermal


def _sound(rho: float, temperature: float, law: tuple[float, float, float, float]) -> float:
    """Speed of sound from the four values of a gas law: w2 = dp/drho + T (dp/dT)^2 / (rho^2 cv)."""
    _, slope, thermal, cv = law
    return math.sqrt(slope + temperature * thermal * thermal / (rho * rho * cv))


@pytest.mark.parametrize(
    ("low", "high", "density", "cv", "sound", "thermal"),
    [(250, 350, 3e-4, 3e-3, 1.5e-3, 1.5e-3), (190, 400, 1e-3, 7e-3, 3e-3, 5e-3)],
)
@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: density, heat capacity, speed of sound on a grid")
def test_nitrogen_on_a_dense_grid(low: int, high: int, density: float, cv: float, sound: float, thermal: float) -> None:
    """0 to 450 bar; the core range of a bottle, and the far range of a fast discharge or a hot deck."""
    for temperature in range(low, high + 1, 5):
        for bar in (0.5, 1, 2, 5, *range(10, 451, 20), 450):
            expected = _reference("Nitrogen", bar * 1e5, temperature)
            rho = gas.density(bar * 1e5, temperature)
            law = gas.nitrogen(rho, temperature)
            assert law[0] == pytest.approx(bar * 1e5, rel=1e-10)
            assert rho == pytest.approx(expected[0], rel=density)
            assert law[3] == pytest.approx(expected[1], rel=cv)
            assert _sound(rho, temperature, law) == pytest.approx(expected[2], rel=sound)
            assert law[2] == pytest.approx(expected[3], rel=thermal)


@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: the same to 700 bar, bottles in deep water")
def test_nitrogen_beyond_the_range_of_its_fit() -> None:
    """450 to 700 bar, 240 to 355 K: the fit ends at 460 bar and serves on without being made again."""
    for temperature in range(240, 356, 5):
        for bar in range(450, 701, 25):
            expected = _reference("Nitrogen", bar * 1e5, temperature)
            rho = gas.density(bar * 1e5, temperature)
            law = gas.nitrogen(rho, temperature)
            assert law[0] == pytest.approx(bar * 1e5, rel=1e-10)
            assert rho == pytest.approx(expected[0], rel=7e-4)
            assert law[3] == pytest.approx(expected[1], rel=5e-3)
            assert _sound(rho, temperature, law) == pytest.approx(expected[2], rel=6e-3)
            assert law[2] == pytest.approx(expected[3], rel=6e-3)


@held_against("gas, methane", "Setzmann and Wagner (1991) by CoolProp: density on a grid")
def test_methane_on_a_dense_grid() -> None:
    """Influx gas: Setzmann and Wagner, J. Phys. Chem. Ref. Data 20 (1991) 1061-1155, by CoolProp."""
    for temperature in range(275, 426, 10):
        for bar in (1, 5, 20, *range(50, 701, 50)):
            expected = _reference("Methane", bar * 1e5, temperature)
            rho = methane_density(bar * 1e5, temperature)
            law = methane(rho, temperature)
            assert rho == pytest.approx(expected[0], rel=1e-3)
            assert law[3] == pytest.approx(expected[1], rel=0.025)
            assert _sound(rho, temperature, law) == pytest.approx(expected[2], rel=5e-3)
