"""What comes after a signature: corrections, appeals, and the queue of what waits for an assessor."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload, undefer

from trainer.console.debrief import NOT_FINISHED, broken_off
from trainer.drills.sheet import whole
from trainer.records.audit import note, now
from trainer.records.marks import LONGEST_REMARK, MarkError, seal
from trainer.records.tables import Appeal, Attempt, Person, SignedVersion
from trainer.session import evidence as documents
from trainer.session.withdrawn import Withdrawal

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
        raise MarkError("you cannot correct your own attempt")
    if attempt.signed_at is None:
        raise MarkError("the attempt is not signed: change the marks")
    if not reason:
        raise MarkError("a correction needs its reason, which stands in the record")
    short, sheet = broken_off(attempt.mode, attempt.finished), documents.parse(attempt.evidence).sheet
    word = f"Not passed, {NOT_FINISHED}" if short else "Passed" if attempt.passed else "Not passed"
    session.add(
        SignedVersion(
            attempt_id=attempt.id,
            evidence=attempt.evidence,
            verdict=f"{word}, {whole(attempt.score, float(sheet.get('pass_mark', 0.0)))}",
            signer=attempt.signer.name if attempt.signer is not None else "",
            signed_at=attempt.signed_at,
            reopened_by=by.name,
            reopened_at=now(),
            reason=reason,
            first_seal=attempt.first_seal,
        )
    )
    attempt.signer, attempt.signed_at, attempt.first_seal = None, None, ""
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
        raise MarkError("you cannot answer an appeal on your own attempt")
    if made.answered_at is not None:
        raise MarkError("this appeal is answered already")
    if (why := must_not_answer(session, attempt, by)) is not None:
        raise MarkError(why)
    if not text:
        raise MarkError("write the answer")
    made.answer, made.answered_by, made.answered_at = text, by.name, now()
    note(session, by.name, by.role, "answered an appeal", f"attempt {made.attempt_id}", text)
    session.flush()


def must_not_answer(session: Session, attempt: Attempt, by: Person) -> str | None:
    """Why an assessor may not answer an appeal against this result; None where they may.

    Who signed it does not, as long as there is another assessor who did not, and whom it is not about.
    """
    versions, _ = history(session, attempt)
    signers = {one.signer for one in versions} | ({attempt.signer.name} if attempt.signer is not None else set())
    others = select(func.count()).where(
        Person.role == "assessor",
        Person.active,
        Person.id.not_in([by.id, attempt.person_id]),
        Person.name.not_in(signers),
    )
    if by.name not in signers or not session.scalar(others):
        return None
    return "you signed this result: another assessor answers the appeal"


def changed(before: str, after: str) -> list[str]:
    """Each mark that differs between two evidence documents of one attempt, in words; marks of the signer count."""
    old, new = documents.parse(before), documents.parse(after)
    titles = {str(row["id"]): (str(row["title"]), row["points"], row["earned"]) for row in new.sheet["criteria"]}
    was, now_ = (_counted(one) for one in (old, new))
    said = []
    for criterion, (title, points, earned) in titles.items():
        machine = "no mark" if earned is None else f"{earned:.3g} by the machine"
        first, second = (f"{marks[criterion]:.3g}" if criterion in marks else machine for marks in (was, now_))
        if first != second:
            said.append(f"{title}: {first}, now {second} of {points:g}")
    return said


def _counted(document: documents.Evidence) -> dict[str, float]:
    """The marks that count, those of who signed, by criterion."""
    # Theirs stand first, also in evidence of before, which does not name who signed.
    signer = document.marks[0].assessor if document.marks else None
    return {mark.criterion: mark.points for mark in document.marks if mark.assessor == signer}


def withdrawn(session: Session, attempt: int | None = None) -> list[Withdrawal]:
    """The sign-offs that were opened again, of one attempt or of all, oldest first; one whose file had another seal
    before a name was taken out of it also under that."""
    query = select(SignedVersion).order_by(SignedVersion.id).options(undefer(SignedVersion.evidence))
    if attempt is not None:
        query = query.where(SignedVersion.attempt_id == attempt)
    return [
        Withdrawal(seal=seal, signed=one.signed_at.isoformat(), withdrawn=one.reopened_at.isoformat())
        for one in session.scalars(query)
        for seal in dict.fromkeys(filter(None, (documents.parse(one.evidence).seal.whole, one.first_seal)))
    ]


def _text(given: str) -> str:
    return given.replace("\x00", "").strip()[:LONGEST_REMARK]
