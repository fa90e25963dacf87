"""Pipes of the schematic: orthogonal runs that show pressure by thickness and pattern, and flow by moving dashes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from trainer.drawing.markup import Markup, el, join, shorten

Point = tuple[float, float]


def run(points: Sequence[Point]) -> str:
    """The path through the points, horizontal first wherever a step is slanted."""
    parts = [f"M{shorten(points[0][0])} {shorten(points[0][1])}"]
    for (x0, y0), (x1, y1) in pairwise(points):
        if x1 != x0:
            parts.append(f"H{shorten(x1)}")
        if y1 != y0:
            parts.append(f"V{shorten(y1)}")
    return "".join(parts)


def pipe(
    points: Sequence[Point], pressure: str | None = None, flow: str | None = None, css: str = "", thin: bool = False
) -> Markup:
    """A pipe bound to a pressure reading (dead, low, live, high) and a flow reading (forward, back, none).

    Dead lines are thin and grey, low ones broken, live ones thick, high ones thick with a bright core.
    """
    d = run(points)
    weight = " pipe-thin" if thin else ""
    line = el("path", {"class": f"pipe{weight} {css}".strip(), "d": d, "data-pressure": pressure})
    moving = el("path", {"class": f"stream{weight}", "d": d, "data-flow": flow}) if flow else None
    return join(line, moving)


def stream(points: Sequence[Point], flow: str | None) -> Markup | None:
    """Fluid that moves along pipes drawn already, while ``flow`` says so."""
    return el("path", {"class": "stream", "d": run(points), "data-flow": flow}) if flow else None


def cut_off(valve: str | None, *drawn: Markup) -> Markup:
    """Pipes behind a hand valve: while it is shut they are drawn as shut off, whatever pressure is trapped in them."""
    return el("g", {"class": "cutoff", "data-state": valve}, *drawn) if valve else join(*drawn)


def knot(x: float, y: float) -> Markup:
    """The dot where pipes join; pipes that cross without one are not connected."""
    return el("circle", {"class": "knot", "cx": x, "cy": y, "r": 4})
