"""What a drill is found by in the library: its words, with the parts and faults in it, and the station it starts at."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from trainer.console.crews import crew_of
from trainer.drills.schema import Drill

#: A tag or a fault as drills write it: a part, a point, and what of it.
_NAMED: Final = re.compile(r"\b([a-z][a-z0-9_]*)\.([a-z][a-z0-9_]*)\b")
#: What stands before the point and is no part.
_NO_PART: Final = frozenset({"vary", "fault", "alarm", "alarms", "weather"})
#: What only is said is done at no station.
_SAID: Final = frozenset({"read", "say", "name", "go"})
LONG: Final = 5
"""Shorter words of what can be said are left out, letters."""
_KNOWN: dict[str, tuple[Drill, str]] = {}


def words(drill: Drill) -> str:
    """All words of a drill in small letters: title, purpose, learning points, level, rigs, parts and faults.

    A drill that has not been read yet tells them from the list made at build time.
    """
    listed = vars(drill).get("words")
    if isinstance(listed, str):
        return listed
    kept = _KNOWN.get(drill.id)
    if kept is None or kept[0] is not drill:
        kept = _KNOWN[drill.id] = (drill, _words(drill))
    return kept[1]


def station(drill: Drill) -> str:
    """The station at which its reference run begins to act: driller, floor, unit or remote."""
    listed = vars(drill).get("starts")
    if isinstance(listed, str):
        return listed
    crew = crew_of(drill.id)
    return next((entry.from_ for entry in crew.log if entry.do not in _SAID), "driller") if crew else "driller"


def _words(drill: Drill) -> str:
    told = (drill.id, drill.title, drill.purpose, *drill.learning, drill.level, *drill.plants)
    seen = dict.fromkeys(re.findall(r"[\w'/-]+", " ".join(told).lower().replace("-", " ")))
    said = [one.text for one in drill.statement] + [one.title for one in drill.criterion]
    seen |= dict.fromkeys(word for word in re.findall(r"[\w']+", " ".join(said).lower()) if len(word) >= LONG)
    for text in _texts(drill.model_dump(exclude={"learning", "purpose", "references", "safety"})):
        for part, of_it in _NAMED.findall(text):
            if part not in _NO_PART:
                seen |= dict.fromkeys(re.findall(r"[a-z0-9]+", f"{part} {of_it}"))
    return " ".join(seen)


def _texts(data: object) -> Iterator[str]:
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        for value in data.values():
            yield from _texts(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from _texts(value)
