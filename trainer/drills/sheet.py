"""The score sheet: what was earned, what was not, and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from trainer.constants import HAIR
from trainer.session.sheets import FailureData, MilestoneData, RowData, ShareData, SheetData
from trainer.wording import joined, worded


@dataclass(frozen=True, slots=True)
class Row:
    """One criterion judged. ``earned`` is None while an assessor has still to judge it."""

    id: str
    title: str
    category: str
    points: float
    earned: float | None
    t: float | None
    """Simulated time of what decided it, s."""
    reason: str
    """What happened and when, and what was expected."""
    why: str
    source: str
    required: bool
    seen: Mapping[str, str] = field(default_factory=dict)
    """Readings that the criterion looks at, as text, by tag."""
    seen_t: float | None = None
    """When they were read, s: what decided it, or the end for what never came."""
    due: float | None = None
    """The time by which it had to be so for any points, s; None where there is no such time."""
    post: str = ""
    """The member of the crew whose mark it is; empty for the whole crew's, and where one person works."""

    def to_json(self) -> RowData:
        """The row as plain data: points as numbers, times in s; ``earned`` of an unjudged row is None."""
        row: RowData = {
            "id": self.id,
            "title": self.title,
            "category": self.category,
            "points": self.points,
            "earned": self.earned,
            "t": self.t,
            "reason": self.reason,
            "why": self.why,
            "source": self.source,
            "required": self.required,
            "seen": dict(self.seen),
            "seen_t": self.seen_t,
            "due": self.due,
        }
        return {**row, "post": self.post} if self.post else row


@dataclass(frozen=True, slots=True)
class Failure:
    """A critical error that was made: when (s), why it is one, and what the instruments showed."""

    id: str
    title: str
    t: float
    reason: str
    source: str
    seen: Mapping[str, str] = field(default_factory=dict)
    seen_t: float | None = None

    def to_json(self) -> FailureData:
        """The critical error as plain data: id, title, time in s, reason, source and readings as text."""
        return {
            "id": self.id,
            "title": self.title,
            "t": self.t,
            "reason": self.reason,
            "source": self.source,
            "seen": dict(self.seen),
            "seen_t": self.seen_t,
        }


@dataclass(frozen=True, slots=True)
class ScoreSheet:
    """The verdict on a run of a drill: points, criteria, critical errors, and the signals at its end."""

    drill: str
    title: str
    plant: str
    seed: int
    simulated_s: float
    finished: bool
    pass_mark: float
    passed: bool
    score: float
    """Share of the points that a machine can judge (and those an assessor has marked), 0 to 100, and of that what
    counts after a critical error or with something missing."""
    verdict: str
    critical: Sequence[Failure]
    criteria: Sequence[Row]
    milestones: Sequence[MilestoneData]
    signals: Mapping[str, float]
    crew: Sequence[ShareData] = ()
    """What each member of a crew earned; empty where one person works."""

    def to_json(self) -> SheetData:
        """One JSON document's worth of plain data, without wall time: the same on every machine."""
        sheet: SheetData = {
            "drill": self.drill,
            "title": self.title,
            "plant": self.plant,
            "seed": self.seed,
            "simulated_s": self.simulated_s,
            "finished": self.finished,
            "passed": self.passed,
            "score": self.score,
            "pass_mark": self.pass_mark,
            "verdict": self.verdict,
            "critical": [failure.to_json() for failure in self.critical],
            "criteria": [row.to_json() for row in self.criteria],
            "milestones": [m.copy() for m in self.milestones],
            "signals": dict(self.signals),
        }
        return {**sheet, "crew": [share.copy() for share in self.crew]} if self.crew else sheet


def shares(rows: Sequence[Row], posts: Mapping[str, str]) -> list[ShareData]:
    """What each member of a crew earned of the points that are that member's alone, by post with its title."""
    found: list[ShareData] = []
    for post, title in posts.items():
        earned = points = 0.0
        for row in rows:
            if row.post == post and row.earned is not None:
                earned += row.earned
                points += row.points
        found.append({"post": post, "title": title, "earned": round(earned, 3), "points": round(points, 3)})
    return found


AFTER_A_CRITICAL_ERROR = 0.25
"""What of the points counts after a critical error: whatever else was good, the work was dangerous."""
WITH_SOMETHING_MISSING = 0.8
"""What of the points counts when something is missing that a pass needs, so that no such run stands above a pass.

Both are this trainer's own, laid beside the marks that three graders gave to runs without sight of the score
(``tests/drills/agreed``).
"""


def lost(row: RowData) -> float:
    """Points that a judged criterion did not get; 0 while it is not judged."""
    earned = row.get("earned")
    return 0.0 if earned is None else float(row.get("points") or 0.0) - float(earned)


def dearest(rows: Iterable[RowData], least: float) -> list[RowData]:
    """The criteria that lost more than ``least`` points, the dearest first."""
    return sorted((row for row in rows if lost(row) > least), key=lambda row: (-lost(row), str(row.get("id"))))


def level(earned: float | None, points: float) -> str:
    """How much of a criterion's points was earned: ``open`` (None: not judged yet), ``none``, ``part`` or ``full``."""
    if earned is None:
        return "open"
    if earned >= points - HAIR:
        return "full"
    return "none" if earned <= HAIR else "part"


def total(rows: Sequence[Row]) -> float:
    """Score out of 100 over the rows that have been judged; 0 when none has."""
    earned = 0.0
    points = 0.0
    for row in rows:
        if row.earned is not None:
            earned += row.earned
            points += row.points
    return round(100.0 * earned / points, 2) if points > 0.0 else 0.0


def whole(score: float, pass_mark: float = 0.0) -> int:
    """A score as the whole number that people read; one below the pass mark never reads as the mark itself."""
    nearest = int(score + 0.5)
    return nearest - 1 if score < pass_mark <= nearest else nearest


def of_100(score: float, pass_mark: float = 0.0) -> str:
    """A score in words, as a whole number; one below the pass mark never reads as the mark itself.

    >>> of_100(91.19), of_100(74.7, 75.0), of_100(75.2, 75.0)
    ('91 of 100', '74 of 100', '75 of 100')
    """
    return f"{whole(score, pass_mark)} of 100"


def decide(rows: Sequence[Row], critical: Sequence[Failure], pass_mark: float) -> tuple[bool, float, str]:
    """(passed, score, verdict sentence): critical failures first, then what is required, then the mark."""
    score = total(rows)
    missing = [row for row in rows if row.required and row.earned is not None and row.earned <= 0.0]
    if critical:
        names = joined("; ", (failure.title for failure in critical))
        return False, round(AFTER_A_CRITICAL_ERROR * score, 2), worded("Not passed. Critical error: {0}.", names)
    if missing:
        names = joined("; ", (row.title for row in missing))
        return False, round(WITH_SOMETHING_MISSING * score, 2), worded("Not passed. Missing: {0}.", names)
    if score < pass_mark:
        return False, score, f"Not passed: {of_100(score, pass_mark)} (pass mark {pass_mark:g})."
    return True, score, f"Passed: {of_100(score, pass_mark)} (pass mark {pass_mark:g})."


def clock(seconds: float) -> str:
    """A time in s as people read it: one decimal below 100 s, then minutes and seconds ("2 min 05 s")."""
    if seconds < 100.0:
        return f"{seconds:.1f} s"
    whole = int(seconds + 0.5)
    return f"{whole // 60} min {whole % 60:02d} s"
