"""When something learned is due again: the FSRS scheduler of the ``fsrs`` package, in whole days.

Source: FSRS, the free spaced repetition scheduler, version 6, with its published default parameters; its models of
stability and retrievability stand in the package. What share of the points counts as which grade is invented.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Final

from fsrs import Card, Rating, Scheduler

GOOD: Final = 0.8
"""From this share of the points on, something counts as done well."""
FLAWLESS: Final = 0.99
HALF: Final = 0.5
SCHEDULER: Final = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
"""Without steps within a day and without chance: the same reviews give the same day."""


@dataclass(frozen=True, slots=True)
class Review:
    """One time that something was shown: the day, the share of its points (0 to 1), and whether without help."""

    day: date
    share: float
    alone: bool = False


@dataclass(frozen=True, slots=True)
class Standing:
    """Where something learned stands: the day when it is due again, and whether it was done well when last shown."""

    due: date
    last: date
    mastered: bool


def grade(review: Review) -> Rating:
    """The grade of a review. With the coach's help nothing counts as easy."""
    if review.share < HALF:
        return Rating.Again
    if review.share < GOOD:
        return Rating.Hard
    return Rating.Easy if review.alone and review.share >= FLAWLESS else Rating.Good


def standing(reviews: Iterable[Review]) -> Standing | None:
    """Where something stands after its reviews, oldest first; None where there are none.

    It is mastered when it was done well without help, or twice running with it.
    """
    card = Card(card_id=1)
    before: Review | None = None
    last: Review | None = None
    for review in reviews:
        noon = datetime.combine(max(review.day, last.day if last else review.day), time(12), UTC)
        card, _ = SCHEDULER.review_card(card, grade(review), noon)
        before, last = last, review
    if last is None:
        return None
    twice = before is not None and before.share >= GOOD
    return Standing(card.due.date(), last.day, last.share >= GOOD and (last.alone or twice))
