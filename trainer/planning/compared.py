"""Measured against modelled: the outcome of a calibration as one HTML file with a plot for each instrument."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trainer import resources
from trainer.drawing.markup import Markup, el, plain_table
from trainer.planning.ensemble.plots import FOOT, HEIGHT, LEFT, TIME, WIDTH, frame
from trainer.planning.sheet_out import SAFETY


def page(title: str, document: dict[str, Any]) -> str:
    """The page as HTML text; ``document`` is what the command prints as JSON, values in the units given there."""
    rows = []
    for row in document["fitted"]:
        value = f"{row['value']:.4g} {row['unit']}" if row["told"] else "the readings do not tell it"
        rows.append((row["title"], row["before"], value, f"{row['low']:.4g} to {row['high']:.4g} {row['unit']}"))
    parts: list[Markup] = []
    for column in document["columns"]:
        parts.append(el("h2", {}, f"{column['meaning']} ({column['tag']})"))
        parts.append(plot(document["times"], column))
        unit = column["unit"]
        said = f"Model off by {column['off']:g} {unit} rms; noise of the readings {column['noise']:g} {unit}."
        parts.append(el("p", {}, said))
    css = (resources.assets() / "style" / "report.css").read_text("utf-8")
    name = f"{title}, fitted to readings"
    body = el(
        "body",
        {},
        el("h1", {}, name),
        plain_table(("What", "Before", "Fitted", "95 % interval"), rows),
        el("p", {}, f"Misfit {document['misfit']:g}: 1 means that nothing but the readings' own noise is left."),
        parts,
        el("p", {"class": "soft"}, "Dots: measured; line: model. " + SAFETY),
    )
    head = f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">{el("title", {}, name)}'
    return f"{head}<style>{css}</style></head>{body}</html>\n"


def plot(times: Sequence[float], column: dict[str, Any]) -> Markup:
    """Dots for what was measured and a line for what the fitted plant reads."""
    both = [*column["measured"], *column["modelled"]]
    low, high = min(both), max(both)
    if high - low < 1e-9:
        low, high = low - 1.0, high + 1.0
    end = max(times[-1], 1e-9)

    def place(t: float, value: float) -> tuple[float, float]:
        x = LEFT + (WIDTH - LEFT - 10.0) * t / end
        return x, HEIGHT - FOOT - (HEIGHT - FOOT - 10.0) * (value - low) / (high - low)

    dots = []
    for t, value in zip(times, column["measured"], strict=True):
        x, y = place(t, value)
        dots.append(el("circle", {"cx": f"{x:.1f}", "cy": f"{y:.1f}", "r": 2, "fill": "#b4551a"}))
    way = " ".join("{:.1f},{:.1f}".format(*place(t, v)) for t, v in zip(times, column["modelled"], strict=True))
    line = el("polyline", {"points": way, "fill": "none", "stroke": "#173f66", "stroke-width": 1.5})
    return frame([*dots, line], (0.0, end, TIME), (low, high, column["unit"]), f"Measured and modelled {column['tag']}")
