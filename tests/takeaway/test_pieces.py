"""The saved page in pieces: each stands by itself, and none of the boards is lost or there twice."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest

from trainer.console.charts import Charts
from trainer.console.pages import PLACES, SHELL
from trainer.takeaway.build import SiteReport
from trainer.takeaway.errors import SiteError
from trainer.takeaway.pieces import FIRST, in_pieces

PAGE = """<body><script type="application/json" id="m1">{document}</script>
<script>
(function() {{ const render_items = {items}; root.Bokeh.embed.embed_items(docs_json, render_items) }})()
</script></body>"""


def told(page: str, name: str) -> Any:
    """What the page has under a name for its script."""
    found = re.search(rf'<script type="application/json" id="{name}">(.*?)</script>', page, re.S)
    assert found, name
    return json.loads(found[1])


def within(value: Any) -> Iterator[Any]:
    """The mapping or list and all that are in it, in their order."""
    if isinstance(value, dict | list):
        yield value
        for one in value.values() if isinstance(value, dict) else value:
            yield from within(one)


def page(*roots: Any) -> str:
    """A saved page with these roots."""
    document = html.escape(json.dumps({"d": {"version": "3", "title": "t & t", "roots": roots}}), quote=False)
    places = {root["id"]: f"at-{root['id']}" for root in roots}
    return PAGE.format(document=document, items=json.dumps([{"docid": "d", "roots": places, "root_ids": [*places]}]))


def board(name: str, *more: Any) -> dict[str, Any]:
    """A board with some models in it."""
    return {
        "type": "object",
        "name": "Board",
        "id": name,
        "attributes": {"name": name, "esm": "x" * 1200, "more": more},
    }


def model(kind: str, name: str) -> dict[str, Any]:
    """A model where it is defined."""
    return {"type": "object", "name": kind, "id": name, "attributes": {}}


def test_every_board_and_chart_is_in_one_piece(site: SiteReport) -> None:
    text = (site.out / "index.html").read_text("utf-8")
    (first,), later = told(text, "first"), told(text, "later")
    names: list[str] = []
    for documents, (item,) in (first, *later):
        (document,) = documents.values()
        assert [root["id"] for root in document["roots"]] == item["root_ids"] == [*item["roots"]]
        names += [root["attributes"]["name"] for root in document["roots"] if "esm" in root["attributes"]]
        defined: set[str] = set()
        for value in within(document["roots"]):
            if isinstance(value, dict) and value.get("type") == "object":
                defined.add(value["id"])
            elif isinstance(value, dict) and set(value) == {"id"}:
                assert value["id"] in defined, "named before it is there"
    assert {*names[: len(FIRST)]} == {*FIRST}
    assert len(names) == len({*names})
    assert {*names} >= {*SHELL, *PLACES}
    count = sum(len(item["root_ids"]) for _, (item,) in (first, *later))
    assert count >= len(names) + len(Charts().figures)


def test_pieces_copy_style_sheets_and_nothing_else() -> None:
    sheet, source = model("ImportedStyleSheet", "s"), model("ColumnDataSource", "c")
    cut = in_pieces(page(board("header", sheet), board("alarms", {"id": "s"})))
    ((documents, _),) = told(cut, "later")
    (document,) = documents.values()
    assert document["roots"][0]["attributes"]["more"] == [sheet]
    assert document["title"] == "t & t"
    assert told(cut, "folds") == ["x" * 1200]
    assert "embed_items" not in cut
    with pytest.raises(SiteError, match="share a ColumnDataSource"):
        in_pieces(page(board("header", source), board("alarms", {"id": "c"})))


@pytest.mark.parametrize("strange", ["<body></body>", page(board("header")).replace("render_items", "items")])
def test_a_page_of_another_form_is_refused(strange: str) -> None:
    with pytest.raises(SiteError, match="another form"):
        in_pieces(strange)
