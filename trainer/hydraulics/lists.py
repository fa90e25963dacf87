"""What laws do with a list of values, whose length the plant decides: the compiler writes it out as arithmetic."""

from __future__ import annotations

from collections.abc import Sequence


def added(values: Sequence[float]) -> float:
    """The values added one after the other, as ``a + b + c``; 0 for none. The built-in sum rounds otherwise.

    >>> added([0.5, 0.25])
    0.75
    """
    total = values[0] if values else 0.0
    for value in values[1:]:
        total = total + value
    return total


def largest(values: Sequence[float]) -> float:
    """The largest of the values, as ``max(max(a, b), c)``; 0 for none.

    >>> largest([1.0, 3.0, 2.0])
    3.0
    """
    found = values[0] if values else 0.0
    for value in values[1:]:
        found = max(found, value)
    return found


def chosen(values: Sequence[float], number: float) -> float:
    """The value at ``number``, counted from 1 and rounded; the first below that, the last above; 0 for none.

    >>> chosen([7.0, 8.0, 9.0], 2.0), chosen([7.0, 8.0, 9.0], 0.0)
    (8.0, 7.0)
    """
    found = values[0] if values else 0.0
    for at, value in enumerate(values[1:]):
        found = value if number > at + 1.5 else found
    return found


def first_where(values: Sequence[float], flags: Sequence[float], otherwise: float) -> float:
    """The first value whose flag is on (above a half), or ``otherwise``.

    >>> first_where([7.0, 8.0], [0.0, 1.0], 9.0)
    8.0
    """
    for value, flag in zip(values, flags, strict=True):
        if flag > 0.5:
            return value
    return otherwise
