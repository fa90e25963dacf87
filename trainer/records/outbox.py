"""Attempts on their way to the database: kept in files first, written behind, so that no outage stops a drill.

Each arrival is a file until the database has it. Files outlive the process. An attempt's key keeps one that was
written just before the answer got lost from being written twice.
"""

from __future__ import annotations

import json
import logging
import os
import secrets
import threading
import time
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy.exc import DataError

from trainer.records.attempts import Arrival, keep
from trainer.records.audit import note, now
from trainer.records.database import Records, RecordsAwayError
from trainer.session.evidence import EvidenceError

log = logging.getLogger("trainer.records")

FIRST_WAIT = 0.5
LONGEST_WAIT = 10.0


class Outbox:
    """The queue. ``put`` returns once the arrival is safe on disk; a thread writes it to the database."""

    def __init__(self, records: Records, folder: Path) -> None:
        self._records = records
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._wake = threading.Event()
        self._stop = False
        self._thread: threading.Thread | None = None
        self.trouble = ""
        """Why nothing can be written now; empty when all is well."""

    def start(self) -> Outbox:
        """Begin to write in a thread of its own, what an earlier process left first; gives itself back."""
        self._thread = threading.Thread(target=self._run, name="records-outbox", daemon=True)
        self._thread.start()
        self._wake.set()
        return self

    def stop(self, timeout: float = 10.0) -> None:
        """Write what can be written and end; what cannot stays in its file."""
        self._stop = True
        self._wake.set()
        if self._thread is not None:
            self._thread.join(timeout)

    def put(self, arrival: Arrival) -> None:
        """Queue an attempt, on the disk before this returns. OSError when the disk takes nothing."""
        self._put(arrival.key, {**asdict(arrival), "at": arrival.at.isoformat()}, sync=True)

    def log(self, who: str, role: str, did: str, target: str = "", detail: str = "") -> None:
        """Queue a row of the trail, of this moment. What the disk does not take goes to the server's log."""
        row = {"who": who, "role": role, "did": did, "target": target, "detail": detail, "at": now().isoformat()}
        try:
            self._put(f"trail-{time.time_ns():020d}-{secrets.token_hex(4)}", row, sync=False)
        except OSError as error:
            log.error("the trail takes nothing (%s): %s", error, row)

    def _put(self, name: str, data: dict[str, Any], sync: bool) -> None:
        path = self.folder / f"{name}.json"
        part = path.with_suffix(".part")
        with part.open("w", encoding="utf-8") as file:
            json.dump(data, file, ensure_ascii=False)
            if sync:
                file.flush()
                os.fsync(file.fileno())
        part.replace(path)
        self._wake.set()

    @property
    def waiting(self) -> int:
        """How many attempts and rows of the trail the database does not have yet."""
        return len(list(self.folder.glob("*.json")))

    def flush(self) -> int:
        """Write everything that waits, now; the number written. RecordsAwayError when the database is away."""
        written = 0
        for path in sorted(self.folder.glob("*.json"), key=lambda path: (path.stat().st_mtime_ns, path.name)):
            written += self._write(path)
        return written

    def _write(self, path: Path) -> int:
        try:
            data = json.loads(path.read_text(encoding="utf-8"))
            data["at"] = datetime.fromisoformat(data["at"])
            with self._records.work() as session:
                if "did" in data:
                    note(session, **data)
                else:
                    keep(session, _arrival(data))
        except (EvidenceError, ValueError, KeyError, TypeError, DataError) as error:
            # It will never fit: out of the way, but not lost.
            path.replace(path.with_suffix(".refused"))
            log.error("the attempt %s cannot be kept: %s", path.stem, error)
            return 0
        path.unlink(missing_ok=True)
        return 1

    def _run(self) -> None:
        wait = FIRST_WAIT
        while True:
            self._wake.wait(None if not self.trouble else wait)
            self._wake.clear()
            try:
                self.flush()
            except RecordsAwayError as error:
                if not self.trouble:
                    log.warning("%s; %d attempts wait", error, self.waiting)
                self.trouble = str(error)
                wait = min(2.0 * wait, LONGEST_WAIT)
            except Exception:
                # One that cannot be written must not end the writing of the others.
                log.exception("an attempt could not be written")
                self.trouble = "an attempt could not be written; the server's log says why"
                wait = min(2.0 * wait, LONGEST_WAIT)
            else:
                if self.trouble:
                    log.warning("the records are there again")
                self.trouble, wait = "", FIRST_WAIT
            if self._stop:
                return


def _arrival(data: dict[str, Any]) -> Arrival:
    notes = [(float(t), str(text), str(author)) for t, text, author in data.pop("notes")]
    return Arrival(**data, notes=notes)
