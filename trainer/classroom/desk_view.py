"""What the instructor's page shows: markup of its boards, and the texts that change, for the place that is chosen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from trainer import units
from trainer.classroom.access import Who
from trainer.classroom.instructor import CHANGES, InstructorControls
from trainer.classroom.roster import AnyPlace
from trainer.console import shell
from trainer.drawing.markup import Markup, el, join, live
from trainer.drills.schema import Drill
from trainer.hydraulics.catalogue import Operable

BOARDS = ("desk_top", "desk_roster", "desk_run", "desk_plant", "desk_talk")
#: How far everybody is turned back at once, s; the nearest snapshot before that moment counts.
BACK = (("10", "10 s"), ("30", "30 s"), ("60", "1 min"), ("300", "5 min"), ("36000", "to the start"))


def top(who: Who, system: units.System = "field") -> Markup:
    """Name, class code, and what is done for everybody at once."""
    links = [
        el("a", {"href": place}, word)
        for place, word in (
            ("people", "People"),
            ("attempts", "Attempts"),
            ("glance", "At a glance"),
            ("live", "Live"),
            ("queue", "To mark"),
            ("drills", "Drills"),
            ("crews", "Crews"),
            ("lessons", "Lessons"),
            ("classes", "Classes"),
            ("courses", "Courses"),
            ("currency", "Validity"),
            ("competency", "Competency"),
            ("trail", "Audit log"),
        )
    ]
    return el(
        "div",
        {"class": "desk-top"},
        el("h1", {}, "Class"),
        el("p", {"class": "desk-code"}, "Join with ", el("strong", {"data-text": "desk.code"}, "–")),
        el(
            "form",
            {"class": "desk-row", "data-page": {"page": "open_class"}, "aria-label": "Open a class"},
            el(
                "input",
                {
                    "name": "title",
                    "aria-label": "Name of the class",
                    "placeholder": "Class",
                    "maxlength": 80,
                    "size": 10,
                },
            ),
            el("button", {"class": "tool", "type": "submit"}, "New code"),
        ),
        el("span", {"class": "desk-row", "data-html": "desk.classes"}, ""),
        el("span", {"class": "desk-gap"}, ""),
        el("nav", {}, links, el("a", {"href": "logout"}, f"Log out {who.name}")),
        shell.button("Metric" if system == "field" else "Field", {"page": "units"}, title="Change units"),
        el("button", {"class": "tool", "type": "button", "data-theme-switch": ""}, "Theme"),
        el("span", {"class": "desk-break"}, ""),
        _reasoned("Freeze all", "Reason for stopping all", to="all"),
        shell.button("Resume all", {"page": "resume", "to": "all"}),
        shell.button("Begin all again", {"page": "reset", "to": "all"}),
        shell.button("End all", {"page": "end", "to": "all"}),
        el("span", {"class": "desk-gap"}, ""),
        _at_once("pace", "Pace of all runs", "Set pace of all", [(pace, f"{pace}×") for pace in shell.PACES]),
        _at_once("back", "Turn all runs back", "Turn all back", BACK),
        el("p", {"class": "desk-said", "role": "status", "data-text": "desk.said", "data-state": "desk.kind"}, ""),
        el("div", {"class": "desk-question", "data-html": "desk.question", "aria-live": "polite"}, ""),
    )


#: What each deed that takes something from a run is called, and the answer that agrees to it.
AGREED = {
    "reset": ("Begin again", "Begin again now"),
    "back": ("Turn back", "Turn back now"),
    "rewind": ("Turn back", "Turn back now"),
    "end": ("End", "End now"),
}


def question(begins: str, loses: Sequence[str], deed: str = "start") -> Markup:
    """What runs would lose if this began for them, or if the deed was done to them, and the two answers."""
    done, yes = ("started", "Cut short and start") if deed not in AGREED else ("done", AGREED[deed][1])
    return el(
        "section",
        {"class": "desk-asked", "aria-label": "Before runs are cut short"},
        el("p", {}, f"{begins} is not {done} yet. {len(loses)} in a run:"),
        el("ul", {}, [el("li", {}, line) for line in loses]),
        shell.button(yes, {"page": "cut"}),
        " ",
        shell.button("Leave them", {"page": "leave"}),
    )


def way_back(number: str | None) -> Markup:
    """The button that takes back what was just done to the run at the place of this number, or with None to all."""
    return el(
        "p", {}, shell.button("Take it back", {"page": "undo", **({"number": number} if number else {"to": "all"})})
    )


def _reasoned(button: str, label: str, **more: Any) -> Markup:
    """Stopping the clock, with the reason that a check's record needs."""
    return el(
        "form",
        {"class": "desk-row", "data-page": {"page": "freeze", **more}, "aria-label": label},
        el(
            "input",
            {"name": "reason", "aria-label": label, "placeholder": "Reason", "maxlength": 300, "autocomplete": "off"},
        ),
        el("button", {"class": "tool", "type": "submit"}, button),
    )


