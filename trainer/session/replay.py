"""A run once more: watched from any moment, taken over, or played with its actions at other times.

A replay is no film: it computes the run again from its log, and keeps a snapshot every ten simulated seconds, so
that any moment is at most ten seconds of computing away.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

from pydantic import ValidationError

from trainer.constants import SCAN_HAIR, SCANS_PER_SECOND, TICKS_PER_SCAN, TICKS_PER_SECOND
from trainer.session import interventions
from trainer.session.commands import explain
from trainer.session.session import CHECKPOINT_TICKS, Checkpoint, Entry, Identity, SessionCore, Snapshot, read_snapshot


@dataclass(frozen=True)
class Recording:
    """What a run is computed again from: its identity, its log, and the tick at which it was left."""

    identity: Identity
    log: tuple[Entry, ...]
    end: int

    @property
    def seconds(self) -> float:
        """How long the run was, in simulated seconds from its start to where it was left."""
        return self.end / TICKS_PER_SECOND


def recording(session: SessionCore) -> Recording:
    """The recording of a session as it stands: identity, a copy of its log, and its tick."""
    return Recording(session.identity, tuple(entry.model_copy() for entry in session.log), session.tick)


def give(session: SessionCore, entry: Entry) -> str | None:
    """Do at the present tick what an entry of a log says was done; the sentence why not, if it is refused."""
    if entry.from_ in interventions.BY:
        return session.intervene(entry.do, entry.target, entry.value, entry.from_)
    try:
        command = entry.command()
    except ValidationError as error:
        return explain(error)
    return session.submit(command.model_copy(update={"t": session.time}))


@dataclass(frozen=True)
class _Mark:
    """A place to come back to: the session without its log, and how much of log and checkpoints belongs to it."""

    kept: Snapshot
    given: int
    entries: int
    points: int


class Player:
    """Plays a recording in a session that has just begun, forwards and backwards."""

    def __init__(self, session: SessionCore, recorded: Recording) -> None:
        self.session = session
        self.recorded = recorded
        self._given = 0
        self._marks: list[_Mark] = []
        self._log: list[Entry] = []
        self._points: list[Checkpoint] = []
        self._mark()

    @property
    def time(self) -> float:
        """Simulated seconds from the start of the run at which the replay stands."""
        return self.session.time

    @property
    def reach(self) -> float:
        """Each moment up to this time, s, can be had at once; what lies beyond has to be computed first."""
        return min(self._marks[-1].kept.tick + CHECKPOINT_TICKS, self.recorded.end) / TICKS_PER_SECOND

    @property
    def over(self) -> bool:
        """Whether the replay stands at the end of the recording, or the run ended before it."""
        return self.session.tick >= self.recorded.end or self.session.finished

    def play(self, scans: int, look: Callable[[], None] | None = None) -> int:
        """Compute on by at most so many scans of 100 ms; how many were done. ``look`` is called after each."""
        session, done = self.session, 0
        self._give()
        while done < scans and not self.over:
            session.advance_to((session.tick + TICKS_PER_SCAN) / TICKS_PER_SECOND)
            done += 1
            if session.tick % CHECKPOINT_TICKS == 0 and session.tick > self._marks[-1].kept.tick:
                self._mark()
            self._give()
            if look is not None:
                look()
        return done

    def seek(self, seconds: float) -> None:
        """Stand at the scan at or before this time, with what was done at that moment done."""
        scan = math.floor(max(seconds, 0.0) * SCANS_PER_SECOND + SCAN_HAIR)
        wanted = min(scan * TICKS_PER_SCAN, self.recorded.end)
        mark = next(mark for mark in reversed(self._marks) if mark.kept.tick <= wanted)
        if wanted < self.session.tick or mark.kept.tick > self.session.tick:
            self._turn_to(mark)
        self.play((wanted - self.session.tick) // TICKS_PER_SCAN)

    def hand_over(self, session: SessionCore, of: str = "") -> None:
        """Put ``session``, freshly begun on the same plant, drill and seed, where this replay stands.

        Its log begins with all that was done up to here, so that its evidence re-computes like any other, and with
        an entry that says where and ``of`` what run (its seal, say) it was taken over.
        """
        kept = read_snapshot(self.session.snapshot())
        session.resume(
            kept.model_copy(
                update={
                    "identity": session.identity,
                    "log": [entry.model_copy() for entry in self.session.log],
                }
            )
        )
        session.intervene(interventions.TAKE_OVER, "run", of or None, interventions.DEBRIEF)

    def _give(self) -> None:
        log, session = self.recorded.log, self.session
        while self._given < len(log) and log[self._given].tick <= session.tick and not session.finished:
            give(session, log[self._given])
            self._given += 1

    def _mark(self) -> None:
        session = self.session
        kept = read_snapshot(session.snapshot())
        # The log and the checkpoints are kept once, not once for each mark.
        self._log, self._points = list(session.log), list(session.checkpoints)
        bare: dict[str, object] = {"log": [], "checkpoints": []}
        self._marks.append(_Mark(kept.model_copy(update=bare), self._given, len(self._log), len(self._points)))

    def _turn_to(self, mark: _Mark) -> None:
        kept = mark.kept
        whole = {
            "referee": copy.deepcopy(kept.referee),
            "log": self._log[: mark.entries],
            "checkpoints": self._points[: mark.points],
        }
        self.session.resume(kept.model_copy(update=whole))
        self._given = mark.given


def shifted(
    recorded: Recording, place: int, seconds: float, following: bool = True, also: Collection[int] = ()
) -> Recording:
    """The recording with the entry at ``place`` given so many seconds later (earlier if negative).

    The entries at the places in ``also`` belong to it and move along.
    With ``following`` all that the trainee did after it moves along. What an instructor or an assistant did stays
    where it was. Nothing comes before the start of the run; what is moved later gets as much longer a run.
    """
    by = round(seconds * SCANS_PER_SECOND) * TICKS_PER_SCAN
    moved = []
    for at, entry in enumerate(recorded.log):
        mine = entry.from_ not in interventions.BY
        if at == place or at in also or (following and at > place and mine):
            entry = entry.model_copy(update={"tick": max(0, entry.tick + by)})
        moved.append(entry)
    # A stable sort: what is given at one moment keeps its order.
    moved.sort(key=lambda entry: entry.tick)
    return replace(recorded, log=tuple(moved), end=recorded.end + max(0, by))
