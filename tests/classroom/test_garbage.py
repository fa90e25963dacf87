"""What closed pages leave is given back, seldom; what stands is not looked through meanwhile."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from weakref import ref

import pytest

from trainer.classroom.garbage import LONGEST, MOST_LEFT, Garbage


class Knot:
    """What only the collector gives back: it holds itself."""

    def __init__(self) -> None:
        self.own = self


@pytest.fixture
def thawed() -> Iterator[None]:
    """A process whose collector is as before at the end."""
    yield
    gc.unfreeze()


@pytest.mark.parametrize(("left", "asked"), [(MOST_LEFT, 1), (1, LONGEST)], ids=["many", "long ago"])
def test_what_pages_left_is_given_back_once_they_are_many_or_closed_long_ago(
    thawed: None, left: int, asked: int
) -> None:
    garbage, knot = Garbage(), Knot()
    known = ref(knot)
    garbage.stands()
    del knot
    for _ in range(2 * LONGEST):
        garbage.tidy()
    gc.collect()
    assert known() is not None, "nothing was closed: what stands was looked through all the same"
    for _ in range(left):
        garbage.left()
    for _ in range(asked - 1):
        garbage.tidy()
    assert known() is not None
    garbage.tidy()
    assert known() is None and gc.get_freeze_count()
