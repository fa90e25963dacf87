"""What a drill calls its readings and statements, and numbers in the units that are shown."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final, NamedTuple

from trainer import units
from trainer.drills.schema import Drill
from trainer.hydraulics.catalogue import Signal
from trainer.plant.names import instrument
from trainer.wording import written

FLOW_COUNT: Final = "totaliser.count"
"""Beside it stands what the operation under way has taken."""
IDLE: Final = {"a", "of", "the", "in", "regulator", "pressure"}
"""Words of an instrument's name that tell it from no other."""


def reading(drill: Drill | None, target: str) -> str:
    """The title of a reading by its id; the id itself when the drill has none such."""
    return next((written(item.title) for item in drill.reading if item.id == target), target) if drill else target


class Offered(NamedTuple):
    """A reading in the list to enter it by: id, title, the instrument's own name behind it, the unit of its field."""

    id: str
    title: str
    on: str
    unit: str


def offered(drill: Drill | None, signals: Mapping[str, Signal], system: units.System) -> list[Offered]:
    """The readings of a drill in the order of its file, with the units that ``system`` shows."""
    rows = []
    for item in drill.reading if drill else ():
        signal = signals.get(item.tag or "")
        unit = item.unit or (signal.unit if signal is not None else "")
        shown = "" if unit in ("", "state") else units.symbol(units.display_unit(unit, system))
        rows.append(Offered(item.id, item.title, _read_on(item.title, item.tag), shown))
    return rows


def _read_on(title: str, tag: str | None) -> str:
    """What stands behind a title that does not name its instrument as the boards do: that name, or what is meant."""
    if tag is None:
        return ""
    if tag == FLOW_COUNT:
        return " (the total)"
    name = instrument(tag)
    said, own = (set(re.findall(r"\w+", words.casefold())) - IDLE for words in (title, name))
    return "" if own <= said or said <= own else f" ({name})"


def reading_id(drill: Drill | None, tag: str) -> str:
    """The id under which the drill knows the reading of an instrument; the tag itself when it has none."""
    return next((item.id for item in drill.reading if item.tag == tag), tag) if drill else tag


def statement(drill: Drill | None, target: str) -> str:
    """The words of a statement by its id."""
    return next((written(item.text) for item in drill.statement if item.id == target), target) if drill else target


def in_units(
    drill: Drill | None, signals: Mapping[str, Signal], target: str, value: object, system: units.System
) -> object:
    """A bare number was read off a gauge in the units now shown: it gets that unit."""
    named = next((item for item in drill.reading if item.id == target), None) if drill else None
    signal = signals.get((named.tag if named else "") or target)
    unit = signal.unit if signal is not None else named.unit if named else None
    text = str(value).strip()
    if unit is None or unit == "state" or not text or text[-1].isalpha() or text[-1] in "%³":
        return value
    shown = units.display_unit(unit, system)
    # What no instrument shows has forms of its own, such as 1:30: only another unit system says more.
    return value if signal is None and shown == unit else f"{text} {shown}"
