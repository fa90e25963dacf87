"""Where the vessel lies over the well: the bridge's board, its alert at the driller's, the vessel on the schematic."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, field
from trainer.drawing.frame import deck, section
from trainer.drawing.gauges import readout
from trainer.drawing.markup import Child, Markup, el
from trainer.drawing.parts import label, part, value
from trainer.drawing.symbols import at

TALL: Final = 540
_HALF: Final = 210.0
"""Half the length of the rule of offsets, in units of its drawing."""
_PLACE: Final = (738.0, 86.0)
"""Middle of the vessel's symbol on the schematic, above the deck."""


def bridge_of(desk: DrawingContext) -> bool:
    """Whether the rig holds itself over the well, and so has a bridge to watch it from."""
    return desk.rig.plant.position is not None and desk.rig.plant.disconnect is not None


def bridge_panel(desk: DrawingContext) -> Markup:
    """The bridge's board: alert and circles, both references, riser; empty on a rig that is moored or stands."""
    own, declared = desk.rig.plant.position, desk.rig.plant.disconnect
    if own is None or declared is None:
        return deck("bridge", "bridge", TALL, css="panel")
    i = own.id
    words = tuple((one.id, one.title) for one in declared.sequence)
    return deck(
        "bridge",
        "bridge",
        TALL,
        el(
            "div",
            {"class": "panel-body aside-body"},
            el(
                "div",
                {"class": "supply"},
                _alert(i, big=True),
                section("Watch circles", "area-circles", choice("Circles for", f"{i}.circles", words, f"{i}.circles",
                                                                "choice-stacked", card=i)),
            ),
            el(
                "div",
                {"class": "supply"},
                section("Offset, share of the depth", "area-offset", _references(i, big=True), _rule(i)),
                section(
                    "Riser",
                    "area-riser",
                    el(
                        "div",
                        {"class": "row"},
                        readout(f"{i}.speed", "Speed", True),
                        readout(f"{i}.angle", "Riser angle", True),
                        readout(f"{i}.stroke", "Slip joint left", True),
                        readout(f"{i}.tension", "Riser tension", True),
                    ),
                ),
            ),
        ),
        css="panel",
    )  # fmt: skip


def alert_repeated(desk: DrawingContext) -> Markup | None:
    """The bridge's alert, circles and references repeated at the driller's panel; nothing without a bridge."""
    own = desk.rig.plant.position
    if own is None or not bridge_of(desk):
        return None
    return section(
        "Position, repeated from the bridge",
        "area-position",
        el("div", {"class": "row"}, _alert_rows(own.id), readout(f"{own.id}.circles", "Circles for")),
        _references(own.id),
        _rule(own.id),
        el(
            "div",
            {"class": "row"},
            readout(f"{own.id}.tension", "Riser tension"),
            readout(f"{own.id}.pull", "Tensioners set to"),
            field(f"{own.id}.pull", "Riser tension"),
        ),
    )


def _alert(i: str, big: bool) -> Markup:
    return section("Alert", "area-alert", el("div", {"class": "row"}, _alert_rows(i, big)))


def _alert_rows(i: str, big: bool = False) -> list[Markup]:
    rows = (("alert", "Alert"), ("yellow_at", "Yellow circle"), ("red_at", "Red circle"), ("clock", "Since green"))
    return [readout(f"{i}.{name}", word, big) for name, word in rows]


def _references(i: str, big: bool = False) -> Markup:
    return el(
        "div", {"class": "row"}, [readout(f"{i}.reference_{one}", f"Reference {one.upper()}", big) for one in "ab"]
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
