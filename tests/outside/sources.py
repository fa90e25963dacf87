"""What each check of the physics is held against: one entry for a law and a source.

``independent``: a published number of others, or that a general library computes by its own route.
``verification``: the same law solved another way, or a requirement that this project's own plants are to meet.
``balance``: what goes in must come out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

Kind = Literal["independent", "verification", "balance"]
Test = TypeVar("Test", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class HeldAgainst:
    """A law of the program, the source it is held against, and the test that does it."""

    law: str
    source: str
    kind: Kind
    test: str


FOUND: list[HeldAgainst] = []


def held_against(law: str, source: str, kind: Kind = "independent") -> Callable[[Test], Test]:
    """Mark a test as a check of ``law`` against ``source``; it returns the test as it is."""

    def mark(test: Test) -> Test:
        FOUND.append(HeldAgainst(law, source, kind, f"{test.__module__.split('.')[-1]}.{test.__name__}"))
        return test

    return mark
