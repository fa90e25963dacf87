"""Assessors' marks: what a machine cannot see, overrides with a reason, two assessors, the signature."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from sqlalchemy import select
from sqlalchemy.orm import Session

from trainer.constants import HAIR
from trainer.drills.assessed import unjudged
from trainer.records.attempts import sheet_of
from trainer.records.audit import note, now
from trainer.records.proof import signed_key
from trainer.records.tables import Attempt, Mark, Person, SignedVersion
from trainer.session import evidence as documents
from trainer.session import signing
from trainer.session.sheets import SheetData

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

LONGEST_REMARK = 4000


class MarkError(ValueError):
    """A mark or signature that cannot be given, and why; one sentence for the page."""


def give(session: Session, attempt: Attempt, criterion: str, points: float, remark: str, by: Person) -> Mark:
    """One assessor's mark on one criterion; a second one by the same assessor takes its place.

    Where the machine has judged, the mark is an override and needs its reason as the remark.
    """
    if by.role != "assessor" or not by.active:
        raise MarkError("only an assessor marks")
    if by.id == attempt.person_id:
        raise MarkError("you cannot assess your own attempt")
    if attempt.signed_at is not None:
        raise MarkError("the attempt is signed; its marks stand")
    row = next((row for row in attempt.criteria if row.criterion == criterion), None)
    if row is None:
        raise MarkError(f"this drill has no criterion {criterion!r}")
    if not 0.0 <= points <= row.points + HAIR:
        raise MarkError(f"{points:g} points for {row.title!r}; give 0 to {row.points:g}")
    remark = remark.replace("\x00", "").strip()[:LONGEST_REMARK]
    override = row.earned is not None
    if override and not remark:
        raise MarkError(f"the machine has judged {row.title!r}; an override needs its reason")
    mark = next((mark for mark in attempt.marks if (mark.criterion, mark.assessor_id) == (criterion, by.id)), None)
    if mark is None:
        mark = Mark(criterion=criterion, assessor_id=by.id, assessor=by.name, out_of=row.points)
        attempt.marks.append(mark)
    mark.points, mark.remark, mark.override, mark.at = float(points), remark, override, now()
    note(
        session,
        by.name,
        by.role,
        "override" if override else "mark",
        f"attempt {attempt.id} {criterion}",
        f"{points:g} of {row.points:g}" + (f", the machine's {row.earned:g}" if override else "") + f": {remark}",
    )
    session.flush()
    return mark


def sign(
    session: Session, attempt: Attempt, remarks: str, by: Person, key: Ed25519PrivateKey | None = None
) -> SheetData:
    """Sign an attempt: the signer's marks decide the verdict and go into the evidence, sealed anew.

    ``key`` signs it only where it had signed the run: what came in without that signature does not get it from marks.
    Every criterion that only a person can judge needs a mark first. Gives the sheet as signed.
    """
    if by.role != "assessor" or not by.active:
        raise MarkError("only an assessor signs")
    if by.id == attempt.person_id:
        raise MarkError("you cannot sign your own attempt")
    if attempt.signed_at is not None:
        raise MarkError("the attempt is signed already")
    sheet = sheet_of(attempt, [mark for mark in attempt.marks if mark.assessor_id == by.id])
    if missing := unjudged(sheet):
        titles = [row.title for row in attempt.criteria if row.criterion in missing]
        raise MarkError("not judged yet: " + "; ".join(titles))
    attempt.remarks = remarks.replace("\x00", "").strip()[:20_000]
    attempt.passed, attempt.score = sheet["passed"], sheet["score"]
    attempt.signer, attempt.signed_at = by, now()
    sign_off = documents.SignOff(
        assessor=by.name, at=attempt.signed_at.isoformat(), corrections=_corrections(session, attempt)
    )
    # The signer's marks first: they are the ones that count.
    seal(attempt, sorted(attempt.marks, key=lambda mark: mark.assessor_id != by.id), key, sign_off)
    note(session, by.name, by.role, "signed", f"attempt {attempt.id}", str(sheet["verdict"]))
    session.flush()
    return sheet


def seal(
    attempt: Attempt,
    kept: list[Mark],
    key: Ed25519PrivateKey | None = None,
    sign_off: documents.SignOff | None = None,
) -> None:
    """Put marks, remarks and sign-off into an attempt's evidence, sealed anew, signed where ``key`` had signed it."""
    before = documents.parse(attempt.evidence)
    own = key if key is not None and signed_key(before) == signing.public_hex(key) else None
    document = documents.marked(
        before,
        [
            documents.Mark(criterion=mark.criterion, points=mark.points, remark=mark.remark, assessor=mark.assessor)
            for mark in kept
        ],
        attempt.remarks,
        own,
        sign_off,
    )
    attempt.evidence = json.dumps(document.record(), ensure_ascii=False)
    attempt.seal = document.seal.whole
    attempt.signed_key = signed_key(document)


def _corrections(session: Session, attempt: Attempt) -> list[documents.Correction]:
    """What was signed before, oldest first."""
    before = select(SignedVersion).where(SignedVersion.attempt_id == attempt.id).order_by(SignedVersion.id)
    return [
        documents.Correction(
            was=one.verdict,
            assessor=one.signer,
            at=one.signed_at.isoformat(),
            by=one.reopened_by,
            reason=one.reason,
        )
        for one in session.scalars(before)
    ]