def _at_once(page: str, label: str, button: str, options: Iterable[tuple[str, str]]) -> Markup:
    """Something to choose and to do for everybody."""
    return el(
        "form",
        {"class": "desk-row", "data-page": {"page": page, "to": "all"}, "aria-label": label},
        el(
            "select",
            {"name": "value", "aria-label": label},
            # As fast as the clock, unless something else is chosen.
            [
                el("option", {"value": value, "selected": "selected" if value == "1" else None}, word)
                for value, word in options
            ],
        ),
        el("button", {"class": "tool", "type": "submit"}, button),
    )


def roster(places: Sequence[AnyPlace]) -> Markup:
    """Everybody, one row each; what changes is bound."""
    rows = [
        el(
            "tr",
            {"data-state": f"seat.{place.number}.row"},
            el(
                "th",
                {"scope": "row"},
                shell.button(place.name, {"page": "select", "number": place.number}, "tool roster-name"),
                live(f"seat.{place.number}.class", "", **{"class": "desk-soft"}),
            ),
            [
                el("td", {}, [[live(f"seat.{place.number}.{part}", ""), " "] for part in parts])
                for parts in (("drill", "clock"), ("state", "score"), ("asks",))
            ],
            el("td", {}, el("a", {"href": place.watch, "target": "_blank"}, "Watch")),
        )
        for place in places
    ]
    head = ("Trainee", "Drill, time", "State, score", "Asks", "Console")
    return el(
        "section",
        {"class": "desk-box", "aria-label": "Roster"},
        el(
            "table",
            {"class": "roster"},
            el("thead", {}, el("tr", {}, [el("th", {"scope": "col"}, word) for word in head])),
            el("tbody", {}, rows or el("tr", {}, el("td", {"colspan": len(head)}, "No one has joined yet."))),
        ),
    )


def starts(points: Iterable[tuple[str, str]]) -> Markup:
    """The starting points (value, words) as what can be chosen."""
    return join(*(el("option", {"value": value}, word) for value, word in points))


def _form(page: str, label: str, button: str, *content: Any, everybody: bool = False, **more: Any) -> Markup:
    to = _select("to", "For whom", [("one", "For this one"), ("all", "For all")]) if everybody else None
    return el(
        "form",
        {"class": "desk-form", "data-page": {"page": page, **more}, "aria-label": label},
        content,
        to,
        el("button", {"class": "tool", "type": "submit"}, button),
    )


def _field(label: str, control: Markup) -> Markup:
    return el("label", {"class": "desk-field"}, el("span", {}, label), control)


def _select(name: str, label: str, options: Iterable[tuple[str, str]]) -> Markup:
    items = [el("option", {"value": value}, word) for value, word in options]
    return _field(label, el("select", {"name": name}, items))


def _input(name: str, label: str, value: str = "", **more: object) -> Markup:
    given = {key.replace("_", "-"): item for key, item in more.items()}
    return _field(label, el("input", {"name": name, "value": value or None, "autocomplete": "off", **given}))


