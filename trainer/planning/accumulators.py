"""How much fluid a bottle gives: the handbook's ideal gas, the real gas, slow and fast.

A bottle is precharged with nitrogen, charged with fluid to its highest pressure, and drawn down to the
lowest pressure that still works the function. What it gives in between is the usable fraction of its
volume. Pressures are gauge Pa at the bottle: under water, add the head of the sea to each, as the
handbooks do.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from trainer.constants import ATMOSPHERE
from trainer.fluids.gas import adiabatic_density, density, nitrogen_pressure

ROOM = 294.26  # K, 70 degF: the temperature at which handbooks set a precharge
IDEAL_GAMMA = 1.4


def _ordered(precharge: float, high: float, low: float) -> None:
    """ValueError unless 0 < precharge <= low <= high: below the precharge the bottle is empty of fluid."""
    if not 0.0 < precharge <= low <= high:
        raise ValueError(
            f"a bottle with precharge {precharge:.6g} Pa cannot work between {low:.6g} and {high:.6g} Pa: "
            "give pressures with 0 < precharge <= lowest <= highest"
        )


def ideal_gauge(precharge: float, high: float, low: float, temperature: float = ROOM) -> float:
    """Usable fraction by the oldest handbook method: ideal gas, isothermal, gauge pressures as they stand.

    p0/p2 - p0/p1. Pressures in any one unit; ``temperature`` does not matter. Lapeyrouse, *Formulas and
    Calculations for Drilling, Production and Workover*, 2nd ed., ch. 1; Crumpton, *Well Control for
    Completions and Interventions*, section 4.9.7.

    >>> round(10 * ideal_gauge(1000, 3000, 1200), 2)
    5.0
    """
    _ordered(precharge, high, low)
    return precharge / low - precharge / high


def ideal_absolute(precharge: float, high: float, low: float, temperature: float = ROOM) -> float:
    """Usable fraction of an ideal gas, isothermal: gauge Pa in, the atmosphere is added here.

    >>> round(ideal_absolute(6.894757e6, 20.684272e6, 8.273709e6), 4)
    0.4988
    """
    _ordered(precharge, high, low)
    p0, p1, p2 = precharge + ATMOSPHERE, high + ATMOSPHERE, low + ATMOSPHERE
    return p0 / p2 - p0 / p1


def ideal_adiabatic(precharge: float, high: float, low: float, temperature: float = ROOM) -> float:
    """Usable fraction of an ideal gas, charged slowly, drawn fast (gamma = 1.4); gauge Pa.

    p0/p1 ((p1/p2)^(1/gamma) - 1), absolute pressures inside.

    >>> round(ideal_adiabatic(6.894757e6, 20.684272e6, 8.273709e6), 4)
    0.3077
    """
    _ordered(precharge, high, low)
    p0, p1, p2 = precharge + ATMOSPHERE, high + ATMOSPHERE, low + ATMOSPHERE
    return p0 / p1 * (math.pow(p1 / p2, 1.0 / IDEAL_GAMMA) - 1.0)


def real_isothermal(precharge: float, high: float, low: float, temperature: float = ROOM) -> float:
    """Usable fraction of real nitrogen at one ``temperature`` (K): gauge Pa. rho0/rho2 - rho0/rho1.

    >>> round(real_isothermal(6.894757e6, 20.684272e6, 8.273709e6), 3)
    0.479
    """
    _ordered(precharge, high, low)
    rho0, rho1, rho2 = (density(p + ATMOSPHERE, temperature) for p in (precharge, high, low))
    return rho0 / rho2 - rho0 / rho1


def real_adiabatic(precharge: float, high: float, low: float, temperature: float = ROOM) -> float:
    """Usable fraction of real nitrogen, charged slowly at ``temperature`` (K), drawn with no heat entering.

    Gauge Pa. rho0/rho2 - rho0/rho1 with rho2 at the same entropy as rho1, found by small steps of the
    first law.

    >>> round(real_adiabatic(6.894757e6, 20.684272e6, 8.273709e6), 3)
    0.235
    """
    _ordered(precharge, high, low)
    rho0 = density(precharge + ATMOSPHERE, temperature)
    rho1 = density(high + ATMOSPHERE, temperature)
    rho2, _ = adiabatic_density(temperature, rho1, low + ATMOSPHERE)
    # Drawn below the pressure at which the cold gas fills the bottle there is no more fluid to give.
    return rho0 / max(rho2, rho0) - rho0 / rho1


METHODS: Mapping[str, Callable[[float, float, float, float], float]] = {
    "ideal_gauge": ideal_gauge,
    "ideal_absolute": ideal_absolute,
    "ideal_adiabatic": ideal_adiabatic,
    "real_isothermal": real_isothermal,
    "real_adiabatic": real_adiabatic,
}


def volumetric_efficiency(rho0: float, rho1: float, rho2: float, pressure_factor: float, volume_factor: float) -> float:
    """Design fraction of a bottle: the smaller of what pressure and what volume allow.

    min{(rho0/rho2 - rho0/rho1) / Fp, (1 - rho0/rho1) / Fv}; densities of the gas at precharge, charged
    and drawn (kg/m3), design factors without unit. After API Spec 16D, from memory; the factors are in
    the rule sets.

    >>> round(volumetric_efficiency(79.3, 223.9, 95.0, 1.5, 1.0), 4)
    0.3204
    """
    by_pressure = (rho0 / rho2 - rho0 / rho1) / pressure_factor
    by_volume = (1.0 - rho0 / rho1) / volume_factor
    return min(by_pressure, by_volume)


def stored_fraction(precharge: float, high: float, temperature: float = ROOM) -> float:
    """Share of a bottle filled with fluid when slowly charged to ``high``: real nitrogen, gauge Pa, K.

    >>> round(10 * stored_fraction(6.894757e6, 20.684272e6), 2)
    6.42
    """
    _ordered(precharge, high, high)
    return 1.0 - density(precharge + ATMOSPHERE, temperature) / density(high + ATMOSPHERE, temperature)


def average_precharge(removed: float, bottles: float, start: float, end: float) -> float:
    """Average precharge pressure found by drawing fluid from the whole bank with the pumps off.

    P = (Vr/Va) Pf Ps / (Ps - Pf). ``removed`` fluid and ``bottles`` total volume in one unit, pressure at
    ``start`` and ``end`` in one unit, which is the result's. Lapeyrouse, 2nd ed., p. 41. ValueError
    unless start > end > 0.

    >>> round(average_precharge(20, 180, 3000, 2200))
    917
    """
    if not (start > end > 0.0 and 0.0 < removed < bottles):
        raise ValueError(
            f"drawing {removed:g} of {bottles:g} from {start:g} to {end:g} says nothing about the precharge: "
            "the pressure must fall, and less than the bottles' volume must be drawn"
        )
    return removed / bottles * end * start / (start - end)


def demand(volumes: Sequence[float], factor: float = 1.0) -> float:
    """Fluid that a list of functions asks for, times a reserve factor; the unit of ``volumes``.

    >>> round(demand([24.1, 11.8, 11.8, 11.8, 0.46, 0.46], 1.5), 2)
    90.63
    """
    return factor * math.fsum(volumes)


def bottles_needed(volume: float, usable_per_bottle: float) -> int:
    """Whole bottles that give ``volume`` when each gives ``usable_per_bottle`` (same unit, above zero).

    >>> bottles_needed(90.63, 5.0)
    19
    """
    if usable_per_bottle <= 0.0:
        raise ValueError(f"a bottle that gives {usable_per_bottle:g} never suffices: check its precharge and pressures")
    # A hair's breadth over a whole number is rounding, not a bottle.
    return math.ceil(volume / usable_per_bottle - 1e-9)


def precharge_at(precharge: float, set_temperature: float, temperature: float) -> float:
    """Precharge (gauge Pa) that a bottle set at one temperature shows at another (K), no fluid in it.

    >>> round(precharge_at(6.894757e6, 294.26, 273.15) / 6894.757)
    915
    """
    rho = density(precharge + ATMOSPHERE, set_temperature)
    return nitrogen_pressure(rho, temperature)[0] - ATMOSPHERE
