"""A disk that is full, read-only or slow to come back: nothing that was confirmed is lost, and the page says so."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import random
import sqlite3
import time
from pathlib import Path
from typing import Any, cast

import pytest

from tests.classroom.test_checks import PIA, Room, started
from tests.waiting import wait_until
from trainer.classroom import journal as journals
from trainer.classroom.watch import WAITED
from trainer.records import attempts
from trainer.records.attempts import Arrival
from trainer.records.database import Records
from trainer.records.outbox import Outbox
from trainer.session import evidence
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder

COUNT = 20
LOCKED_S = float(os.environ.get("TRAINER_OUTAGE_S", "0"))
"""A minute in the long form."""


class Disk:
    """A disk with so many bytes left; what goes beyond is cut off in the middle, as by a real one."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.left: int | None = None
        self._write = os.write
        monkeypatch.setattr(os, "write", self.write)

    def write(self, file: int, data: bytes) -> int:
        """As the system's own."""
        if self.left is None:
            return self._write(file, data)
        if self.left <= 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        taken = min(self.left, len(data))
        self.left -= taken
        return self._write(file, data[:taken])


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    return Disk(monkeypatch)


def stuck(patch: dict[str, Any]) -> bool:
    """Whether the page says that the server cannot write."""
    return "cannot write to its disk" in str(patch.get("messages", {}).get("readings", {}).get("page.refusal"))


def on_disk(folder: Path) -> list[Any]:
    """What a server that starts now would find of the run."""
    (path,) = (folder / "journal").glob("*.jsonl")
    kept = journals.read(path)
    return [(entry.do, entry.target, entry.value) for entry in kept.session.log] if kept is not None else []


def test_no_confirmed_action_is_lost_on_a_disk_that_fills_at_any_moment(tmp_path: Path, disk: Disk) -> None:
    room = started(Room(tmp_path))
    chance = random.Random(14)
    confirmed: list[Any] = []
    frozen = 0
    for number in range(COUNT):
        disk.left = chance.randrange(180)
        value = ("close", "open")[number % 2]
        patch = room.hear(do="set", target="upper_annular", value=value, **{"from": "driller"})
        room.pass_by(1.0)
        if stuck(patch):
            frozen += 1
            time = room.seat.run.time if room.seat.run else 0.0
            room.pass_by(1.0)
            assert room.seat.run is not None and room.seat.run.time == time, "the run waits for the disk"
            # Whatever is done meanwhile is refused, and a server that dies here has lost nothing that was confirmed.
            assert stuck(room.hear(do="set", target="lower_annular", value="close", **{"from": "driller"}))
            assert on_disk(tmp_path) == confirmed
        disk.left = None
        room.pass_by(1.0)
        assert not room.seat.stuck
        confirmed.append(("set", "upper_annular", value))
        assert on_disk(tmp_path) == confirmed
    assert frozen >= COUNT // 4
    room.say("end")
    room.seat.tick(0.5)
    document = evidence.parse(room.handed[0].evidence)
    assert [entry.value for entry in document.log] == [value for _, _, value in confirmed]
    assert verify(document, rebuilder()).ok
    kept = room.custody()
    assert {pause.by for pause in kept.pauses if pause.reason != WAITED} == {"the server"}
    assert all("No space left" in pause.reason for pause in kept.pauses if pause.reason != WAITED)


def test_drills_go_on_and_are_kept_while_the_database_is_locked(tmp_path: Path) -> None:
    records = Records(f"sqlite:///{tmp_path / 'records.sqlite'}").prepare()
    outbox = Outbox(records, tmp_path / "outbox").start()
    with contextlib.closing(sqlite3.connect(tmp_path / "records.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        until = time.monotonic() + LOCKED_S
        rooms = []
        while not rooms or time.monotonic() < until:
            room = started(Room(tmp_path / f"class-{len(rooms)}"))
            room.rooms._arrive = outbox.put
            for value in ("close", "open", "close"):
                assert not stuck(room.hear(do="set", target="upper_annular", value=value, **{"from": "driller"})), (
                    "a drill asks no database"
                )
                room.pass_by(2.0)
            room.say("end")
            room.seat.tick(0.5)
            assert room.seat.page == "sheet" and not room.seat.unsaved
            rooms.append(room)
            time.sleep(min(LOCKED_S, 5.0) / 5.0)
        assert outbox.waiting == len(rooms)
        other.execute("ROLLBACK")
    wait_until(lambda: not outbox.waiting)
    outbox.stop()
    with records.work() as session:
        kept = [evidence.parse(one.evidence) for one in attempts.search(session)]
    assert [len(document.log) for document in kept] == [3] * len(rooms)
    assert all(verify(document, rebuilder()).ok for document in kept)
    records.close()
    print(f"database locked for {LOCKED_S:g} s: {len(rooms)} checks handed in meanwhile, all kept, all verify")


def test_a_run_that_cannot_be_handed_in_waits_and_is_not_replaced(tmp_path: Path) -> None:
    room = started(Room(tmp_path))
    full = [True]
    kept: list[Arrival] = []

    def arrive(arrival: Arrival) -> None:
        if full[0]:
            raise OSError(errno.ENOSPC, "No space left on device")
        kept.append(arrival)

    room.rooms._arrive = arrive
    room.say("end")
    room.seat.tick(0.5)
    assert room.seat.page == "sheet" and room.seat.unsaved
    patch = room.hear(page="start", drill="", mode="practice", seed="0")
    assert "not saved yet" in patch["chooser"]["readings"]["page.status"]["text"]
    assert list((tmp_path / "journal").glob("*.jsonl")), "a server that dies now finds the run in its journal"
    full[0] = False
    room.rooms.attend()
    assert len(kept) == 1 and not room.seat.unsaved and not list((tmp_path / "journal").glob("*.jsonl"))
    room.hear(page="start", drill="", mode="practice", seed="0")
    assert isinstance(room.seat.run, Session) and room.seat.run.identity.drill is None


def test_a_journal_that_cannot_be_opened_stops_a_trainee_and_only_warns_a_guest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = os.open

    def refuse(path: Any, flags: int, *more: Any, **given: Any) -> int:
        if str(path).endswith(".jsonl") and flags & os.O_WRONLY:
            raise OSError(errno.EROFS, "Read-only file system")
        return whole(path, flags, *more, **given)

    monkeypatch.setattr(os, "open", refuse)
    room, guest = Room(tmp_path / "one"), Room(tmp_path / "two", who=None)
    assert room.page.who is PIA
    for one in (room, guest):
        one.hear(page="start", drill="", mode="practice", seed="0")
        one.pass_by(1.0)
    assert room.seat.stuck == "Read-only file system"
    assert room.seat.run is not None and room.seat.run.time <= 0.2
    assert guest.seat.run is not None and guest.seat.run.time > 0.5
    assert "not kept on disk" in str(cast(Any, guest.seat)._texts()["page.noted"])
    monkeypatch.setattr(os, "open", whole)
    room.pass_by(2.0)
    assert not room.seat.stuck and room.seat.run.time > 0.5
    (path,) = (tmp_path / "one" / "journal").glob("*.jsonl")
    assert json.loads(path.read_text().splitlines()[0])["k"] == "start"
