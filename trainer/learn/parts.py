"""The parts of a plant as something to learn: what is drawn on the schematic, and what only has a card."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from trainer import naming
from trainer.drawing.cards import card_of, reading_of
from trainer.drawing.context import DrawingContext

#: Parts with a card that the schematic does not draw as such, and what a plant must have for them to be there.
_BESIDE: Final = (
    ("mixing", "mixing.mode"),
    ("supply", "supply.pressure"),
    ("pilot", "pilot.pressure"),
    ("umbilical", "pilot.pressure"),
    ("riser", "pilot.pressure"),
    ("driller.enable", "accumulator.pressure"),
    ("lamp", "accumulator.pressure"),
    ("floor.choke", "floor.choke"),
    ("floor.safety_valve", "floor.safety_valve"),
)
_DRAWN = re.compile(r'data-component="([^"]+)"')


@dataclass(frozen=True, slots=True)
class Thing:
    """One part: how drawings call it, its kind, its title on this rig, the lines of its card, its instrument.

    ``gauge`` is the tag of the reading that belongs to it, if a station shows one. ``drawn`` parts can be pointed at.
    """

    id: str
    kind: str
    title: str
    lines: tuple[tuple[str, str], ...]
    gauge: str | None
    drawn: bool

    def line(self, heading: str) -> str:
        """The line of the card under a heading; KeyError for a heading that cards do not have."""
        return dict(self.lines)[heading]


def things(desk: DrawingContext, sheet: str) -> dict[str, Thing]:
    """Every part of the plant that has a card, by id: first what ``sheet`` (the schematic's markup) draws.

    LookupError names a part on the drawing that has no card.
    """
    found: dict[str, Thing] = {}
    for name in dict.fromkeys(_DRAWN.findall(sheet)):
        thing = _thing(desk, name, True)
        if thing is None:
            raise LookupError(f"the schematic draws {name!r}, which has no card; describe its kind in assets/text")
        found[name] = thing
    for name, sign in _BESIDE:
        beside = _thing(desk, name, False) if desk.has(sign) else None
        if beside is not None:
            found.setdefault(name, beside)
    return found


def _thing(desk: DrawingContext, name: str, drawn: bool) -> Thing | None:
    card = card_of(desk.rig, name)
    return None if card is None else Thing(name, card.kind, card.title, card.lines, reading_of(desk, name), drawn)


def search(parts: dict[str, Thing], words: str, most: int = 12, tell: Callable[[str], str] = str) -> list[Thing]:
    """The parts that fit all of the words: by title first, then by id, then by what their cards say.

    tell: gives a finished text in the language of the page, whose words count as well. Accents do not.
    """
    wanted = naming.sought(words).split()
    ranked: list[tuple[int, int, Thing]] = []
    for place, thing in enumerate(parts.values()):
        title, name = naming.sought(tell(thing.title)), naming.plain(thing.id).casefold()
        told = [line for _, own in thing.lines for line in dict.fromkeys((own, tell(own)))]
        text = naming.sought(" ".join((thing.title, *told)))
        if not all(word in title or word in name or word in thing.id or word in text for word in wanted):
            continue
        if all(word in title for word in wanted):
            rank = 0 if title.startswith(wanted[0] if wanted else "") else 1
        else:
            rank = 2 if all(word in name or word in thing.id for word in wanted) else 3
        ranked.append((rank, place, thing))
    ranked.sort(key=lambda found: found[:2])
    return [thing for _, _, thing in ranked[:most]]
