"""Many plants of one network in one piece of memory, advanced by one call."""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt
from typing import Any, Protocol

import numpy as np

from trainer.hydraulics.compile import Advance, compile_network
from trainer.hydraulics.machine import Machine, NumbersError, PlainPython, advancing
from trainer.hydraulics.network import Network
from trainer.hydraulics.translate import translate

States = np.ndarray[Any, np.dtype[np.float64]]


class Block(Protocol):
    """Many plants of one network. ``state``: a row a variable, a column a plant, SI. ``beside``: further numbers of
    each plant, which the plant itself knows nothing of."""

    state: States
    beside: States

    def scan(self, scans: int = 1) -> None:
        """Advance every plant by ``scans`` of 100 ms; NumbersError when the numbers of one gave out."""

    def each(self, source: str) -> Callable[[], None]:
        """What runs a flat function once on every plant: its state, and behind that what lies beside it."""


def block(net: Network, count: int, beside: int = 0) -> Block:
    """``count`` plants of ``net``, all zero, each with so many numbers ``beside``, on the runtime of this process."""
    if Machine.maker is PlainPython:
        return PlainBlock(net, count, beside)
    try:
        return CompiledBlock(net, count, beside)
    except (ImportError, OSError):
        return PlainBlock(net, count, beside)


class CompiledBlock:
    """Plants that lie one behind the other in WebAssembly's memory."""

    def __init__(self, net: Network, count: int, beside: int = 0) -> None:
        from trainer.runtime.by_wasmtime import Memory

        size = len(net.variables)
        self._memory = Memory((size + beside) * count)
        self._table: States = np.asarray(self._memory.numbers).reshape((size + beside, count), order="F")
        self.state, self.beside = self._table[:size], self._table[size:]
        self._run = self._memory.bind(net, count, beside)

    def scan(self, scans: int = 1) -> None:
        """Advance every plant by ``scans`` of 100 ms; NumbersError when the numbers of one gave out."""
        if not self._run(scans):
            raise NumbersError

    def each(self, source: str) -> Callable[[], None]:
        """What runs a flat function once on every plant: its state, and behind that what lies beside it."""
        from trainer.runtime.by_wasmtime import compiled

        size, count = self._table.shape
        run = self._memory.link(*compiled(translate(source, size, finite=False)), count)

        def once() -> None:
            if not run(1):
                raise NumbersError

        return once


class PlainBlock:
    """Plants that are advanced one after the other by the flat Python function."""

    def __init__(self, net: Network, count: int, beside: int = 0) -> None:
        size = len(net.variables)
        self._table: States = np.zeros((size + beside, count), order="F")
        self.state, self.beside = self._table[:size], self._table[size:]
        advance = compile_network(net).advance
        columns = [self.state[:, place].data.cast("B").cast("d") for place in range(count)]
        self._runs = [advancing(advance, column) for column in columns]

    def scan(self, scans: int = 1) -> None:
        """Advance every plant by ``scans`` of 100 ms; NumbersError when the numbers of one gave out."""
        if not all(run(scans) for run in self._runs):
            raise NumbersError

    def each(self, source: str) -> Callable[[], None]:
        """What runs a flat function once on every plant: its state, and behind that what lies beside it."""
        scope: dict[str, Any] = {"sqrt": sqrt}
        exec(compile(source, "<on every plant>", "exec"), scope)
        flat: Advance = scope["advance"]
        columns = [self._table[:, place].data.cast("B").cast("d") for place in range(self._table.shape[1])]

        def once() -> None:
            for column in columns:
                flat(column)

        return once
