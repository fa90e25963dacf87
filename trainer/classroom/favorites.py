"""The faults that an instructor brings often: a short list of their own, in the class's data folder."""

from __future__ import annotations

import json
import logging
from pathlib import Path

from trainer import kept

log = logging.getLogger("trainer.classroom")

MOST = 40
LONGEST = 120


class Favorites:
    """The favorite faults of each person, by id; one small file a person in ``folder``."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def of(self, person: int) -> list[str]:
        """The favorite faults of a person of the records, the latest first; none where the file cannot be read."""
        try:
            found = json.loads((self.folder / f"{person}.json").read_text("utf-8"))
        except (OSError, ValueError):
            return []
        return (
            [one for one in found if isinstance(one, str) and len(one) <= LONGEST][:MOST] if type(found) is list else []
        )

    def turn(self, person: int, fault: str) -> bool:
        """Add a fault to a person's favorites, or take it out where it is one; whether it is one now."""
        before = self.of(person)
        after = [one for one in before if one != fault] if fault in before else [fault, *before][:MOST]
        kept.put(self.folder / f"{person}.json", json.dumps(after))
        return fault in after
