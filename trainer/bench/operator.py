"""A scripted operator who shuts the well in: a busy plant to time, and shut-in readings to check."""

from __future__ import annotations

from trainer.session.commands import Command
from trainer.session.script import play
from trainer.simulator import Session

DRILL = "kick-while-drilling"
SETTLED = 600.0
"""Simulated seconds after which the shut-in pressures have built up."""

_SCRIPT = (
    (121.0, "set", "floor.rotary", 0.0, "floor"),
    (128.0, "hoist", "floor.hook", 24.0, "floor"),
    (150.0, "set", "floor.mud_pumps", 0.0, "floor"),
    (171.0, "set", "upper_annular", "close", "driller"),
    (228.0, "set", "upper_inner_choke", "open", "driller"),
    (230.0, "set", "upper_outer_choke", "open", "driller"),
)


def commands() -> list[Command]:
    """What the operator does at the panel and on the drill floor to shut the well in, in order of time (s)."""
    return [Command(t=t, do=do, target=target, value=value, from_=place) for t, do, target, value, place in _SCRIPT]


def shut_in() -> Session:
    """The session after the well was shut in and its pressures have built up."""
    session = Session.start(DRILL)
    refused = play(session, commands(), until=SETTLED)
    if refused:
        raise RuntimeError(f"the benchmark's operator was refused: {refused[0]}")
    return session
