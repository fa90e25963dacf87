"""Where a patch for the page has texts that people read or hear, and how they are put in other words."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from html import escape, unescape
from typing import Final

from trainer.console.presenter import Patch
from trainer.console.reading import Reading
from trainer.wording import Wording

Tell = Callable[[str], str]

_TAG: Final = re.compile(r"<[^>]*>")
_SAID: Final = re.compile(r'((?:aria-label|title|placeholder|aria-description|label)=")([^"]*)(")')
_STYLE: Final = re.compile(r"<style\b.*?</style>", re.DOTALL)
_WORDS: Final = ("text", "title")
"""Parts of a reading that are words for people."""
_PARTS: Final = ("axis_label", "title", "placeholder")
"""Properties of charts and fields that are words."""
_KEPT: Final = ("page.learn_kept", "page.attempt", "page.first_run", "page.learn_look")
"""Texts that the browser keeps for the page: no person reads them."""


def retell(patch: Mapping[str, Mapping[str, object]], text: Tell, markup: Tell) -> Patch:
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
    """Markup with its texts and spoken names as ``text`` gives them; what it is given has the amounts of its place."""
    out: list[str] = []
    for style, piece in _split(_STYLE, markup):
        for tag, part in [(True, piece)] if style else _split(_TAG, piece):
            if not tag:
                out.append(_bare(part, text))
            elif style:
                out.append(part)
            else:
                out += _named(part, text)
    return "".join(out)


def _split(pattern: re.Pattern[str], text: str) -> Iterator[tuple[bool, str]]:
    """The text in slices, each with whether it is what the pattern looks for."""
    at = 0
    for hit in pattern.finditer(text):
        yield False, text[at : hit.start()]
        yield True, text[hit.start() : hit.end()]
        at = hit.end()
    yield False, text[at:]


def _named(tag: str, text: Tell) -> Iterator[str]:
    """A tag with its spoken names told."""
    at = 0
    for said in _SAID.finditer(tag):
        yield tag[at : said.start(2)]
        yield escape(text(_unescaped(tag[said.start(2) : said.end(2)])))
        at = said.end(2)
    yield tag[at:]


def _bare(piece: str, text: Tell) -> str:
    """What stands between two tags, told; the space around it stays."""
    left, right = len(piece) - len(piece.lstrip()), len(piece.rstrip())
    if left >= right:
        return piece
    return piece[:left] + escape(text(_unescaped(piece[left:right])), quote=False) + piece[right:]


def _unescaped(text: str) -> str:
    return text.between(unescape) if isinstance(text, Wording) else unescape(text)
