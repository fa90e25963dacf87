"""Expansion of nitrogen by small steps of the running plant's own rule, to hold against a closed form or a table."""

from __future__ import annotations

from trainer.fluids.gas import bottle_temperature


def adiabatic_temperature(temperature: float, rho_from: float, rho_to: float, steps: int = 400) -> float:
    """Temperature (K) of nitrogen after an isentropic change of density, in ``steps`` equal parts.

    The same rule as the running plant's, with no heat exchange; error falls with the square of ``steps``.
    """
    rho = rho_from
    for n in range(1, steps + 1):
        following = rho_from + (rho_to - rho_from) * n / steps
        temperature = bottle_temperature(temperature, rho, following, temperature, 0.0)
        rho = following
    return temperature
