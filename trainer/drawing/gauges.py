"""Instruments: the round gauge, the bar gauge, the counter and the plain readout.

Every instrument shows its number and unit as text; the normal band is drawn on the scale and named in the
instrument's title, so nothing depends on colour.
"""

from __future__ import annotations

import math
from typing import Final

from trainer.drawing.context import DrawingContext, Scale
from trainer.drawing.markup import Markup, el, hidden, live, shorten

SWEEP_FROM: Final = -130.0  # degrees from straight up: the pointer at the low end
SWEEP_TO: Final = 130.0
_RADIUS: Final = 46.0


def _point(radius: float, degrees: float) -> tuple[float, float]:
    turn = math.radians(degrees)
    return radius * math.sin(turn), -radius * math.cos(turn)


def _arc(radius: float, start: float, end: float) -> str:
    x0, y0 = _point(radius, start)
    x1, y1 = _point(radius, end)
    large = 1 if end - start > 180.0 else 0
    return f"M{shorten(x0)} {shorten(y0)}A{radius:g} {radius:g} 0 {large} 1 {shorten(x1)} {shorten(y1)}"


def _degrees(scale: Scale, value: float) -> float:
    return SWEEP_FROM + (SWEEP_TO - SWEEP_FROM) * scale.fraction(value)


def _digits(value: float) -> str:
    text = f"{value:,.2f}".rstrip("0").rstrip(".")
    return text.replace("-0", "0") if text == "-0" else text


def band_words(scale: Scale) -> str:
    """The normal band in words with its unit, such as "normal 90 to 130 psi"; empty where there is none."""
    if scale.normal is None:
        return ""
    low, high = (_digits(round(v, 1 if abs(v) < 100 else 0)) for v in scale.normal)
    return f"normal {low} to {high} {scale.unit}".rstrip()


def _ring(radius: float, scale: Scale, angles: tuple[float, ...], length: float, css: str) -> Markup:
    marks = []
    for value in angles:
        x0, y0 = _point(radius, _degrees(scale, value))
        x1, y1 = _point(radius - length, _degrees(scale, value))
        marks.append(f"M{shorten(x0)} {shorten(y0)}L{shorten(x1)} {shorten(y1)}")
    return el("path", {"class": css, "d": "".join(marks)})


def dial_face(desk: DrawingContext, tag: str, numbers: bool = True) -> Markup:
    """The SVG face of a round gauge about its own centre, radius 52: scale, normal band, pointer."""
    scale = desk.scale(tag)
    labels = []
    if numbers:
        shown = scale.ticks if len(scale.ticks) <= 5 else scale.ticks[::2]
        for value in shown:
            x, y = _point(29.0, _degrees(scale, value))
            thousands = scale.high >= 10000
            text = _digits(value / 1000.0) + "k" if thousands and value else _digits(value)
            labels.append(el("text", {"class": "dial-number", "x": x, "y": y + 3.5}, text))
    band = None
    if scale.normal is not None:
        start, end = (_degrees(scale, v) for v in scale.normal)
        band = el("path", {"class": "dial-band", "d": _arc(_RADIUS + 3.5, start, max(end, start + 2.0))})
    return el(
        "g",
        {"class": "dial-face"},
        el("circle", {"class": "dial-ground", "r": 52}),
        el("path", {"class": "dial-rim", "d": _arc(52.0, -142.0, 142.0)}),
        band,
        el("path", {"class": "dial-scale", "d": _arc(_RADIUS, SWEEP_FROM, SWEEP_TO)}),
        _ring(_RADIUS, scale, scale.minor, 4.0, "dial-minor"),
        _ring(_RADIUS, scale, scale.ticks, 8.0, "dial-major"),
        labels,
        el(
            "g",
            {
                "class": "dial-needle",
                "data-needle": tag,
                "data-min": 0,
                "data-max": 1,
                "data-sweep-from": SWEEP_FROM,
                "data-sweep-to": SWEEP_TO,
                "transform": f"rotate({SWEEP_FROM:g})",
            },
            el("path", {"d": "M-3 9L-1 -41L1 -41L3 9Z"}),
        ),
        el("circle", {"class": "dial-hub", "r": 4.5}),
    )


