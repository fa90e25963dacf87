"""The attempts of a person as the progress page wants them, from the records."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Mapping

from trainer.classroom.access import Who
from trainer.console.progress import Attempt, attempt_id, points_of
from trainer.drills.schema import Drill
from trainer.learn.standing import Assigned
from trainer.records import assigned, attempts, class_rules
from trainer.records.database import Records, RecordsError
from trainer.records.tables import Attempt as Row
from trainer.session.sheets import RowData

log = logging.getLogger("trainer.classroom")

#: The newest attempts that the page is given.
MOST = 60


def recorded(records: Records, drills: Mapping[str, Drill]) -> Callable[[Who], list[Attempt]]:
    """What gives a person's attempts, oldest first; none while the database is away."""

    def past(who: Who) -> list[Attempt]:
        try:
            with records.look() as session:
                found = attempts.search(session, person=who.person, count=MOST)
                return [counted(row, drills.get(row.drill)) for row in reversed(found)]
        except RecordsError as error:
            log.warning("%s", error)
            return []

    return past


def assigned_to(records: Records) -> Callable[[Who], list[Assigned]]:
    """What gives the courses assigned to a person, the nearest day first; none while the database is away."""

    def mine(who: Who) -> list[Assigned]:
        try:
            with records.look() as session:
                found = assigned.of_person(session, who.person, who.joined)
        except RecordsError as error:
            log.warning("%s", error)
            return []
        return [Assigned(course, due.date() if due is not None else None, by) for course, due, by in found]

    return mine


def barred(records: Records, courses: Callable[[], Mapping[str, Collection[str]]]) -> Callable[[Who, str], str | None]:
    """A function that says why a trainee may not start a drill by the rule of their class; None where they may, and
    while the records are away. ``courses`` gives the drills of each course by its id."""

    def why(who: Who, drill: str) -> str | None:
        try:
            with records.look() as session:
                return class_rules.barred(session, who.person, who.joined, drill, courses())
        except RecordsError as error:
            log.warning("%s", error)
            return None

    return why


def counted(row: Row, drill: Drill | None) -> Attempt:
    """An attempt of the records with what it earned on each learning point; a signed one with its signer's marks."""
    # A signed attempt counts with its signer's marks.
    signer = row.signed_by
    marked = {mark.criterion: mark.points for mark in row.marks if signer is not None and mark.assessor_id == signer}
    rows: list[RowData] = [
        {
            "id": one.criterion,
            "category": one.category,
            "points": one.points,
            "earned": marked.get(one.criterion, one.earned),
        }
        for one in row.criteria
    ]
    return Attempt(
        id=attempt_id(row.drill, row.seed, row.simulated_s, row.machine_score),
        drill=row.drill,
        title=row.title,
        mode=row.mode,
        score=row.score,
        passed=row.passed,
        points=points_of(rows, drill),
        at=f"{row.at:%Y-%m-%d}",
    )
