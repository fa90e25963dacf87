"""Who is served by another process of the class, said on the pages whose deeds reach only the people of their own."""

from __future__ import annotations

from collections.abc import Iterable

from trainer.classroom.roster import FarPlace
from trainer.drawing.markup import Markup, el, join


def elsewhere(far: Iterable[FarPlace], page: str) -> Markup:
    """A sentence for each other server with the people that it serves, and the same ``page`` there; none for none."""
    names: dict[str, list[str]] = {}
    for place in far:
        if not place.away and not place.crew:
            names.setdefault(place.member, []).append(place.name)
    return join(
        *(
            el(
                "p",
                {"class": "soft"},
                f"Another server, {member}, serves {', '.join(sorted(people))}. ",
                el("a", {"href": f"/at/{member}/{page}"}, "Open this page there"),
                ".",
            )
            for member, people in sorted(names.items())
        )
    )
