"""The saved page's boards in pieces: those of the first page, and those that come once that page answers.

Bokeh draws a document whole, and four fifths of the page's work at its start were boards and charts that nobody sees
yet. Here the one document is cut into several that share no part but style sheets; each is what Bokeh reads anywhere.
"""

from __future__ import annotations

import html
import json
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from trainer.takeaway.errors import SiteError

FIRST = ("header", "chooser", "brief")
"""Boards of which the first page's own patch tells."""
AT_ONCE = 8
"""Boards that are drawn in one go; between two goes the browser hears what a hand did."""
FOLD_FROM = 1000
"""Texts from this length on are worth writing once."""
SHARED = ("ImportedStyleSheet", "InlineStyleSheet")
"""Models that may be copied into each document: nothing about them changes."""
STRANGE = "The page that Panel saved has another form than expected; check the version of Panel."

Tree = dict[str, Any]
"""A mapping out of a document as Bokeh writes it: a model, or what belongs to one."""

_DOCUMENT = re.compile(r'<script type="application/json" id="[^"]+">(.*?)</script>', re.S)
_EMBED = re.compile(r"<script>\s*\(function\(\) \{(?:(?!</script>).)*const render_items = (\[.*?\]);.*?</script>", re.S)


def in_pieces(text: str) -> str:
    """The page with its document cut: ``first`` and ``later`` are lists of what ``embed_items`` takes, each a pair.

    A text that stands in them more than once is written once, in the list ``folds``, and where it stood is its place
    there. The script that would draw the whole is gone: ``pieces.js`` does it. SiteError for a page of another form.
    """
    document, embed = _DOCUMENT.search(text), _EMBED.search(text)
    if document is None or embed is None:
        raise SiteError(STRANGE)
    whole, places = json.loads(html.unescape(document[1])), json.loads(embed[1])
    if len(whole) != 1 or len(places) != 1:
        raise SiteError(STRANGE)
    docid, one = whole.popitem()
    pieces = [
        _piece(one, f"{docid}-{at}", places[0], roots) for at, roots in enumerate(filter(None, _groups(one["roots"])))
    ]
    folds = [long for long, times in Counter(_long_texts(pieces)).items() if times > 1]
    places_of = {long: f"@fold {at}" for at, long in enumerate(folds)}
    first, later = (_folded(some, places_of) for some in (pieces[:1], pieces[1:]))
    scripts = (("folds", folds), ("first", first), ("later", later))
    text = text.replace(embed[0], "", 1)
    return text.replace(document[0], "".join(_script(name, content) for name, content in scripts), 1)


def _groups(roots: list[Tree]) -> Iterator[list[Tree]]:
    """The roots by piece: the first page, some boards at once, then everything that shares models."""
    boards = [root for root in roots if "esm" in root["attributes"]]
    yield [root for root in boards if root["attributes"]["name"] in FIRST]
    alone = [root for root in boards if root["attributes"]["name"] not in (*FIRST, "diagnosis")]
    for at in range(0, len(alone), AT_ONCE):
        yield alone[at : at + AT_ONCE]
    # The board of the diagnosis reads the fields beside it.
    yield [root for root in roots if root not in alone and root["attributes"].get("name") not in FIRST]


def _piece(document: Tree, docid: str, item: Tree, roots: list[Tree]) -> tuple[Tree, list[Tree]]:
    """A document of some of the roots, and the items that say where they go."""
    definitions = {model["id"]: model for model in _models(document["roots"])}
    ids = [root["id"] for root in roots]
    cut = document | {"roots": _whole(roots, definitions, set())}
    return {docid: cut}, [{"docid": docid, "roots": {key: item["roots"][key] for key in ids}, "root_ids": ids}]


def _models(value: object) -> Iterator[Tree]:
    if isinstance(value, dict):
        if value.get("type") == "object" and "id" in value:
            yield value
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from _models(one)


def _whole(value: object, definitions: dict[str, Tree], there: set[str]) -> object:
    """The value with each model defined where it is named first; SiteError for one that two pieces would share."""
    if isinstance(value, list):
        return [_whole(one, definitions, there) for one in value]
    if not isinstance(value, dict):
        return value
    if set(value) == {"id"} and value["id"] not in there:
        value = definitions[value["id"]]
        if value["name"] not in SHARED:
            raise SiteError(f"Two pieces of the page share a {value['name']}; let one piece have both.")
    if value.get("type") == "object" and "id" in value:
        there.add(value["id"])
    return {key: _whole(one, definitions, there) for key, one in value.items()}


def _long_texts(value: object) -> Iterator[str]:
    if isinstance(value, str) and len(value) >= FOLD_FROM:
        yield value
    for one in value.values() if isinstance(value, dict) else value if isinstance(value, list | tuple) else ():
        yield from _long_texts(one)


def _folded(value: object, folds: dict[str, str]) -> object:
    if isinstance(value, str):
        return folds.get(value, value)
    if isinstance(value, dict):
        return {key: _folded(one, folds) for key, one in value.items()}
    return [_folded(one, folds) for one in value] if isinstance(value, list | tuple) else value


def _script(name: str, content: object) -> str:
    text = json.dumps(content, separators=(",", ":")).replace("<", "\\u003c")
    return f'<script type="application/json" id="{name}">{text}</script>\n'
