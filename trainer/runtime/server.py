"""Which runtime advances plants in this process: wasmtime where it is at hand, plain Python elsewhere."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from trainer.hydraulics.machine import Computer, Machine, PlainPython

log = logging.getLogger("trainer.runtime")


def offer() -> None:
    """Let every plant that this process builds from here on run by wasmtime, where that is at hand."""
    Machine.maker = _quickest


def _quickest(size: int) -> Computer:
    """Holds and advances so many numbers by wasmtime, which is imported for the first plant only."""
    try:
        from trainer.runtime.by_wasmtime import Compiled
    except (ImportError, OSError) as error:
        log.warning("Plants are computed by plain Python, which takes many times as long: %s", error)
        Machine.maker = PlainPython
        return PlainPython(size)
    Machine.maker = Compiled
    return Compiled(size)


@contextmanager
def plain() -> Iterator[None]:
    """While this lasts, plants that this process builds run by plain Python, the reference."""
    offered, Machine.maker = Machine.maker, PlainPython
    try:
        yield
    finally:
        Machine.maker = offered
