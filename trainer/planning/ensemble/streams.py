"""Random numbers of an ensemble: independent streams by numpy's SeedSequence, one a quantity, a place in it a plant.

Neighboring seeds share nothing, a plant is the same in whatever block it is computed, and a new quantity does not
shift the others. Only the raw bits of the generator are used: numpy keeps those the same in every version (NEP 19).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import numpy as np

SEEDS = 2**31
"""Seeds lie below this: the page takes such a seed too, so that any plant's drill can be run there."""


def shares(seed: int, name: str, numbers: Sequence[int]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """For each of the plants ``numbers`` (in order, without gaps) a number from 0 up to, not including, 1."""
    raw = _raw(seed, name, numbers)
    return (raw >> np.uint64(11)).astype(np.float64) * (1.0 / 9007199254740992.0)


def seeds(seed: int, name: str, numbers: Sequence[int]) -> list[int]:
    """For each of the plants ``numbers`` (in order, without gaps) a seed of its own, below ``SEEDS``."""
    return [int(value) % SEEDS for value in _raw(seed, name, numbers)]


def _raw(seed: int, name: str, numbers: Sequence[int]) -> np.ndarray[tuple[int], np.dtype[np.uint64]]:
    key = int.from_bytes(hashlib.sha256(name.encode()).digest()[:16], "big")
    generator = np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(key,)))
    if not numbers:
        return np.zeros(0, dtype=np.uint64)
    generator.advance(numbers[0])
    return np.asarray(generator.random_raw(len(numbers)), dtype=np.uint64)
