"""The coach of practice mode: the next step and why, when asked or late, fading as the trainee succeeds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.drills.binding import Truth
from trainer.drills.schema import CoachStep
from trainer.session.commands import Command

if TYPE_CHECKING:
    from trainer.drills.runner import Runner

WARNING_SHOWN = 15.0
"""A caution about an action stays this long, s."""
MORE_PATIENCE = 0.5
"""Each step done without help in a row lengthens the wait before the next hint by this share."""
MOST_PATIENCE = 4.0
ON_DEMAND = 3
"""Whoever has passed the drill this often in a row is helped only when asking; invented."""


def in_a_row(passed: Sequence[bool]) -> int:
    """Of attempts, oldest first, how many were passed in a row up to the last one."""
    count = 0
    for good in reversed(passed):
        if not good:
            break
        count += 1
    return count


@dataclass(slots=True)
class _Step:
    spec: CoachStep
    need: Truth | None
    done: Truth


class Coach:
    """Looks at the run and never touches it: what the coach says is no part of the state that is verified."""

    def __init__(self, runner: Runner) -> None:
        self._runner = runner
        binder = runner.binder
        self._steps = [
            _Step(
                item.spec,
                binder.condition(item.ready["need"]) if "need" in item.ready else None,
                binder.condition(item.ready["done"]),
            )
            for item in runner.prepared.coach
        ]
        self._cautions = [
            (item.spec, binder.condition(item.ready["when"]) if "when" in item.ready else None)
            for item in runner.prepared.cautions
        ]
        self._finished: set[str] = set()
        self._current: str | None = None
        self._since = 0.0
        self._helped = False
        self._warning: tuple[float, str, str] | None = None
        self.streak = 0
        """Steps done in a row without help."""
        self.passes = 0
        """How many of the latest attempts at this drill were passed (``in_a_row``); set by whoever knows them."""

    @property
    def patience(self) -> float:
        """Factor on each step's ``late`` time."""
        return min(MOST_PATIENCE, 1.0 + MORE_PATIENCE * (self.streak + 2 * self.passes))

    def _next(self) -> CoachStep | None:
        now = self._runner.scope.t
        for step in self._steps:
            if step.spec.id in self._finished:
                continue
            if step.done():
                self._finish(step.spec.id)
                continue
            if step.need is None or step.need():
                if step.spec.id != self._current:
                    self._current, self._since, self._helped = step.spec.id, now, False
                return step.spec
        return None

    def _finish(self, name: str) -> None:
        self._finished.add(name)
        if name == self._current:
            self.streak = 0 if self._helped else self.streak + 1

    def ask(self) -> tuple[str, str] | None:
        """The next step and why, on demand; None when there is nothing left to do now."""
        step = self._next()
        if step is None:
            return None
        self._helped = True
        return step.say, step.why

    def advice(self) -> tuple[str, str] | None:
        """What the coach says unasked: a caution just earned, or the next step once it is late."""
        now = self._runner.scope.t
        step = self._next()
        if self._warning is not None:
            t, say, why = self._warning
            if now - t <= WARNING_SHOWN:
                return say, why
            self._warning = None
        if step is None:
            return None
        late = self.passes < ON_DEMAND and now - self._since >= step.late * self.patience
        if self._helped or late:
            self._helped = True
            return step.say, step.why
        return None

    def notice(self, t: float, command: Command, refusal: str | None) -> None:
        """See an action: explain a refusal, or warn of one that is ill-judged at this moment."""
        say = ""
        for spec, when in self._cautions:
            if (
                spec.do == command.do
                and spec.target == command.target
                and spec.value in (None, command.value)
                and (when is None or when())
            ):
                say = spec.say
                break
        if refusal is None:
            if say:
                self._warning = (t, say, "")
            return
        step = self._next()
        instead = f"Next: {step.say}" if step is not None else ""
        self._warning = (t, f"That was refused: {refusal}", say or instead)
