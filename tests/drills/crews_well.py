"""Crews for the well-control drills; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons

CREWS: dict[str, Callable[[int], Crew]] = {}
BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {}
