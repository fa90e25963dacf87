"""Pipes of the schematic: orthogonal runs that show pressure by thickness and pattern, and flow by moving dashes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

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


#: A straight piece at least this long carries an arrow, a longer one another at each of these distances.
_ARROW_EACH: Final = 120.0
_ARROW_LEAST: Final = 30.0


def _arrows(points: Sequence[Point], back: bool) -> str:
    """Arrowheads along the pipe, pointing with the flow or against it."""
    corners = [points[0]]
    for (x0, y0), (x1, y1) in pairwise(points):
        if x1 != x0 and y1 != y0:
            corners.append((x1, y0))
        corners.append((x1, y1))
    found = []
    for (x0, y0), (x1, y1) in pairwise(corners):
        length = abs(x1 - x0) + abs(y1 - y0)
        if length < _ARROW_LEAST:
            continue
        count = 1 + int(length // _ARROW_EACH)
        way = (-1.0 if back else 1.0) / length
        dx, dy = (x1 - x0) * way, (y1 - y0) * way
        for n in range(count):
            share = (n + 0.5) / count
            x, y = x0 + (x1 - x0) * share, y0 + (y1 - y0) * share
            tip = f"M{shorten(x + 7 * dx)} {shorten(y + 7 * dy)}"
            one = f"L{shorten(x - 5 * dx - 6 * dy)} {shorten(y - 5 * dy + 6 * dx)}"
            other = f"L{shorten(x - 5 * dx + 6 * dy)} {shorten(y - 5 * dy - 6 * dx)}"
            found.append(f"{tip}{one}{other}Z")
    return "".join(found)


def moving(points: Sequence[Point], flow: str | None, css: str = "", sample: str | None = None) -> Markup:
    """Dashes that run along a pipe and arrowheads that point the fluid's way, while ``flow`` says that it moves.

    ``sample`` draws it moving that way without any reading, for a legend.
    """
    return el(
        "g",
        {"class": f"flow {css}".strip(), "data-flow": flow, "data-flowing": sample},
        el("path", {"class": "stream", "d": run(points)}),
        el("path", {"class": "arrow arrow-forward", "d": _arrows(points, back=False)}),
        el("path", {"class": "arrow arrow-back", "d": _arrows(points, back=True)}),
    )


def pipe(
    points: Sequence[Point], pressure: str | None = None, flow: str | None = None, css: str = "", thin: bool = False
) -> Markup:
    """A pipe bound to a pressure reading (dead, low, live, high) and a flow reading (forward, back, none).

    Dead lines are thin and grey, low ones broken, live ones thick, high ones thickest.
    """
    weight = " pipe-thin" if thin else ""
    line = el("path", {"class": f"pipe{weight} {css}".strip(), "d": run(points), "data-pressure": pressure})
    return join(line, moving(points, flow) if flow else None)


def stream(points: Sequence[Point], flow: str | None) -> Markup | None:
    """Fluid that moves along pipes drawn already, while ``flow`` says so."""
    return moving(points, flow) if flow else None


def cut_off(valve: str | None, *drawn: Markup) -> Markup:
    """Pipes behind a hand valve: while it is shut they are drawn as shut off, whatever pressure is trapped in them."""
    return el("g", {"class": "cutoff", "data-state": valve}, *drawn) if valve else join(*drawn)


def knot(x: float, y: float) -> Markup:
    """The dot where pipes join; pipes that cross without one are not connected."""
    return el("circle", {"class": "knot", "cx": x, "cy": y, "r": 4})
