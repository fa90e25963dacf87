"""``/screen``: what a class sees on the wall: how to join, how far everybody is, or a console or debrief looked at
together. What it shows is chosen at a glance; this page only shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO

import segno
from panel.viewable import Viewable

from trainer import resources
from trainer.classroom.class_screen import REACHED, RUN, TWO
from trainer.classroom.glance import Glance
from trainer.classroom.staff_page import StaffPage, html, put
from trainer.drawing.markup import Markup, el

QR_SCALE = 8
"""Width of one of its squares, px."""


class Screen(StaffPage):
    """The page for the projector. It stays as it is until something else is chosen at a glance."""

    path, title, renew_s, wide = "screen", "Class screen", 1.0, True

    def lay_out(self) -> list[Viewable]:
        """One pane, which shows what is chosen, and nothing to press."""
        css = (resources.assets() / "style" / "screen.css").read_text("utf-8")
        self.shown = html(Markup(""), css)
        return [self.shown]

    async def load(self) -> None:
        """Show what was chosen, as it stands now; a run that is looked at is not loaded again."""
        screen = self.room.screen
        place = self.room.desk.place(screen.number) if screen.kind == RUN else None
        two = [self.room.desk.place(number) for number in (screen.number, screen.other)] if screen.kind == TWO else []
        if place is not None:
            markup = run_frame(place.name, place.watch)
        elif found := [one for one in two if one is not None]:
            markup = el("div", {"class": "class-two"}, [run_frame(one.name, one.watch) for one in found])
        elif screen.kind == REACHED:
            markup = reached([self.room.glances.of(one) for one in self.room.desk.places()])
        else:
            markup = join_by(self.room.desk.codes, self.origin)
        put(self.shown, markup)


def join_by(codes: Mapping[str, str], origin: str) -> Markup:
    """Address, code and QR of each open class, written large; a sentence where no class is open. ``codes`` are the
    open codes by the name of their class."""
    blocks = [_join(title, code, origin) for title, code in codes.items()]
    none = el("p", {}, "No class is open. Press New code under Class.")
    return el("div", {"class": "class-screen"}, blocks or none)


def _join(title: str, code: str, origin: str) -> Markup:
    address = f"{origin}/join"
    return el(
        "section",
        {"class": "class-join"},
        el("div", {}, qr(f"{address}?code={code}")),
        el(
            "div",
            {},
            el("h2", {}, f"Join the class {title}" if title else "Join the class"),
            el("p", {"class": "class-address"}, address),
            el("p", {}, "with the code"),
            el("p", {"class": "class-code"}, code),
        ),
    )


def qr(text: str) -> Markup:
    """A QR code (ISO/IEC 18004) of a text as a drawing, with its text for who hears the page."""
    out = BytesIO()
    made = segno.make(text, error="m", micro=False)
    made.save(
        out, kind="svg", scale=QR_SCALE, border=2, xmldecl=False, svgns=False, dark="#000", light="#fff", title=text
    )
    return Markup(out.getvalue().decode())


def reached(glances: Sequence[Glance]) -> Markup:
    """How many of the class have reached how much of their drill, by name of the last milestone; no person is named."""
    runs = [one for one in glances if one.running and one.goals]
    if not runs:
        return el("div", {"class": "class-screen"}, el("p", {}, "No drill is under way."))
    steps: dict[tuple[str, int, int], list[str]] = {}
    for one in runs:
        steps.setdefault((one.drill, one.reached, one.goals), []).append(one.goal)
    rows = [
        el(
            "li",
            {"style": "display: contents"},
            el("span", {}, f"{drill}: {goals[0]}" if goals[0] else f"{drill}: begun"),
            el("meter", {"min": 0, "max": of, "value": at, "aria-label": f"{at} of {of} milestones"}, f"{at} of {of}"),
            el("b", {}, f"{len(goals)} of {len(runs)}"),
        )
        for (drill, at, of), goals in sorted(steps.items(), key=lambda item: (item[0][0], -item[0][1]))
    ]
    return el(
        "div", {"class": "class-screen"}, el("h2", {}, "Reached so far"), el("ul", {"class": "class-reached"}, rows)
    )


def run_frame(name: str, watch: str) -> Markup:
    """The console or debrief of one run, as whoever watches it sees it."""
    return el(
        "div",
        {},
        el("h2", {}, name),
        el("iframe", {"class": "class-run", "src": watch, "title": f"Console of {name}"}, ""),
    )
