"""Fill a board's bindings with readings, without a browser: for previews, prints and tests.

The live page does the same in its script; this is the same language in Python.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping
from typing import Any

from trainer.drawing.markup import Markup

Reading = Mapping[str, Any]


def _number(value: str | None, fallback: float) -> float:
    return float(value) if value else fallback


def _apply(node: ET.Element, readings: Mapping[str, Reading]) -> None:
    def of(attribute: str) -> Reading:
        return readings.get(node.get(attribute, ""), {})

    if node.get("data-text") and "text" in of("data-text"):
        node.text = str(of("data-text")["text"])
    if node.get("data-state") and "state" in of("data-state"):
        node.set("data-value", str(of("data-state")["state"]))
    if node.get("data-title") and "text" in of("data-title"):
        node.set("aria-label", str(of("data-title")["text"]))
    if node.get("data-needle") and "fraction" in of("data-needle"):
        low = _number(node.get("data-sweep-from"), -130.0)
        high = _number(node.get("data-sweep-to"), 130.0)
        share = min(1.0, max(0.0, float(of("data-needle")["fraction"])))
        node.set("transform", f"rotate({low + (high - low) * share:.1f})")
    if node.get("data-fill") and "fraction" in of("data-fill"):
        style = node.get("style", "")
        node.set("style", f"{style};--fraction:{float(of('data-fill')['fraction']):.4f}".lstrip(";"))
    if node.get("data-flow") and "flowing" in of("data-flow"):
        node.set("data-flowing", str(of("data-flow")["flowing"]))
    if node.get("data-pressure") and "level" in of("data-pressure"):
        node.set("data-level", str(of("data-pressure")["level"]))


def fill_in(markup: str, readings: Mapping[str, Reading]) -> Markup:
    """The markup with every binding filled from ``readings``; raises ``ParseError`` when it is not well formed."""
    root = ET.fromstring(markup)
    for node in root.iter():
        _apply(node, readings)
    return Markup(ET.tostring(root, encoding="unicode", short_empty_elements=False).replace("></input>", "/>"))
