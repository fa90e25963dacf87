"""Where a patch for the page has texts that people read or hear, and how they are put in other words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from html import escape, unescape
from typing import Any, Final

from trainer.console.presenter import Patch
from trainer.console.reading import Reading

Tell = Callable[[str], str]

_TAG: Final = re.compile(r"(<[^>]*>)")
_SAID: Final = re.compile(r'((?:aria-label|title|placeholder|aria-description|label)=")([^"]*)(")')
_STYLE: Final = re.compile(r"(<style\b.*?</style>)", re.DOTALL)
_WORDS: Final = ("text", "title")
"""Parts of a reading that are words for people."""
_PARTS: Final = ("axis_label", "title", "placeholder")
"""Properties of charts and fields that are words."""
_KEPT: Final = ("page.learn_kept", "page.attempt", "page.first_run", "page.learn_look")
"""Texts that the browser keeps for the page: no person reads them."""


def retell(patch: Mapping[str, Mapping[str, Any]], text: Tell, markup: Tell) -> Patch:
    """The patch with every plain text for people as ``text`` gives it, and all markup as ``markup`` does."""
    out: Patch = {}
    for name, change in patch.items():
        told = out[name] = dict(change)
        if "markup" in told:
            told["markup"] = markup(told["markup"])
        for part in _PARTS:
            if isinstance(told.get(part), str):
                told[part] = text(told[part])
        if "readings" in told:
            told["readings"] = {key: _reading(key, value, text, markup) for key, value in told["readings"].items()}
    return out


def _reading(key: str, reading: Reading, text: Tell, markup: Tell) -> Reading:
    if key in _KEPT:
        return dict(reading)
    out = dict(reading)
    for part in _WORDS:
        if isinstance(out.get(part), str):
            out[part] = text(out[part])
    if isinstance(out.get("html"), str):
        out["html"] = markup(out["html"])
    return out


def retell_markup(markup: str, text: Tell) -> str:
    """Markup with its texts and spoken names as ``text`` gives them."""
    return "".join(
        piece if piece.startswith("<style") else _retell_markup(piece, text) for piece in _STYLE.split(markup)
    )


def _retell_markup(markup: str, text: Tell) -> str:
    pieces = _TAG.split(markup)
    for at, piece in enumerate(pieces):
        if piece.startswith("<"):
            pieces[at] = _SAID.sub(lambda said: said[1] + escape(text(unescape(said[2]))) + said[3], piece)
        elif bare := piece.strip():
            left, _, right = piece.partition(bare)
            pieces[at] = left + escape(text(unescape(bare)), quote=False) + right
    return "".join(pieces)
