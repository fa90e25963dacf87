"""A finished run computed once more, a slice at each beat, with what the debrief wants to know of it.

A slice is a fixed number of scans: nothing here looks at a clock, so the page stays alive in a classroom of forty
as well as in one browser.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from trainer import naming, units
from trainer.console.shell import alarm_name
from trainer.console.timeline import Rung
from trainer.console.trends import History
from trainer.constants import HAIR, SCAN
from trainer.hydraulics.catalogue import Signal
from trainer.session.replay import Player, Recording
from trainer.session.session import SessionCore
from trainer.simulator import Session

#: Scans of 100 ms computed at each beat, some 30 ms of work: a run of ten minutes is known within a second.
SLICE = 1000
ALARM = "alarm."


class Rerun:
    """The run again: its alarms, its trends, and a player that stands anywhere in it once all is computed."""

    def __init__(self, begin: Callable[[], Session], recorded: Recording) -> None:
        self.recorded = recorded
        self.player = Player(begin(), recorded)
        self.history = History()
        machine = self.player.session.machine
        self.history.show_in("field", machine.signals)
        self.lowest: dict[str, float] = {}
        self.highest: dict[str, float] = {}
        self._tags = [tag for tag in machine.signals if tag.startswith(ALARM)]
        self._extremes = [tag for tag in self.history.tags if tag in machine.signals]
        self._alarms: list[float] = []
        self._since: dict[str, float] = {}
        self._stood: list[Rung] = []
        self._marked = 0
        self.done = False

    @property
    def share(self) -> float:
        """How much of the recorded run has been computed, 0 to 1; 1 once it is done."""
        return 1.0 if self.done else min(1.0, self.player.time / max(self.recorded.seconds, 0.1))

    @property
    def alarms(self) -> list[Rung]:
        """The alarms that stood so far, with the times of their coming and going (s), in that order."""
        still = [Rung(alarm_name(tag), t) for tag, t in self._since.items()]
        return sorted([*self._stood, *still], key=lambda rung: rung.t)

    def work(self, scans: int = SLICE) -> bool:
        """Compute a slice of so many scans, so that no page waits for it; True once all is done."""
        if not self.done:
            self.player.play(scans, self._look)
            self.done = self.player.over
        return self.done

    def _look(self) -> None:
        session = self.player.session
        t, read = session.time, session.machine.read
        alarms = [read(tag) for tag in self._tags]
        for tag, state in zip(self._tags, alarms, strict=True) if alarms != self._alarms else ():
            # Normal, or gone before anybody acknowledged it: the cause is away.
            standing = state in (1.0, 2.0)
            if standing and tag not in self._since:
                self._since[tag] = t
            elif not standing and tag in self._since:
                self._stood.append(Rung(alarm_name(tag), self._since.pop(tag), t))
        self._alarms = alarms
        for tag in self._extremes:
            value = read(tag)
            self.lowest[tag] = min(value, self.lowest.get(tag, value))
            self.highest[tag] = max(value, self.highest.get(tag, value))
        self.history.look(t, session.machine)
        self._marked = mark(self.history, session, self._marked)

    def trends(self, t: float, system: units.System) -> History:
        """The trends as they stood at ``t`` seconds, to go on from there."""
        return cut(self.history, t, self.player.session.machine.signals, system)


def mark(history: History, session: SessionCore, since: int) -> int:
    """Note on the trends what was set in the log from the entry ``since`` on; the length of the log."""
    for entry in session.log[since:]:
        if entry.do == "set" and entry.refused is None and entry.value != "stop":
            history.mark(entry.t, f"{naming.target(entry.target)}: {entry.value}")
    return len(session.log)


def cut(history: History, t: float, signals: Mapping[str, Signal], system: units.System) -> History:
    """A copy of the trends up to ``t`` seconds, that goes on from there."""
    kept = History(history.tags)
    kept.samples = [sample for sample in history.samples if sample[0] <= t]
    kept.marks = [done for done in history.marks if done[0] <= t]
    kept.show_in(system, signals)
    kept.resume_at(kept.samples[-1][0] + 1.0 if kept.samples else 0.0)
    return kept


class Replay:
    """Where a replay stands, and how it moves: played at a pace, put anywhere, or stepped from action to action."""

    def __init__(self, rerun: Rerun, t: float = 0.0) -> None:
        self.rerun = rerun
        self.playing = False
        self._due = 0.0
        self.seek(t)

    @property
    def time(self) -> float:
        """Simulated seconds from the start of the run at which the replay stands."""
        return self.rerun.player.time

    def seek(self, t: float) -> None:
        """Stand at ``t`` seconds of the run, at its start or end where ``t`` lies beyond them."""
        self._due = 0.0
        self.rerun.player.seek(min(max(t, 0.0), self.rerun.recorded.seconds))

    def step(self, way: int) -> None:
        """Stand at the next action (``way`` > 0) or at the one before."""
        self.playing = False
        times = sorted({entry.t for entry in self.rerun.recorded.log})
        now = self.time
        if way > 0:
            self.seek(next((t for t in times if t > now + HAIR), self.rerun.recorded.seconds))
        else:
            self.seek(next((t for t in reversed(times) if t < now - HAIR), 0.0))

    def tick(self, elapsed: float, pace: float) -> None:
        """Let ``elapsed`` seconds of the wall clock pass: at ``pace`` times as many simulated ones, unless it stands
        still."""
        if not self.playing:
            return
        self._due += elapsed * pace
        scans = int(self._due / SCAN + HAIR)
        self._due -= scans * SCAN
        self.rerun.player.play(scans)
        if self.rerun.player.over:
            self.playing = False
