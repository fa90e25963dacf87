"""A run as the console uses it, and what starts one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from trainer.hydraulics.machine import Machine
from trainer.session.protocols import Referee
from trainer.session.session import Entry, Identity


class Coach(Protocol):
    """Who helps in practice mode."""

    passes: int
    points: tuple[str, ...]

    def advice(self) -> tuple[str, str] | None: ...

    def meanwhile(self) -> tuple[str, ...] | None: ...

    def ask(self) -> tuple[str, str] | None: ...


class Run(Protocol):
    """A session as the seat uses it (``trainer.simulator.Session``)."""

    machine: Machine
    referee: Referee
    log: list[Entry]

    @property
    def identity(self) -> Identity: ...

    @property
    def time(self) -> float: ...

    @property
    def finished(self) -> bool: ...

    def submit(self, command: dict[str, Any]) -> str | None: ...

    def advance(self, seconds: float) -> int: ...

    def sheet(self) -> dict[str, Any]: ...

    def evidence(self) -> dict[str, Any]: ...

    @property
    def coach(self) -> Coach | None: ...


Start = Callable[[str | None, str | None, int, str], Run]
"""Starts a run: drill id or None for free practice, plant id or None for the drill's own, seed, mode."""
