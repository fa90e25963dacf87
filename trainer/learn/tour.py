"""The guided tour along the fluid's path: stops in the order of the fluid, each with the parts of this plant.

The words lie in ``assets/text/learn/tour.toml``. A stop names kinds of parts; a plant that has none of them passes
the stop over.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from typing import Any

from trainer import resources
from trainer.drawing.context import DrawingContext
from trainer.drawing.schematic import VIEWS
from trainer.learn.parts import Thing


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop: its title, what is told there, the parts to light, the subsystem of the schematic to look at."""

    title: str
    text: str
    parts: tuple[str, ...]
    view: str


@cache
def _written() -> list[dict[str, Any]]:
    path = resources.assets() / "text" / "learn" / "tour.toml"
    stops: list[dict[str, Any]] = tomllib.loads(path.read_text(encoding="utf-8"))["stop"]
    return stops


def stops(desk: DrawingContext, parts: dict[str, Thing]) -> tuple[Stop, ...]:
    """The stops of the tour on this plant, from the water inlet to the well."""
    found: list[Stop] = []
    # What hangs on the unit is met where its fluid comes from.
    met = {
        name: parts[item.after].kind
        for item in desk.rig.attached
        for name in (item.id, f"{item.id}.{item.valve}")
        if item.after in parts
    }
    for written in _written():
        there = tuple(t.id for t in parts.values() if t.drawn and met.get(t.id, t.kind) in written["kinds"])
        if there:
            # Without pods, or with orders by telemetry, some stops read otherwise.
            kind = "" if desk.rig.plant.telemetry is None else "telemetry"
            other = written.get(kind if desk.rig.pods else "surface")
            # Without pods the regulators stand at the unit.
            view = "manifold" if written["view"] == "pods" and not desk.rig.pods else written["view"]
            view = view if view in VIEWS else "whole"
            found.append(Stop(written["title"], other or written["text"], there, view))
    return tuple(found)
