"""What a class has done, to print: by person, by learning point beside the classes before, and by competency."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from trainer.classroom.past import counted
from trainer.console.progress import Attempt
from trainer.drills.schema import Drill
from trainer.records import assigned, class_lists, competency, currency
from trainer.records.tables import Attempt as Row
from trainer.records.tables import Person

MOST_BEFORE = 3
"""So many other classes it is held against."""
MOST_ATTEMPTS = 5000
"""Attempts that are read for one summary, the newest."""


@dataclass(frozen=True)
class PersonLine:
    """One person of the class: drills tried and passed, checks passed and signed, mean of the best scores in points."""

    name: str
    team: str
    tried: int
    passed: int
    checks: int
    score: float | None
    last: str
    """The day of the last attempt; empty where there is none."""
    open: str
    """What is assigned and not done yet, with its day, in words."""


@dataclass(frozen=True)
class PointLine:
    """One learning point: the share of its points that the class earned, and that all others did; None for nobody."""

    drill: str
    point: str
    share: float
    count: int
    """How many of the class have shown it at all."""
    others: float | None
    before: Sequence[float | None] = ()
    """The share of each earlier class, in the order of ``ClassSummary.before``; None where it has none."""


@dataclass(frozen=True)
class CompetencyLine:
    """One competency: who of the class holds it now, and what the others miss, by name."""

    name: str
    held: Sequence[str]
    missing: Mapping[str, Sequence[str]]


@dataclass(frozen=True)
class ClassSummary:
    """A class as it stands. Every line is of what the records hold; a learning point counts the last attempt of each
    person at its drill."""

    title: str
    people: Sequence[PersonLine]
    points: Sequence[PointLine]
    competencies: Sequence[CompetencyLine]
    before: Sequence[str] = ()
    """The names of the classes that it is held against."""


def summary(
    session: Session,
    joined: str,
    drills: Mapping[str, Drill],
    courses: Mapping[str, tuple[str, Sequence[str]]],
    at: datetime,
    key: str,
) -> ClassSummary:
    """The summary of the class of this name at a moment. ``courses`` gives title and drills of each course by its id;
    ``key`` is the public key of this classroom, whose checks count for competencies."""
    members = class_lists.members(session, joined)
    ids = {person.id for person, _ in members}
    rows = list(session.scalars(select(Row).order_by(Row.at.desc()).limit(MOST_ATTEMPTS)))
    made: dict[int, list[Attempt]] = {}
    for row in reversed(rows):
        made.setdefault(row.person_id, []).append(counted(row, drills.get(row.drill)))
    signed = {(row.person_id, row.drill) for row in rows if row.mode == "check" and row.passed and row.signed_at}
    matrix = currency.matrix(session, {one.id: one.title for one in drills.values()}, at, key)
    mine = [
        _person(
            person,
            team,
            made.get(person.id, []),
            len({drill for whose, drill in signed if whose == person.id}),
            _open(assigned.of_person(session, person.id, joined), courses, made.get(person.id, [])),
        )
        for person, team in members
    ]
    earlier = {
        name: _shares(made[one.id] for one, _ in class_lists.members(session, name) if one.id in made)
        for name in [name for name in class_lists.classes(session) if name != joined][-MOST_BEFORE:]
    }
    here = _shares(made[one] for one in ids if one in made)
    others = _shares(found for one, found in made.items() if one not in ids)
    points = [
        PointLine(
            drills[drill].title if drill in drills else drill,
            point,
            got / of,
            count,
            _share(others.get((drill, point))),
            [_share(shares.get((drill, point))) for shares in earlier.values()],
        )
        for (drill, point), (got, of, count) in here.items()
    ]
    sets = []
    for one in competency.every(session):
        standing = {person.name: competency.standing(matrix, person, one) for person, _ in members}
        missing = {
            name: [drills[drill].title if drill in drills else drill for drill in found.missing]
            for name, found in standing.items()
            if not found.held
        }
        sets.append(CompetencyLine(one.name, [name for name, found in standing.items() if found.held], missing))
    points.sort(key=lambda line: (line.share, line.drill, line.point))
    return ClassSummary(joined, mine, points, sets, list(earlier))


def _share(found: tuple[float, float, int] | None) -> float | None:
    return None if found is None else found[0] / found[1]


def _person(person: Person, team: str, made: Sequence[Attempt], checks: int, still: str) -> PersonLine:
    best: dict[str, float] = {}
    for one in made:
        best[one.drill] = max(best.get(one.drill, 0.0), one.score)
    passed = {one.drill for one in made if one.passed}
    mean = None
    if best:
        total = 0.0
        for score in best.values():
            total += score
        mean = total / len(best)
    return PersonLine(person.name, team, len(best), len(passed), checks, mean, made[-1].at if made else "", still)


def _open(
    given: Sequence[tuple[str, datetime | None, str]],
    courses: Mapping[str, tuple[str, Sequence[str]]],
    made: Sequence[Attempt],
) -> str:
    """The assigned courses that are not done, each with how much is left and its day."""
    passed = {one.drill for one in made if one.passed}
    found = []
    for course, due, _ in given:
        title, drills = courses.get(course, (course, ()))
        left = [drill for drill in drills if drill not in passed]
        if left or not drills:
            found.append(f"{title}: {len(left)} of {len(drills)} left" + (f", by {due:%Y-%m-%d}" if due else ""))
    return "; ".join(found)


def _shares(people: Iterable[Sequence[Attempt]]) -> dict[tuple[str, str], tuple[float, float, int]]:
    """(points earned, points there were, persons) by drill and learning point, of each person's last attempt."""
    found: dict[tuple[str, str], tuple[float, float, int]] = {}
    for made in people:
        last = {one.drill: one for one in made}
        for one in last.values():
            for point, (got, of) in one.points.items():
                before = found.get((one.drill, point), (0.0, 0.0, 0))
                if of > 0.0:
                    found[one.drill, point] = (before[0] + got, before[1] + of, before[2] + 1)
    return found
