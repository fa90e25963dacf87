"""What a good crew did in a drill and when, to stand beside what the trainee did.

``assets/crews`` has one file a drill: a run with seed 0 that passed, made by ``python -m tests.drills.ideal``. The
trainee's seed may bring the trouble at another time, so the crew's times are moved along with the first milestone
that came by itself, before the crew had done anything.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from trainer import resources
from trainer.constants import TICKS_PER_SECOND
from trainer.session.session import Entry
from trainer.session.sheets import MilestoneData

SEED = 0
"""The variation that the crews played."""


@dataclass(frozen=True)
class Crew:
    """A good crew's run: its score, its length in s, the milestones it reached with their times, and its log."""

    drill: str
    score: float
    seconds: float
    milestones: Mapping[str, float]
    log: tuple[Entry, ...]

    @property
    def began(self) -> float:
        """When the crew did its first thing, s."""
        return self.log[0].t if self.log else self.seconds


@dataclass(frozen=True)
class Beside:
    """A crew's times in the trainee's run: add ``by`` seconds; ``since`` is the milestone both are counted from."""

    crew: Crew
    by: float = 0.0
    since: str = ""

    def at(self, milestone: str) -> float | None:
        """When the crew would have reached a milestone; None when it never did."""
        t = self.crew.milestones.get(milestone)
        return None if t is None else max(0.0, t + self.by)


@functools.cache
def crew_of(drill: str) -> Crew | None:
    """The good crew of a shipped drill; None when there is none."""
    path = resources.assets() / "crews" / f"{drill}.json"
    if not drill.replace("-", "").isalnum() or not path.is_file():
        return None
    return read(json.loads(path.read_text("utf-8")))


def read(document: Mapping[str, Any]) -> Crew:
    """A crew from the document of its file."""
    return Crew(
        drill=document["drill"],
        score=document["score"],
        seconds=document["seconds"],
        milestones=document["milestones"],
        log=tuple(
            Entry.model_validate(
                {"tick": round(t * TICKS_PER_SECOND), "from": at, "do": do, "target": target, "value": value}
                | dict(zip(("by", "figure"), of_crew, strict=False))
            )
            for t, at, do, target, value, *of_crew in document["log"]
        ),
    )


def beside(crew: Crew, milestones: Sequence[MilestoneData]) -> Beside:
    """The crew's times moved into a run whose sheet has these milestones."""
    reached = {str(row["id"]): (row, t) for row in milestones if (t := row.get("t")) is not None}
    for name, t in sorted(crew.milestones.items(), key=lambda item: item[1]):
        if t > crew.began:
            break
        if name in reached and t > 0.0:
            row, own = reached[name]
            return Beside(crew, own - t, str(row.get("title") or name))
    return Beside(crew)
