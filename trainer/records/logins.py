"""Who is logged in, and the codes by which trainees join. Only hashes of tokens are kept."""

from __future__ import annotations

import hashlib
import secrets
from datetime import timedelta

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from trainer.records.audit import now
from trainer.records.tables import ClassCode, Login, Person

LOGIN_HOURS = 12
CODE_HOURS = 12
#: No letter or digit that is read as another.
ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
CODE_LENGTH = 8


def digest(token: str) -> str:
    """The hash under which a token is kept."""
    return hashlib.sha256(token.encode()).hexdigest()


def begin(session: Session, person: Person, hours: float = LOGIN_HOURS) -> str:
    """A fresh token for this person."""
    token = secrets.token_urlsafe(32)
    session.add(
        Login(token=digest(token), person_id=person.id, began=now(), expires=now() + timedelta(hours=hours), ended=None)
    )
    return token


def holder(session: Session, token: str) -> tuple[Person, Login] | None:
    """Whose token it is, unless it was ended, has expired, or the person may not come in any more."""
    return held(session, digest(token))


def held(session: Session, hashed: str) -> tuple[Person, Login] | None:
    """The same for the hash of a token."""
    row = session.execute(
        select(Person, Login).join(Login, Login.person_id == Person.id).where(Login.token == hashed)
    ).first()
    if row is None:
        return None
    person, login = row
    if login.ended is not None or login.expires <= now() or not person.active:
        return None
    return person, login


def end(session: Session, token: str) -> None:
    """The token is dead from now on."""
    session.execute(update(Login).where(Login.token == digest(token), Login.ended.is_(None)).values(ended=now()))


def end_all(session: Session, person: Person) -> None:
    """Every token of this person is dead from now on."""
    session.execute(update(Login).where(Login.person_id == person.id, Login.ended.is_(None)).values(ended=now()))


def tidy(session: Session) -> None:
    """Forget tokens and codes that ran out a week ago."""
    old = now() - timedelta(days=7)
    session.execute(delete(Login).where(Login.expires < old))
    session.execute(delete(ClassCode).where(ClassCode.expires < old))


def open_class(session: Session, by: Person, hours: float = CODE_HOURS) -> str:
    """A new code to join by; those before it are closed."""
    session.execute(update(ClassCode).where(ClassCode.expires > now()).values(expires=now()))
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    session.add(ClassCode(code=code, opened_by=by.id, opened=now(), expires=now() + timedelta(hours=hours)))
    session.flush()
    return code


def close_class(session: Session) -> None:
    """Nobody joins any more."""
    session.execute(update(ClassCode).where(ClassCode.expires > now()).values(expires=now()))


def open_code(session: Session) -> str | None:
    """The code that is open now."""
    return session.scalar(select(ClassCode.code).where(ClassCode.expires > now()).order_by(ClassCode.opened.desc()))


def joins(session: Session, code: str) -> bool:
    """Whether this code is open; blanks, dashes and small letters are forgiven."""
    tidied = "".join(letter for letter in code.upper() if letter in ALPHABET)
    if len(tidied) != CODE_LENGTH:
        return False
    return session.scalar(select(ClassCode).where(ClassCode.code == tidied, ClassCode.expires > now())) is not None
