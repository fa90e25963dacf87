"""Parts of the kinds that are whole in one module, drawn on the schematic by what they say there."""

from __future__ import annotations

from typing import Final

from trainer.drawing import symbols as sym
from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Child, Markup, el
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import cut_off, pipe
from trainer.drawing.sheet import FILTERED, MAIN, of
from trainer.drawing.symbols import at
from trainer.plant.attachment import Attachment

_BUS: Final = 770.0
_PITCH: Final = 122.0
"""The height of their line at the foot of the sheet, and how far apart they stand."""


def attached(desk: DrawingContext) -> Markup | None:
    """All of them side by side below the accumulators, each from the header through its valve; nothing without any."""
    found = desk.rig.attached
    if not found:
        return None
    header = of(desk, "accumulator.pressure")
    last = FILTERED + _PITCH * (len(found) - 1) + 36.0
    return el(
        "g",
        {},
        pipe([(FILTERED, MAIN), (FILTERED, _BUS), (last, _BUS)], header, thin=True),
        [_one(desk, item, FILTERED + 36.0 + _PITCH * n) for n, item in enumerate(found)],
    )


def beyond(desk: DrawingContext) -> float:
    """Where the place at the foot of the sheet is free again to the right of all of them, px."""
    return FILTERED + _PITCH * len(desk.rig.attached) + 36.0


def _one(desk: DrawingContext, item: Attachment, x: float) -> Markup:
    reading, valve = f"{item.id}.{item.shows}", f"{item.id}.{item.valve}" if item.valve else None
    drawn: list[Child] = [
        cut_off(valve, pipe([(x, _BUS), (x, 830.0)], of(desk, f"{item.after}.pressure"), thin=True)),
        at(x, 811, part(desk, item.id, item.name, reading, sym.circled(item.symbol)), turn=90, scale=0.5),
        at(x, 828, sym.vent(), scale=0.6),
        label(x + 14, 806, item.name, "small"),
        value(desk, x + 14, 824, reading, "small"),
    ]
    if valve:
        name = f"{item.name}: hand valve"
        drawn.append(at(x, 787, part(desk, valve, name, valve, sym.shut_off(valve)), turn=90, scale=0.45))
    return el("g", {}, drawn)
