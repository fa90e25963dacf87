"""Who is current in what: a pass in a check counts for a while, and a re-check is due before it runs out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from trainer.records import people
from trainer.records.tables import Attempt, Person, Task

VALID_DAYS = 365
RECHECK_DAYS = 30
LONGEST_DAYS = 3650


@dataclass(frozen=True)
class Cell:
    """One person and one task. ``state`` is never, unsigned (to sign), failed, unfinished, current, due or expired."""

    state: str
    passed: datetime | None = None
    recheck: datetime | None = None
    expires: datetime | None = None
    attempt: int | None = None
    finished: bool = True
    """Whether the check that counts last came to its drill's end."""


@dataclass(frozen=True)
class Matrix:
    """People by tasks, with a cell for each pair: whether the task is current, and until when."""

    people: list[Person]
    tasks: list[Task]
    cells: Mapping[tuple[int, str], Cell]


def tasks(session: Session, drills: Mapping[str, str]) -> list[Task]:
    """A task for each drill (id to title); those without terms of their own get the usual ones."""
    kept = {task.drill: task for task in session.scalars(select(Task))}
    return [
        kept.get(drill) or Task(drill=drill, title=title, valid_days=VALID_DAYS, recheck_days=RECHECK_DAYS)
        for drill, title in drills.items()
    ]


def set_terms(session: Session, drill: str, title: str, valid_days: int, recheck_days: int) -> Task:
    """How long a pass in this drill counts, and how long before its end a re-check is due."""
    if not 1 <= valid_days <= LONGEST_DAYS or not 0 <= recheck_days <= valid_days:
        raise ValueError(f"give 1 to {LONGEST_DAYS} days of validity, and a re-check within them")
    task = session.get(Task, drill)
    if task is None:
        task = Task(drill=drill)
        session.add(task)
    task.title, task.valid_days, task.recheck_days = title[:300], valid_days, recheck_days
    session.flush()
    return task


def cell(attempts: list[Attempt], task: Task, at: datetime) -> Cell:
    """Where a person stands in a task at a moment, from the checks made in it, in any order.

    A check that was failed after the last pass counts against it: who fails a re-check is no longer current.
    """
    if not attempts:
        return Cell("never")
    # A check that no assessor has signed off proves no pass, and takes none away.
    newest = max(attempts, key=lambda attempt: attempt.at)
    attempts = [attempt for attempt in attempts if attempt.signed_at or not (attempt.passed and attempt.finished)]
    if not attempts:
        return Cell("unsigned", attempt=newest.id)
    last = max(attempts, key=lambda attempt: attempt.at)
    # A check that was broken off is no pass: nobody leaves a lost one unfinished to stay current.
    passes = [attempt for attempt in attempts if attempt.passed and attempt.finished]
    if last not in passes:
        before = max((attempt.at for attempt in passes), default=None)
        state = "unsigned" if last.signed_at is None else "failed" if last.finished else "unfinished"
        return Cell(state, passed=before, attempt=last.id, finished=last.finished)
    expires = last.at + timedelta(days=task.valid_days)
    recheck = expires - timedelta(days=task.recheck_days)
    state = "expired" if at >= expires else "due" if at >= recheck else "current"
    return Cell(state, last.at, recheck, expires, last.id)


def matrix(session: Session, drills: Mapping[str, str], at: datetime, key: str) -> Matrix:
    """Everybody who trains by every drill. Only checks count that staff started, that are signed with this key, and in
    which nobody turned the clock back or changed the plant; a pass counts once an assessor has signed it off."""
    trainees = [person for person in people.everybody(session, "trainee") if person.active or person.anonymised]
    made: dict[tuple[int, str], list[Attempt]] = {}
    query = select(Attempt).where(Attempt.mode == "check", Attempt.rewinds == 0)
    query = query.where(Attempt.interventions == 0, Attempt.started_by != "")
    query = query.where(Attempt.signed_key == key, Attempt.signed_key != "")
    for attempt in session.scalars(query):
        made.setdefault((attempt.person_id, attempt.drill), []).append(attempt)
    rows = tasks(session, drills)
    cells = {
        (person.id, task.drill): cell(made.get((person.id, task.drill), []), task, at)
        for person in trainees
        for task in rows
    }
    return Matrix(trainees, rows, cells)
