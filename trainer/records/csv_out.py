"""Attempts as CSV, for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from trainer.records.tables import Attempt

COLUMNS = (
    "attempt",
    "person",
    "drill",
    "title",
    "plant",
    "seed",
    "mode",
    "at",
    "simulated_s",
    "finished",
    "passed",
    "score",
    "machine_passed",
    "machine_score",
    "criticals",
    "interventions",
    "rewinds",
    "verified",
    "signed_by",
    "signed_at",
    "engine",
    "seal",
)
CRITERIA_COLUMNS = ("attempt", "person", "drill", "at", "criterion", "title", "category", "points", "earned", "t")

# A spreadsheet takes text that begins like this for a formula, some also in full width.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def _cell(value: object) -> object:
    if isinstance(value, str) and value.startswith(_FORMULA):
        return "'" + value
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else value


def _text(columns: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def attempts_csv(attempts: Iterable[Attempt]) -> str:
    """One line an attempt. Text that a spreadsheet would run as a formula is made harmless."""
    return _text(
        COLUMNS,
        (
            (
                attempt.id,
                attempt.person.name,
                attempt.drill,
                attempt.title,
                attempt.plant,
                attempt.seed,
                attempt.mode,
                attempt.at.isoformat(),
                attempt.simulated_s,
                attempt.finished,
                attempt.passed,
                attempt.score,
                attempt.machine_passed,
                attempt.machine_score,
                attempt.criticals,
                attempt.interventions,
                attempt.rewinds,
                attempt.verified,
                attempt.signer.name if attempt.signer else None,
                attempt.signed_at.isoformat() if attempt.signed_at else None,
                attempt.engine,
                attempt.seal,
            )
            for attempt in attempts
        ),
    )


def criteria_csv(attempts: Iterable[Attempt]) -> str:
    """One line a criterion, as the machine found it, under ``CRITERIA_COLUMNS``; points and times in s."""
    return _text(
        CRITERIA_COLUMNS,
        (
            (
                attempt.id,
                attempt.person.name,
                attempt.drill,
                attempt.at.isoformat(),
                row.criterion,
                row.title,
                row.category,
                row.points,
                row.earned,
                row.t,
            )
            for attempt in attempts
            for row in attempt.criteria
        ),
    )
