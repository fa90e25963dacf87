"""How fast a command travels and fluid flows: valve, orifice, pilot line."""

from __future__ import annotations

import math

WATER = 1000.0  # kg/m3: what orifice tables for water are reckoned with


def valve_flow(coefficient: float, drop: float, gravity: float = 1.0) -> float:
    """Flow through a valve in US gal/min: Q = Cv sqrt(dp / SG), ``drop`` in psi. IEC 60534.

    >>> round(valve_flow(1, 1000), 3), round(valve_flow(2.5, 400, 1.03), 3)
    (31.623, 49.266)
    """
    return coefficient * math.sqrt(drop / gravity)


def orifice_flow(diameter: float, drop: float, density: float = WATER, discharge: float = 0.61) -> float:
    """Flow through a sharp orifice in m3/s: Cd A sqrt(2 dp / rho); ``diameter`` m, ``drop`` Pa, kg/m3."""
    return discharge * 0.25 * math.pi * diameter * diameter * math.sqrt(2.0 * drop / density)


def wave_speed(modulus: float, density: float = 1000.0) -> float:
    """Speed of a pressure wave in m/s from the effective modulus (Pa) of hose and fluid together; Korteweg.

    >>> [round(wave_speed(k * 1e9)) for k in (0.2, 0.4, 0.7, 1.0)]
    [447, 632, 837, 1000]
    """
    return math.sqrt(modulus / density)


def transit_time(length: float, modulus: float, density: float = 1000.0) -> float:
    """Seconds before the far end of a line notices anything: length (m) over wave speed.

    >>> [round(transit_time(x, 0.4e9), 3) for x in (300, 900, 1500)]
    [0.474, 1.423, 2.372]
    """
    return length / wave_speed(modulus, density)


def filling_time(length: float, bore: float, modulus: float, viscosity: float) -> float:
    """Time constant in s of filling a long thin line: R C L^2 = 32 mu L^2 / (d^2 K), laminar flow.

    ``length`` and ``bore`` in m, ``modulus`` K in Pa, ``viscosity`` mu in Pa s. No published table was
    found to hold it against: a bound, together with ``transit_time``, not a prediction.

    >>> [round(filling_time(x, 0.0047625, 0.4e9, 1.1e-3), 3) for x in (300, 900, 1500)]
    [0.349, 3.143, 8.73]
    """
    return 32.0 * viscosity * length * length / (bore * bore * modulus)
