"""What somebody learns over attempts: the share of points earned on each learning point, attempt by attempt."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from trainer.records.attempts import search
from trainer.records.tables import Attempt, Criterion

PointOf = Callable[[Attempt, Criterion], str]
"""Which learning point a criterion of an attempt belongs to; empty for none."""


@dataclass(frozen=True)
class Step:
    """One attempt's share on one learning point: ``earned`` of ``points``, both above or equal to 0."""

    point: str
    at: datetime
    attempt: int
    title: str
    mode: str
    earned: float
    points: float

    @property
    def share(self) -> float:
        """From 0 to 1."""
        return self.earned / self.points


def by_category(_: Attempt, criterion: Criterion) -> str:
    """A criterion's own category: time, order, reading and so on."""
    return criterion.category


def progress(session: Session, person: int, point_of: PointOf = by_category, count: int = 500) -> dict[str, list[Step]]:
    """Steps of a person by learning point, oldest first; the points in the order of their names.

    ``count`` bounds how many attempts are looked at, the newest. What nobody has judged yet is left out; a signed
    attempt counts with its signer's marks.
    """
    return steps(search(session, person=person, count=count), point_of)


def steps(attempts: Iterable[Attempt], point_of: PointOf = by_category) -> dict[str, list[Step]]:
    """The same of attempts that were found already."""
    out: dict[str, list[Step]] = {}
    for attempt in sorted(attempts, key=lambda one: (one.at, one.id)):
        signed = attempt.signed_by is not None
        marked = {mark.criterion: mark.points for mark in attempt.marks if mark.assessor_id == attempt.signed_by}
        earned: dict[str, float] = {}
        points: dict[str, float] = {}
        for row in attempt.criteria:
            got = marked.get(row.criterion, row.earned) if signed else row.earned
            point = point_of(attempt, row)
            if got is None or row.points <= 0.0 or not point:
                continue
            earned[point] = earned.get(point, 0.0) + got
            points[point] = points.get(point, 0.0) + row.points
        for point, most in points.items():
            step = Step(point, attempt.at, attempt.id, attempt.title, attempt.mode, earned[point], most)
            out.setdefault(point, []).append(step)
    return dict(sorted(out.items()))
