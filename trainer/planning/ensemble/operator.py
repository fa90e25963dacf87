"""A crew of each plant's own: it waits for what its plant does, and acts as long after it as the script did.

The script's run on the plant of the description tells which milestones came between two of its commands, and what the
gauges showed where it entered a reading. On a plant that is slower or quicker, a command that had followed a milestone
follows that plant's own; the others follow the command before them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from trainer.constants import HAIR, SCAN
from trainer.drills.runner import Runner
from trainer.planning.ensemble.eyes import truth
from trainer.session.commands import Command
from trainer.simulator import Session

PATIENCE = 240.0
"""Seconds longer than in the script's run that a crew waits for a milestone; then it acts all the same."""


@dataclass(frozen=True)
class Step:
    """A command: ``gap`` s after the milestone ``after`` (after the command before, where it names none), which came
    ``ahead`` s after the command before. ``shown`` is what its reading was held against, SI."""

    command: Command
    after: str
    ahead: float
    gap: float
    shown: float | None


def seen(session: Session, commands: Sequence[Command]) -> tuple[dict[str, float], list[float | None]]:
    """Play the script in ``session``: when its milestones were reached, s, and what each reading showed, SI."""
    runner = session.referee
    assert isinstance(runner, Runner)
    shown: list[float | None] = []
    for command in commands:
        session.advance_to(command.t)
        given = command.model_copy(update={"t": session.time})
        shown.append(None if session.finished or command.do != "read" else truth(given, runner))
        if not session.finished:
            session.submit(given)
    session.advance_to(runner.drill.end.at)
    return {name: float(t) for name, t in runner.scope.reached.items() if t is not None}, shown


def steps(commands: Sequence[Command], reached: Mapping[str, float], shown: Sequence[float | None]) -> tuple[Step, ...]:
    """The script as a crew keeps it in mind: each command by the milestone that it follows, and how long after."""
    made, was = [], 0.0
    for command, value in zip(commands, shown, strict=True):
        between = [(t, name) for name, t in reached.items() if was < t <= command.t]
        at, after = max(between, default=(was, ""))
        made.append(Step(command, after, at - was, command.t - at, value))
        was = command.t
    return tuple(made)


class Operator:
    """The crew of one plant: it goes through its script, and waits where the plant is slower."""

    def __init__(self, script: tuple[Step, ...]) -> None:
        self._script = script
        self._done = 0
        self._since = 0.0

    def due(self, t: float, reached: Mapping[str, float]) -> Iterator[Step]:
        """What the crew does at ``t``, s, when its plant has reached these milestones."""
        while self._done < len(self._script):
            step = self._script[self._done]
            at = self._since + step.ahead
            if step.after:
                own = reached.get(step.after)
                if own is None and t < at + PATIENCE:
                    return
                at = at if own is None else max(own, self._since)
            if at + step.gap > t + HAIR:
                return
            # What comes late is counted from when it was done.
            self._since = at + step.gap if at + step.gap > t - SCAN else t
            self._done += 1
            yield step
