"""Fill a board's bindings with readings, without a browser: for previews, prints and tests.

The live page does the same in its script; this is the same language in Python.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable, Mapping
from typing import Any, Final

from trainer.drawing.markup import Markup, shorten

Reading = Mapping[str, Any]
_SWEEP: Final = (-130.0, 130.0)


def _number(node: ET.Element, name: str, fallback: float) -> float:
    value = node.get(name)
    return float(value) if value else fallback


def _text(node: ET.Element, reading: Reading) -> None:
    node.text = str(reading.get("text", node.text or ""))


def _state(node: ET.Element, reading: Reading) -> None:
    state = str(reading.get("state", ""))
    node.set("data-value", state)
    for name in ("aria-pressed", "aria-checked"):
        if node.get("data-when") is not None and node.get(name) is not None:
            node.set(name, "true" if state == node.get("data-when") else "false")


def _title(node: ET.Element, reading: Reading) -> None:
    if "title" in reading:
        node.set("aria-label", str(reading["title"]))


def _share(reading: Reading) -> float:
    return min(1.0, max(0.0, float(reading.get("fraction", 0.0))))


def _unit(node: ET.Element, reading: Reading) -> None:
    if "unit" in reading:
        node.text = str(reading.get("symbol", reading["unit"]))
        node.set("data-value", str(reading["unit"]))


def _needle(node: ET.Element, reading: Reading) -> None:
    low, high = _number(node, "data-sweep-from", _SWEEP[0]), _number(node, "data-sweep-to", _SWEEP[1])
    node.set("transform", f"rotate({shorten(low + (high - low) * _share(reading))})")


def _fill(node: ET.Element, reading: Reading) -> None:
    size = "width" if node.get("data-fill-axis") == "x" else "height"
    full = node.get("data-full")
    if full is None:
        node.set("style", f"{size}:{shorten(100.0 * _share(reading))}%")
        return
    length = float(full) * _share(reading)
    node.set(size, shorten(length))
    if size == "height" and node.get("data-bottom"):
        node.set("y", shorten(_number(node, "data-bottom", 0.0) - length))


def _shift(node: ET.Element, reading: Reading) -> None:
    x, y = (_number(node, name, 0.0) * _share(reading) for name in ("data-dx", "data-dy"))
    node.set("transform", f"translate({shorten(x)} {shorten(y)})")


def _flow(node: ET.Element, reading: Reading) -> None:
    node.set("data-flowing", str(reading.get("flow", "none")))


def _pressure(node: ET.Element, reading: Reading) -> None:
    node.set("data-level", str(reading.get("level", "dead")))


_ACTS: Final[Mapping[str, Callable[[ET.Element, Reading], None]]] = {
    "data-text": _text,
    "data-state": _state,
    "data-title": _title,
    "data-unit": _unit,
    "data-needle": _needle,
    "data-fill": _fill,
    "data-shift": _shift,
    "data-flow": _flow,
    "data-pressure": _pressure,
}


def fill_in(markup: str, readings: Mapping[str, Reading]) -> Markup:
    """The markup with every binding filled from ``readings``; ``ParseError`` when it is not well formed."""
    ET.register_namespace("", "http://www.w3.org/2000/svg")
    root = ET.fromstring(markup)
    for node in root.iter():
        for name, act in _ACTS.items():
            key = node.get(name)
            if key is not None and key in readings:
                act(node, readings[key])
    text = ET.tostring(root, encoding="unicode", short_empty_elements=False)
    return Markup(text.replace("></input>", "/>"))


def keys_of(markup: str) -> tuple[str, ...]:
    """Every reading a board binds, each once, in the order of the markup."""
    found: dict[str, None] = {}
    for node in ET.fromstring(markup).iter():
        for name in _ACTS:
            key = node.get(name)
            if key is not None:
                found.setdefault(key)
    return tuple(found)
