"""The outline of the stack on a panel, top down beside the buttons: which element a row of buttons works.

What is inside each outline follows the lamps of its row and knows nothing else: it lies apart while the open lamp is
lit, meets while the close lamp is, and is dashed half way while neither or both are. Whether the ram moved is told by
flow count, read-back and return flow alone.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.controls import lamp_of
from trainer.drawing.markup import Child, Markup, el, shorten
from trainer.drawing.rig_view import RigView
from trainer.plant.functions import Function
from trainer.plant.panels import Panel

WIDTH: Final = 132.0
_MIDDLE: Final = WIDTH / 2.0


def element_shape(kind: str, width: float, height: float) -> Markup:
    """The outline of one stack element about the middle of its place; ``width`` of the widest kind."""
    half, h = width / 2.0, height / 2.0
    if kind == "annular":
        path = (
            f"M{shorten(-half * 0.72)} {shorten(h)}L{shorten(-half * 0.8)} {shorten(-h * 0.3)}"
            f"Q{shorten(-half * 0.78)} {shorten(-h)} {shorten(-half * 0.45)} {shorten(-h)}"
            f"L{shorten(half * 0.45)} {shorten(-h)}Q{shorten(half * 0.78)} {shorten(-h)} "
            f"{shorten(half * 0.8)} {shorten(-h * 0.3)}L{shorten(half * 0.72)} {shorten(h)}Z"
        )
    elif kind == "connector":
        path = (
            f"M{shorten(-half * 0.5)} {shorten(-h)}H{shorten(half * 0.5)}L{shorten(half * 0.62)} {shorten(h * 0.4)}"
            f"V{shorten(h)}H{shorten(-half * 0.62)}V{shorten(h * 0.4)}Z"
        )
    else:
        body, bonnet = half * 0.52, h * 0.62
        path = (
            f"M{shorten(-body)} {shorten(-h)}H{shorten(body)}V{shorten(-bonnet)}H{shorten(half)}V{shorten(bonnet)}"
            f"H{shorten(body)}V{shorten(h)}H{shorten(-body)}V{shorten(bonnet)}H{shorten(-half)}V{shorten(-bonnet)}"
            f"H{shorten(-body)}Z"
        )
    return el("path", {"class": f"stack-body stack-{kind}", "d": path})


_HALVES: Final = {
    "shear_ram": ("M-38 -5H-14L-21 5H-38Z", "M38 -5H21L14 5H38Z"),
    "pipe_ram": ("M-38 -5H-19Q-14 0 -19 5H-38Z", "M38 -5H19Q14 0 19 5H38Z"),
    "annular": ("M-34 9Q-30 -8 -17 -9V9Z", "M34 9Q30 -8 17 -9V9Z"),
    "connector": ("M-36 1H-27V9H-36Z", "M36 1H27V9H36Z"),
}
"""What moves inside an element, at the left and at the right, as it lies open: blades, pipe rams, a seal, dogs."""


def _inner(function: Function, panel: Panel | None) -> Markup | None:
    """The two halves inside, bound to the lamps of the row; None for a kind without any."""
    halves = _HALVES.get(function.kind)
    if halves is None:
        return None
    drawn: Child = [
        el("path", {"class": f"stack-sign half-{side}", "d": d}) for side, d in zip("lr", halves, strict=True)
    ]
    for position in ("close", "open"):
        bound = {"class": f"at-{position} moves-{function.kind}", "data-state": lamp_of(function, position, panel)}
        drawn = el("g", bound, drawn)
    return el("g", {}, drawn)


def outlet_row(rig: RigView, valve: Function) -> int:
    """After which row of the column the outlet of a choke or kill valve leaves the bore, by its height."""
    row = 0
    for at, element in enumerate(rig.column()):
        if element.kind != "connector" and element.below < valve.below:
            row = at
    return row


def stack_mimic(rig: RigView, pitch: float, panel: Panel | None = None) -> Markup:
    """The outline of the whole column, one row of ``pitch`` units an element; by the lamps of a further ``panel``."""
    column: tuple[Function, ...] = rig.column()
    tall = pitch * len(column)
    bodies, moving = [], []
    for row, function in enumerate(column):
        y = pitch * (row + 0.5)
        bodies.append(
            el(
                "g",
                {"transform": f"translate({shorten(_MIDDLE)} {shorten(y)})"},
                element_shape(function.kind, WIDTH - 14.0, pitch - 6.0),
            )
        )
        moving.append(el("g", {"transform": f"translate({shorten(_MIDDLE)} {shorten(y)})"}, _inner(function, panel)))
    lines = []
    valves = (*rig.line_valves("choke"), *rig.line_valves("kill"))
    for row in sorted({outlet_row(rig, valve) for valve in valves}):
        y = pitch * (row + 1)
        lines.append(f"M{shorten(_MIDDLE)} {shorten(y)}H{shorten(WIDTH)}")
    return el(
        "svg",
        {
            "class": "mimic",
            "viewBox": f"0 0 {shorten(WIDTH)} {shorten(tall)}",
            "preserveAspectRatio": "none",
            "aria-hidden": "true",
            "focusable": "false",
        },
        el("title", {}, "It follows the lamps of each row, not the ram itself."),
        el("path", {"class": "mimic-line", "d": "".join(lines)}) if lines else None,
        el("rect", {"class": "mimic-bore", "x": _MIDDLE - 9, "y": 0, "width": 18, "height": tall}),
        bodies,
        el("rect", {"class": "mimic-pipe", "x": _MIDDLE - 4, "y": 0, "width": 8, "height": tall}),
        moving,
    )
