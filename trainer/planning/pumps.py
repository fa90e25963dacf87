"""Pumps: power, mud pump output, stall, and how long a recharge takes."""

from __future__ import annotations

import math


def hydraulic_horsepower(psi: float, gpm: float) -> float:
    """Hydraulic horsepower of ``gpm`` (US gal/min) at ``psi``: the trade's rounded psi gpm / 1714.

    >>> round(hydraulic_horsepower(3000, 20), 3)
    35.006
    """
    return psi * gpm / 1714.0


def mud_pump_output(liner: float, stroke: float, efficiency: float = 1.0) -> float:
    """Output of a single-acting triplex mud pump in bbl/stroke; ``liner`` and ``stroke`` in inches.

    0.000243 D^2 S times efficiency (share): the three cylinders are already in the constant. Lapeyrouse,
    ch. 1.

    >>> round(mud_pump_output(6, 12), 6), round(mud_pump_output(6, 12, 0.97), 6)
    (0.104976, 0.101827)
    """
    return 0.000243 * liner * liner * stroke * efficiency


def stall_pressure(air_pressure: float, area_ratio: float) -> float:
    """Pressure at which an air-driven pump stops: air pressure times area ratio, any one unit.

    >>> stall_pressure(75, 60)
    4500
    """
    return air_pressure * area_ratio


def recharge_time(volume: float, flow: float) -> float:
    """Seconds to pump ``volume`` (m3) at ``flow`` (m3/s, all pumps together); infinite without flow."""
    return volume / flow if flow > 0.0 else math.inf
