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
import json
import logging
import os
import time
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from trainer.session.interventions import BY
from trainer.session.session import Entry, SnapshotError, read_snapshot
from trainer.simulator import Session

log = logging.getLogger("trainer.classroom")

TIME_EVERY_TICKS = 50
"""The clock is noted once a simulated second."""
SNAPSHOT_EVERY_TICKS = 500
MOST_BYTES = 200_000_000
KEPT_DAYS = 7


def pack(state: dict[str, Any]) -> str:
    """Plain data as a short text."""
    return base64.b64encode(zlib.compress(json.dumps(state).encode(), 6)).decode("ascii")


def unpack(text: str) -> dict[str, Any]:
    """What ``pack`` made; ValueError when it is damaged."""
    try:
        data: dict[str, Any] = json.loads(zlib.decompress(base64.b64decode(text)))
    except (zlib.error, ValueError) as error:
        raise ValueError("a damaged snapshot") from error
    return data


class Journal:
    """The journal of one seat. Without a folder nothing is written."""

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self._file: int | None = None
        self._entries = self._checkpoints = 0
        self._tick = self._snapped = 0
        self._size = 0
        self._failed = False

    @property
    def overtaken(self) -> bool:
        """Whether another process writes this journal now, so that what this one holds of the run is old."""
        if self.path is None or self._failed:
            return False
        if self._file is None:
            return self.path.exists()
        found = os.fstat(self._file)
        return found.st_nlink == 0 or found.st_size != self._size

    def start(self, run: Session, more: dict[str, Any]) -> None:
        """A run begins; an earlier one in the same place is over."""
        self._open(fresh=True)
        self._entries = self._checkpoints = self._tick = self._snapped = 0
        self._write({"k": "start", "run": run.identity.model_dump(), **more})
        self.keep(run, snapshot=True)

    def keep(self, run: Session, snapshot: bool = False) -> None:
        """Bring the journal up to the run as it stands."""
        if self._file is None:
            return
        for entry in run.log[self._entries :]:
            self._write({"k": "act", "entry": entry.record()})
        self._entries = len(run.log)
        if snapshot or run.tick - self._snapped >= SNAPSHOT_EVERY_TICKS:
            self._snap(run)
        elif run.tick - self._tick >= TIME_EVERY_TICKS:
            self._tick = run.tick
            self._write({"k": "time", "tick": run.tick})

    def _snap(self, run: Session, back: bool = False) -> None:
        state = run.snapshot()
        del state["log"]
        first = len(run.checkpoints) if back else self._checkpoints
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
        self._entries, self._checkpoints = len(run.log), len(run.checkpoints)
        self._snapped = self._tick = run.tick
        self._write(record)

    def back(self, run: Session) -> None:
        """The clock was turned back: ``run`` is what it stands at now."""
        self._snap(run, back=True)

    def note(self, **record: Any) -> None:
        """A record of the classroom's own, such as a note or the pace."""
        if self._file is not None:
            self._write(record)

    def end(self) -> None:
        """The run is over; nothing is to be taken up."""
        if self._file is not None:
            os.close(self._file)
            self._file = None
            if self.path is not None:
                self.path.unlink(missing_ok=True)

    def _open(self, fresh: bool) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None
        if self.path is None:
            return
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | (os.O_TRUNC if fresh else 0)
        try:
            self._file = os.open(self.path, flags, 0o600)
            self._size, self._failed = os.fstat(self._file).st_size, False
        except OSError as error:
            self._failed = True
            log.error("no journal can be kept (%s); a crash would lose this run", error)

    def _write(self, record: dict[str, Any]) -> None:
        if self._file is None:
            return
        if self.overtaken:
            log.warning("the run in %s went on at another process; this one lets go of it", self.path)
            os.close(self._file)
            self._file = None
            return
        line = json.dumps(record, separators=(",", ":")).encode() + b"\n"
        try:
            self._size += os.write(self._file, line)
        except OSError as error:
            # A full disk must not stop the drill.
            log.error("the journal takes nothing (%s)", error)

    def take_up(self, kept: Kept) -> None:
        """Go on writing where an earlier process stopped."""
        self._open(fresh=False)
        # A torn last line ends here, and the snapshot saves the next process this replay.
        if self._file is not None:
            self._size += os.write(self._file, b"\n")
        self._snap(kept.session, back=True)


def tidy(folder: Path) -> None:
    """Forget runs that nobody came back to for a week."""
    old = time.time() - KEPT_DAYS * 86400.0
    for path in folder.glob("*.jsonl"):
        if path.stat().st_mtime < old:
            path.unlink(missing_ok=True)


@dataclass
class Kept:
    """A run taken up from its journal."""

    session: Session
    start: dict[str, Any]
    notes: list[dict[str, Any]] = field(default_factory=list)
    away_s: float = 0.0
    """Seconds of the wall clock since the journal was last written."""


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
    """Whose check a journal holds; None when it holds none."""
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
        return Kept(_played(snap, entries, points, tick), start, notes, away)
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
        session.advance_to(entry.tick / 50.0)
        if entry.from_ in BY:
            session.intervene(entry.do, entry.target, entry.value, entry.from_)
        else:
            session.submit(entry.command())
    session.advance_to(tick / 50.0)
    if session.tick < tick and not session.finished:
        raise SnapshotError("the run does not come as far as its journal")
    return session
