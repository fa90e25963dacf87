"""Notes of staff beside a class, which no trainee sees: for the staff who take over, or for their author alone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from trainer.records.audit import now
from trainer.records.tables import Person, StaffNote

LONGEST = 500
SHOWN = 12
"""So many notes are shown, the latest."""


@dataclass(frozen=True)
class Noted:
    """A note as it is shown: when (UTC), who wrote it, and whether it is for them alone."""

    at: datetime
    by: str
    text: str
    own: bool


def write(session: Session, author: int, text: str, own: bool) -> None:
    """Keep a note of a member of staff, for them alone where ``own``; ValueError for an empty one."""
    said = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())[:LONGEST]
    if not said:
        raise ValueError("write the note first")
    session.add(StaffNote(at=now(), author_id=author, own=own, text=said))


def latest(session: Session, reader: int) -> list[Noted]:
    """The latest notes that a member of staff may read, the newest first: their own, and those for all staff."""
    rows = session.execute(
        select(StaffNote, Person.name)
        .join(Person, Person.id == StaffNote.author_id)
        .where(or_(StaffNote.own.is_(False), StaffNote.author_id == reader))
        .order_by(StaffNote.id.desc())
        .limit(SHOWN)
    )
    return [Noted(note.at, str(name), note.text, note.own) for note, name in rows]
