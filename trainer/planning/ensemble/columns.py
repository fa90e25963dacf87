"""Many plants of one description, advanced together: a row of ``state`` is a variable, a column a plant.

Native code advances them where the machine has a C compiler, numpy elsewhere; both give the scalar engine's bits.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np

from trainer.hydraulics.compile import compile_network
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.network import TICKS_PER_SCAN
from trainer.hydraulics.refusal import Refusal
from trainer.planning.ensemble import native
from trainer.planning.ensemble.expressions import USED
from trainer.planning.ensemble.translate import translate

_known: dict[str, dict[str, Any]] = {}


def _module(source: str) -> dict[str, Any]:
    """The translated code of a flat function; the last few are remembered."""
    if source not in _known:
        if len(_known) >= 8:
            del _known[next(iter(_known))]
        scope: dict[str, Any] = {name: getattr(np, name) for name in USED}
        scope.update(count=np.count_nonzero, inf=math.inf, nan=math.nan)
        exec(compile(translate(source), "<many plants>", "exec"), scope)
        _known[source] = scope
    return _known[source]


def _by_numpy(source: str, state: np.ndarray[Any, np.dtype[np.float64]]) -> Callable[[int], None]:
    """What advances the plants in the columns of ``state`` by a number of scans; a row is to lie in one piece."""
    scope = _module(source)
    count = state.shape[1]
    rooms = np.zeros((scope["ROOMS"], count))
    flags = np.zeros((scope["FLAGS"], count), dtype=bool)
    constants = [np.array(value) for value in scope["CONSTANTS"]]
    run: Iterator[None] = scope["columns"](state, rooms, flags, count, constants)
    next(run)

    def advance(scans: int) -> None:
        # What a mask hides may divide by nothing; it is never merged.
        with np.errstate(all="ignore"):
            for _ in range(scans):
                next(run)

    return advance


class Columns:
    """``count`` plants like ``mould``, each starting in the mould's present state.

    ``compiled`` False leaves the C compiler alone. Which engine runs, and how ``state`` lies in memory, is settled at
    the first scan.
    """

    def __init__(self, mould: Machine, count: int, compiled: bool = True) -> None:
        if count < 1:
            raise ValueError(f"{count} plants are none; give at least 1")
        self.mould = mould
        self.count = count
        self.compiled = compiled
        self.state = np.repeat(np.array(mould.state, dtype=float)[:, None], count, axis=1)
        self.tick = mould.tick
        self.armed = mould.armed
        self.engine = ""
        """``native code`` or ``numpy``."""
        self._advance: Callable[[int], None] | None = None

    def _bound(self) -> Callable[[int], None]:
        source = compile_network(self.mould.net, self.armed).source
        if self.compiled and native.is_ready(source):
            self.engine, self.state = "native code", np.asfortranarray(self.state)
            return native.bind(source, self.state)
        self.engine, self.state = "numpy", np.ascontiguousarray(self.state)
        return _by_numpy(source, self.state)

    def arm(self, fault_ids: Iterable[str]) -> None:
        """Compile the named faults into the code of all plants."""
        wanted = self.armed | frozenset(fault_ids)
        if wanted != self.armed:
            self.armed = wanted
            self._advance = None

    def scan(self, scans: int = 1) -> None:
        """Advance every plant by ``scans`` of 100 ms."""
        if self._advance is None:
            self._advance = self._bound()
        self._advance(scans)
        self.tick += scans * TICKS_PER_SCAN

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
    def state(self) -> list[float]:
        """A copy of the plant's state, SI, in the order of ``names``."""
        copied: list[float] = self.columns.state[:, self.place].tolist()
        return copied

    @property
    def tick(self) -> int:
        """Ticks since the start."""
        return self.columns.tick

    def read(self, tag: str) -> float:
        """A variable's value, SI."""
        return float(self.columns.state[self.index[tag], self.place])

    def put(self, name: str, value: float) -> None:
        """Set a variable of this plant alone."""
        self.columns.state[self.index[name], self.place] = value

    def apply(self, command: Any) -> Refusal | None:
        """Carry out a command on this plant; None, or the sentence that says why it was refused."""
        effect = self.net.effects.get((command.do, command.target))
        if effect is None:
            return Refusal("not_here", f"Nothing here takes '{command.do}' on '{command.target}'.")
        return effect(self, command)  # type: ignore[arg-type]

    def arm(self, fault_ids: Iterable[str]) -> None:
        """Compile the named faults into the code of all plants."""
        self.columns.arm(fault_ids)

    def set_fault(self, fault_id: str, severity: float) -> None:
        """Set a fault's severity in this plant, 0 (healthy) to 1 (worst)."""
        if fault_id not in self.faults:
            raise KeyError(f"this plant has no fault '{fault_id}'")
        self.arm([fault_id])
        self.put(f"fault.{fault_id}", min(max(severity, 0.0), 1.0))
