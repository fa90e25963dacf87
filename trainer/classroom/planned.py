"""What happens to a run by itself, once: at a time of the run, or when a condition of the drill language holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from trainer.constants import HAIR
from trainer.drills.expressions import Scope
from trainer.drills.language import ExpressionError
from trainer.drills.lesson_plan import trigger
from trainer.drills.runner import Runner
from trainer.drills.schema import Drill
from trainer.simulator import Session


@dataclass
class Trigger:
    """When something happens to a run; with neither ``at`` nor ``when`` never by itself."""

    at: float | None = None
    """Time of the run, s."""
    when: str = ""
    """A condition of the drill language."""
    hold: float = 0.0
    """So long the condition has to hold, s."""
    _since: float | None = field(default=None, repr=False)
    _bound: tuple[Session, Callable[[], bool]] | None = field(default=None, repr=False)

    def due(self, run: Session, drill: Drill | None) -> bool:
        """Whether it is time now; never for a condition that this run does not know."""
        if self.at is not None:
            return run.time >= self.at - HAIR
        if not self.when:
            return False
        if self._bound is None or self._bound[0] is not run:
            # A run that was turned back is another one.
            self._bound, self._since = (run, bound(self.when, run, drill)), None
        if not self._bound[1]():
            self._since = None
            return False
        if self._since is None:
            self._since = run.time
        return run.time - self._since >= self.hold - HAIR


def bound(when: str, run: Session, drill: Drill | None) -> Callable[[], bool]:
    """A function that says whether a condition holds in this run now; false for ever where the run does not know it."""
    machine = run.machine
    judged = run.referee if isinstance(run.referee, Runner) else None
    scope = judged.scope if judged is not None else Scope(machine.read, machine.state, machine.index)
    try:
        holds = trigger(when, machine, drill if judged is not None else None, scope)
    except ExpressionError:
        return lambda: False
    if judged is not None:
        return holds

    def now() -> bool:
        scope.t = run.time
        return holds()

    return now


@dataclass
class Planned:
    """One thing that is to happen to one run. ``act`` does it, and gives the sentence why not, if not."""

    key: str
    trigger: Trigger
    act: Callable[[], str | None]
    done_at: float | None = None
    """When it happened, s of the run."""
    refused: str = ""
    """Why it did not."""

    def turned_back(self, t: float) -> None:
        """The run stands at ``t`` s again: what happened later has not happened yet."""
        if self.done_at is not None and self.done_at > t:
            self.done_at, self.refused = None, ""

    def do(self, run: Session) -> None:
        """Let it happen now in ``run``; once it has happened, it does not happen again."""
        if self.done_at is None:
            self.done_at = run.time
            self.refused = self.act() or ""
