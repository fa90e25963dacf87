"""People in the records: finding, adding, leaving out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sqlalchemy import delete, func, or_, select, union, update
from sqlalchemy.orm import Session

from trainer.records import names
from trainer.records.audit import note, now
from trainer.records.privacy import without_name
from trainer.records.proof import signed_key
from trainer.records.tables import ROLES, Attempt, Audit, ErasedRun, Login, Mark, Note, Person, SignedVersion
from trainer.session.evidence import parse

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


class PeopleError(ValueError):
    """Something about people that cannot be done, and why; one sentence for the page."""


def find(session: Session, name: str) -> Person | None:
    """The person of that name, whatever the case of its letters; None where there is none."""
    return session.scalar(select(Person).where(Person.folded == names.folded(name)))


def add(session: Session, name: str, role: str = "trainee", secret: str | None = None, once: bool = False) -> Person:
    """A new person. ``secret`` is a hash. PeopleError when the name is taken or the role unknown."""
    if role not in ROLES:
        raise PeopleError(f"there is no role {role!r} (roles: {', '.join(ROLES)})")
    cleaned = names.clean(name)
    if find(session, cleaned) is not None:
        raise PeopleError(f"a person is called {cleaned!r} already; add something to tell the two apart")
    person = Person(
        name=cleaned, folded=names.folded(cleaned), role=role, secret=secret, once=once, active=True, created=now()
    )
    session.add(person)
    session.flush()
    return person


def find_or_add(session: Session, name: str) -> Person:
    """The person of that name, a new trainee if there is none; PeopleError for what is no name."""
    return find(session, name) or add(session, name)


def everybody(session: Session, role: str | None = None) -> list[Person]:
    """All people, by name; only those of a role when one is given."""
    query = select(Person).order_by(Person.folded)
    return list(session.scalars(query if role is None else query.where(Person.role == role)))


def with_secret(session: Session, roles: Sequence[str]) -> int:
    """How many active people of these roles can log in, because they have set a password."""
    query = select(func.count()).where(Person.role.in_(roles), Person.active, Person.secret.is_not(None))
    return session.scalar(query) or 0


def erase(session: Session, person: Person, by: str, key: Ed25519PrivateKey | None = None) -> None:
    """Delete a person with all attempts. Marks they gave to others stay, without their name; of the runs only hashes
    stay, so that none comes back as another's."""
    _scrub(session, person, f"former {person.role} {person.id}", key)
    for run_hash in {attempt.run_hash for attempt in person.attempts} - {""}:
        session.merge(ErasedRun(run_hash=run_hash))
    session.execute(delete(Login).where(Login.person_id == person.id))
    session.delete(person)
    note(session, by, "instructor", "person deleted", f"person {person.id}")
    session.flush()


def anonymise(session: Session, person: Person, by: str, key: Ed25519PrivateKey | None = None) -> None:
    """Take a person's name out of everything kept, evidence included; attempts and scores stay. What ``key`` signed
    it signs again."""
    stand_in = f"{person.role} {person.id}"
    _scrub(session, person, stand_in, key)
    for attempt in person.attempts:
        _keep_first_seal(attempt)
        attempt.evidence, attempt.seal = without_name(attempt.evidence, person.name, stand_in, key)
        attempt.signed_key = signed_key(parse(attempt.evidence))
        attempt.remarks = attempt.remarks.replace(person.name, stand_in)
    person.name, person.folded = stand_in, names.folded(stand_in)
    person.secret, person.active, person.anonymised = None, False, now()
    session.execute(delete(Login).where(Login.person_id == person.id))
    note(session, by, "instructor", "person anonymised", stand_in)
    session.flush()


def _keep_first_seal(attempt: Attempt) -> None:
    """The seal of a signed file that may have been handed out: a sign-off withdrawn later is found by it."""
    if attempt.signed_at is not None and not attempt.first_seal:
        attempt.first_seal = attempt.seal


def _scrub(session: Session, person: Person, stand_in: str, key: Ed25519PrivateKey | None) -> None:
    """The name where others' rows hold it: marks, notes, the trail, and evidence this person marked, signed or opened
    again."""
    name = person.name
    before = or_(SignedVersion.signer == name, SignedVersion.reopened_by == name)
    marked = union(
        select(Mark.attempt_id).where(Mark.assessor == name),
        select(Attempt.id).where(Attempt.signed_by == person.id),
        select(SignedVersion.attempt_id).where(before),
    )
    for attempt in session.scalars(select(Attempt).where(Attempt.id.in_(marked))):
        _keep_first_seal(attempt)
        attempt.evidence, attempt.seal = without_name(attempt.evidence, name, stand_in, key)
        attempt.signed_key = signed_key(parse(attempt.evidence))
    kept = or_(SignedVersion.attempt_id.in_(marked), SignedVersion.attempt_id.in_([a.id for a in person.attempts]))
    for version in session.scalars(select(SignedVersion).where(kept)):
        version.first_seal = version.first_seal or parse(version.evidence).seal.whole
        version.evidence = without_name(version.evidence, name, stand_in, key)[0]
        version.reason = version.reason.replace(name, stand_in)
    session.execute(update(SignedVersion).where(SignedVersion.signer == name).values(signer=stand_in))
    session.execute(update(SignedVersion).where(SignedVersion.reopened_by == name).values(reopened_by=stand_in))
    session.execute(update(Mark).where(Mark.assessor == name).values(assessor=stand_in))
    session.execute(update(Note).where(Note.author == name).values(author=stand_in))
    session.execute(update(Audit).where(Audit.who == name).values(who=stand_in, scrubbed=True))
    for row in session.scalars(select(Audit).where(Audit.target.contains(name, autoescape=True))):
        row.target, row.scrubbed = row.target.replace(name, stand_in), True
    for row in session.scalars(select(Audit).where(Audit.detail.contains(name, autoescape=True))):
        row.detail, row.scrubbed = row.detail.replace(name, stand_in), True
