"""The corner of a trainee's page: who sits here, what was said, and a way to ask for a hand."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from trainer.console.boards import Boards
from trainer.drawing.markup import Markup, el, join
from trainer.hydraulics.machine import Machine

LIST = "room-hands"


def named(machine: Machine) -> dict[str, tuple[str, str, str]]:
    """What somebody can be asked to do by hand: words to (verb, target, value)."""
    found: dict[str, tuple[str, str, str]] = {}
    for (do, target), operable in machine.operables.items():
        words = operable.meaning.rstrip(".")
        if do == "push":
            found[words] = (do, target, "")
        elif do == "set":
            found |= {
                f"{words}: {value}": (do, target, value) for value in operable.values or () if isinstance(value, str)
            }
    return found


def corner(name: str, running: bool, hands: Iterable[str] = ()) -> Markup:
    """The corner's markup; what was said and asked is bound to ``page.room``. ``hands`` are offered to ask for."""
    ask = el(
        "form",
        {"data-page": {"page": "request"}, "aria-label": "Request an action"},
        el("label", {"class": "sr", "for": "room-ask"}, "Task and location"),
        el(
            "input",
            {
                "id": "room-ask",
                "name": "text",
                "maxlength": 200,
                "autocomplete": "off",
                "required": "required",
                "list": LIST,
                "placeholder": "Choose a control, or write",
            },
        ),
        el("datalist", {"id": LIST}, [el("option", {"value": words}) for words in sorted(hands)]),
        el("button", {"class": "tool", "type": "submit"}, "Ask"),
    )
    together = el("div", {"data-html": "page.together", "aria-live": "polite"}, "")
    return join(together, _corner(name, running, ask))


def shown_together(title: str) -> Markup:
    """What staff show to the whole class, over the page, which can be laid aside; nothing without a title."""
    if not title:
        return Markup("")
    return el(
        "details",
        {"class": "together", "open": "open"},
        el("summary", {}, f"Shown to the class: {title}"),
        el("iframe", {"src": "together", "title": f"Shown to the class: {title}"}, ""),
    )


def _corner(name: str, running: bool, ask: Markup) -> Markup:
    return el(
        "details",
        {"class": "room"},
        el("summary", {}, f"Class: {name}"),
        el(
            "div",
            {},
            el("div", {"data-html": "page.room", "aria-live": "polite"}, ""),
            ask if running else None,
            el(
                "nav",
                {},
                el("a", {"href": "mine", "target": "_blank"}, "My attempts"),
                " ",
                el("a", {"href": "logout"}, "Log out"),
            ),
        ),
    )


class ClassBoards(Boards):
    """The console's boards, drawn once for everybody, and a corner for one."""

    def __init__(self, name: str | None, everybody: Boards) -> None:
        super().__init__()
        # The same kept drawings.
        self._drawn, self._faults = everybody._drawn, everybody._faults
        self._name = name

    def draw(self, *given: Any, **more: Any) -> dict[str, str]:
        """Markup by board name."""
        drawn = super().draw(*given, **more)
        if self._name is not None:
            drawn["room"] = corner(self._name, True, named(given[0]))
        return drawn
