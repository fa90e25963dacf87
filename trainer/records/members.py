"""What server processes over the same records tell each other: whom they serve, and words of an instructor.

Everything goes through two tables, so that no broker is needed. A word is taken once, before it is carried out:
when a process dies in between it is not done twice, and its sender hears that nobody answered.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from trainer.records.audit import now
from trainer.records.tables import Member, Person, Word

LONGEST_MESSAGE = 20_000
KEPT_S = 120.0
LATEST_S = 20.0


@dataclass(frozen=True)
class Heard:
    """A word that came: who said it, as the records know them now, and what."""

    number: int
    person: int
    name: str
    role: str
    message: dict[str, object]


@dataclass(frozen=True)
class Answer:
    """What came of a word that one server process sent to another: its number, a kind, and a sentence."""

    number: int
    kind: str
    said: str


def tell(session: Session, name: str, beat: int, news: Mapping[str, object]) -> None:
    """Keep what this process wants the others to know: a beat that counts up, and its news as plain data."""
    row = session.get(Member, name)
    if row is None:
        row = Member(name=name)
        session.add(row)
    row.beat, row.news = beat, json.dumps(news, ensure_ascii=False)


def others(session: Session, name: str) -> dict[str, tuple[int, dict[str, object]]]:
    """(beat, news) of every other process, whether it still lives or not."""
    found = session.scalars(select(Member).where(Member.name != name))
    return {row.name: (row.beat, json.loads(row.news)) for row in found}


def leave(session: Session, name: str) -> None:
    """Take this process off the list as it ends, so that the others count no more on it."""
    session.execute(delete(Member).where(Member.name == name))


def send(session: Session, sender: str, receiver: str, person: int, message: Mapping[str, object]) -> int:
    """Say something to another process; gives the number of the word. ValueError for one too long."""
    text = json.dumps(message, ensure_ascii=False)
    if len(text) > LONGEST_MESSAGE:
        raise ValueError("the message is too long")
    word = Word(
        sender=sender, receiver=receiver, person_id=person, message=text, at=now(), taken=False, kind="", said=""
    )
    session.add(word)
    session.flush()
    return word.id


def take(session: Session, receiver: str) -> list[Heard]:
    """The words for this process that were not taken yet, oldest first; now they are.

    Words of somebody who may no longer come in, and words that come too late, are refused here.
    """
    query = select(Word, Person).join(Person, Person.id == Word.person_id)
    found = session.execute(query.where(Word.receiver == receiver, Word.taken.is_(False)).order_by(Word.id)).all()
    out = []
    for word, person in found:
        word.taken = True
        if word.at < now() - timedelta(seconds=LATEST_S):
            # Its process was away meanwhile, and the sender has been told that nobody answered.
            word.kind, word.said = "refused", "this came too late to be done"
            continue
        if not person.active or person.role != "instructor" or person.once:
            word.kind, word.said = "refused", "only an instructor works this desk"
            continue
        out.append(Heard(word.id, person.id, person.name, person.role, json.loads(word.message)))
    return out


def answer(session: Session, answers: Iterable[Answer]) -> None:
    """Keep what came of words that this process has taken, for the process that sent them."""
    for one in answers:
        session.execute(update(Word).where(Word.id == one.number).values(kind=one.kind, said=one.said))


def answers(session: Session, sender: str) -> list[Answer]:
    """What came of this process's words; each is told once. Words that nobody answered are forgotten in time."""
    found = list(session.scalars(select(Word).where(Word.sender == sender, Word.kind != "").order_by(Word.id)))
    out = [Answer(word.id, word.kind, word.said) for word in found]
    for word in found:
        session.delete(word)
    session.execute(delete(Word).where(Word.sender == sender, Word.at < now() - timedelta(seconds=KEPT_S)))
    return out
