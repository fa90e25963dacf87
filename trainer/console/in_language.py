"""A patch in the language of the page: the last thing before it goes there, as with the units.

Everything is written in English and in English notation up to here, so what is kept, hashed and compared is the same in
every language. Text that a person typed or that comes with a file of their own has no translation and stays.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from html import escape, unescape
from typing import Final

from trainer import languages, units
from trainer.console.in_units import KEPT, in_units
from trainer.console.presenter import Patch
from trainer.console.reading import Reading

_TAG: Final = re.compile(r"(<[^>]*>)")
_SAID: Final = re.compile(r'((?:aria-label|title|placeholder|aria-description|label)=")([^"]*)(")')
_TERM: Final = re.compile(r"<dfn\b[^>]*>(.*?)</dfn>", re.DOTALL)
"""A marked word of the trade: its sentence has to be whole, so in another language it is not marked."""
_STYLE: Final = re.compile(r"(<style\b.*?</style>)", re.DOTALL)
_WORDS: Final = ("text", "title")
_PARTS: Final = ("axis_label", "title", "placeholder")
"""Properties of charts and fields that are words."""


PAGE: Final = (
    "Well control panel trainer",
    "Share of the points over the attempts; the table tells the same",  # words: ok (as in the page)
    "Flow out less flow in, last minutes",
    "Pit gain, last minutes",
    "Pressures of the well, last minutes",
    "On the way",
    "Trends and alarms",
    "Flow in and out",
    "Pit gain",
    "Shut-in pressures",
    "System pressures",
    "Diagnosis",
    "Flow in and out over the run",
    "Pressures over the run",
)
"""Texts that stand in the page itself (``pages.py``), outside its boards."""


def page_texts(language: str) -> Reading:
    """What the page needs to be in a language: its id, its direction, and by their English its own texts."""
    words = languages.words(language)
    said = {} if words is None else {text: words.tell(text) for text in PAGE}
    return {"state": language, "direction": languages.languages()[language].direction, "said": said}


def in_language(patch: Patch, language: str, system: units.System) -> Patch:
    """A patch for the page in its language and in the chosen units."""
    words = languages.words(language)
    if words is None:
        return in_units(patch, system)
    # A sentence is known by its own numbers: so first the words, then the units, then how numbers are written.
    said = _each(patch, words.tell)
    return _each(in_units(said, system), words.number)


def _each(patch: Patch, tell: Callable[[str], str]) -> Patch:
    """The patch with every text for people as ``tell`` gives it."""
    out: Patch = {}
    for name, change in patch.items():
        said = out[name] = dict(change)
        if "markup" in said:
            said["markup"] = markup(said["markup"], tell)
        for part in _PARTS:
            if isinstance(said.get(part), str):
                said[part] = tell(said[part])
        if "readings" in said:
            said["readings"] = {key: _reading(key, reading, tell) for key, reading in said["readings"].items()}
    return out


def _reading(key: str, reading: Reading, tell: Callable[[str], str]) -> Reading:
    if key in KEPT:
        return dict(reading)
    out = dict(reading)
    for part in _WORDS:
        if isinstance(out.get(part), str) and "content" not in out:
            out[part] = tell(out[part])
    if isinstance(out.get("html"), str):
        out["html"] = markup(out["html"], tell)
    return out


def markup(text: str, tell: Callable[[str], str]) -> str:
    """Markup with its texts and spoken names as ``tell`` gives them."""
    whole = _STYLE.split(_TERM.sub(r"\1", text))
    return "".join(piece if piece.startswith("<style") else _markup(piece, tell) for piece in whole)


def _markup(text: str, tell: Callable[[str], str]) -> str:
    pieces = _TAG.split(text)
    for at, piece in enumerate(pieces):
        if piece.startswith("<"):
            pieces[at] = _SAID.sub(lambda said: said[1] + escape(tell(unescape(said[2]))) + said[3], piece)
        elif bare := piece.strip():
            left, _, right = piece.partition(bare)
            pieces[at] = left + escape(tell(unescape(bare)), quote=False) + right
    return "".join(pieces)
