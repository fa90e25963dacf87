"""Many plants of one description, advanced together: a row of ``state`` is a variable, a column a plant."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from trainer.constants import TICKS_PER_SCAN
from trainer.hydraulics.catalogue import Order
from trainer.hydraulics.compile import Numbers
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.refusal import Refusal
from trainer.runtime.blocks import block


class Columns:
    """``count`` plants like ``mould``, each starting in the mould's present state.

    ``beside`` has further numbers of each plant, a row a number, zero at first.
    """

    def __init__(self, mould: Machine, count: int, beside: int = 0) -> None:
        if count < 1:
            raise ValueError(f"{count} plants are none; give at least 1")
        self.mould = mould
        self.count = count
        self._block = block(mould.net, count, beside)
        self.state, self.beside = self._block.state, self._block.beside
        self.state[:] = np.array(mould.state)[:, None]
        self.tick = mould.tick

    def scan(self, scans: int = 1) -> None:
        """Advance every plant by ``scans`` of 100 ms; NumbersError when the numbers of one gave out."""
        self._block.scan(scans)
        self.tick += scans * TICKS_PER_SCAN

    def each(self, source: str) -> Callable[[], None]:
        """What runs a flat function once on every plant: ``s`` has its state, then what lies beside it."""
        return self._block.each(source)

    def row(self, name: str) -> np.ndarray[Any, np.dtype[np.float64]]:
        """A variable in every plant, SI; a view that changes as the plants run."""
        found: np.ndarray[Any, np.dtype[np.float64]] = self.state[self.mould.index[name]]
        return found


class Column:
    """One plant of many, with a machine's interface: what commands, drills and readings need."""

    def __init__(self, columns: Columns, place: int) -> None:
        mould = columns.mould
        self.columns = columns
        self.place = place
        self.net = mould.net
        self.signals = mould.signals
        self.operables = mould.operables
        self.faults = mould.faults
        self.starts, self.start_at, self.depths = mould.starts, mould.start_at, mould.depths
        self.index = mould.index
        self.names = mould.names
        self.plant_hash = mould.plant_hash

    @property
    def state(self) -> Numbers:
        """The plant's state, SI, in the order of ``names``: a view, so that what is written there holds."""
        return self.columns.state[:, self.place].data.cast("B").cast("d")

    @property
    def tick(self) -> int:
        """Ticks of 20 ms since the start of the run, the same for all plants of the block."""
        return self.columns.tick

    def read(self, tag: str) -> float:
        """A variable's value in this plant, SI; KeyError for none of that name."""
        return float(self.columns.state[self.index[tag], self.place])

    def put(self, name: str, value: float) -> None:
        """Set a variable of this plant alone, SI; KeyError for none of that name."""
        self.columns.state[self.index[name], self.place] = value

    def apply(self, command: Order) -> Refusal | None:
        """Carry out a command on this plant; None, or the sentence that says why it was refused."""
        return self.net.carry_out(self, command)

    def set_fault(self, fault_id: str, severity: float) -> None:
        """Set a fault's severity in this plant, 0 (healthy) to 1 (worst)."""
        self.net.set_fault(self, fault_id, severity)
