"""The variation of a check: drawn by the server, and never one that this person has had in this drill."""

from __future__ import annotations

import logging
import secrets

from sqlalchemy import select

from trainer.console.chooser import SEED_LIMIT
from trainer.records import people
from trainer.records.database import Records, RecordsAwayError
from trainer.records.tables import Attempt

log = logging.getLogger("trainer.classroom")


class Draws:
    """Draws seeds. What was drawn and not handed in yet is remembered here."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._drawn: dict[tuple[str, str], set[int]] = {}

    def __call__(self, name: str, drill: str) -> int:
        """A seed that this person has not had in this drill, in practice or in a check."""
        had = self._drawn.setdefault((name, drill), set())
        taken = had | self._recorded(name, drill)
        seed = secrets.randbelow(SEED_LIMIT)
        while seed in taken:
            seed = secrets.randbelow(SEED_LIMIT)
        had.add(seed)
        return seed

    def _recorded(self, name: str, drill: str) -> set[int]:
        try:
            with self._records.look() as session:
                person = people.find(session, name) if name else None
                if person is None:
                    return set()
                query = select(Attempt.seed).where(Attempt.person_id == person.id, Attempt.drill == drill)
                return set(session.scalars(query))
        except RecordsAwayError:
            # Two thousand million to choose from: the drill goes on.
            log.warning("the records are away: a variation was drawn without looking at earlier ones")
            return set()
