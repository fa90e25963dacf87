"""Which readings a board shows: found in the board's own markup, so that no list has to be kept beside it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

#: What an element may show of a reading; ``board.js`` has one small function for each.
KINDS = (
    "text",
    "state",
    "title",
    "unit",
    "needle",
    "fill",
    "shift",
    "pick",
    "flow",
    "pressure",
    "html",
    "dialog",
    "download",
    "sound",
    "noise",
    "look",
    "keep",
)

Bindings = Mapping[str, tuple[str, ...]]

_ATTRIBUTE = re.compile(rf"""\bdata-({"|".join(KINDS)})=(?:"([^"]+)"|'([^']+)')""")


@lru_cache(maxsize=128)
def bindings(markup: str) -> Bindings:
    """The keys a board binds and what it shows of each; the boards of a plant are the same in every run.

    >>> bindings('<b data-text="tank.level"></b><i data-fill="tank.level"></i>')
    {'tank.level': ('text', 'fill')}
    """
    found: dict[str, list[str]] = {}
    for kind, double, single in _ATTRIBUTE.findall(markup):
        kinds = found.setdefault(double or single, [])
        if kind not in kinds:
            kinds.append(kind)
    return {key: tuple(kinds) for key, kinds in found.items()}
