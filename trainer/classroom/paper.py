"""The plain pages of the classroom (forms and tables): one layout, escaped throughout, no script."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from trainer import resources
from trainer.classroom.access import Who
from trainer.drawing.markup import Markup, el

_LINKS = {
    "instructor": (
        ("instructor", "Class"),
        ("glance", "At a glance"),
        ("live", "Live"),
        ("queue", "To mark"),
        ("people", "People"),
        ("attempts", "Attempts"),
        ("currency", "Validity"),
        ("competency", "Competency"),
        ("drills", "Drills"),
        ("crews", "Crews"),
        ("lessons", "Lessons"),
        ("classes", "Classes"),
        ("courses", "Courses"),
        ("trail", "Audit log"),
    ),
    "assessor": (
        ("live", "Live"),
        ("glance", "At a glance"),
        ("queue", "To mark"),
        ("attempts", "Attempts"),
        ("currency", "Validity"),
        ("competency", "Competency"),
        ("agreement", "Agreement"),
        ("import", "Import"),
    ),
    "trainee": (("mine", "My attempts"),),
}


@lru_cache
def css() -> str:
    """The style sheet of the pages of the classroom."""
    return (resources.assets() / "style" / "paper.css").read_text("utf-8")


def banner(who: Who | None) -> Markup:
    """The head of every page: where somebody of this role may go, and the way out."""
    places = _LINKS.get(who.role, ()) if who else ()
    # The page of trainees has no links of staff: they go there by a word of its own.
    staff = who is not None and who.staff
    links = [el("a", {"href": f"/{place}"}, word) for place, word in (*places, *((("", "Practice"),) if staff else ()))]
    out = el("a", {"href": "/logout"}, f"Log out {who.name}") if who else None
    return el(
        "header",
        {},
        el("a", {"href": f"/{places[0][0]}" if staff else "/"}, "Panel trainer"),
        el("nav", {}, links),
        out,
    )


def page(title: str, *content: object, who: Who | None = None, head: str = "") -> str:
    """A whole page; ``head`` goes into its head as it is."""
    body = el("body", {}, banner(who), el("main", {}, el("h1", {}, title), *content))
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{Markup(el('t', {}, title))[3:-4]}</title><style>{css()}</style>{head}</head>{body}</html>"
    )


def form(action: str, xsrf: str, button: str, *content: object, **attributes: object) -> Markup:
    """A form that is sent by POST with the token that proves it came from here."""
    given: Mapping[str, object] = {name.replace("_", "-"): value for name, value in attributes.items()}
    return el(
        "form",
        {"method": "post", "action": action, **given},
        Markup(xsrf),
        *content,
        el("button", {"type": "submit"}, button),
    )


def told(text: str, kind: str = "status", count: int | None = None) -> Markup | None:
    """A line that says what was done (``status``) or why not (``alert``); None for no text. ``count`` makes it new."""
    return el("div", {"class": f"told told-{kind}", "role": kind, "data-count": count}, text) if text else None
