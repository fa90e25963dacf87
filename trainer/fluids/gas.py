"""Nitrogen in a bottle: pressure, heat capacity, and how its temperature follows its volume.

The laws are polynomials (only + - * /), so that they give the same bits on every machine and can be
compiled into the plant's flat code. The coefficients are fitted to the reference equation of state; where
they come from and how far they deviate is told in ``assets/tables/nitrogen.toml``. The last functions
loop: they serve loading and planning, not the running plant.
"""

from __future__ import annotations

from collections.abc import Callable

# begin generated (assets/tables/make_gas_tables.py writes this block and the table together)
N2_GAS_CONSTANT = 296.803896
N2_DENSITY_SCALE = 300.0
N2_TEMPERATURE_SCALE = 300.0
N2_1_0 = 0.417737688
N2_1_1 = -0.262318763
N2_1_2 = -0.282493116
N2_1_3 = 0.0968530612
N2_1_4 = -0.0184514039
N2_2_0 = 0.128875238
N2_2_2 = 0.0265232056
N2_3_1 = 0.0909890536
N2_3_2 = -0.107329709
N2_3_3 = 0.0487712621
N2_4_0 = 0.0180278883
N2_4_3 = -0.0186991274
N2_5_2 = 0.0116246213
N2_CV0_0 = 2.53325949
N2_CV0_1 = -0.0835485941
N2_CV0_2 = 0.0534148952
# end generated

# How far an ideal two-atomic gas warms when squeezed, d ln T / d ln rho; good enough to guess a half step.
IDEAL_GRUNEISEN = 0.4
IDEAL_N2_CV = 742.0
"""J/(kg K), heat capacity of nitrogen as an ideal gas at 20 degC and constant volume: 5/2 R/M."""


def nitrogen_pressure(rho: float, temperature: float) -> tuple[float, float]:
    """Pressure of real nitrogen and its slope with density.

    ``rho`` in kg/m3 (0 to 560), ``temperature`` in K (190 to 400; best from 240 to 355). Returns absolute
    pressure in Pa and dp/drho at constant temperature in Pa m3/kg. Density found from it is within 0.02 %
    of the reference from 240 to 355 K and 0 to 460 bar, within 0.07 % on to 700 bar (bottles in deep water).

    Z = 1 + sum c_ij d^i t^j, p = rho R T Z; Span et al. 2000, by the fit in ``assets/tables/nitrogen.toml``.

    >>> round(nitrogen_pressure(223.9124, 294.2611)[0] / 6894.757)
    3000
    """
    d = rho / N2_DENSITY_SCALE
    t = N2_TEMPERATURE_SCALE / temperature
    t2 = t * t
    b1 = N2_1_0 + t * (N2_1_1 + t * (N2_1_2 + t * (N2_1_3 + t * N2_1_4)))
    b2 = N2_2_0 + t2 * N2_2_2
    b3 = t * (N2_3_1 + t * (N2_3_2 + t * N2_3_3))
    b4 = N2_4_0 + t2 * t * N2_4_3
    b5 = t2 * N2_5_2
    rt = N2_GAS_CONSTANT * temperature
    z = 1.0 + d * (b1 + d * (b2 + d * (b3 + d * (b4 + d * b5))))
    slope = 1.0 + d * (2.0 * b1 + d * (3.0 * b2 + d * (4.0 * b3 + d * (5.0 * b4 + d * (6.0 * b5)))))
    return rho * rt * z, rt * slope


def nitrogen_thermal(rho: float, temperature: float) -> tuple[float, float]:
    """How real nitrogen answers to heat: dp/dT at constant density in Pa/K, and cv in J/(kg K).

    ``rho`` in kg/m3, ``temperature`` in K; range as for ``nitrogen_pressure``, from the same Helmholtz
    energy, so both agree. cv is within 0.3 % of the reference from 240 to 355 K (0.5 % above 460 bar, to 700),
    within 0.6 % from 190 to 400 K.
    """
    d = rho / N2_DENSITY_SCALE
    t = N2_TEMPERATURE_SCALE / temperature
    x = temperature / N2_TEMPERATURE_SCALE
    t2 = t * t
    t3 = t2 * t
    u12 = t2 * N2_1_2
    u13 = t3 * N2_1_3
    u14 = t2 * t2 * N2_1_4
    u22 = t2 * N2_2_2
    u32 = t2 * N2_3_2
    u33 = t3 * N2_3_3
    u43 = t3 * N2_4_3
    u52 = t2 * N2_5_2
    # Z - t dZ/dt: a term in t^j counts (1 - j) times, so terms linear in t drop out.
    w1 = N2_1_0 - u12 - 2.0 * u13 - 3.0 * u14
    w3 = -u32 - 2.0 * u33
    warm = 1.0 + d * (w1 + d * (N2_2_0 - u22 + d * (w3 + d * (N2_4_0 - 2.0 * u43 - d * u52))))
    # Each term j (j - 1) / i times: what the attraction between molecules adds to the heat capacity.
    h1 = 2.0 * u12 + 6.0 * u13 + 12.0 * u14
    h3 = u32 / 1.5 + 2.0 * u33
    bound = d * (h1 + d * (u22 + d * (h3 + d * (1.5 * u43 + d * (0.4 * u52)))))
    cv0 = N2_CV0_0 + x * (N2_CV0_1 + x * N2_CV0_2)
    return rho * N2_GAS_CONSTANT * warm, N2_GAS_CONSTANT * (cv0 - bound)


