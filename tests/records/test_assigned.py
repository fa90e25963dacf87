"""Courses assigned to a class and to one person: who has them, the day, and what was passed of them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.records.conftest import START, arrival
from trainer.records import assigned, attempts, logins, people
from trainer.records.database import Records

DRILLS = {"well-control": ["kick-while-drilling", "riser-gas"], "operate": ["follow-the-fluid"]}


def test_a_course_for_a_class_and_one_for_a_person(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        staff = people.add(session, "Ines Marlow", "instructor")
        ona, bo = people.add(session, "Ona Tiller"), people.add(session, "Bo Quay")
        logins.begin(session, ona, joined="nights")
        logins.begin(session, bo)
        assigned.assign(session, "operate", staff.id, joined="nights", due=START + timedelta(days=9))
        assigned.assign(session, "well-control", staff.id, person=ona.id, due=START)
        assigned.assign(session, "operate", staff.id, joined="nights", due=START + timedelta(days=2))
        attempts.keep(session, arrival(run)).passed = True
        ids = staff.id, ona.id, bo.id
    with records.look() as session:
        mine = assigned.of_person(session, ids[1], "nights")
        assert mine == [("well-control", START, "Ines Marlow"), ("operate", START + timedelta(days=2), "Ines Marlow")]
        assert assigned.of_person(session, ids[2], "") == []
        newest, first = assigned.every(session, DRILLS)
        assert (newest.course, newest.person) == ("well-control", "Ona Tiller")
        assert newest.passed == {"Ona Tiller": frozenset({"kick-while-drilling"})}
        assert (first.joined, first.passed) == ("nights", {"Ona Tiller": frozenset()})
        assert assigned.classes(session) == ["", "nights"]
    with records.work() as session:
        assigned.withdraw(session, first.id)
        with pytest.raises(ValueError, match="not in the records"):
            assigned.assign(session, "operate", ids[0], person=999)
    with records.look() as session:
        assert [course for course, _, _ in assigned.of_person(session, ids[1], "nights")] == ["well-control"]