def run_board(place: AnyPlace | None, drills: Mapping[str, Drill], desk: InstructorControls) -> Markup:
    """The chosen one's run: clock, start, back in time, end, starting points."""
    if place is None:
        return el("section", {"class": "desk-box"}, el("p", {}, "Choose a trainee in the roster."))
    paces = [el("option", {"value": pace}, f"{pace}×") for pace in shell.PACES]
    return el(
        "section",
        {"class": "desk-box", "aria-label": "Run"},
        el("h2", {}, live("desk.name", ""), " ", live("desk.run", "", **{"class": "desk-soft"})),
        el(
            "div",
            {"class": "desk-row"},
            _reasoned("Freeze", "Reason for stopping the clock"),
            shell.button("Resume", {"page": "resume"}),
            el(
                "select",
                {"data-choose": {"page": "pace"}, "data-pick": "desk.pace", "aria-label": "Pace of this run"},
                paces,
            ),
            shell.button("Begin again", {"page": "reset"}),
            _reasoned("End", "Reason for ending a check", page="end"),
        ),
        _form(
            "start",
            "Start a drill",
            "Start",
            _select("drill", "Drill", [*((drill.id, drill.title) for drill in drills.values()), ("", "Free practice")]),
            _select("mode", "Mode", [("practice", "Practice"), ("check", "Check")]),
            _input(
                "seed", "Seed", "0", inputmode="numeric", size=4, title="For practice; a check draws its own variation"
            ),
            everybody=True,
        ),
        _form(
            "start_from",
            "Begin from a starting point",
            "Begin",
            _field("Starting point", el("select", {"name": "start", "data-html": "desk.starts"}, "")),
            everybody=True,
        ),
        _form("save_start", "Save the present state", "Save state", _input("name", "Name of this state", maxlength=60)),
        _form(
            "delete_start",
            "Delete a saved state",
            "Delete",
            _select("start", "Saved state", [(name, name) for name in desk.starts.saved()]),
        )
        if desk.starts.saved()
        else None,
        _form("skeleton", "Make a drill of this run", "Make drill", _input("name", "Title of the drill", maxlength=80)),
        el("span", {"data-download": "desk.file"}, ""),
        el("h3", {}, "Back to"),
        el("div", {"class": "desk-moments", "data-html": "desk.moments"}, ""),
    )


def plant_board(place: AnyPlace | None, system: units.System = "field") -> Markup:
    """Faults, well and weather, and the hand on a valve; values are asked for in the chosen units."""
    machine = place.machine if place is not None else None
    if machine is None:
        return el("section", {"class": "desk-box"}, "")
    faults = sorted(((fault.id, fault.title) for fault in machine.faults.values()), key=lambda one: one[1])
    changes = [
        (tag, f"{words} ({units.symbol(units.display_unit(machine.signals[tag].unit, system))})")
        for tag, words in CHANGES
        if tag in machine.signals
    ]
    operables = [
        (f"{do} {target}", f"{operable.meaning} ({_values(operable, system)})")
        for (do, target), operable in sorted(machine.operables.items(), key=lambda item: item[0][1])
        if do == "set"
    ]
    return el(
        "section",
        {"class": "desk-box", "aria-label": "Plant"},
        el("h2", {}, "Faults"),
        _form(
            "fault",
            "Inject a fault",
            "Inject",
            _select("fault", "Fault", faults),
            _input("severity", "Severity, %", "100", inputmode="decimal", size=4),
            _input("over", "Within, s", "0", inputmode="decimal", size=4),
            everybody=True,
        ),
        el("ul", {"class": "desk-faults", "data-html": "desk.faults"}, ""),
        el("h2", {}, "Well and weather"),
        _form(
            "put",
            "Change well or weather",
            "Set",
            _select("variable", "What", changes),
            _input("value", "Value", inputmode="decimal", size=8, required="required"),
            everybody=True,
        ),
        el("h2", {}, "A hand on a control"),
        _form(
            "operate",
            "Operate a control",
            "Operate",
            _select("what", "Control", operables),
            _input("value", "Value", size=8),
            _select("by", "Who", [("assistant", "As asked"), ("instructor", "On my own account")]),
        ),
    )


def _values(operable: Operable, system: units.System) -> str:
    values = operable.values or ()
    if values and isinstance(values[0], str):
        return "/".join(values)
    if not values:
        return "no value"
    unit = operable.unit if operable.unit in units.UNITS else "1"
    shown = units.display_unit(unit, system)
    low, high = (units.to_unit(units.from_unit(float(end), unit), shown) for end in values)
    return f"{low:.4g} to {high:.4g} {units.symbol(shown)}".rstrip()


def talk_board(place: AnyPlace | None) -> Markup:
    """What was asked and done, a word to the trainee, a note for the debrief."""
    if place is None:
        return el("section", {"class": "desk-box"}, "")
    return el(
        "section",
        {"class": "desk-box", "aria-label": "Talk"},
        el("h2", {}, "Asked"),
        el("ul", {"class": "desk-asks", "data-html": "desk.asks", "aria-live": "polite"}, ""),
        _form("tell", "Tell the trainee", "Tell", _input("text", "Message", maxlength=500), everybody=True),
        _form("note", "Note this moment", "Note", _input("text", "Note for the debrief", maxlength=500)),
        el("h2", {}, "Last actions"),
        el("ol", {"class": "desk-log", "data-html": "desk.log"}, ""),
        el("h2", {}, "Notes"),
        el("ul", {"class": "desk-notes", "data-html": "desk.notes"}, ""),
    )
