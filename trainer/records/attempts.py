"""Attempts: keeping a run's evidence with what is searched for, once and whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload, undefer

from trainer.drills.assessed import assessed
from trainer.records import people
from trainer.records.audit import now
from trainer.records.proof import signed_key
from trainer.records.tables import Attempt, Criterion, ErasedRun, Mark, Note, Person
from trainer.session import evidence as documents
from trainer.session.interventions import DEBRIEF, INSTRUCTOR
from trainer.session.sheets import SheetData


@dataclass
class Arrival:
    """An evidence document on its way into the records: whose it is, when it came and from where."""

    key: str
    evidence: str
    person: str
    at: datetime
    source: str = "classroom"
    rewinds: int = 0
    notes: list[tuple[float, str, str]] = field(default_factory=list)
    """(simulated seconds, text, author)"""


def keep(session: Session, arrival: Arrival) -> Attempt:
    """Store an attempt, or give back the one already stored under this key. EvidenceError for no evidence."""
    stored = session.scalar(select(Attempt).where(Attempt.key == arrival.key))
    if stored is not None:
        return stored
    document = documents.parse(arrival.evidence)
    person = people.find_or_add(session, arrival.person)
    attempt = _attempt(arrival, document, person)
    session.add(attempt)
    session.flush()
    return attempt


def _attempt(arrival: Arrival, document: documents.Evidence, person: Person) -> Attempt:
    sheet, run = document.scored, document.run
    rows = sheet.get("criteria", [])
    passed, score = bool(sheet.get("passed")), float(sheet.get("score", 0.0))
    attempt = Attempt(
        key=arrival.key,
        person=person,
        source=arrival.source,
        drill=run.drill or "free-practice",
        title=str(sheet.get("title") or run.drill or "Free practice")[:300],
        plant=run.plant,
        seed=run.seed,
        mode=run.mode,
        at=arrival.at,
        simulated_s=document.seconds,
        finished=bool(sheet.get("finished")),
        machine_passed=passed,
        machine_score=score,
        passed=passed,
        score=score,
        criticals=len(sheet.get("critical", [])),
        interventions=len([entry for entry in document.log if entry.from_ in (INSTRUCTOR, DEBRIEF)]),
        rewinds=arrival.rewinds,
        engine=document.engine.version,
        evidence=arrival.evidence,
        verified_reason="",
        remarks=document.remarks,
        seal=document.seal.whole,
        run_hash=documents.run_hash(document),
        signed_key=signed_key(document),
    )
    if document.custody is not None:
        attempt.started_by, attempt.ending = document.custody.started_by, document.custody.ending
        attempt.wall_s = document.custody.wall_s
    attempt.criteria = [
        Criterion(
            place=place,
            criterion=str(row["id"])[:120],
            title=str(row.get("title") or row["id"]),
            category=str(row.get("category", ""))[:40],
            points=float(row["points"]),
            earned=None if (earned := row.get("earned")) is None else float(earned),
            t=row.get("t"),
            reason=str(row.get("reason", "")),
            required=bool(row.get("required")),
        )
        for place, row in enumerate(rows)
    ]
    attempt.notes = [Note(t=t, text=text, author=author) for t, text, author in arrival.notes]
    return attempt


def same_run(session: Session, run_hash: str) -> Attempt | None:
    """An attempt kept already with this very run, under whatever name."""
    return session.scalar(select(Attempt).where(Attempt.run_hash == run_hash).order_by(Attempt.id))


def erased(session: Session, run_hash: str) -> bool:
    """Whether the run with this hash was deleted together with its person; it is not taken in again."""
    return session.get(ErasedRun, run_hash) is not None


def get(session: Session, attempt_id: int) -> Attempt | None:
    """An attempt with its evidence, person, criteria, marks and notes, read at once; None where there is none."""
    return session.scalar(
        select(Attempt)
        .where(Attempt.id == attempt_id)
        .options(
            undefer(Attempt.evidence),
            joinedload(Attempt.person),
            joinedload(Attempt.signer),
            selectinload(Attempt.criteria),
            selectinload(Attempt.marks),
            selectinload(Attempt.notes),
        )
    )


def search(
    session: Session,
    *,
    person: int | None = None,
    drill: str | None = None,
    mode: str | None = None,
    count: int = 200,
) -> list[Attempt]:
    """Attempts, newest first; their evidence is not loaded."""
    loaded = (
        joinedload(Attempt.person),
        joinedload(Attempt.signer),
        *map(selectinload, (Attempt.criteria, Attempt.marks)),
    )
    query = select(Attempt).options(*loaded).order_by(Attempt.at.desc(), Attempt.id.desc())
    if person is not None:
        query = query.where(Attempt.person_id == person)
    if drill:
        query = query.where(Attempt.drill == drill)
    if mode:
        query = query.where(Attempt.mode == mode)
    return list(session.scalars(query.limit(count)))


def sheet_of(attempt: Attempt, marks: Sequence[Mark]) -> SheetData:
    """The attempt's score sheet with these marks counted in; ValueError for evidence that cannot be read."""
    sheet = documents.parse(attempt.evidence).scored
    return assessed(sheet, {mark.criterion: mark.points for mark in marks})


def found(session: Session, attempt: Attempt, ok: bool, reason: str) -> None:
    """Keep what a re-computation of the attempt found, with its reason and the present moment."""
    attempt.verified, attempt.verified_reason, attempt.verified_at = ok, reason, now()
    session.flush()
