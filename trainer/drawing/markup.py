"""A small builder of well-formed HTML and SVG text.

What it writes is both HTML and well-formed XML, so a board can be parsed, filled with readings and checked
without a browser. Text is escaped unless it is ``Markup`` already.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from html import escape
from typing import Any, Final

from trainer.wording import Wording, glued

_VOID: Final = frozenset({"input", "br", "hr", "img"})


#: The controls of the Unicode Bidirectional Algorithm (UAX #9, table 4): they can make a text read other than it is.
_BIDI: Final = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def without_bidi(text: str) -> str:
    """The text without the controls of its direction, which can make it read other than it is."""
    return text if text.isascii() else _BIDI.sub("", text)


class Markup(Wording):
    """Text that is markup already and must not be escaped again. The quantities of its texts are still amounts."""


Child = Any  # Markup, plain text, a number, None, or nested iterables of those


def join(*children: Child) -> Markup:
    """Concatenate children: ``Markup`` as it is, text and numbers escaped, ``None`` and ``False`` dropped."""
    parts: list[str] = []
    _gather(children, parts)
    return glued(Markup, parts)


def _gather(children: Iterable[Child], parts: list[str]) -> None:
    for child in children:
        if child is None or child is False:
            continue
        if isinstance(child, Markup):
            parts.append(child)
        elif isinstance(child, str):
            parts.append(_escaped(child, quote=False))
        elif isinstance(child, Iterable):
            _gather(child, parts)
        else:
            parts.append(escape(str(child), quote=False))


def _escaped(text: str, quote: bool) -> str:
    """The text as it stands in markup, with its amounts."""
    if isinstance(text, Wording) and text.amounts:
        return text.between(lambda piece: escape(without_bidi(piece), quote))
    return escape(without_bidi(text), quote)


def _attribute(name: str, value: object) -> Iterable[str]:
    if isinstance(value, bool):
        value = "true" if value else "false"
    elif isinstance(value, float):
        value = shorten(value)
    elif isinstance(value, Mapping):
        value = json.dumps(value, separators=(",", ":"))
    return f' {name}="', _escaped(value if isinstance(value, str) else str(value), quote=True), '"'


def el(tag: str, attributes: Mapping[str, object] | None = None, *children: Child) -> Markup:
    """One element. An attribute that is ``None`` is left out, a mapping is written as JSON."""
    parts = [f"<{tag}"]
    for name, value in (attributes or {}).items():
        if value is not None:
            parts += _attribute(name, value)
    if tag in _VOID:
        parts.append("/>")
    else:
        parts.append(">")
        _gather(children, parts)
        parts.append(f"</{tag}>")
    return glued(Markup, parts)


def plain_table(head: Iterable[Child], rows: Iterable[Child], caption: Child = None, css: str | None = None) -> Markup:
    """A table to be read: its caption, its head where any column has a name, and its rows.

    A row is a ``tr`` that is markup already, or its cells, each text or markup.
    """
    heads = [el("th", {"scope": "col"}, word) for word in head]
    lines = (one if isinstance(one, Markup) else el("tr", {}, [el("td", {}, cell) for cell in one]) for one in rows)
    return el(
        "table",
        {"class": css},
        el("caption", {}, caption) if caption else None,
        el("thead", {}, el("tr", {}, heads)) if heads else None,
        el("tbody", {}, lines),
    )


def shorten(number: float) -> str:
    """A coordinate with at most two decimals and no trailing zeros."""
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def hidden(*children: Child) -> Markup:
    """Text for screen readers only, as a span that the page's style hides from sight."""
    return el("span", {"class": "sr"}, *children)


def live(key: str, initial: str = "–", **attributes: object) -> Markup:
    """A span whose text is the reading ``key``; it shows ``initial`` until the first one comes."""
    return el("span", {"data-text": key, **{k.replace("_", "-"): v for k, v in attributes.items()}}, initial)


def command(do: str, target: str, value: float | str | None = None) -> dict[str, object]:
    """The ``data-send`` payload: a command without time and station, which the board's script adds."""
    sent: dict[str, object] = {"do": do, "target": target}
    if value is not None:
        sent["value"] = value
    return sent
