"""The journal of a run: every action is on disk before the page hears of it, so that a crash loses nothing.

One file a seat, one JSON record a line, only ever added to. A record ends with a newline; a last line without one was
being written when the process died, and is passed over. What was written survives the process (a power failure may
take the last moments). Snapshots in between make taking up quick; the log itself is never kept twice.

``{"k": "start", ...}``  a run begins      ``{"k": "act", "entry"}``  an entry of the command log
``{"k": "time", "tick"}``  the clock       ``{"k": "snap", "tick", "entries", "state"}``  a snapshot without its log
A snapshot with ``"back": {"entries", "checkpoints"}`` drops what was written beyond those counts: the clock was
turned back. A run that is over has no journal.
"""

from __future__ import annotations

import base64
import errno
import json
import logging
import os
import time
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from trainer.constants import TICKS_PER_SECOND
from trainer.session.interventions import BY
from trainer.session.session import Entry, SnapshotError, read_snapshot
from trainer.simulator import Session

log = logging.getLogger("trainer.classroom")

TIME_EVERY_TICKS = TICKS_PER_SECOND
"""The clock is noted once a simulated second."""
SNAPSHOT_EVERY_TICKS = 10 * TICKS_PER_SECOND
MOST_BYTES = 200_000_000
KEPT_DAYS = 7


def pack(state: dict[str, Any]) -> str:
    """Plain data as one line of text for a journal: JSON, packed by zlib, in base64."""
    return base64.b64encode(zlib.compress(json.dumps(state).encode(), 6)).decode("ascii")


def unpack(text: str) -> dict[str, Any]:
    """What ``pack`` made; ValueError when it is damaged."""
    try:
        data: dict[str, Any] = json.loads(zlib.decompress(base64.b64decode(text)))
    except (zlib.error, ValueError) as error:
        raise ValueError("a damaged snapshot") from error
    return data


class Journal:
    """The journal of one seat. Without a path nothing is written.

    What the disk did not take is owed, and written at the next ``keep``: an entry counts as kept only once it is.
    """

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self.trouble = ""
        """Why the last record could not be written; empty when all that was to be is on disk."""
        self._file: int | None = None
        self._entries = self._checkpoints = 0
        self._tick = self._snapped = 0
        self._size = 0
        self._start: dict[str, Any] | None = None
        self._back = False

    @property
    def overtaken(self) -> bool:
        """Whether another process writes this journal now, so that what this one holds of the run is old."""
        if self.path is None or self._start is not None:
            return False
        if self._file is None:
            return self.path.exists()
        found = os.fstat(self._file)
        return found.st_nlink == 0 or found.st_size != self._size

    def start(self, run: Session, more: dict[str, Any]) -> bool:
        """A run begins; an earlier one in the same place is over. False when the disk took it not."""
        self._close()
        self._entries = self._checkpoints = self._tick = self._snapped = 0
        self._back = False
        self._start = {"k": "start", "run": run.identity.model_dump(), **more}
        return self.keep(run)

    def keep(self, run: Session, snapshot: bool = False) -> bool:
        """Bring the journal up to the run as it stands. False when the disk does not take it: then try again."""
        if self.path is None or (self._file is None and self._start is None):
            return True
        if self._start is not None:
            if not self._open(fresh=True) or not self._write(self._start):
                return False
            self._start, snapshot = None, True
        if self._back and not self._snap(run, back=True):
            return False
        for entry in run.log[self._entries :]:
            if not self._write({"k": "act", "entry": entry.record()}):
                return False
            self._entries += 1
        if snapshot or run.tick - self._snapped >= SNAPSHOT_EVERY_TICKS:
            return self._snap(run)
        if run.tick - self._tick >= TIME_EVERY_TICKS:
            if not self._write({"k": "time", "tick": run.tick}):
                return False
            self._tick = run.tick
        self.trouble = ""
        return True

    def _snap(self, run: Session, back: bool = False) -> bool:
        state = run.snapshot()
        del state["log"]
        # What the journal has of them already, and the run still.
        first = min(self._checkpoints, len(run.checkpoints))
        record = {
            "k": "snap",
            "tick": run.tick,
            "entries": len(run.log),
            "points": state["checkpoints"][first:],
            "state": pack({**state, "checkpoints": []}),
        }
        if back:
            # In one line, so that the clock is turned back whole or not at all.
            record["back"] = {"entries": len(run.log), "checkpoints": first}
        if not self._write(record):
            return False
        self._entries, self._checkpoints = len(run.log), len(run.checkpoints)
        self._snapped = self._tick = run.tick
        self._back = False
        return True

    def back(self, run: Session) -> bool:
        """The clock was turned back: ``run`` is what it stands at now."""
        self._back = True
        return self.keep(run)

    def note(self, **record: Any) -> bool:
        """A record of the classroom's own, such as a note or the pace."""
        return self._file is None or self._write(record)

    def end(self) -> None:
        """Delete the journal: the run is over, and no process is to take it up."""
        self._start = None
        if self._file is not None:
            self._close()
            if self.path is not None:
                try:
                    self.path.unlink(missing_ok=True)
                except OSError as error:
                    log.error("the journal %s of a run that is over cannot be removed: %s", self.path, error)

    def _close(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def _open(self, fresh: bool) -> bool:
        self._close()
        if self.path is None:
            return True
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | (os.O_TRUNC if fresh else 0)
        try:
            self._file = os.open(self.path, flags, 0o600)
            self._size = os.fstat(self._file).st_size
        except OSError as error:
            return self._failed(error)
        return True

    def _write(self, record: dict[str, Any]) -> bool:
        """Write a record whole or not at all; True also when another process has taken the run up."""
        if self._file is None:
            return True
        if self.overtaken:
            log.warning("the run in %s went on at another process; this one lets go of it", self.path)
            self._close()
            return True
        line = json.dumps(record, separators=(",", ":")).encode() + b"\n"
        return self._put(line)

    def _put(self, line: bytes) -> bool:
        assert self._file is not None
        try:
            written = os.write(self._file, line)
        except OSError as error:
            return self._failed(error)
        if written < len(line):
            # A disk that fills in the middle of a line: the half of it goes again.
            os.ftruncate(self._file, self._size)
            return self._failed(OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)))
        self._size += written
        return True

    def _failed(self, error: OSError) -> bool:
        if not self.trouble:
            log.error("the journal takes nothing: %s", error)
        self.trouble = error.strerror or str(error)
        return False

    def take_up(self, kept: Kept) -> bool:
        """Go on writing where an earlier process stopped; False when the disk does not take it."""
        self._back, self._checkpoints = True, kept.points
        # A torn last line ends here, and the snapshot saves the next process this replay.
        return self._open(fresh=False) and self._put(b"\n") and self.keep(kept.session)


