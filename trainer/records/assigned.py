"""Courses that staff assign: to a class, whoever joins it, or to one person; and how far those are."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, and_, delete, or_, select, union
from sqlalchemy.orm import Session

from trainer.records.audit import now
from trainer.records.tables import Assignment, Attempt, ClassMember, Login, Person

MOST = 500
"""Assignments that stand at the same time."""


@dataclass(frozen=True)
class Assigned:
    """One assignment: the course's id, to whom, by when (None: no day is set), by whom; the passed drills by person."""

    id: int
    course: str
    joined: str
    person: str
    due: datetime | None
    by: str
    passed: Mapping[str, frozenset[str]]


def assign(
    session: Session, course: str, by: int, *, joined: str = "", person: int | None = None, due: datetime | None = None
) -> Assignment:
    """Assign a course to a class (``joined``; empty for the one without a name) or to one ``person``.

    Assigned again, only the day changes. ValueError where too many stand already, or nobody is called so.
    """
    if person is not None and session.get(Person, person) is None:
        raise ValueError("that person is not in the records any more")
    to = Assignment.person_id == person if person is not None else _to_class(joined)
    one = session.scalar(select(Assignment).where(Assignment.course == course, to))
    if one is None:
        if len(list(session.scalars(select(Assignment.id)))) >= MOST:
            raise ValueError(f"{MOST} courses are assigned already; withdraw some first")
        one = Assignment(course=course, joined="" if person is not None else joined, person_id=person)
        session.add(one)
    one.due, one.by_id, one.at = due, by, now()
    session.flush()
    return one


def stands(session: Session, course: str) -> bool:
    """Return whether the course of this id is assigned to a class or to a person now."""
    return session.scalar(select(Assignment.id).where(Assignment.course == course).limit(1)) is not None


def withdraw(session: Session, number: int) -> None:
    """Take an assignment back; what was done for it stays in the records."""
    session.execute(delete(Assignment).where(Assignment.id == number))


def of_person(session: Session, person: int, joined: str) -> list[tuple[str, datetime | None, str]]:
    """(course, day, by whom) of all that is assigned to a person who joined that class, the nearest day first."""
    listed = select(ClassMember.joined).where(ClassMember.person_id == person)
    by_list = and_(Assignment.person_id.is_(None), Assignment.joined.in_(listed))
    to = or_(Assignment.person_id == person, _to_class(joined), by_list)
    rows = session.execute(
        select(Assignment.course, Assignment.due, Person.name)
        .outerjoin(Person, Person.id == Assignment.by_id)
        .where(to)
        .order_by(Assignment.due.is_(None), Assignment.due, Assignment.id)
    )
    found: dict[str, tuple[str, datetime | None, str]] = {}
    for course, due, by in rows:
        found.setdefault(course, (course, due, by or ""))
    return list(found.values())


def every(session: Session, drills: Mapping[str, Collection[str]]) -> list[Assigned]:
    """All assignments, the newest first, each with what its persons passed. drills: of each course, by its id."""
    names = {one.id: one.name for one in session.scalars(select(Person))}
    return [
        Assigned(
            row.id,
            row.course,
            row.joined,
            names.get(row.person_id or 0, ""),
            row.due,
            names.get(row.by_id or 0, ""),
            _passed(session, _persons(session, row, names), drills.get(row.course, ())),
        )
        for row in session.scalars(select(Assignment).order_by(Assignment.id.desc()))
    ]


def classes(session: Session) -> list[str]:
    """The names of the classes that were joined lately, and the one without a name first."""
    return ["", *session.scalars(select(Login.joined).where(Login.joined != "").distinct().order_by(Login.joined))]


def _to_class(joined: str) -> ColumnElement[bool]:
    return and_(Assignment.person_id.is_(None), Assignment.joined == joined)


def _persons(session: Session, row: Assignment, names: Mapping[int, str]) -> dict[int, str]:
    if row.person_id is not None:
        return {row.person_id: names[row.person_id]}
    came = select(Login.person_id).join(Person).where(Login.joined == row.joined, Person.role == "trainee")
    listed = select(ClassMember.person_id).where(ClassMember.joined == row.joined)
    return {person: names[person] for person in session.scalars(union(came, listed))}


def _passed(session: Session, persons: Mapping[int, str], drills: Collection[str]) -> dict[str, frozenset[str]]:
    """The drills of a course that each person passed, by the person's name, in the order of the names."""
    rows = session.execute(
        select(Attempt.person_id, Attempt.drill)
        .where(Attempt.person_id.in_(persons), Attempt.drill.in_(drills), Attempt.passed.is_(True))
        .distinct()
    ).all()
    done = [(name, frozenset(drill for who, drill in rows if who == person)) for person, name in persons.items()]
    return dict(sorted(done))
