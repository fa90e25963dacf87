"""Plays a scripted operator through a session at full speed."""

from __future__ import annotations

from collections.abc import Iterable

from trainer.session.commands import Command
from trainer.session.session import SessionCore

LONGEST_WAIT = 4 * 3600.0
"""Simulated seconds after which a run that no drill ends is stopped."""


def play(session: SessionCore, commands: Iterable[Command], until: float = LONGEST_WAIT) -> list[str]:
    """Give each command at its time, then let the drill run to its end, or to ``until`` seconds.

    A command takes effect at the first scan boundary at or after its time. The refusals are returned as
    sentences with their times; commands for a drill that has ended are passed over with one sentence.
    """
    refusals: list[str] = []
    left = 0
    for command in commands:
        session.advance_to(command.t)
        if session.finished:
            left += 1
            continue
        refused = session.submit(command.model_copy(update={"t": session.time}))
        if refused is not None:
            refusals.append(f"{session.time:.1f} s: {command.do} {command.target}: {refused}")
    if left:
        refusals.append(f"{session.time:.1f} s: the drill had ended; {left} commands were not used")
    session.advance_to(until)
    return refusals