def tidy(folder: Path) -> None:
    """Delete the journals in ``folder`` that nobody has written to for ``KEPT_DAYS`` days."""
    old = time.time() - KEPT_DAYS * 86400.0
    for path in folder.glob("*.jsonl"):
        if path.stat().st_mtime < old:
            path.unlink(missing_ok=True)


@dataclass
class Kept:
    """A run taken up from its journal, with what started it, what was noted beside it, and how long it lay (s)."""

    session: Session
    start: dict[str, Any]
    notes: list[dict[str, Any]] = field(default_factory=list)
    away_s: float = 0.0
    """Seconds of the wall clock since the journal was last written."""
    points: int = 0
    """How many of the run's checkpoints are in the journal; those after its last snapshot were computed again."""


def _records(path: Path) -> Iterator[dict[str, Any]]:
    if path.stat().st_size > MOST_BYTES:
        raise ValueError("the journal is too large to be one")
    with path.open("rb") as file:
        for line in file:
            if not line.endswith(b"\n") or not line.strip():
                continue
            try:
                record = json.loads(line)
            except ValueError:
                # Torn by the end of a process; what follows was written by the next one.
                continue
            if isinstance(record, dict):
                yield record


def holder_of_check(path: Path) -> dict[str, Any] | None:
    """Who holds the check in a journal: person, name and role; None when it holds practice, or no run."""
    for record in _records(path):
        if record.get("k") == "start":
            who, run = record.get("who"), record.get("run")
            return who if isinstance(who, dict) and isinstance(run, dict) and run.get("mode") == "check" else None
    return None


def read(path: Path) -> Kept | None:
    """The run of a journal at its last action, or None when there is none to take up.

    A run of another version of plant or drill cannot be taken up; the log says so.
    """
    start: dict[str, Any] | None = None
    entries: list[dict[str, Any]] = []
    points: list[dict[str, Any]] = []
    snap: dict[str, Any] | None = None
    notes: list[dict[str, Any]] = []
    tick = 0
    try:
        for record in _records(path):
            match record.get("k"):
                case "start":
                    start, entries, points, snap, notes, tick = record, [], [], None, [], 0
                case "act":
                    entries.append(record["entry"])
                    tick = max(tick, record["entry"]["tick"])
                case "time":
                    tick = record["tick"]
                case "snap":
                    if back := record.get("back"):
                        del entries[back["entries"] :]
                        del points[back["checkpoints"] :]
                    points += record["points"]
                    snap, tick = {**record, "known": len(points)}, record["tick"]
                case _:
                    notes.append(record)
        if start is None or snap is None:
            return None
        away = max(time.time() - path.stat().st_mtime, 0.0)
        return Kept(_played(snap, entries, points, tick), start, notes, away, len(points))
    except (OSError, ValueError, LookupError, TypeError) as error:
        log.warning("the run in %s cannot be taken up: %s", path.name, error)
        return None


def _played(snap: dict[str, Any], entries: list[dict[str, Any]], points: list[dict[str, Any]], tick: int) -> Session:
    """The run restored at its last snapshot, and what was done after it done again."""
    state = unpack(snap["state"])
    state["log"] = entries[: snap["entries"]]
    state["checkpoints"] = points[: snap["known"]]
    session = Session.restore(read_snapshot(state))
    for record in entries[snap["entries"] :]:
        entry = Entry.model_validate(record)
        session.advance_to(entry.t)
        if entry.from_ in BY:
            session.intervene(entry.do, entry.target, entry.value, entry.from_)
        else:
            session.submit(entry.command())
    session.advance_to(tick / TICKS_PER_SECOND)
    if session.tick < tick and not session.finished:
        raise SnapshotError("the run does not come as far as its journal")
    return session
