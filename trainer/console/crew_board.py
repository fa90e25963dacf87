"""The talk line of a crew: who stands where, the short calls so far, and those that a member makes by one press."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from trainer import units
from trainer.console.boards import STATIONS
from trainer.console.debrief import clock
from trainer.console.shell import OF_SOME, VIEWS
from trainer.drawing.markup import Markup, el, hidden, join, live
from trainer.drills.schema import CrewPost, Drill
from trainer.session.commands import CALL, REPEAT
from trainer.session.crewing import Called, CallRule, Crewing
from trainer.wording import worded

MOST_CALLS = 40
"""So many calls are shown, the newest first; all of them stand in the evidence."""
YOU = "You"
COMPUTER = "computer"
#: Boards of the floor that stand beside the driller's panel, and what a post needs to see them.
BESIDE = {"watch": ("driller", "floor"), "floor_strip": ("driller", "floor"), "alarms": ("driller",)}
#: Views that no post of a crew has: they show what no single station does.
OF_NOBODY = ("schematic",)


@dataclass(frozen=True)
class CrewRow:
    """A member in the crew list: the post, who is there, and what the crew waits for."""

    post: str
    title: str
    name: str = ""
    """Empty for the computer."""
    reading: bool = False
    """Whether the member still reads the briefing."""
    away: bool = False


def seen_at(board: str, at: Sequence[str]) -> bool:
    """Whether a board stands at one of these stations; boards of the page itself stand at each."""
    if board in OF_NOBODY:
        return False
    if board in BESIDE:
        return any(station in BESIDE[board] for station in at)
    station = STATIONS.get(board)
    return station is None or board == "entries" or station in at


def views_at(at: Sequence[str]) -> list[str]:
    """The console's views that a post at these stations has; the trends stand at the driller's panel."""
    return [view for view, _ in (*VIEWS, *OF_SOME) if (("driller" in at) if view == "trends" else seen_at(view, at))]


def tasks(drill: Drill, post: str) -> str:
    """Who works the stations, line by line, the reader's own post first."""

    def line(one: CrewPost) -> str:
        return f"You are the {small(one.title)}. {one.task}" if one.id == post else f"{one.title}: {one.task}"

    return "\n".join(line(one) for one in sorted(drill.post, key=lambda one: one.id != post))


def small(title: str) -> str:
    """A title in the middle of a sentence: ``the subsea engineer``."""
    return title[:1].lower() + title[1:]


def board(crew: Crewing, post: str, system: units.System) -> Markup:
    """The board of a member: the own post, the crew, the talk line, and the calls that the member makes."""
    rows = [el("li", {}, _press(crew, call, to, system)) for call, others in crew.offered(post) for to in others]
    return el(
        "div",
        {"class": "crewline"},
        el(
            "section",
            {"class": "crew-who", "aria-label": "Crew"},
            el("h2", {}, hidden("Your station: "), live("page.crew_post", crew.title(post))),
            el("ul", {"data-html": "page.crew_list"}, ""),
        ),
        el(
            "section",
            {"class": "crew-talk", "aria-label": "Talk line"},
            el("ol", {"data-html": "page.crew_line", "aria-live": "polite", "tabindex": 0}, ""),
        ),
        el("section", {"class": "crew-calls", "aria-label": "Calls"}, el("ul", {}, rows)),
    )


def _press(crew: Crewing, call: CallRule, to: str, system: units.System) -> Markup:
    send = {"do": CALL, "target": call.id, "value": to}
    said, goes = el("span", {}, call.text), el("strong", {}, f"→ {crew.title(to)}")
    name = f"Call the {small(crew.title(to))}: {call.text}"
    if call.unit:
        key = el("button", {"class": "tool", "type": "submit", "aria-label": name}, goes)
        field = _field(call, f"{call.text}, figure to tell the {small(crew.title(to))}", system)
        return el("form", {"class": "crew-figure", "data-send": send}, said, field, key)
    return el(
        "button", {"class": "tool crew-call", "type": "button", "data-send": send, "aria-label": name}, said, goes
    )


def _field(call: CallRule, name: str, system: units.System, key: str | None = None) -> Markup:
    """The field of a figure; what is typed stays under its ``key`` when the rows around it are drawn anew."""
    kinds = {"inputmode": "decimal", "autocomplete": "off", "required": "required", "maxlength": 20}
    shown = units.symbol(units.display_unit(call.unit, system))
    return el("input", {"name": "figure", "aria-label": name, "placeholder": shown, "data-typed": key, **kinds})


def people(rows: Sequence[CrewRow], post: str) -> Markup:
    """The crew list as rows of markup: each post with who is there; ``post`` is the reader's own."""

    def state(row: CrewRow) -> str:
        if row.post == post:
            return YOU
        if not row.name:
            return COMPUTER
        return f"{row.name}{', reads the briefing' if row.reading else ''}{', away' if row.away else ''}"

    return join(
        *(
            el("li", {"class": "crew-own" if row.post == post else None}, el("span", {}, row.title), " ", state(row))
            for row in rows
        )
    )


def line(crew: Crewing, post: str, names: Mapping[str, str], system: units.System = "field") -> Markup:
    """The talk line, newest first; beside a call to this member stands *Repeat back* until it is repeated.

    names: what posts are called, by id.
    """
    rows = list(_calls(crew, post, names, system))
    none = "No calls yet. The member who gets a call repeats it back."
    return join(*rows) if rows else el("li", {"class": "crew-none"}, none)


def _calls(crew: Crewing, post: str, names: Mapping[str, str], system: units.System) -> Iterator[Markup]:
    due: dict[str, Called] = {}
    for one in crew.line:
        if one.back is None and one.to == post:
            due.setdefault(one.call, one)
    for one in crew.line[: -MOST_CALLS - 1 : -1]:
        yield _row(crew, one, names, due.get(one.call) is one, system)


def _repeat(call: CallRule, one: Called, system: units.System) -> Markup:
    send, name = {"do": REPEAT, "target": one.call}, f"Repeat back: {call.text}"
    if one.figure is None:
        return el(
            "button",
            {"class": "tool crew-repeat", "type": "button", "data-send": send, "aria-label": name},
            "Repeat back",
        )
    return el(
        "form",
        {"class": "crew-figure", "data-send": send},
        _field(call, f"{call.text}, figure to repeat back", system, f"{one.call} {one.tick}"),
        el("button", {"class": "tool crew-repeat", "type": "submit", "aria-label": name}, "Repeat back"),
    )


def _row(crew: Crewing, one: Called, names: Mapping[str, str], due: bool, system: units.System) -> Markup:
    call = crew.calls[one.call]
    words = call.words(one.figure)
    after: Markup | None
    if one.back_t is not None:
        after = el(
            "span",
            {"class": "crew-back"},
            f"repeated back {clock(one.back_t)}"
            if one.back_figure is None
            else worded("repeated back {0}: {1}", clock(one.back_t), call.amount(one.back_figure)),
        )
    elif due:
        after = _repeat(call, one, system)
    else:
        after = el("span", {"class": "crew-open"}, "not repeated back")
    who = f"{names.get(one.by, one.by)} → {names.get(one.to, one.to)}"
    return el(
        "li",
        {"class": "crew-due" if due else None},
        el("span", {"class": "crew-time"}, clock(one.t)),
        el("span", {"class": "crew-from"}, who),
        el("span", {"class": "crew-words"}, worded("“{0}”", words)),
        after,
    )
