"""Runs of a crew: the good crew of a drill, played by the computer, and the same run with something done otherwise."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from trainer.drills.partners import play_out
from trainer.session.commands import Command
from trainer.session.script import play
from trainer.simulator import Session

LONGEST = 1800.0
Line = dict[str, object]


@cache
def good(drill: str, seed: int = 0) -> Session:
    """The good crew, the computer at every post; nobody changes the run that is given."""
    run = Session.start(drill, seed=seed)
    assert run.crewing is not None
    play_out(run, list(run.crewing.posts), LONGEST)
    return run


def otherwise(drill: str, change: Callable[[list[Line]], list[Line]], seed: int = 0) -> tuple[Session, list[str]]:
    """What the good crew did, line by line, with a change, played in a run of its own; and what was refused."""
    lines = [entry.command().record() for entry in good(drill, seed).log]
    commands = [Command.model_validate(line) for line in sorted(change(lines), key=lambda line: float(str(line["t"])))]
    run = Session.start(drill, seed=seed)
    return run, play(run, commands, LONGEST)


def without(do: str, *targets: str) -> Callable[[list[Line]], list[Line]]:
    """The change that leaves out what was done with this verb, to these targets or to any."""
    return lambda lines: [line for line in lines if line["do"] != do or (targets and line["target"] not in targets)]
