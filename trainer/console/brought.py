"""What the browser brings along when a page opens: the day, and what it keeps of the person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from trainer import resources
from trainer.console.message import Message
from trainer.console.progress import Attempt
from trainer.drills.schema import Drill
from trainer.learn import courses, standing
from trainer.learn.standing import Path

EARLIEST = date(2000, 1, 1)
LONGEST = 400_000
MOST_RIGS = 100


def day_of(text: object) -> date | None:
    """A day as written in ISO 8601; None for anything else."""
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class Brought:
    """attempts: the text of the kept attempts. known: by rig, how many questions on its parts count as known."""

    attempts: str = ""
    known: Mapping[str, int] = field(default_factory=dict)
    first_run: bool = False
    today: date | None = None

    def way(self, drills: Mapping[str, Drill], done: Sequence[Attempt]) -> Path:
        """Where a person stands after what was done, oldest first. Without a day it is that of the last attempt."""
        today = self.today or max((day for one in done if (day := day_of(one.at))), default=EARLIEST)
        offered = courses.offered(drills, list(resources.plant_files()))
        return standing.path(offered, drills, done, self.known, today)

    @staticmethod
    def read(message: Message) -> Brought:
        """From the page's greeting, of which nothing is believed unseen."""
        attempts, learnt = message.get("attempts"), message.get("learnt")
        known: dict[str, int] = {}
        for rig, counts in list(learnt.items())[:MOST_RIGS] if isinstance(learnt, Mapping) else ():
            last = str(counts)[:40].split()[2:3]
            if last and last[0].isdecimal():
                known[str(rig)[:80]] = min(int(last[0][:9]), 10**6)
        return Brought(
            attempts=attempts if isinstance(attempts, str) and len(attempts) <= LONGEST else "",
            known=known,
            first_run=message.get("first_run") is True,
            today=day_of(message.get("today")),
        )
