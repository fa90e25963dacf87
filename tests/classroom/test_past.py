"""A person's progress comes from the records, whatever the browser of a shared machine kept."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

from trainer.classroom.access import Who
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.past import recorded
from trainer.console.progress import attempt_id
from trainer.drills import library
from trainer.records import attempts, marks, people
from trainer.records.database import Records
from trainer.simulator import Session


def test_a_persons_attempts_come_from_the_records(tmp_path: Path) -> None:
    records = Records(f"sqlite:///{tmp_path / 'records.db'}")
    run = Session.start("lamp-lies", seed=1)
    run.advance(5.0)
    evidence, at = json.dumps(run.evidence(name="Liv Strand", role="trainee")), datetime(2031, 5, 6, tzinfo=UTC)
    with records.work() as session:
        for number in range(2):
            when = at + timedelta(days=number)
            row = attempts.keep(session, attempts.Arrival(f"key{number}", evidence, "Liv Strand", when))
        person = row.person_id
    drills = library.all_drills()
    past = recorded(records, drills)
    found = past(Who(person, "Liv Strand", "trainee"))
    assert [one.at for one in found] == ["2031-05-06", "2031-05-07"]
    assert found[0].id == attempt_id("lamp-lies", 1, 5.0, run.sheet()["score"])
    assert found[0].points and past(Who(person + 1, "Dag", "trainee")) == []

    rooms = ClassRooms(None, lambda arrival: None)
    rooms.recorded = past
    seat = rooms._new("0" * 20, Who(person, "Liv Strand", "trainee")).seat
    seat.hello()
    kept = json.dumps([{**found[0].record(), "id": "another's", "drill": "mix-fluid"}])
    patch = seat.handle({"page": "progress", "kept": kept})
    assert "run once" in patch["progress"]["markup"] and "mix-fluid" not in patch["progress"]["markup"]
    assert not seat.keeps()
    guest = rooms._new("1" * 20, None).seat
    guest.hello()
    assert "run once" in guest.handle({"page": "progress", "kept": kept})["progress"]["markup"] and guest.keeps()
    records.close()


def test_a_signed_attempt_counts_with_its_signers_marks(tmp_path: Path) -> None:
    records = Records(f"sqlite:///{tmp_path / 'records.db'}")
    run = Session.start("lamp-lies", seed=1)
    run.advance(5.0)
    evidence, at = json.dumps(run.evidence(name="Liv Strand", role="trainee")), datetime(2031, 5, 6, tzinfo=UTC)
    with records.work() as session:
        row = attempts.keep(session, attempts.Arrival("key", evidence, "Liv Strand", at))
        liv = Who(row.person_id, "Liv Strand", "trainee")
    past = recorded(records, library.all_drills())
    (before,) = past(liv)
    assert any(got < most for got, most in before.points.values())
    with records.work() as session:
        assessor = people.add(session, "Ines Marlow", "assessor")
        (row,) = attempts.search(session, person=liv.person, count=1)
        for one in row.criteria:
            marks.give(session, row, one.criterion, one.points, "Seen", assessor)
        marks.sign(session, row, "", assessor)
    (after,) = past(liv)
    assert all(got == most for got, most in after.points.values())
    assert set(after.points) >= set(before.points)
    records.close()
