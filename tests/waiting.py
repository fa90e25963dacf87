"""How long tests wait for what must come."""

import time
from collections.abc import Callable

PATIENCE = 120.0
"""Seconds after which a wait is given up. No claim about speed: a slow machine only makes the tests slower."""


def wait_until(true: Callable[[], bool], what: str = "") -> None:
    """Wait for something to become true."""
    end = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < end, f"waited in vain: {what}"
        time.sleep(0.05)
