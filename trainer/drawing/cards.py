"""Component cards: which text belongs to a part, and the card as markup.

The texts lie in ``assets/text/*.toml``, one table a component *kind*; a part finds its kind through the plant.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from trainer import naming
from trainer.drawing.context import DrawingContext
from trainer.drawing.gauges import band_words
from trainer.drawing.glossary import Marks, glossary
from trainer.drawing.markup import Child, Markup, el, live
from trainer.drawing.rig_view import RigView
from trainer.drawing.texts import HEADINGS, by_telemetry, texts


@dataclass(frozen=True, slots=True)
class Card:
    """The text for one part: its kind, its title on this rig, and the lines of the entry."""

    component: str
    kind: str
    title: str
    lines: tuple[tuple[str, str], ...]


def entry_of(rig: RigView, kind: str) -> dict[str, str]:
    """The text of a kind as it reads on this rig; ``KeyError`` for an unknown kind."""
    entry = texts(not rig.pods)[kind]
    return entry if rig.plant.telemetry is None else {**entry, **by_telemetry().get(kind, {})}


# What the boards call a part by its readings, and the kind that describes it.
_ALIASES: Final = {
    "tank.drain": "tank_drain",
    "air.supply": "air",
    "power.ac": "power",
    "power.emergency": "power",
    "power.main": "power",
    "panel.power": "panel_power",
    "driller.enable": "enable",
    "floor.choke": "choke",
    "floor.safety_valve": "safety_valve",
    "accumulator.pressure": "gauge",
    "pilot.pressure": "gauge",
    "supply.pressure": "gauge",
    "unit.accumulator_gauge": "gauge",
    "unit.pilot_gauge": "gauge",
    "air.pressure": "gauge",
}


_FED_BY: Final = {
    "unit_battery": "the unit's battery, by a cable",
    "own_battery": "a battery in it, which the unit keeps charged",
    "rig_air": "rig air, through tubing from the unit",
}
"""What feeds a further panel, by its supply."""


def _known(rig: RigView) -> dict[str, tuple[str, str]]:
    """Kind and title of every part that the plant declares, by the name that drawings use for it."""
    found: dict[str, tuple[str, str]] = {rig.tank: ("tank", texts()["tank"]["title"])}
    for name, part in rig.plant.parts.items():
        found[name] = found[part.id] = (part.card, part.name)
        for end, kind, words in part.fittings:
            found[name + end] = (kind, f"{part.name}: {words}")
    return found


def kind_of(rig: RigView, component: str) -> tuple[str, str] | None:
    """The kind that describes a part of ``rig`` and the part's own title; ``None`` for something unknown."""
    known = _known(rig)
    base = component.partition(".")[0]
    kind = _ALIASES.get(component, base)
    entry = entry_of(rig, kind) if kind in texts() else None
    if component in _ALIASES and entry:
        return kind, entry["title"]
    return known.get(component) or known.get(base) or ((kind, entry["title"]) if entry else None)


def card_of(rig: RigView, component: str) -> Card | None:
    """The card of a part of ``rig``, or ``None`` when there is no such part or no text for its kind."""
    known = kind_of(rig, component)
    if known is None or known[0] not in texts():
        return None
    kind, title = known
    entry = entry_of(rig, kind)
    panel = next((p for p in rig.plant.further.values() if p.id == component.partition(".")[0]), None)
    if panel is not None and kind == "panel":
        entry = {**entry, "does": f"Works the same control valves by a supply of its own: {_FED_BY[panel.supply]}."}
    return Card(component, kind, title, tuple((heading, entry[key]) for key, heading in HEADINGS))


def reading_of(desk: DrawingContext, component: str) -> str | None:
    """The instrument that belongs to a part, if a station can read it."""
    base = component.partition(".")[0]
    shows = {part.id: part.shows for part in desk.rig.attached}
    for tag in (
        component,
        f"{base}.{shows.get(base)}",
        f"{base}.dp",
        f"{base}.pressure",
        f"{base}.readback",
        f"{base}.level",
        f"{base}.mode",
        f"{base}.count",
        f"{base}.position",
        f"{base}.volts",
        f"{base}.air",
        f"{base}.state",
        f"{base}.valve",
    ):
        if desk.has(tag) and desk.signals[tag].station:
            return tag
    return None


def card_reading(desk: DrawingContext, tag: str, shown: Child) -> Markup:
    """A reading on a card, as ``shown``, with its normal band in words where its instrument has one."""
    words = band_words(desk.scale(tag)) if desk.signals[tag].unit != "state" else ""
    return el("p", {"class": "card-reading"}, el("strong", {}, shown), f" {words}" if words else None)


def card_lines(kind: str, lines: Iterable[tuple[str, str]], surface: bool) -> list[Markup]:
    """The headings of the card of a kind with their texts, other words of the trade marked; safety stands out."""
    mark = Marks(surface, {term.id for term in glossary(surface).values() if term.card == kind})
    return [
        el(
            "section",
            {"class": "card-safety" if heading == "Safety" else "card-line"},
            el("h3", {}, heading),
            el("p", {}, mark(text)),
        )
        for heading, text in lines
    ]


def card_markup(desk: DrawingContext, component: str, more: Child = None) -> Markup:
    """The card: title, live reading with its normal band, ``more`` about it, then the lines of its text."""
    card = card_of(desk.rig, component)
    if card is None:
        name = naming.title(component)
        return el(
            "article",
            {"class": "card", "aria-label": name},
            el("h2", {}, name),
            el("p", {}, "There is no card for this part."),
        )
    tag = reading_of(desk, component)
    reading = None if tag is None else card_reading(desk, tag, live(tag))
    head = el("h2", {}, card.title)
    lines = card_lines(card.kind, card.lines, not desk.rig.pods)
    return el("article", {"class": "card", "aria-label": card.title}, head, reading, more, lines)
