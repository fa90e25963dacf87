"""The engraved outline of the stack on a panel: fixed shapes beside the buttons, top down, without any lamp.

A panel's mimic says which element a row of buttons works. It never moves: whether the ram moved is told by flow
count, read-back and return flow alone.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.markup import Markup, el, shorten
from trainer.drawing.rig_view import RigView
from trainer.plant.functions import Function

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


def _inner(kind: str) -> Markup | None:
    """The engraved sign inside: blades for shear rams, a pipe notch for pipe rams, a seal for annulars."""
    if kind == "shear_ram":
        return el("path", {"class": "stack-sign", "d": "M-38 -4H-9L-14 4H-38M38 -4H14L9 4H38"})
    if kind == "pipe_ram":
        return el("path", {"class": "stack-sign", "d": "M-38 -5H-14Q-9 0 -14 5H-38M38 -5H14Q9 0 14 5H38"})
    if kind == "annular":
        return el("path", {"class": "stack-sign", "d": "M-32 9Q-28 -8 -13 -9V9ZM32 9Q28 -8 13 -9V9Z"})
    if kind == "connector":
        return el("path", {"class": "stack-sign", "d": "M-24 2V9M24 2V9"})
    return None


def outlet_row(rig: RigView, valve: Function) -> int:
    """After which row of the column the outlet of a choke or kill valve leaves the bore, by its height."""
    row = 0
    for at, element in enumerate(rig.column()):
        if element.kind != "connector" and element.below < valve.below:
            row = at
    return row


def stack_mimic(rig: RigView, pitch: float) -> Markup:
    """The outline of the whole column, one row of ``pitch`` units an element."""
    column: tuple[Function, ...] = rig.column()
    tall = pitch * len(column)
    bodies = []
    for row, function in enumerate(column):
        y = pitch * (row + 0.5)
        bodies.append(
            el(
                "g",
                {"transform": f"translate({shorten(_MIDDLE)} {shorten(y)})"},
                element_shape(function.kind, WIDTH - 14.0, pitch - 6.0),
                _inner(function.kind),
            )
        )
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
        el("title", {}, "A fixed drawing: it shows which row is which, and never moves."),
        el("path", {"class": "mimic-line", "d": "".join(lines)}) if lines else None,
        el("rect", {"class": "mimic-bore", "x": _MIDDLE - 9, "y": 0, "width": 18, "height": tall}),
        bodies,
        el("rect", {"class": "mimic-pipe", "x": _MIDDLE - 4, "y": 0, "width": 8, "height": tall}),
    )
