"""The picture with its readings written in, for an exercise: what the page's script does for a board, done in text.

It reads markup as ``drawing.markup`` writes it, and needs no parser: the edition without a server has none.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from trainer.drawing.markup import Markup, shorten
from trainer.drawing.picture.ink import FROM, TO

Readings = Mapping[str, Mapping[str, Any]]
_TAG: Final = re.compile(r"<[a-z]+ [^>]*\bdata-(?:state|needle|fill|pressure|flow|text)=[^>]*>[^<]*")
_ATTRIBUTE: Final = re.compile(r'([\w-]+)="([^"]*)"')


def still(markup: str, readings: Readings) -> Markup:
    """The markup with every state, needle, level, pressure, flow and number as ``readings`` gives them."""
    return Markup(_TAG.sub(lambda found: _filled(found[0], readings), markup))


def _filled(text: str, readings: Readings) -> str:
    tag, _, after = text.partition(">")
    given = dict(_ATTRIBUTE.findall(tag))
    changed: dict[str, str] = {}

    def reading(name: str) -> Mapping[str, Any] | None:
        return readings.get(given.get(f"data-{name}", ""))

    if (state := reading("state")) is not None:
        changed["data-value"] = str(state.get("state", ""))
    if (pressure := reading("pressure")) is not None:
        changed["data-level"] = str(pressure.get("level", "dead"))
    if (flow := reading("flow")) is not None:
        changed["data-flowing"] = str(flow.get("flow", "none"))
    if (needle := reading("needle")) is not None:
        changed["transform"] = f"rotate({shorten(FROM + (TO - FROM) * float(needle.get('fraction', 0.0)))})"
    if (level := reading("fill")) is not None:
        high = float(given["data-full"]) * float(level.get("fraction", 0.0))
        changed |= {"height": shorten(high), "y": shorten(float(given["data-bottom"]) - high)}
    if (number := reading("text")) is not None:
        after = str(number.get("text", after))
    if not changed:
        return f"{tag}>{after}"
    name, ends = tag.split(" ", 1)[0], "/" if tag.endswith("/") else ""
    written = "".join(f' {key}="{value}"' for key, value in {**given, **changed}.items())
    return f"{name}{written}{ends}>{after}"
