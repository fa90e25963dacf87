"""How sure a share of plants is: Wilson's interval, and how many plants a wanted one takes.

Source: E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of the American
Statistical Association 22 (1927) 209-212; it holds at shares of none and all, where p plus or minus 2 sigma does not.
"""

from __future__ import annotations

import math
from collections.abc import Callable

Z = 1.959963984540054
"""The normal distribution's 97.5 % point: 95 % lie within it on both sides."""
MOST = 10**9


def interval(share: float, of: int) -> tuple[float, float]:
    """The 95 % interval of a share (0 to 1) seen on ``of`` plants, at least one."""
    return max(_middle(share, of) - half_width(share, of), 0.0), min(_middle(share, of) + half_width(share, of), 1.0)


def half_width(share: float, of: int) -> float:
    """Half of the width of that interval around a share of so many plants, 0 to 1."""
    return Z * math.sqrt(share * (1.0 - share) * of + 0.25 * Z * Z) / (of + Z * Z)


def runs_for(half: float, share: float = 0.5) -> int:
    """The fewest plants on which a share is known within ``half`` (above 0); a share of one half takes the most."""
    return _fewest(lambda of: half_width(share, of) <= half)


def runs_below(limit: float, share: float) -> int | None:
    """The fewest plants on which a ``share`` seen is surely below ``limit``; None when it is not below it."""
    return None if share >= limit else _fewest(lambda of: interval(share, of)[1] <= limit)


def in_words(found: tuple[float, float]) -> str:
    """An interval for a reader.

    >>> in_words((0.7154, 0.9183)), in_words((0.9937, 1.0))
    ('71.5 to 91.8 %', '99.4 to 100.0 %')
    """
    return f"{100.0 * found[0]:.1f} to {100.0 * found[1]:.1f} %"


def _middle(share: float, of: int) -> float:
    return (share * of + 0.5 * Z * Z) / (of + Z * Z)


def _fewest(enough: Callable[[int], bool]) -> int:
    low, high = 1, MOST
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle + 1, high)
    return low
