"""Fields of plain forms: an input and a list to choose from, each with its label."""

from __future__ import annotations

from collections.abc import Iterable

from trainer.drawing.markup import Markup, el


def field(name: str, label: str, kind: str = "text", value: object = "", **more: object) -> Markup:
    """An input with its label as markup; ``more`` are further attributes of the input, with ``_`` for a dash."""
    given = {key.replace("_", "-"): item for key, item in more.items()}
    return el(
        "label",
        {},
        el("span", {}, label),
        el("input", {"name": name, "type": kind, "value": None if kind == "file" else value, **given}),
    )


def choice(name: str, label: str, options: Iterable[tuple[str, str]], chosen: str = "") -> Markup:
    """A list to choose from with its label as markup; options are pairs of value and words."""
    return el(
        "label",
        {},
        el("span", {}, label),
        el(
            "select",
            {"name": name},
            [
                el("option", {"value": value, "selected": "selected" if value == chosen else None}, word)
                for value, word in options
            ],
        ),
    )
