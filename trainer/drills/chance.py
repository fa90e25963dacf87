"""Small deterministic random numbers: what a seed picks is the same on every machine and Python version.

SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014) on whole
numbers only. Each name has its own stream, so that a new variation in a file does not shift the others.
"""

from __future__ import annotations

_MASK = (1 << 64) - 1


def _mix(state: int) -> int:
    z = state & _MASK
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & _MASK
    return z ^ (z >> 31)


def _hash(name: str) -> int:
    """FNV-1a, 64 bits, of the UTF-8 text."""
    value = 0xCBF29CE484222325
    for byte in name.encode():
        value = ((value ^ byte) * 0x100000001B3) & _MASK
    return value


def whole(seed: int, name: str) -> int:
    """A whole number of 64 bits that only the seed and the name decide, the same on every machine."""
    return _mix(_mix(seed) + _hash(name) + 0x9E3779B97F4A7C15)


def share(seed: int, name: str) -> float:
    """A number from 0 up to, not including, 1, with 53 random bits."""
    return (whole(seed, name) >> 11) * (1.0 / 9007199254740992.0)


def between(seed: int, name: str, low: float, high: float) -> float:
    """A number from ``low`` up to ``high`` that only the seed and the name decide."""
    return low + (high - low) * share(seed, name)


def index(seed: int, name: str, count: int) -> int:
    """A place in a list of ``count`` things, from 0, that only the seed and the name decide."""
    return int(share(seed, name) * count)
