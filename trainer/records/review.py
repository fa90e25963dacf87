"""What comes after a signature: corrections, appeals, and the queue of what waits for an assessor."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from trainer.console.debrief import NOT_FINISHED, broken_off
from trainer.records.audit import note, now
from trainer.records.marks import LONGEST_REMARK, MarkError, seal
from trainer.records.tables import Appeal, Attempt, Person, SignedVersion

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

MOST_APPEALS = 5


def waiting(session: Session, count: int = 200) -> list[Attempt]:
    """Checks that staff started and nobody has signed off yet, oldest first."""
    query = (
        select(Attempt)
        .where(Attempt.mode == "check", Attempt.started_by != "", Attempt.signed_at.is_(None))
        .options(joinedload(Attempt.person), selectinload(Attempt.criteria), selectinload(Attempt.marks))
        .order_by(Attempt.at, Attempt.id)
    )
    return list(session.scalars(query.limit(count)))


def open_appeals(session: Session) -> list[tuple[Appeal, Attempt]]:
    """Appeals that wait for an answer, oldest first, each with what it is about."""
    query = select(Appeal, Attempt).join(Attempt, Appeal.attempt_id == Attempt.id)
    waits = query.where(Appeal.answered_at.is_(None)).options(joinedload(Attempt.person)).order_by(Appeal.at)
    return [(made, attempt) for made, attempt in session.execute(waits)]


def history(session: Session, attempt: Attempt) -> tuple[list[SignedVersion], list[Appeal]]:
    """What was signed before, and what was appealed, oldest first."""
    versions = select(SignedVersion).where(SignedVersion.attempt_id == attempt.id).order_by(SignedVersion.id)
    appeals = select(Appeal).where(Appeal.attempt_id == attempt.id).order_by(Appeal.id)
    return list(session.scalars(versions)), list(session.scalars(appeals))


def reopen(session: Session, attempt: Attempt, reason: str, by: Person, key: Ed25519PrivateKey | None = None) -> None:
    """Open a signed attempt for a correction; what was signed is kept as it was. MarkError when that cannot be.

    Its evidence loses the sign-off, sealed anew, and signed with ``key`` where that had signed it.
    """
    reason = _text(reason)
    if by.role != "assessor" or not by.active:
        raise MarkError("only an assessor corrects")
    if by.id == attempt.person_id:
        raise MarkError("nobody corrects an own attempt")  # words: ok
    if attempt.signed_at is None:
        raise MarkError("the attempt is not signed: change the marks")
    if not reason:
        raise MarkError("a correction needs its reason, which stands in the record")
    short = broken_off(attempt.mode, attempt.finished)
    word = f"Not passed, {NOT_FINISHED}" if short else "Passed" if attempt.passed else "Not passed"
    session.add(
        SignedVersion(
            attempt_id=attempt.id,
            evidence=attempt.evidence,
            verdict=f"{word}, {attempt.score:g}",
            signer=attempt.signer.name if attempt.signer is not None else "",
            signed_at=attempt.signed_at,
            reopened_by=by.name,
            reopened_at=now(),
            reason=reason,
        )
    )
    attempt.signer, attempt.signed_at = None, None
    seal(attempt, attempt.marks, key)
    attempt.passed, attempt.score = attempt.machine_passed, attempt.machine_score
    note(session, by.name, by.role, "opened for correction", f"attempt {attempt.id}", reason)
    session.flush()


def appeal(session: Session, attempt: Attempt, text: str, by: Person) -> Appeal:
    """A trainee appeals against the result of an own check. MarkError when that cannot be."""
    text = _text(text)
    if by.id != attempt.person_id:
        raise MarkError("an appeal is made by the person who was checked")
    if not text:
        raise MarkError("write what is wrong with the result")
    _, before = history(session, attempt)
    if len(before) >= MOST_APPEALS or any(one.answered_at is None for one in before):
        raise MarkError("an appeal on this result is open already, or there have been too many")
    made = Appeal(attempt_id=attempt.id, at=now(), text=text)
    session.add(made)
    note(session, by.name, by.role, "appealed", f"attempt {attempt.id}", text)
    session.flush()
    return made


def answer(session: Session, made: Appeal, text: str, by: Person) -> None:
    """An assessor answers an appeal. MarkError when that cannot be."""
    text = _text(text)
    if by.role != "assessor" or not by.active:
        raise MarkError("only an assessor answers an appeal")
    attempt = session.get(Attempt, made.attempt_id)
    if attempt is None or by.id == attempt.person_id:
        raise MarkError("no one answers an appeal on an own attempt")
    if made.answered_at is not None:
        raise MarkError("this appeal is answered already")
    if not text:
        raise MarkError("write the answer")
    made.answer, made.answered_by, made.answered_at = text, by.name, now()
    note(session, by.name, by.role, "answered an appeal", f"attempt {made.attempt_id}", text)
    session.flush()


def _text(given: str) -> str:
    return given.replace("\x00", "").strip()[:LONGEST_REMARK]
