"""What the browser brings along when a page opens: the day, and what it keeps of the person."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from trainer import resources
from trainer.console.message import Message
from trainer.console.progress import Attempt
from trainer.drills.schema import Drill
from trainer.learn import courses, standing
from trainer.learn.boxes import due_by
from trainer.learn.standing import Path

EARLIEST = date(2000, 1, 1)
LONGEST = 400_000
MOST_RIGS = 100
LONGEST_COUNTS = 500


def day_of(text: object) -> date | None:
    """A day as written in ISO 8601; None for anything else."""
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class Brought:
    """attempts: the text of the kept attempts. known: by rig, how many questions on its parts count as known.

    begun: by rig, how many more were right when last asked.
    due: by rig, on which days how many of them fall due, as ``boxes.due_by`` reads it.
    """

    attempts: str = ""
    known: Mapping[str, int] = field(default_factory=dict)
    begun: Mapping[str, int] = field(default_factory=dict)
    due: Mapping[str, str] = field(default_factory=dict)
    first_run: bool = False
    today: date | None = None

    def way(
        self, drills: Mapping[str, Drill], done: Sequence[Attempt], assigned: Sequence[standing.Assigned] = ()
    ) -> Path:
        """Where a person stands after what was done, oldest first. Without a day it is that of the last attempt."""
        today = self.today or max((day for one in done if (day := day_of(one.at))), default=EARLIEST)
        offered = courses.offered(drills, list(resources.plant_files()))
        due = {rig: due_by(days, today) for rig, days in self.due.items()}
        return standing.path(offered, drills, done, self.known, today, due, assigned, self.begun)

    @staticmethod
    def read(message: Message) -> Brought:
        """From the page's greeting, of which nothing is believed unseen."""
        attempts, learnt = message.get("attempts"), message.get("learnt")
        known: dict[str, int] = {}
        begun: dict[str, int] = {}
        due: dict[str, str] = {}
        for rig, counts in list(learnt.items())[:MOST_RIGS] if isinstance(learnt, Mapping) else ():
            last = str(counts)[:LONGEST_COUNTS].split()[2:4]
            if last and (counted := re.fullmatch(r"(\d{1,9})(?:\+(\d{1,9}))?", last[0])):
                name = str(rig)[:80]
                known[name], begun[name] = (min(int(count or 0), 10**6) for count in counted.groups())
                due[name] = "".join(last[1:])
        return Brought(
            attempts=attempts if isinstance(attempts, str) and len(attempts) <= LONGEST else "",
            known=known,
            begun=begun,
            due=due,
            first_run=message.get("first_run") is True,
            today=day_of(message.get("today")),
        )
