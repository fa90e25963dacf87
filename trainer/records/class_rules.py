"""What the trainees of a class may start themselves, as its instructors set it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from sqlalchemy.orm import Session

from trainer.records import assigned
from trainer.records.tables import ClassRule

EVERYTHING, ASSIGNED, NOTHING = "everything", "assigned", "nothing"
STARTS = {"Everything": EVERYTHING, "Only what is assigned": ASSIGNED, "Nothing: staff start": NOTHING}
"""What trainees may start, by the words for it."""


def starts(session: Session, joined: str) -> str:
    """What the trainees of the class of this name may start: one of the values of ``STARTS``."""
    rule = session.get(ClassRule, joined)
    return rule.starts if rule is not None else EVERYTHING


def let_start(session: Session, joined: str, what: str) -> None:
    """Set what the trainees of a class may start from now on; ValueError for what is no such rule."""
    if what not in STARTS.values():
        raise ValueError(f"what trainees may start is one of {', '.join(STARTS.values())}, not {what[:20]!r}")
    session.merge(ClassRule(joined=joined, starts=what))


def barred(
    session: Session, person: int, joined: str, drill: str, courses: Mapping[str, Collection[str]]
) -> str | None:
    """Why a trainee who joined that class may not start this drill themselves, in a sentence; None where they may.

    drill: its id, empty for free practice. courses: the drills of each course, by the course's id.
    """
    rule = starts(session, joined)
    if rule == NOTHING:
        return "In this class staff start the drills. Wait for yours, or learn the parts meanwhile."
    if rule == ASSIGNED:
        given = {one for course, _, _ in assigned.of_person(session, person, joined) for one in courses.get(course, ())}
        if drill not in given:
            return "In this class you start only what is assigned to you. Your path shows it."
    return None
