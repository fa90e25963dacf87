"""Many plants of one network in one piece of memory, advanced by one call."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np

from trainer.hydraulics.compile import compile_network
from trainer.hydraulics.machine import Machine, NumbersError, PlainPython, advancing
from trainer.hydraulics.network import Network

States = np.ndarray[Any, np.dtype[np.float64]]


class Block(Protocol):
    """Many plants of one network. ``state``: a row a variable, a column a plant, SI."""

    state: States

    def scan(self, scans: int = 1) -> None:
        """Advance every plant by ``scans`` of 100 ms; NumbersError when the numbers of one gave out."""


def block(net: Network, count: int) -> Block:
    """``count`` plants of ``net``, all zero, on the runtime of this process."""
    if Machine.maker is PlainPython:
        return PlainBlock(net, count)
    try:
        return CompiledBlock(net, count)
    except (ImportError, OSError):
        return PlainBlock(net, count)


class CompiledBlock:
    """Plants that lie one behind the other in WebAssembly's memory."""

    def __init__(self, net: Network, count: int) -> None:
        from trainer.runtime.by_wasmtime import Memory

        size = len(net.variables)
        memory = Memory(size * count)
        self.state: States = np.asarray(memory.numbers).reshape((size, count), order="F")
        self._run = memory.bind(net, count)

    def scan(self, scans: int = 1) -> None:
        """Advance every plant by ``scans`` of 100 ms; NumbersError when the numbers of one gave out."""
        if not self._run(scans):
            raise NumbersError


class PlainBlock:
    """Plants that are advanced one after the other by the flat Python function."""

    def __init__(self, net: Network, count: int) -> None:
        self.state: States = np.zeros((len(net.variables), count), order="F")
        advance = compile_network(net).advance
        columns = [self.state[:, place].data.cast("B").cast("d") for place in range(count)]
        self._runs = [advancing(advance, column) for column in columns]

    def scan(self, scans: int = 1) -> None:
        """Advance every plant by ``scans`` of 100 ms; NumbersError when the numbers of one gave out."""
        if not all(run(scans) for run in self._runs):
            raise NumbersError
