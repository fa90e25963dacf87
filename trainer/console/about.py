"""What a board is and how it is used, where one is: a card beside a run, a sheet to open on every other page.

The sentences lie in ``assets/text/learn/boards.toml``, the words of the trade in the glossary.
"""

from __future__ import annotations

import tomllib
from functools import cache

from trainer import resources
from trainer.drawing.glossary import glossary, listed
from trainer.drawing.markup import Markup, el
from trainer.naming import FURTHER

GUIDE = "guide.html"
"""Where the guides lie, in the classroom and beside the offline edition's page."""
BOARD = "board:"
"""Before the name of a board where a part's id could stand: what ``card`` opens."""


@cache
def boards() -> dict[str, dict[str, str]]:
    """What is said of each board, by its name: ``what`` it is, what to ``do``, ``words``, and of a page its ``title``.

    ValueError for a word that the glossary does not have.
    """
    path = resources.assets() / "text" / "learn" / "boards.toml"
    found = tomllib.loads(path.read_text(encoding="utf-8"))
    for name, entry in found.items():
        if unknown := [word for word in entry["words"] if word not in glossary()]:
            raise ValueError(f"{path.name}: '{name}' lists {', '.join(unknown)}; add it to the glossary or take it out")
    return found


def about(name: str, title: str = "", surface: bool = False, helped: bool = True) -> Markup:
    """The help of a board. title: what its button says, for a view of the console.

    helped: without it, in a check, only what the board is: how to use it is a part of what is judged.
    """
    entry, terms = boards()["further" if name in FURTHER else name], glossary(surface)
    return el(
        "article",
        {"class": "about", "aria-label": f"About: {title or entry['title']}"},
        el("h2", {}, title or entry["title"]),
        el("p", {}, entry["what"]),
        el("p", {}, entry["do"]) if helped else None,
        el("h3", {}, "Words used here"),
        listed(terms[word] for word in entry["words"]),
    )


def key(name: str) -> Markup:
    """The button that opens the help of a page, with what it opens and the way to the guides for print."""
    target = f"about-{name}"
    return el(
        "span",
        {"class": "about-key"},
        el(
            "button",
            {"class": "tool", "type": "button", "popovertarget": target, "aria-label": "What is this page?"},
            "?",
        ),
        el(
            "div",
            {"class": "about-page", "id": target, "popover": "auto", "role": "dialog", "aria-label": "About this page"},
            el("button", {"class": "tool beside-close", "type": "button", "popovertarget": target}, "Hide"),
            about(name),
            el("p", {"class": "about-guide"}, el("a", {"href": GUIDE, "target": "_blank"}, "Guides for print")),
        ),
    )
