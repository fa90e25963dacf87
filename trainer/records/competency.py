"""Competencies: named sets of drills, and who has which, by what their currency shows."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from trainer.records.currency import Matrix
from trainer.records.tables import Competency, Person

MOST_DRILLS = 60


@dataclass(frozen=True)
class Standing:
    """A person in a competency: how many of its drills are current, and until when all are."""

    current: int
    of: int
    until: datetime | None = None
    missing: tuple[str, ...] = ()

    @property
    def held(self) -> bool:
        """Whether the person has it now: every drill that it asks for is passed and still current."""
        return self.of > 0 and self.current == self.of


def every(session: Session) -> list[Competency]:
    """All competencies that staff have defined, by name; empty where there is none."""
    return list(session.scalars(select(Competency).order_by(Competency.name)))


def drills_of(one: Competency) -> list[str]:
    """The ids of the drills that a competency asks for, in the order in which they were given."""
    return one.drills.split()


def keep(session: Session, name: str, drills: Collection[str], known: Collection[str]) -> Competency:
    """Make a competency, or change one of that name. ValueError for what cannot be."""
    name = " ".join(name.split())[:120]
    if not name:
        raise ValueError("a competency needs a name")
    if not drills or len(drills) > MOST_DRILLS or not set(drills) <= set(known):
        raise ValueError("choose its drills")
    one = session.get(Competency, name) or Competency(name=name)
    one.drills = "\n".join(sorted(drills))
    session.add(one)
    session.flush()
    return one


def remove(session: Session, name: str) -> None:
    """Forget a competency; what it was made of stays in the records."""
    one = session.get(Competency, name)
    if one is not None:
        session.delete(one)


def standing(found: Matrix, person: Person, one: Competency) -> Standing:
    """Where a person stands: a drill counts while its check is current, also when a re-check is due."""
    drills = drills_of(one)
    cells = {drill: found.cells.get((person.id, drill)) for drill in drills}
    good = {drill: cell for drill, cell in cells.items() if cell is not None and cell.state in ("current", "due")}
    ends = [cell.expires for cell in good.values() if cell.expires is not None]
    missing = tuple(drill for drill in drills if drill not in good)
    return Standing(len(good), len(drills), min(ends) if ends and not missing else None, missing)
