"""What starts a run for the console."""

from __future__ import annotations

from collections.abc import Callable

from trainer.simulator import Session

Start = Callable[[str | None, str | None, int, str], Session]
"""Starts a run: drill id or None for free practice, plant id or None for the drill's own, seed, mode."""
