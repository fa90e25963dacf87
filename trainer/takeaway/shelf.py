"""The shipped drills as the browser starts with them: what the chooser shows comes from a list made at build time.

Reading all drill files takes a browser longer than everything else of its start, and a trainee runs one of them. So a
drill's file is read when it is chosen, or when something is asked of it that the list does not tell.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, ValuesView
from pathlib import Path
from typing import Any, cast

from trainer import resources
from trainer.console import found_by
from trainer.drills import library
from trainer.drills.schema import Drill

LISTED = ("id", "title", "purpose", "level", "minutes", "plants", "learning", "well_control", "finds_faults")
FILE = "shelf.json"


def listing(folder: Path | None = None) -> str:
    """The list for a folder of drill files (the shipped ones by default), as JSON."""
    drills = library.all_drills(folder).values()
    return json.dumps({drill.id: _facts(drill) for drill in drills}, sort_keys=True)


def facts() -> dict[str, dict[str, object]]:
    """The facts of the shipped drills by id: from the list made at build time where there is one."""
    made = resources.assets().parent / FILE
    told = made.read_text(encoding="utf-8") if made.is_file() else listing()
    found: dict[str, dict[str, object]] = json.loads(told)
    return found


def _facts(drill: Drill) -> dict[str, Any]:
    told = {name: getattr(drill, name) for name in LISTED}
    return told | {"words": found_by.words(drill), "starts": found_by.station(drill)}


class Listed:
    """A drill that has not been read: the list's facts, and the drill itself behind whatever else is asked."""

    def __init__(self, facts: Mapping[str, Any], shelf: Shelf) -> None:
        self.__dict__.update(facts)
        self._shelf = shelf

    def __getattr__(self, name: str) -> Any:
        return getattr(self._shelf[self.__dict__["id"]], name)


class Shelf(Mapping[str, Drill]):
    """Drills by id, read when they are taken from the shelf; looked through, they are those of the list.

    own: drills of the person's own, which stand before the shipped ones.
    """

    def __init__(self, facts: Mapping[str, Mapping[str, Any]], own: Mapping[str, Drill] | None = None) -> None:
        self._facts = facts
        self._own: Mapping[str, Drill] = {} if own is None else own
        self._read: dict[str, Drill] = {}

    def __getitem__(self, drill: str) -> Drill:
        if drill in self._own:
            return self._own[drill]
        if drill not in self._read:
            if drill not in self._facts:
                raise KeyError(drill)
            self._read[drill] = library.load_file(library.find(drill))
        return self._read[drill]

    def __iter__(self) -> Iterator[str]:
        return iter({**self._own, **self._facts})

    def __len__(self) -> int:
        return len(list(iter(self)))

    def __contains__(self, drill: object) -> bool:
        return drill in self._own or drill in self._facts

    def values(self) -> ValuesView[Drill]:
        """What there is to choose from, one's own first; no drill's file is read for it."""
        listed = [Listed(facts, self) for name, facts in self._facts.items() if name not in self._own]
        return cast("ValuesView[Drill]", [*self._own.values(), *listed])