def nitrogen(rho: float, temperature: float) -> tuple[float, float, float, float]:
    """All of the gas law at once: absolute pressure in Pa, dp/drho, dp/dT and cv, as the two functions above.

    The running plant needs pressure and slope each tick, and heat only when the bottle's temperature
    steps: it calls the halves.
    """
    pressure, dp_drho = nitrogen_pressure(rho, temperature)
    dp_dt, cv = nitrogen_thermal(rho, temperature)
    return pressure, dp_drho, dp_dt, cv


def ideal_nitrogen(rho: float, temperature: float) -> tuple[float, float, float, float]:
    """The same four values for the handbook's ideal gas: p = rho R T, cv = 742 J/(kg K), gamma = 1.4.

    For the lesson that shows what the handbook leaves out; any density and temperature above zero.
    """
    rt = N2_GAS_CONSTANT * temperature
    return rho * rt, rt, rho * N2_GAS_CONSTANT, IDEAL_N2_CV


def bottle_temperature(
    temperature: float, rho_old: float, rho_new: float, wall_temperature: float, relax: float
) -> float:
    """Gas temperature (K) of a bottle after its gas went from ``rho_old`` to ``rho_new`` (kg/m3) in one tick.

    First law for the closed gas: dT = T / (cv rho^2) (dp/dT) drho + (Twall - T) dt / tau. ``relax`` is
    dt / tau, the tick over the wall's relaxation time (0: no heat exchange, adiabatic; the larger the nearer
    to isothermal). ``temperature`` is the value before the tick, ``wall_temperature`` the steel's, both K.

    Midpoint rule, second order, implicit in T: no step length makes it unstable. Range as for
    ``nitrogen_thermal`` with both densities above zero.
    """
    rho = 0.5 * (rho_old + rho_new)
    squeeze = (rho_new - rho_old) / rho
    middle = temperature * (1.0 + 0.5 * IDEAL_GRUNEISEN * squeeze)
    dp_dt, cv = nitrogen_thermal(rho, middle)
    half = 0.5 * (squeeze * dp_dt / (cv * rho) - relax)
    return ((1.0 + half) * temperature + relax * wall_temperature) / (1.0 - half)


# At load and for planning: the functions below loop.


def solve_density(
    law: Callable[[float, float], tuple[float, float]], pressure: float, temperature: float, constant: float
) -> float:
    """Density (kg/m3) at which ``law(rho, T) -> (p, dp_drho)`` gives the absolute ``pressure`` (Pa).

    ``constant`` is the gas constant in J/(kg K), for the ideal start value. Newton's rule to 1e-13 of the
    density. ValueError when pressure or temperature is out of range or no density fits.
    """
    if not (0.0 <= pressure <= 1.5e8 and 100.0 <= temperature <= 1000.0):
        raise ValueError(
            f"no gas density at {pressure:.6g} Pa and {temperature:.6g} K: "
            "give an absolute pressure from 0 to 1.5e8 Pa and a temperature from 100 to 1000 K"
        )
    # A dense gas is stiffer than an ideal one: the capped start keeps the first step inside the fitted
    # range.
    rho = min(pressure / (constant * temperature), 300.0)
    for _ in range(60):
        found, slope = law(rho, temperature)
        step = (pressure - found) / slope
        step = max(-0.5 * rho, min(step, 60.0))
        rho += step
        if abs(step) <= 1e-13 * rho:
            return rho
    raise ValueError(f"no gas density found at {pressure:.6g} Pa and {temperature:.6g} K: out of the law's range")


def density(pressure: float, temperature: float) -> float:
    """Density of real nitrogen in kg/m3 at absolute ``pressure`` (Pa) and ``temperature`` (K).

    ValueError outside the law's range.

    >>> round(density(1000 * 6894.757, 294.2611), 1)
    79.3
    """
    return solve_density(nitrogen_pressure, pressure, temperature, N2_GAS_CONSTANT)


def adiabatic_density(temperature: float, rho_from: float, pressure: float, steps: int = 2000) -> tuple[float, float]:
    """Density (kg/m3) and temperature (K) when nitrogen has expanded without heat exchange to ``pressure``.

    ``pressure`` in Pa absolute, below the pressure at the start. Walks down the isentrope and closes the
    last step by the false-position rule. ValueError when the pressure is not reached within the law's
    range.
    """
    rho = rho_from
    high = nitrogen_pressure(rho, temperature)[0]
    if not 0.0 < pressure <= high:
        raise ValueError(
            f"cannot expand from {high:.6g} Pa to {pressure:.6g} Pa: give a pressure above zero and not above the first"
        )
    drop = rho_from / steps
    while rho > 1.5 * drop:
        following = rho - drop
        cooler = bottle_temperature(temperature, rho, following, temperature, 0.0)
        low = nitrogen_pressure(following, cooler)[0]
        if low <= pressure:
            share = (high - pressure) / (high - low)
            last = rho - share * drop
            return last, bottle_temperature(temperature, rho, last, temperature, 0.0)
        rho, temperature, high = following, cooler, low
    raise ValueError(f"{pressure:.6g} Pa is not reached within the range of the nitrogen law")
