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
LONGEST_TITLE = 80


def digest(token: str) -> str:
    """The SHA-256 of a token, hexadecimal: all that the records keep of it, so that they open no page."""
    return hashlib.sha256(token.encode()).hexdigest()


def begin(session: Session, person: Person, hours: float = LOGIN_HOURS, joined: str = "") -> str:
    """A fresh token of 256 random bits that holds ``hours`` for this person, who ``joined`` that class; kept as its
    hash."""
    token = secrets.token_urlsafe(32)
    expires = now() + timedelta(hours=hours)
    session.add(
        Login(token=digest(token), person_id=person.id, began=now(), expires=expires, ended=None, joined=joined)
    )
    return token


def holder(session: Session, token: str) -> tuple[Person, Login] | None:
    """Whose token it is, unless it was ended, has expired, or the person may not come in any more."""
    return held(session, digest(token))


def held(session: Session, hashed: str) -> tuple[Person, Login] | None:
    """Person and log-in for the hash of a token; None once it has ended or run out, or the person is not active."""
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
    """End a log-in now, by its token; one that has ended, or that there never was, is left as it is."""
    session.execute(update(Login).where(Login.token == digest(token), Login.ended.is_(None)).values(ended=now()))


def end_all(session: Session, person: Person) -> None:
    """End every log-in of this person now, on all browsers, as after a new secret or a lost role."""
    session.execute(update(Login).where(Login.person_id == person.id, Login.ended.is_(None)).values(ended=now()))


def tidy(session: Session) -> None:
    """Delete the log-ins and class codes that ran out more than a week ago; those of today stay to be told apart."""
    old = now() - timedelta(days=7)
    session.execute(delete(Login).where(Login.expires < old))
    session.execute(delete(ClassCode).where(ClassCode.expires < old))


def class_title(text: str) -> str:
    """The name of a class as it is kept: one line, at most 80 letters; empty for none."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())[:LONGEST_TITLE]


def open_class(session: Session, by: Person, title: str = "", hours: float = CODE_HOURS) -> str:
    """A new code to join this class by; the one before it is closed, those of other classes stay open."""
    title = class_title(title)
    close_class(session, title)
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    expires = now() + timedelta(hours=hours)
    session.add(ClassCode(code=code, title=title, opened_by=by.id, opened=now(), expires=expires))
    session.flush()
    return code


def close_class(session: Session, title: str | None = None) -> None:
    """Let the codes of the class of this title run out now; of every class with None: nobody joins any more."""
    which = update(ClassCode).where(ClassCode.expires > now())
    if title is not None:
        which = which.where(ClassCode.title == title)
    session.execute(which.values(expires=now()))


def open_codes(session: Session) -> dict[str, str]:
    """The codes that are open now by the name of their class, in the order of the names."""
    query = select(ClassCode).where(ClassCode.expires > now()).order_by(ClassCode.title, ClassCode.opened)
    return {one.title: one.code for one in session.scalars(query)}


def joins(session: Session, code: str) -> str | None:
    """The class that this code opens, None for none; blanks, dashes and small letters are forgiven."""
    tidied = "".join(letter for letter in code.upper() if letter in ALPHABET)
    if len(tidied) != CODE_LENGTH:
        return None
    return session.scalar(select(ClassCode.title).where(ClassCode.code == tidied, ClassCode.expires > now()))