def dial(desk: DrawingContext, tag: str, name: str, size: int = 108, card: str | None = None) -> Markup:
    """A round gauge ``size`` design units wide with its name, number and unit below.

    Without a scale number below 96 units: they could not be read.
    """
    scale = desk.scale(tag)
    words = band_words(scale)
    face = el(
        "svg",
        {"class": "dial", "viewBox": "-54 -54 108 97", "aria-hidden": "true", "focusable": "false"},
        dial_face(desk, tag, numbers=size >= 96),
    )
    return el(
        "div",
        {"class": "gauge", "style": f"--size:{size}", "data-tag": tag, "role": "group", "aria-label": name},
        face,
        el("p", {"class": "gauge-value"}, live(tag), hidden(f", {words}" if words else "")),
        _name(name, card),
    )


def _name(name: str, card: str | None) -> Markup:
    if card is None:
        return el("p", {"class": "gauge-name"}, name)
    return el("button", {"class": "gauge-name card-link", "type": "button", "data-open-card": card}, name)


def _band(scale: Scale, css: str, start: str, length: str) -> Markup | None:
    """The normal range beside a bar or a sight glass, from ``start`` over ``length``; None where there is none."""
    if scale.normal is None:
        return None
    low, high = (scale.fraction(value) * 100.0 for value in scale.normal)
    return el("span", {"class": css, "style": f"{start}:{low:.1f}%;{length}:{max(high - low, 1.0):.1f}%"})


def bar(desk: DrawingContext, tag: str, name: str) -> Markup:
    """A lying bar gauge: name and number above, fill and normal band below."""
    scale = desk.scale(tag)
    words = band_words(scale)
    return el(
        "div",
        {"class": "bar", "data-tag": tag, "role": "group", "aria-label": name},
        el(
            "p",
            {"class": "bar-line"},
            el("span", {"class": "bar-name"}, name),
            el("span", {"class": "bar-value"}, live(tag), hidden(f", {words}" if words else "")),
        ),
        el(
            "div",
            {"class": "bar-track", "aria-hidden": "true"},
            el("span", {"class": "bar-fill", "data-fill": tag, "data-fill-axis": "x"}),
            _band(scale, "bar-band", "left", "width"),
        ),
    )


def meter(desk: DrawingContext, tag: str, name: str) -> Markup:
    """A small instrument for a table: the number, and below it a thin bar with the normal band."""
    scale = desk.scale(tag)
    words = band_words(scale)
    return el(
        "div",
        {"class": "meter", "data-tag": tag, "role": "group", "aria-label": name},
        el("span", {"class": "meter-value"}, live(tag), hidden(f", {words}" if words else "")),
        el(
            "span",
            {"class": "bar-track meter-track", "aria-hidden": "true"},
            el("span", {"class": "bar-fill", "data-fill": tag, "data-fill-axis": "x"}),
            _band(scale, "bar-band", "left", "width"),
        ),
    )


def readout(tag: str, name: str, big: bool = False) -> Markup:
    """A number with its unit and name, without a scale; ``big`` for what is read from across the room."""
    css = "readout readout-big" if big else "readout"
    return el(
        "div",
        {"class": css, "data-tag": tag},
        el("span", {"class": "readout-name"}, name),
        el("span", {"class": "readout-value"}, live(tag)),
    )


def measured(tag: str, name: str, never: Markup, big: bool = False) -> Markup:
    """A number that is measured now and then; ``never`` says in its place that it was not yet."""
    return el("div", {"class": "tested", "data-pressure": tag}, readout(tag, name, big), never)


def column(desk: DrawingContext, tag: str, name: str) -> Markup:
    """A standing sight glass: level between bottom and top, number and name below."""
    scale = desk.scale(tag)
    return el(
        "div",
        {"class": "glass", "data-tag": tag, "role": "group", "aria-label": name},
        el(
            "div",
            {"class": "glass-tube", "aria-hidden": "true"},
            el("span", {"class": "glass-fill", "data-fill": tag, "data-fill-axis": "y"}),
            _band(scale, "glass-band", "bottom", "height"),
        ),
        el("p", {"class": "gauge-value"}, live(tag)),
        el("p", {"class": "gauge-name"}, name),
    )
