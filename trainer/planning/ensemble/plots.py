"""Spread plots of an ensemble: what instruments showed on all plants, and how scores lie, as SVG in one HTML file."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from trainer import resources
from trainer.drawing.context import round_step
from trainer.drawing.markup import Markup, el, plain_table
from trainer.planning.ensemble.answers import EXPLAINED, listed, needed, share_rows, sign
from trainer.planning.ensemble.order import Order
from trainer.planning.ensemble.shares import in_words

WIDTH, HEIGHT, LEFT, FOOT = 860.0, 240.0, 70.0, 34.0
TIME = "time, s"
BANDS = ((0.0, 1.0, "#dbe7f3"), (0.05, 0.95, "#b4cfe8"), (0.25, 0.75, "#7fadd6"))


def page(order: Order, blocks: Sequence[dict[str, Any]], document: dict[str, Any]) -> str:
    """All plots of an ensemble as an HTML file that needs nothing else."""
    signals = order.machine().signals
    parts: list[Markup] = []
    for tag in [tag for tag in blocks[0]["traces"] if tag != "t"]:
        times, low = together(blocks, tag)
        parts.append(el("h2", {}, f"{signals[tag].meaning} ({tag})"))
        parts.append(band_plot(times, low, signals[tag].unit, tag))
    parts.append(el("h2", {}, "Scores"))
    parts.append(histogram([p["score"] for block in blocks for p in block["plants"]]))
    css = (resources.assets() / "style" / "report.css").read_text("utf-8")
    title = f"{document['drill']} on {document['runs']} plants"
    body = el(
        "body",
        {},
        el("h1", {}, title),
        el("ul", {}, [el("li", {}, line) for line in document["answers"]]),
        el("h2", {}, "Shares of the plants"),
        plain_table(("What", "Seen", "95 % interval"), share_rows(document)),
        el("p", {}, f"{needed(document)} {EXPLAINED}"),
        _signs(document.get("first_signs", [])),
        parts,
        el("p", {"class": "soft"}, "Bands: all plants, 90 % and 50 % of them; line: the median. A training aid."),
    )
    opened = f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">{el("title", {}, title)}'
    return f"{opened}<style>{css}</style></head>{body}</html>\n"


def _signs(rows: Sequence[dict[str, object]]) -> list[Markup]:
    """What tells the fault, in order of time."""
    if not rows:
        return []
    lines = [
        (
            sign(row),
            f"{row['after_s']:g} s",
            f"{100 * row['share']:.0f} %",
            in_words(row["interval"]),
            ", ".join(row["station"]),
        )
        for row in listed(rows)
    ]
    heads = (
        "Reading",
        "Median time after the fault began",
        "On how many plants",
        "95 % interval",
        "Where it is shown",
    )
    return [el("h2", {}, "First signs of the fault"), plain_table(heads, lines)]


def together(blocks: Sequence[dict[str, Any]], tag: str) -> tuple[list[float], np.ndarray[Any, Any]]:
    """Times that all blocks have, and a row of values for each plant."""
    count = min(len(block["traces"]["t"]) for block in blocks)
    rows = [row[:count] for block in blocks for row in block["traces"][tag]]
    return blocks[0]["traces"]["t"][:count], np.array(rows)


def band_plot(times: Sequence[float], values: np.ndarray[Any, Any], unit: str, name: str) -> Markup:
    """Percentile bands of ``values`` (a row a plant) over ``times`` (s)."""
    low, high = float(values.min()), float(values.max())
    if high - low < 1e-9:
        low, high = low - 1.0, high + 1.0
    end = max(times[-1], 1e-9)

    def points(row: np.ndarray[Any, Any]) -> list[str]:
        x = LEFT + (WIDTH - LEFT - 10.0) * np.array(times) / end
        y = HEIGHT - FOOT - (HEIGHT - FOOT - 10.0) * (row - low) / (high - low)
        return [f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True)]

    shapes = []
    for least, most, colour in BANDS:
        lower, upper = (points(np.quantile(values, share, axis=0)) for share in (least, most))
        shapes.append(el("polygon", {"points": " ".join([*lower, *reversed(upper)]), "fill": colour}))
    median = " ".join(points(np.quantile(values, 0.5, axis=0)))
    shapes.append(el("polyline", {"points": median, "fill": "none", "stroke": "#173f66", "stroke-width": 1.5}))
    return frame(shapes, (0.0, end, TIME), (low, high, unit), f"Spread of {name} over time")


def histogram(scores: Sequence[float]) -> Markup:
    """How many plants reached which score of 100, in steps of 5, as an SVG picture."""
    counts, _ = np.histogram(np.array(scores), bins=20, range=(0.0, 100.0))
    most = max(int(counts.max()), 1)
    wide = (WIDTH - LEFT - 10.0) / 20.0
    bars = [
        el(
            "rect",
            {
                "x": LEFT + n * wide + 1.0,
                "y": HEIGHT - FOOT - (HEIGHT - FOOT - 10.0) * count / most,
                "width": wide - 2.0,
                "height": (HEIGHT - FOOT - 10.0) * count / most,
                "fill": "#3d7ab3",
            },
        )
        for n, count in enumerate(counts.tolist())
    ]
    return frame(bars, (0.0, 100.0, "score, points"), (0.0, float(most), "plants"), "Scores of all plants")


def round_marks(low: float, high: float, about: int) -> list[float]:
    """Round numbers from ``low`` to ``high``, some ``about`` of them; whole ones where the range allows it.

    >>> round_marks(0.0, 173.0, 4), round_marks(2567.0, 3259.0, 4)
    ([0.0, 50.0, 100.0, 150.0], [2600.0, 2800.0, 3000.0, 3200.0])
    """
    step = round_step((high - low) / about)
    first = math.ceil(low / step - 1e-9)
    return [n * step for n in range(first, math.floor(high / step + 1e-9) + 1)]


def frame(shapes: list[Markup], across: tuple[float, float, str], up: tuple[float, float, str], label: str) -> Markup:
    """A plot's axes around ``shapes``: least, greatest and unit of each, and what a reader without eyes hears."""
    text = {"font-size": 12, "fill": "#182029", "font-family": "sans-serif"}
    marks = []
    for value in round_marks(across[0], across[1], 8):
        x = LEFT + (WIDTH - LEFT - 10.0) * (value - across[0]) / (across[1] - across[0])
        marks.append(el("text", {**text, "x": x, "y": HEIGHT - FOOT + 16.0, "text-anchor": "middle"}, f"{value:,.6g}"))
    for height in round_marks(up[0], up[1], 4):
        y = HEIGHT - FOOT - (HEIGHT - FOOT - 10.0) * (height - up[0]) / (up[1] - up[0])
        marks.append(el("line", {"x1": LEFT, "x2": WIDTH - 10.0, "y1": y, "y2": y, "stroke": "#c9d0d6"}))
        marks.append(el("text", {**text, "x": LEFT - 6.0, "y": y + 4.0, "text-anchor": "end"}, f"{height:,.6g}"))
    names = [
        el("text", {**text, "x": 0.5 * (LEFT + WIDTH), "y": HEIGHT - 3.0, "text-anchor": "middle"}, across[2]),
        el("text", {**text, "x": 2.0, "y": 11.0}, up[2]),
    ]
    box = {"viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}", "role": "img", "aria-label": label, "width": "100%",
           "xmlns": "http://www.w3.org/2000/svg"}  # fmt: skip
    return el("svg", box, marks, shapes, names)
