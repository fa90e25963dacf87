"""A part of the schematic that a person can point at: named, focusable, with its reading, opening its card."""

from __future__ import annotations

from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Child, Markup, el
from trainer.drawing.path_view import runs_of


def part(desk: DrawingContext, component: str, name: str, reading: str | None, *drawn: Child) -> Markup:
    """A focusable group. Hover and focus tell its name and reading, click and Enter open its card."""
    bound = reading if reading and desk.has(reading) else None
    return el(
        "g",
        {
            "class": "part",
            "role": "button",
            "tabindex": 0,
            "data-open-card": component,
            "data-component": component,
            "aria-label": name,
            "data-title": bound,
            "data-runs": " ".join(runs_of(desk, component)) or None,
        },
        el("title", {}, name),
        *drawn,
    )


def label(x: float, y: float, text: Child, css: str = "") -> Markup:
    """A line of text on the sheet, its baseline beginning at (x, y) in units of the sheet."""
    return el("text", {"class": f"label {css}".strip(), "x": x, "y": y}, text)


def value(desk: DrawingContext, x: float, y: float, tag: str, css: str = "") -> Markup | None:
    """A live number on the drawing; nothing when the plant has no such reading."""
    if not desk.has(tag):
        return None
    return el("text", {"class": f"value {css}".strip(), "x": x, "y": y, "data-text": tag}, "–")
