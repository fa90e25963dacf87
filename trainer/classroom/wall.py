"""The wall: a small live card for each trainee of a class, who needs somebody first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape

import panel as pn
from panel.models import HTML

from trainer import resources, units
from trainer.classroom.glance import ALARM, ASKS, CRITICAL, IDLE, STUCK, Glance, PreventerState
from trainer.drawing.markup import Markup, el, hidden

CARD = 200
"""Least width of a card, px."""
MOST_CARDS = 60
"""So many cards a wall has; the table under Live has everybody."""
#: How a card stands out, by why it needs somebody.
TONES = {STUCK: "now", CRITICAL: "now", ASKS: "asks", ALARM: "now", IDLE: "soon"}
ROW, WIDTH = 17, 50
"""Height of a preventer in the picture of the stack and its width, px."""
WRAPS = ".bk-btn { white-space: normal; overflow-wrap: anywhere }"
"""Keeps a long name within its card, such as a crew's, which has the names of all its members."""


@dataclass(frozen=True)
class Shown:
    """One trainee on the wall: their place's number, and where they are watched."""

    number: str
    name: str
    watch: str
    glance: Glance


class Wall:
    """Keeps a card for each trainee and changes only those that say something else than before.

    ``choose`` is called with the number of the card that is pressed. The cards keep their places in the document, so
    that the keyboard stays where it is; the style sheet puts those first that need somebody. ``draw`` is most of the
    work, a card at a time, so that others have their turn between; ``show`` puts what is drawn on the page.
    """

    def __init__(self, choose: Callable[[str], None]) -> None:
        self._choose = choose
        self._cards: dict[str, _Card] = {}
        self.view = pn.Row(
            styles={
                "display": "grid",
                "grid-template-columns": f"repeat(auto-fill, minmax({CARD}px, 1fr))",
                "gap": "10px",
                "min-width": "0",
            },
            sizing_mode="stretch_width",
            margin=(8, 10),
        )

    def draw(self, one: Shown, chosen: str, system: units.System = "field") -> None:
        """Draw the card of one trainee for the next ``show``, which draws those that are not yet."""
        card = self._cards.get(one.number)
        if card is None:
            card = self._cards[one.number] = _Card(one, self._choose)
        card.draw(one, one.number == chosen, system)

    def stand(self) -> None:
        """Put new cards on the page: a few at a time, since each is many times the work of a new text."""
        views = [card.view for card in self._cards.values()]
        if views != list(self.view.objects):
            self.view.objects = views

    def show(self, everybody: Sequence[Shown], chosen: str, system: units.System = "field") -> None:
        """Bring the wall up to date; ``chosen`` is the number of the card that stands out."""
        shown = everybody[:MOST_CARDS]
        ranked = sorted(shown, key=lambda one: (one.glance.rank, one.name.casefold(), one.number))
        for place, one in enumerate(ranked):
            self.draw(one, chosen, system)
            self._cards[one.number].show(place)
        self._cards = {one.number: self._cards[one.number] for one in shown}
        self.stand()


class _Card:
    """The widgets of one card. Its body is the library's model without the pane around it, which would look through
    all its properties for each new text."""

    def __init__(self, one: Shown, choose: Callable[[str], None]) -> None:
        number = one.number
        self._drawn: tuple[Shown, bool, units.System] | None = None
        self._markup = ""
        self._name = pn.widgets.Button(label=one.name, sizing_mode="stretch_width", margin=0, stylesheets=[WRAPS])
        self._name.on_click(lambda _: choose(number))
        self.body = HTML(disable_math=True, run_scripts=False, sizing_mode="stretch_width", margin=0)
        body = pn.pane.Bokeh(self.body, stylesheets=[_css()])
        self.view = pn.Column(self._name, body, sizing_mode="stretch_width", margin=0)

    def draw(self, one: Shown, chosen: bool, system: units.System) -> None:
        if (one, chosen, system) != self._drawn:
            self._drawn = one, chosen, system
            self._markup = escape(card(one, chosen, system))

    def show(self, place: int) -> None:
        assert self._drawn is not None
        one, chosen, _ = self._drawn
        if self._name.label != one.name:
            self._name.label = one.name
        if self._markup != self.body.text:
            self.body.text = self._markup
        styles = {
            "order": str(place),
            "outline": "3px solid var(--focus)" if chosen else "none",
            "outline-offset": "1px",
        }
        if styles != self.view.styles:
            self.view.styles = styles


