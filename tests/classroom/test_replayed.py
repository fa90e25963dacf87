"""A replay in a classroom: the journal stays shut, who watches sees it, and a run taken over is a run of its own."""

from __future__ import annotations

from pathlib import Path

from trainer.classroom.access import Who
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.mirror import MirrorSeat
from trainer.records.attempts import Arrival
from trainer.session.interventions import DEBRIEF
from trainer.simulator import Session


def test_a_replay_is_watched_and_taken_over(tmp_path: Path) -> None:
    handed: list[Arrival] = []
    rooms = ClassRooms(tmp_path, handed.append)
    seat = rooms._new("0" * 20, Who(1, "Liv Strand", "trainee")).seat
    seat.hello()
    assert seat.begin_for("lamp-lies", "check", 1, "Mara Quill") is None
    seat.handle({"page": "begin"})
    for _ in range(12):
        seat.tick(1.0)
    seat.handle({"page": "finish"})
    seat.handle({"page": "finish"})
    assert seat.page == "sheet" and len(handed) == 1 and not list(tmp_path.glob("*.jsonl"))
    seat.note("Instructor", "Look at the count")
    assert "Look at the count" in seat.remarks()[0][1]
    seat.handle({"page": "replay", "value": 9})
    for _ in range(10):
        seat.tick(0.1)
    assert seat.page == "replay" and len(handed) == 1

    mirror = MirrorSeat(seat)
    assert mirror.hello()["driller"]["markup"]
    assert mirror.run is seat.shown is not seat.run
    seat.handle({"page": "seek", "value": "3"})
    patch = mirror.tick(0.0)
    assert patch["header"]["readings"]["page.clock"] == {"text": "0:03"}

    seat.handle({"page": "take-over"})
    run = seat.run
    assert isinstance(run, Session) and run.identity.mode == "practice" and seat.page == "console"
    assert [entry.from_ for entry in run.log] == [DEBRIEF]
    assert list(tmp_path.glob("*.jsonl"))
    mirror.tick(0.0)
    assert mirror.run is run and mirror.page == "console"
    seat.handle({"page": "pause"})
    seat.tick(1.0)
    seat.handle({"page": "leave"})
    assert len(handed) == 2 and '"take-over"' in handed[1].evidence
