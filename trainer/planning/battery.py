"""How long a battery carries the panels."""

from __future__ import annotations

import math

END_OF_CELL = 1.75  # V: a lead-acid cell below this is discharged; 105 V for ten 12 V units in series


def peukert_hours(capacity: float, rated_hours: float, current: float, exponent: float) -> float:
    """Hours until a lead-acid battery is discharged at a steady ``current`` (A).

    t = H (C / (I H))^k: ``capacity`` C in Ah at the ``rated_hours`` H rate, ``exponent`` k about 1.1 to 1.3.
    The short form C / I^k with nameplate ampere-hours is wrong: it is not even dimensionally a time.
    ValueError for values not above zero or an exponent below 1.

    >>> round(peukert_hours(100, 20, 10, 1.2), 4)
    8.7055
    """
    if not (capacity > 0.0 and rated_hours > 0.0 and current > 0.0 and exponent >= 1.0):
        raise ValueError("capacity, rated hours and current must be above zero, and the exponent at least 1")
    return rated_hours * math.pow(capacity / (current * rated_hours), exponent)


def end_voltage(units: int, cells: int = 6) -> float:
    """Voltage at which ``units`` in series of ``cells`` each are discharged.

    >>> end_voltage(10)
    105.0
    """
    return units * cells * END_OF_CELL
