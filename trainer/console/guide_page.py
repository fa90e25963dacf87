"""The guides for trainee, instructor and assessor as one page each, for print, in one file that needs nothing else.

The steps lie in ``assets/text/learn/guide.toml``; boards and words are those of the help on the page.
"""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any

from trainer import resources
from trainer.console.about import boards
from trainer.console.shell import SAFETY, VIEWS
from trainer.drawing.glossary import glossary, listed
from trainer.drawing.markup import Markup, el

TITLE = "Guides"


@cache
def guides() -> dict[str, dict[str, object]]:
    """The steps, boards and words of each role's guide."""
    path = resources.assets() / "text" / "learn" / "guide.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@cache
def html() -> str:
    """All guides as one HTML page; each prints on a sheet of its own."""
    css = (resources.assets() / "style" / "guide.css").read_text("utf-8")
    ways = [el("a", {"href": f"#{role}"}, guide["title"]) for role, guide in guides().items()]
    nav = el("nav", {"aria-label": TITLE}, ways, el("span", {}, "Print this page for three sheets of paper."))
    body = el("body", {}, nav, el("main", {}, [_guide(role, guide) for role, guide in guides().items()]))
    head = (
        '<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{TITLE}: well control panel trainer</title><style>{css}</style></head>"
    )
    return f'<!DOCTYPE html>\n<html lang="en">{head}{body}</html>\n'


def _guide(role: str, guide: dict[str, Any]) -> Markup:
    named = dict(VIEWS)
    said = [(named.get(name) or boards()[name]["title"], boards()[name]) for name in guide["boards"]]
    return el(
        "article",
        {"id": role, "aria-label": guide["title"]},
        el("h1", {}, guide["title"], el("span", {}, " · Well control panel trainer")),
        el("h2", {}, "What to do"),
        el("ol", {}, [el("li", {}, step) for step in guide["steps"]]),
        el(
            "div",
            {"class": "two"},
            el(
                "section",
                {},
                el("h2", {}, "The boards"),
                el(
                    "dl",
                    {},
                    [[el("dt", {}, title), el("dd", {}, f"{entry['what']} {entry['do']}")] for title, entry in said],
                ),
            ),
            el("section", {}, el("h2", {}, "Words"), listed(glossary()[word] for word in guide["words"])),
        ),
        el("p", {"class": "safety"}, SAFETY),
    )
