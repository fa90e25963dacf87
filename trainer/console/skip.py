"""A wait that the drill names, run through at once: to its end, to news, or as far as the drill allows."""

from __future__ import annotations

from trainer.console.reading import Reading
from trainer.session.protocols import Pause
from trainer.simulator import Session

PACE = 40.0
"""Simulated seconds in a second of the clock: the crew still sees what happens meanwhile."""
STEP_S = 1.0
"""So often it is looked at whether there is still nothing to do."""


class Skip:
    """One wait being skipped in a run, from ``start`` (simulated s)."""

    def __init__(self, run: Session, wait: Pause) -> None:
        self.run, self.wait, self.start = run, wait, run.time
        self._alarms = [tag for tag in run.machine.signals if tag.startswith("alarm.")]
        self._before = self._news()
        self._due = 0.0

    def go_on(self, elapsed: float) -> bool:
        """Let so many seconds of the clock pass; whether the wait goes on."""
        self._due += elapsed * PACE
        while self._due >= STEP_S:
            self._due -= STEP_S
            self.run.advance(STEP_S)
            over = self.run.time - self.start >= self.wait.most
            if over or self.run.finished or waiting(self.run) is not self.wait or self._news() != self._before:
                return False
        return True

    def _news(self) -> tuple[object, ...]:
        """What ends a skip when it changes: a message to the crew, an alarm that sounds."""
        return len(self.run.referee.messages), *(self.run.machine.read(tag) == 1.0 for tag in self._alarms)


def waiting(run: Session) -> Pause | None:
    """The wait of the drill that may be skipped now."""
    return run.referee.waiting()


def begun(run: Session) -> Skip | None:
    """The skip of the wait that is now; None when there is none."""
    wait = waiting(run)
    return None if wait is None or run.finished else Skip(run, wait)


def reading(skip: Skip | None, run: Session | None) -> Reading:
    """What the button shows: what can be skipped, or what is being skipped."""
    if skip is not None:
        return {"text": "Stop skipping", "state": "on"}
    wait = waiting(run) if run is not None and not run.finished else None
    return {"text": "Skip the wait", "state": "on" if wait is not None else "off"}
