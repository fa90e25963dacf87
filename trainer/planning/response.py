"""How fast a command travels through a pilot line."""

from __future__ import annotations

import math


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
