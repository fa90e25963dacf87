"""Do two assessors see the same? Cohen's kappa over the criteria that both marked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from sqlalchemy import select
from sqlalchemy.orm import Session

from trainer.drills.sheet import level
from trainer.records.tables import Mark

LEVELS = ("none", "part", "full")


def kappa(pairs: Sequence[tuple[str, str]]) -> float | None:
    """Cohen's kappa of paired judgements: (observed - chance) / (1 - chance), from -1 to 1.

    None for no pairs, and where both judges only ever gave the same one judgement: agreement beyond chance is
    then not defined. J. Cohen, "A coefficient of agreement for nominal scales", Educational and Psychological
    Measurement 20 (1960) 37-46, equation 1.
    """
    if not pairs:
        return None
    count = len(pairs)
    observed = len([1 for left, right in pairs if left == right]) / count
    names = {name for pair in pairs for name in pair}
    lefts, rights = [left for left, _ in pairs], [right for _, right in pairs]
    chance = math.fsum(lefts.count(name) * rights.count(name) for name in names) / count**2
    return None if chance >= 1.0 else (observed - chance) / (1.0 - chance)


@dataclass(frozen=True)
class Agreement:
    """Two assessors: criteria both marked, share on which they agree, and kappa."""

    first: str
    second: str
    count: int
    observed: float
    kappa: float | None


def agreements(session: Session, attempt: int | None = None) -> list[Agreement]:
    """Every pair of assessors that marked the same criteria, over all attempts or one."""
    query = select(Mark).order_by(Mark.id)
    if attempt is not None:
        query = query.where(Mark.attempt_id == attempt)
    by_assessor: dict[str, dict[tuple[int, str], str]] = {}
    for mark in session.scalars(query):
        judged = by_assessor.setdefault(mark.assessor, {})
        judged[(mark.attempt_id, mark.criterion)] = level(mark.points, mark.out_of)
    out = []
    for first, second in combinations(sorted(by_assessor), 2):
        left, right = by_assessor[first], by_assessor[second]
        pairs = [(left[place], right[place]) for place in sorted(left) if place in right]
        if pairs:
            same = len([1 for a, b in pairs if a == b]) / len(pairs)
            out.append(Agreement(first, second, len(pairs), same, kappa(pairs)))
    return out
