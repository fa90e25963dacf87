"""A score sheet as plain data, with its types: what runs give, evidence keeps, and pages and reports read.

Every key may be missing: a file may be of an older version, and free practice has no score. Points are plain numbers,
times simulated seconds from the start of the run.
"""

from __future__ import annotations

from typing import TypedDict


class RowData(TypedDict, total=False):
    """A line of a score sheet as plain data: what a referee gives, and what a kept file has of it.

    machine: what the machine gave where an assessor's mark stands in ``earned``, points.
    """

    id: str
    title: str
    category: str
    points: float
    earned: float | None
    t: float | None
    reason: str
    why: str
    source: str
    required: bool
    seen: dict[str, str]
    seen_t: float | None
    due: float | None
    machine: float | None
    post: str


class FailureData(TypedDict, total=False):
    """A critical error as plain data: what a referee gives, and what a kept file has of it."""

    id: str
    title: str
    t: float
    reason: str
    source: str
    seen: dict[str, str]
    seen_t: float | None


class MilestoneData(TypedDict, total=False):
    """A milestone of a run as plain data: when it was reached, s; None where it was not."""

    id: str
    title: str
    t: float | None


class ShareData(TypedDict, total=False):
    """What one member of a crew earned of the points that are that member's alone, as plain data."""

    post: str
    title: str
    earned: float
    points: float


class SheetData(TypedDict, total=False):
    """A score sheet as plain data, as it is kept in evidence: of free practice only what was simulated, s."""

    drill: str
    title: str
    plant: str
    seed: int
    simulated_s: float
    finished: bool
    passed: bool
    score: float
    pass_mark: float
    verdict: str
    critical: list[FailureData]
    criteria: list[RowData]
    milestones: list[MilestoneData]
    signals: dict[str, float]
    crew: list[ShareData]
