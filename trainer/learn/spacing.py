"""When something learned is due again: the FSRS scheduler of the ``fsrs`` package, in whole days.

Source: FSRS, the free spaced repetition scheduler, version 6, with its published default parameters; its models of
stability and retrievability stand in the package. What share of the points counts as which grade is invented.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Final

from fsrs import Card, Rating, Scheduler, State

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


@dataclass(frozen=True, slots=True)
class Memory:
    """What the scheduler keeps of one question: stability (days) and difficulty (1 to 10), and the days of its last
    review and of the next. Both figures are kept to a hundredth, as they are written down."""

    last: date
    due: date
    stability: float
    difficulty: float


def remembered(before: Memory | None, right: bool, today: date) -> Memory:
    """What is kept of a question after its first answer of a day; ``before``: what was, None at the first meeting."""
    card = Card(card_id=1)
    if before is not None:
        noon = datetime.combine(before.last, time(12), UTC)
        card = Card(
            1, State.Review, stability=before.stability, difficulty=before.difficulty, due=noon, last_review=noon
        )
    now = datetime.combine(max(today, before.last) if before is not None else today, time(12), UTC)
    card, _ = SCHEDULER.review_card(card, Rating.Good if right else Rating.Again, now)
    assert card.stability is not None and card.difficulty is not None
    return Memory(now.date(), card.due.date(), round(card.stability, 2), round(card.difficulty, 2))


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
