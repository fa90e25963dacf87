"""What a drill calls its readings and statements, and numbers in the units that are shown."""

from __future__ import annotations

from collections.abc import Mapping

from trainer import units
from trainer.drills.schema import Drill
from trainer.hydraulics.catalogue import Signal
from trainer.wording import written


def reading(drill: Drill | None, target: str) -> str:
    """The title of a reading by its id; the id itself when the drill has none such."""
    return next((written(item.title) for item in drill.reading if item.id == target), target) if drill else target


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
    tag = next((item.tag for item in drill.reading if item.id == target), target) if drill else target
    signal = signals.get(tag or target)
    text = str(value).strip()
    if signal is None or signal.unit == "state" or not text or text[-1].isalpha() or text[-1] in "%³":
        return value
    return f"{text} {units.display_unit(signal.unit, system)}"
