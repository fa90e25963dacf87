"""The score sheet with an assessor's marks: what a machine cannot see, and overrides, counted in."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.constants import HAIR
from trainer.drills.sheet import Failure, Row, decide
from trainer.session.sheets import RowData, SheetData


def assessed(sheet: SheetData, marks: Mapping[str, float]) -> SheetData:
    """A copy of a sheet (plain data) with points by criterion id in place of the machine's.

    Each row that was marked keeps what the machine found under ``machine``. ``passed``, ``score`` and ``verdict``
    are decided again by the drill's own rule. KeyError for a criterion that the sheet lacks, ValueError for
    points outside 0 to the row's points.
    """
    rows = [row.copy() for row in sheet.get("criteria", [])]
    known = {row["id"]: row for row in rows}
    for criterion, points in marks.items():
        row = known[criterion]
        if not 0.0 <= points <= row["points"] + HAIR:
            raise ValueError(f"{points:g} points for {row['title']!r}; give 0 to {row['points']:g}")
        row["machine"] = row["earned"]
        row["earned"] = float(points)
    failures = [
        Failure(row["id"], row.get("title") or row["id"], row["t"], row["reason"], row.get("source", ""))
        for row in sheet.get("critical", [])
    ]
    judged = [_row(row) for row in rows]
    passed, score, verdict = decide(judged, failures, float(sheet.get("pass_mark", 100.0)))
    return {**sheet, "criteria": rows, "passed": passed, "score": score, "verdict": verdict}


def unjudged(sheet: SheetData) -> list[str]:
    """Ids of the criteria that only a person can judge and nobody has."""
    return [str(row["id"]) for row in sheet.get("criteria", []) if row.get("earned") is None]


def _row(row: RowData) -> Row:
    return Row(
        id=row["id"],
        title=row.get("title") or row["id"],
        category=row.get("category", ""),
        points=row["points"],
        earned=row["earned"],
        t=row.get("t"),
        reason=row.get("reason", ""),
        why=row.get("why", ""),
        source=row.get("source", ""),
        required=bool(row.get("required")),
    )
