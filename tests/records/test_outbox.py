"""Writing behind: nothing that was done is lost while the database is away."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select

from tests.records.conftest import arrival
from tests.records.postgres import PostgreSQL, binaries
from tests.waiting import wait_until
from trainer.records import attempts, audit
from trainer.records.database import Records, RecordsAwayError
from trainer.records.outbox import Outbox
from trainer.records.tables import Attempt

AWAY = 5


def _count(records: Records) -> int:
    with records.work() as session:
        return session.scalar(select(func.count()).select_from(Attempt)) or 0


def _wait(outbox: Outbox) -> None:
    wait_until(lambda: not outbox.waiting, "all is written")


def test_attempts_are_written_behind(records: Records, run: dict[str, Any], tmp_path: Path) -> None:
    outbox = Outbox(records, tmp_path / "outbox").start()
    for _ in range(5):
        outbox.put(arrival(run))
    _wait(outbox)
    outbox.stop()
    assert _count(records) == 5


def test_what_an_earlier_process_left_is_written(records: Records, run: dict[str, Any], tmp_path: Path) -> None:
    Outbox(records, tmp_path / "outbox").put(arrival(run, rewinds=2, notes=[(1.0, "a note", "Bram Cole")]))
    later = Outbox(records, tmp_path / "outbox").start()
    _wait(later)
    later.stop()
    with records.work() as session:
        (kept,) = attempts.search(session)
        assert kept.rewinds == 2
        assert kept.notes[0].text == "a note"


def test_one_that_will_never_fit_does_not_hold_up_the_rest(
    records: Records, run: dict[str, Any], tmp_path: Path
) -> None:
    outbox = Outbox(records, tmp_path / "outbox")
    broken = arrival(run)
    broken.evidence = "{}"
    outbox.put(broken)
    # PostgreSQL holds no such letter; SQLite does.
    outbox.put(arrival(run, notes=[(1.0, "nothing \0 here", "Bram Cole")]))
    outbox.put(arrival(run))
    refused = 2 if records.backend == "postgresql" else 1
    assert outbox.flush() == 3 - refused
    assert outbox.waiting == 0
    assert [path.suffix for path in outbox.folder.iterdir()] == [".refused"] * refused


@pytest.mark.parametrize("server", ["postgresql"] if binaries() else [])
def test_a_database_that_is_gone_stops_nothing(
    server: str, postgres: PostgreSQL, run: dict[str, Any], tmp_path: Path
) -> None:
    records = Records(postgres.database("outage")).prepare()
    outbox = Outbox(records, tmp_path / "outbox").start()
    postgres.stop()
    try:
        with pytest.raises(RecordsAwayError, match="cannot be reached"):
            _count(records)
        # Whoever puts an attempt away waits for no database: all of them are queued while none can be written.
        for _ in range(AWAY):
            outbox.put(arrival(run))
        waiting = outbox.waiting
        assert waiting == AWAY
        wait_until(lambda: bool(outbox.trouble))
        assert outbox.waiting == AWAY
    finally:
        postgres.start()
    _wait(outbox)
    outbox.stop()
    assert _count(records) == waiting
    assert outbox.trouble == ""
    records.close()


def test_the_trail_is_written_behind_in_its_order(records: Records, tmp_path: Path) -> None:
    outbox = Outbox(records, tmp_path / "outbox")
    for number in range(5):
        outbox.log("Bram Cole", "instructor", "freeze", f"place {number}")
    outbox.flush()
    with records.work() as session:
        assert [row.target for row in audit.latest(session)] == [f"place {number}" for number in (4, 3, 2, 1, 0)]
