"""Where the vessel lies over the well, on the board of back-ups and on the schematic: circles, references, riser."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice
from trainer.drawing.frame import section
from trainer.drawing.gauges import readout
from trainer.drawing.markup import Child, Markup, el
from trainer.drawing.parts import label, part, value
from trainer.drawing.symbols import at

_HALF: Final = 210.0
"""Half the length of the rule of offsets, in units of its drawing."""
_PLACE: Final = (738.0, 86.0)
"""Middle of the vessel's symbol on the schematic, above the deck."""


def position_section(desk: DrawingContext) -> Markup | None:
    """The bridge's figures: alert, both references against the circles, riser; nothing where it is moored or stands."""
    own = desk.rig.plant.position
    declared = desk.rig.plant.disconnect
    if own is None or declared is None:
        return None
    i = own.id
    words = tuple((one.id, one.title) for one in declared.sequence)
    return section(
        "Position and riser",
        "area-position",
        el(
            "div",
            {"class": "row"},
            readout(f"{i}.alert", "Alert"),
            readout(f"{i}.reference_a", "Reference A"),
            readout(f"{i}.reference_b", "Reference B"),
            readout(f"{i}.yellow_at", "Yellow circle"),
            readout(f"{i}.red_at", "Red circle"),
            readout(f"{i}.clock", "Since green"),
        ),
        _rule(i),
        el(
            "div",
            {"class": "row"},
            readout(f"{i}.speed", "Speed"),
            readout(f"{i}.angle", "Riser angle"),
            readout(f"{i}.stroke", "Slip joint left"),
            readout(f"{i}.tension", "Riser tension"),
        ),
        choice("Circles for", f"{i}.circles", words, f"{i}.circles", card=i),
    )


def _rule(i: str) -> Markup:
    """Offsets on a rule with the well in its middle: the circles as marks on both sides, the references as pointers."""

    def mark(tag: str, side: float, css: str, d: str) -> Markup:
        slide = {"data-shift": tag, "data-dx": side * 2.0 * _HALF, "data-dy": 0}
        return el("g", {"transform": f"translate({-side * _HALF:g} 0)"}, el("path", {"class": css, "d": d, **slide}))

    ring = "M0 -15V15"
    drawn: list[Child] = [
        el("path", {"class": "rule-line", "d": f"M{-_HALF:g} 0H{_HALF:g}M0 -9V9"}),
        *(mark(f"{i}.yellow_at", side, "rule-yellow", ring) for side in (1.0, -1.0)),
        *(mark(f"{i}.red_at", side, "rule-red", ring) for side in (1.0, -1.0)),
        mark(f"{i}.reference_a", 1.0, "rule-pointer", "M0 -3L-7 -19H7Z"),
        mark(f"{i}.reference_b", 1.0, "rule-pointer", "M0 3L-7 19H7Z"),
        el("text", {"class": "rule-word", "x": -_HALF, "y": -22}, "A above"),
        el("text", {"class": "rule-word", "x": -_HALF, "y": 32}, "B below"),
    ]
    words = "Offsets by both references on a rule with the well in its middle, with the yellow and red circles"
    return el(
        "svg",
        {"class": "offset-rule", "viewBox": f"{-_HALF - 12:g} -36 {2 * _HALF + 24:g} 72", "role": "img",
         "aria-label": words},
        drawn,
    )  # fmt: skip


def position_symbol(desk: DrawingContext) -> Markup | None:
    """The vessel on the schematic with its alert; nothing on a rig that does not hold itself over the well."""
    own = desk.rig.plant.position
    if own is None:
        return None
    x, y = _PLACE
    tag = f"{own.id}.alert"
    hull = el("path", {"class": "stack-body", "d": "M-40 -8H40L30 12H-30ZM-7 -8V-30H7V-8"})
    return el(
        "g",
        {},
        at(x, y, part(desk, own.id, own.name, tag, hull)),
        label(x, y + 30, own.name, "middle small"),
        value(desk, x + 50, y + 6, tag, "state"),
    )