def card(one: Shown, chosen: bool, system: units.System) -> Markup:
    """What stands on a card below its name, with figures in the units of ``system``."""
    glance = one.glance
    figures = [
        el("div", {}, el("dt", {}, name), el("dd", {}, units.show(value, unit, system)))
        for name, value, unit in glance.figures
    ]
    score = "" if glance.score is None else f"{glance.score:.0f} points {'so far' if glance.running else ''}".rstrip()
    return el(
        "div",
        {"class": f"wall-card wall-{TONES.get(glance.rank, 'calm')}"},
        el("p", {"class": "wall-need"}, hidden("Chosen. ") if chosen else None, glance.need),
        el("p", {"class": "wall-drill"}, el("span", {}, running(glance)), " ", el("b", {}, glance.clock)),
        el("div", {"class": "wall-plant"}, stack(tuple(glance.stack)), el("dl", {}, figures)) if figures else None,
        el("p", {}, stands(glance)) if figures else None,
        el("p", {"class": "wall-alarms"}, "Alarm: ", "; ".join(glance.alarms)) if glance.alarms else None,
        el("p", {"class": "wall-last"}, glance.last or "Nothing done yet") if figures else None,
        el("p", {}, f"{glance.reached} of {glance.goals} milestones", f": {glance.goal}" if glance.goal else "")
        if glance.goals
        else None,
        el("p", {"class": "wall-foot"}, score, " ", el("a", {"href": one.watch, "target": "_blank"}, "Watch"))
        if figures
        else None,
    )


def running(glance: Glance) -> str:
    """What is run there, in words: a check by that name, or what its trainee does without a drill."""
    return f"Check: {glance.drill}" if glance.checked else glance.drill or glance.state


def stands(glance: Glance) -> str:
    """What is closed in the stack and what stands open in its lines, in words."""
    closed = [one.name for one in glance.stack if one.closed]
    moving = [
        f"{one.name} {100.0 * one.share:.0f} % closed" for one in glance.stack if not one.closed and not one.opened
    ]
    told = [f"Closed: {', '.join(closed)}" if closed else "No preventer closed"]
    told += [f"Between: {', '.join(moving)}"] if moving else []
    told += [f"Open: {', '.join(glance.lines)}"] if glance.lines else []
    return ". ".join(told) + "."


@lru_cache(maxsize=256)
def stack(preventers: tuple[PreventerState, ...]) -> Markup | None:
    """The preventers as a small picture: two blocks each, as far closed as they are. Words beside it say the same."""
    if not preventers:
        return None
    high = ROW * len(preventers)
    rows = []
    for place, one in enumerate(preventers):
        # Shut round the pipe its blocks meet it, wherever along the stroke that is.
        long = 6.0 + (WIDTH / 2 - 8.0) * (1.0 if one.closed else min(max(one.share, 0.0), 1.0))
        state = "shut" if one.closed else "open" if one.opened else "between"
        for x in (0.0, WIDTH - long):
            given = {"x": x, "y": ROW * place + 1, "width": long, "height": ROW - 2, "class": f"stack-{state}"}
            rows.append(el("rect", given))
    pipe = el("rect", {"x": WIDTH / 2 - 2, "y": 0, "width": 4, "height": high, "class": "stack-pipe"})
    given = {"viewBox": f"0 0 {WIDTH} {high}", "width": WIDTH, "height": high, "aria-hidden": "true"}
    return el("svg", given, pipe, rows)


@lru_cache
def _css() -> str:
    return (resources.assets() / "style" / "wall.css").read_text("utf-8")
