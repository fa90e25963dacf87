"""The trends of a run that was taken up again: computed once more from its log, a slice at each beat.

The store keeps a snapshot and not the charts. While the trainee finds the way back into the drill, its past is
played again beside it, and then the charts have it.
"""

from __future__ import annotations

from collections.abc import Callable

from trainer import units
from trainer.console.rerun import Rerun
from trainer.console.trends import History
from trainer.session.replay import recording
from trainer.simulator import Session

SCANS_STANDING = 1000
SCANS_RUNNING = 200
"""Scans of 100 ms to play at a beat; few while the run goes on, so that lamps still answer hands at once."""


class Past:
    """What lies behind a run at the moment at which it was taken up. begin: begins a fresh run of the same kind."""

    def __init__(self, run: Session, begin: Callable[[], Session]) -> None:
        self.run = run
        self._until = run.time
        self._rerun = Rerun(begin, recording(run))

    def work(self, standing: bool) -> bool:
        """Plays a slice of the past, a longer one while the run is ``standing``; gives whether all is known now."""
        return self._rerun.work(SCANS_STANDING if standing else SCANS_RUNNING)

    def joined(self, now: History, system: units.System) -> History:
        """The past's trends with those of the run since it was taken up, to go on from there."""
        whole = self._rerun.trends(self._until, system)
        whole.samples += [sample for sample in now.samples if sample[0] > self._until]
        whole.marks += [mark for mark in now.marks if mark[0] > self._until]
        whole.pace, whole.happened = now.pace, now.happened
        if whole.samples:
            whole.resume_at(whole.samples[-1][0] + 1.0)
        return whole
