"""Methane as the well's influx: a gas law of nitrogen's form, for the pressures of a formation.

Restricted to + - * / for the compiled plant; coefficients and their deviations:
``assets/tables/methane.toml``.
"""

from __future__ import annotations

from trainer.fluids.gas import solve_density

# begin generated (assets/tables/make_gas_tables.py writes this block and the table together)
CH4_GAS_CONSTANT = 518.270501
CH4_DENSITY_SCALE = 300.0
CH4_TEMPERATURE_SCALE = 300.0
CH4_1_0 = 0.914502003
CH4_1_1 = -1.31378503
CH4_1_2 = -0.382582097
CH4_2_1 = 0.774968728
CH4_3_0 = 1.93777389
CH4_3_1 = -3.75270212
CH4_3_2 = 2.07032007
CH4_4_0 = -1.65872687
CH4_4_1 = 5.03537634
CH4_4_2 = -4.45453688
CH4_4_3 = 0.624047253
CH4_5_2 = 0.610029537
CH4_CV0_0 = 4.37812552
CH4_CV0_1 = -4.4628153
CH4_CV0_2 = 4.34338559
CH4_CV0_3 = -0.955648585
# end generated


def methane_pressure(rho: float, temperature: float) -> tuple[float, float]:
    """Pressure of real methane and its slope with density.

    ``rho`` in kg/m3 (0 to 330), ``temperature`` in K (270 to 430). Returns absolute pressure in Pa and
    dp/drho at constant temperature in Pa m3/kg. Density found from it is within 0.1 % of the reference
    (Setzmann and Wagner 1991) up to 700 bar.
    """
    d = rho / CH4_DENSITY_SCALE
    t = CH4_TEMPERATURE_SCALE / temperature
    b1 = CH4_1_0 + t * (CH4_1_1 + t * CH4_1_2)
    b2 = t * CH4_2_1
    b3 = CH4_3_0 + t * (CH4_3_1 + t * CH4_3_2)
    b4 = CH4_4_0 + t * (CH4_4_1 + t * (CH4_4_2 + t * CH4_4_3))
    b5 = t * t * CH4_5_2
    rt = CH4_GAS_CONSTANT * temperature
    z = 1.0 + d * (b1 + d * (b2 + d * (b3 + d * (b4 + d * b5))))
    slope = 1.0 + d * (2.0 * b1 + d * (3.0 * b2 + d * (4.0 * b3 + d * (5.0 * b4 + d * (6.0 * b5)))))
    return rho * rt * z, rt * slope


def methane_thermal(rho: float, temperature: float) -> tuple[float, float]:
    """dp/dT at constant density in Pa/K, and cv in J/(kg K), of real methane; range as for the pressure."""
    d = rho / CH4_DENSITY_SCALE
    t = CH4_TEMPERATURE_SCALE / temperature
    x = temperature / CH4_TEMPERATURE_SCALE
    t2 = t * t
    u12 = t2 * CH4_1_2
    u32 = t2 * CH4_3_2
    u42 = t2 * CH4_4_2
    u43 = t2 * t * CH4_4_3
    u52 = t2 * CH4_5_2
    # As for nitrogen: (1 - j) and j (j - 1) / i times each term in t^j.
    warm = 1.0 + d * (CH4_1_0 - u12 + d * d * (CH4_3_0 - u32 + d * (CH4_4_0 - u42 - 2.0 * u43 - d * u52)))
    bound = d * (2.0 * u12 + d * d * (u32 / 1.5 + d * (0.5 * u42 + 1.5 * u43 + d * (0.4 * u52))))
    cv0 = CH4_CV0_0 + x * (CH4_CV0_1 + x * (CH4_CV0_2 + x * CH4_CV0_3))
    return rho * CH4_GAS_CONSTANT * warm, CH4_GAS_CONSTANT * (cv0 - bound)


def methane(rho: float, temperature: float) -> tuple[float, float, float, float]:
    """Absolute pressure in Pa, dp/drho, dp/dT and cv of real methane, as ``trainer.fluids.gas.nitrogen``."""
    pressure, dp_drho = methane_pressure(rho, temperature)
    dp_dt, cv = methane_thermal(rho, temperature)
    return pressure, dp_drho, dp_dt, cv


def methane_density(pressure: float, temperature: float) -> float:
    """Density of real methane in kg/m3 at absolute ``pressure`` (Pa) and ``temperature`` (K).

    It loops: for load time. ValueError outside the law's range.
    """
    return solve_density(methane_pressure, pressure, temperature, CH4_GAS_CONSTANT)
