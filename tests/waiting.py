"""How long tests wait for what must come, and how processes wait for what one of them makes."""

import fcntl
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

PATIENCE = 900.0
"""Seconds after which a wait is given up. No claim about speed: a slow machine only makes the tests slower."""


def wait_until(true: Callable[[], bool], what: str = "") -> None:
    """Wait for something to become true."""
    end = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < end, f"waited in vain: {what}"
        time.sleep(0.05)


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """One process after another: what the first makes in ``folder``, the others find."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
