"""The page around the stations: header, messages, well readings, alarms, entries and the card of a part.

Each function returns the markup of one board. Texts that change are bound to ``page.`` keys.
"""

from __future__ import annotations

import functools
from collections.abc import Collection, Mapping, Sequence
from types import MappingProxyType

from trainer import naming
from trainer.console import about
from trainer.console.kept import KEPT_SEQUENCES
from trainer.console.message import Message
from trainer.console.named import Offered
from trainer.drawing.frame import without_power
from trainer.drawing.glossary import Marks
from trainer.drawing.markup import Markup, el, hidden, join, live
from trainer.drills.schema import Drill, for_log
from trainer.hydraulics.catalogue import POWER, Signal
from trainer.plant.alarms import by_priority, priority
from trainer.plant.names import ALARM_WORDS

#: The views of the console in the order of their buttons: board name and the word on the button.
VIEWS = (
    ("driller", "Driller's panel"),
    ("aside", "Diverter"),
    ("floor", "Drill floor"),
    ("schematic", "Schematic"),
    ("unit", "Unit"),
    ("care", "Maintenance"),
    ("picture", "Picture"),
    ("remote", "Toolpusher"),
    ("trends", "Trends"),
)
#: Views that only some rigs have something for, after the others.
OF_SOME = (
    ("backups", "Back-ups"),
    ("workshop", "Workshop"),
    ("bridge", "Bridge"),
    ("vehicle", "Vehicle"),
    ("boat", "Boat deck"),
)

PACES = ("0.25", "0.5", "1", "2", "5", "10", "20")

SAFETY = (
    "A training aid on a simplified model: not a certification, not a procedure, and not a substitute for "
    "the manufacturer's manual, the rig's own procedures, local regulations or licensed practice."
)


def button(word: str, message: Message, css: str = "tool", **more: object) -> Markup:
    """A button that sends a message of the page."""
    given = {name.replace("_", "-"): value for name, value in more.items()}
    return el("button", {"class": css, "type": "button", "data-page": message, **given}, word)


def views(further: Mapping[str, str]) -> list[tuple[str, str, str | None]]:
    """Every view of a rig in the order of its tabs: board, word and access key. ``further`` are its further panels."""
    keyed = [(name, word, str(at)) for at, (name, word) in enumerate(VIEWS, start=1)]
    at = next(n for n, (name, _) in enumerate(VIEWS) if name == "remote") + 1
    return [*keyed[:at], *((name, word, None) for name, word in (*further.items(), *OF_SOME)), *keyed[at:]]


def header(
    alone: bool = False, further: Mapping[str, str] = MappingProxyType({}), without: Collection[str] = ()
) -> Markup:
    """Drill, clock, stations, pace, units, theme, finish. Whoever is ``alone`` walks to a station by its tab.

    ``further`` are the rig's further panels: their titles by station. ``without`` are views that it has nothing for.
    """

    def tab(name: str, word: str, key: str | None, css: str = "") -> Markup:
        way = {"page": "walk", "value": name} if alone else None
        # From the lists of the unit its picture is a choice of its own, which is kept.
        form = "picture" if css == "tab-picture" else None
        shown = None if form else name
        given = {"class": f"tab {css}".strip(), "type": "button", "data-show": shown, "data-page": way}
        return el("button", {**given, "data-form": form, "accesskey": key}, word)

    lists = {"unit": "tab-listed", "care": "tab-listed", "picture": "tab-picture"}
    tabs = []
    for name, word, key in views(further):
        if name == "unit" and "picture" not in without:
            tabs.append(tab("picture", word, key, "tab-pictured"))
        if name not in without:
            tabs.append(tab(name, word, key, lists.get(name, "")))
    return el(
        "div",
        {"class": "top", "data-state": "page.page"},
        [
            el("span", {"hidden": "hidden", "data-state": key}, "")
            for key in ("page.diagnosis", "page.point", "page.crew")
        ],
        el(
            "p",
            {"class": "top-drill"},
            button("No drill", {"page": "brief"}, "top-title", data_text="page.title", title="Read the briefing"),
            el("span", {"class": "top-mode", "data-text": "page.mode"}, ""),
        ),
        button(
            "Situation",
            {"page": "brief"},
            "tool tool-brief",
            data_state="page.situated",
            title="Situation and stated method",
        ),
        el("p", {"class": "top-clock"}, hidden("Time "), live("page.clock", "0:00")),
        el(
            "nav",
            {"class": "tabs", "aria-label": "Stations and views", "data-state": "page.view"},
            tabs,
        ),
        el(
            "div",
            {"class": "top-tools"},
            button(
                "Pause",
                {"page": "pause"},
                "tool tool-pause",
                data_text="page.pause",
                data_state="page.running",
            ),
            _pace(),
            button("Metric", {"page": "units"}, "tool tool-units", data_text="page.units", title="Change units"),
            el("button", {"class": "tool tool-theme", "type": "button", "data-theme-switch": ""}, "Theme"),
            button(
                "Finish",
                {"page": "finish"},
                "tool tool-strong tool-finish",
                data_text="page.finish",
                data_state="page.ends",
            ),
        ),
    )


def _pace() -> Markup:
    options = [
        el("option", {"value": pace, "selected": "selected" if pace == "1" else None}, f"{pace}×") for pace in PACES
    ]
    wiring = {
        "class": "pace",
        "data-choose": {"page": "pace"},
        "data-pick": "page.pace",
        "data-state": "page.paced",
        "aria-label": "Pace of the run",
    }
    return el("select", wiring, options)


def messages(sequences: bool = True) -> Markup:
    """What the coach, the plant and the crew say, each in a place of its own, and all of it in a list to open.

    sequences: whether one person works all stations, and so can have a sequence worked through.
    """
    return el(
        "div",
        {"class": "says", "data-state": "page.says"},
        el(
            "div",
            {"class": "say say-coach", "data-state": "page.help"},
            el("span", {"class": "say-who"}, "Coach"),
            el("p", {"class": "says-coach", "tabindex": 0, "aria-live": "polite", "data-html": "page.coach"}, ""),
        ),
        el(
            "div",
            {"class": "say say-panel"},
            el("span", {"class": "say-who"}, "Panel"),
            el(
                "p", {"class": "says-refusal", "tabindex": 0, "aria-live": "assertive", "data-html": "page.refusal"}, ""
            ),
            el("p", {"class": "says-noted", "role": "status", "data-text": "page.noted"}, ""),
        ),
        el(
            "div",
            {"class": "say say-told"},
            el("span", {"class": "say-who"}, "Message"),
            el("p", {"class": "says-told", "tabindex": 0, "aria-live": "polite", "data-text": "page.told"}, ""),
        ),
        button(
            "Skip the wait",
            {"page": "skip"},
            "tool says-skip",
            data_state="page.wait",
            data_text="page.wait",
            title="The drill allows this wait to be skipped. The record of a check shows it",
        ),
        button(
            "Try again",
            {"page": "again"},
            "tool tool-strong says-again",
            data_state="page.lost",
            title="Begin this drill again, in the same variation",
        ),
        button("Hint", {"page": "ask"}, "tool says-ask", data_state="page.help"),
        button("Sequences", {"page": "sequences", "value": "open"}, "tool says-sequences", data_recall=KEPT_SEQUENCES)
        if sequences
        else None,
        el("button", {"class": "tool says-all", "type": "button", "popovertarget": "talk"}, "Messages"),
        el(
            "button",
            {"class": "tool says-all", "type": "button", "data-about": "", "aria-label": "What is this board?"},
            "?",
        ),
        el(
            "div",
            {"class": "talk", "id": "talk", "popover": "auto", "role": "dialog", "aria-label": "All messages"},
            el(
                "div",
                {"class": "talk-head"},
                el("h2", {}, "Messages so far"),
                el("button", {"class": "tool", "type": "button", "popovertarget": "talk"}, "Hide"),
            ),
            el("ul", {"class": "talk-list", "data-html": "page.talk"}, el("li", {}, "No messages.")),
        ),
    )


def alarms(signals: Mapping[str, Signal], log: Markup | None = None) -> Markup:
    """The alarm list by ISA-18.2 states and priorities, with acknowledge and silence; a system's own ``log`` below."""
    rows = [
        el(
            "li",
            {"class": f"alarm alarm-{priority(tag)}", "data-state": tag, "data-tag": tag},
            el("span", {"class": "alarm-mark", "aria-hidden": "true"}),
            el("span", {"class": "alarm-name"}, alarm_name(tag)),
            el("span", {"class": "alarm-priority"}, f"{priority(tag)} priority"),
            live(tag, "normal", **{"class": "alarm-state"}),
        )
        for tag in by_priority(signals)
    ]
    return el(
        "section",
        {"class": "alarms", "aria-label": "List of alarms", "data-sound": "page.sound", "data-noise": "page.noise"},
        el(
            "div",
            {"class": "alarms-head"},
            el("h2", {}, "Alarms"),
            _push("Silence", "alarms.silence"),
            _push("Acknowledge", "alarms.acknowledge"),
        ),
        without_power(POWER) if POWER in signals else None,
        el("p", {"class": "sr", "role": "status", "data-text": "page.alarms"}, ""),
        el("ul", {"class": "alarm-list"}, rows),
        _log("Alarm log", "page.alarm_log", "No alarms."),
        _log(
            "Flow count of each operation"
            if "totaliser.count" in signals
            else "Header pressure used by each operation",
            "page.operations",
            "No functions operated.",
        ),
        log,
    )


def _log(title: str, key: str, empty: str) -> Markup:
    """A list of what happened, newest first."""
    return el(
        "section",
        {"class": "log", "aria-label": title},
        el("h3", {}, title),
        el("ul", {"data-html": key}, el("li", {}, empty)),
    )


def alarm_name(tag: str) -> str:
    """An alarm's tag as words: ``alarm.low_air`` becomes ``Rig air low``, as its lamp says."""
    return ALARM_WORDS.get(tag, naming.title(tag.removeprefix("alarm.")))


def _push(word: str, target: str) -> Markup:
    return el("button", {"class": "tool", "type": "button", "data-send": {"do": "push", "target": target}}, word)


def entries(statements: Sequence[tuple[str, str]], readings: Sequence[Offered], diagnoses: bool = True) -> Markup:
    """What a trainee reports, (id, words), the readings to enter, and the key of the diagnosis."""
    report = [
        el("button", {"class": "tool tool-report", "type": "button", "popovertarget": "reports"}, "Report …"),
        el(
            "div",
            {"class": "reports", "id": "reports", "popover": "auto", "role": "dialog", "aria-label": "Report"},
            el("h2", {}, "Report"),
            [
                el(
                    "button",
                    {
                        "class": "tool report",
                        "type": "button",
                        "data-send": {"do": "say", "target": name},
                        "popovertarget": "reports",
                    },
                    words,
                )
                for name, words in statements
            ],
            el("button", {"class": "tool", "type": "button", "popovertarget": "reports"}, "Hide"),
        ),
    ]
    read = el(
        "form",
        {"class": "entry entry-read", "data-send": {"do": "read"}, "aria-label": "Enter a reading"},
        el("label", {"class": "sr", "for": "read-what"}, "Reading"),
        el(
            "select",
            {"id": "read-what", "name": "target", "required": "required"},
            el("option", {"value": "", "selected": "selected"}, "Choose a reading"),
            _offered(readings),
        ),
        el("label", {"class": "sr", "for": "read-value"}, "Value"),
        el(
            "input",
            {
                "id": "read-value",
                "name": "value",
                "inputmode": "decimal",
                "autocomplete": "off",
                "required": "required",
                "placeholder": "value",
                "maxlength": 20,
            },
        ),
        el("button", {"class": "tool", "type": "submit"}, "Enter"),
    )
    return el(
        "section",
        {"class": "entries-room", "aria-label": "Reports and readings"},
        el(
            "div",
            {"class": "entries entries-row"},
            read if readings else None,
            button(
                "Diagnosis", {"page": "diagnosis", "value": "open"}, "tool", title="Report a fault that you have found"
            )
            if diagnoses
            else None,
            report if statements else None,
        ),
    )


def _offered(readings: Sequence[Offered]) -> list[Markup]:
    """The readings to choose from, each with the unit that its field shows; those for the log stand at the end."""
    now, log = ([each for each in readings if for_log(each.title) is kept] for kept in (False, True))

    def options(some: Sequence[Offered]) -> list[Markup]:
        return [el("option", {"value": one.id, "data-in": one.unit}, one.title + one.on) for one in some]

    return [*options(now), el("optgroup", {"label": "For the log, at the end"}, options(log))] if log else options(now)


def narrow(more: str) -> Markup:
    """What a screen that is too narrow for the boards is told, and what goes well on it."""
    return el(
        "p",
        {"class": "narrow"},
        "The boards of a drill need a wider screen: turn the device, or use a tablet or a computer. This screen "
        f"is wide enough for: learning the parts, exercises, courses, progress, debrief and score. {more}",
    )


def brief(drill: Drill | None, rule: str = "", surface: bool = False) -> Markup:
    """The situation, the stated method and the safety notes, read before the clock starts.

    surface: whether the stack stands at the surface, for the words of the trade.
    """
    if drill is None:
        return el("div", {}, "")
    mark = Marks(surface)
    method = [el("h3", {}, "The stated method"), _lines(drill.method, mark)] if drill.method else None
    return el(
        "dialog",
        {"class": "brief", "data-dialog": "page.brief", "tabindex": -1, "aria-label": "Briefing"},
        el("h2", {}, drill.title),
        narrow("Finish ends the run."),
        el("h3", {}, "The situation"),
        # Told by the run: what the seed picked stands in it.
        el("div", {"data-html": "page.situation"}, ""),
        [el("h3", {}, "Who works the stations"), _lines(rule, mark)] if rule else None,
        method,
        el("h3", {}, "Safety"),
        el("ul", {}, [el("li", {}, mark(line)) for line in drill.safety]),
        el(
            "div",
            {"class": "brief-keys"},
            button("Begin", {"page": "begin"}, "tool tool-strong", data_text="page.begin"),
        ),
    )


@functools.lru_cache(maxsize=256)
def situation(text: str, surface: bool = False) -> Markup:
    """What the briefing says of the situation, line by line, words of the trade marked."""
    return join(*_lines(text, Marks(surface)))


def _lines(text: str, mark: Marks) -> list[Markup]:
    return [el("p", {}, mark(line)) for line in text.splitlines() if line.strip()]


def card(content: Markup | None) -> Markup:
    """The card of one component, open beside the work and never in front of it."""
    return el(
        "dialog",
        {"class": "beside", "data-dialog": "page.card", "tabindex": -1, "aria-label": "About this part"},
        button("Hide", {"page": "card", "value": ""}, "tool beside-close"),
        content,
    )


def sheet(tabs: Sequence[tuple[str, str]] = ()) -> Markup:
    """The places of the score sheet and of what can be done with a run, and of the evidence when it is asked for."""
    words = [
        button(
            word, {"page": "after", "value": name}, "tab", data_state="page.after", data_when=name, aria_pressed="false"
        )
        for name, word in tabs
    ]
    return el(
        "div",
        {"class": "sheet"},
        el("div", {"data-html": "page.sheet"}, ""),
        el(
            "div",
            {"class": "after-head"},
            el("nav", {"class": "tabs after-tabs", "aria-label": "Debrief"}, words),
            el("p", {"class": "working", "role": "status", "data-text": "page.working"}, ""),
            button("Metric", {"page": "units"}, "tool", data_text="page.units", title="Change units"),
            el("button", {"class": "tool", "type": "button", "data-theme-switch": ""}, "Theme"),
            about.key("sheet"),
        ),
        el("div", {"data-html": "page.after_body"}, ""),
        el("div", {"aria-live": "polite", "data-html": "page.answer"}, ""),
        el("h2", {"class": "trace-title"}, "The trace"),
        el("span", {"data-download": "page.evidence"}, ""),
        el("span", {"data-keep": "page.attempt"}, ""),
        el("span", {"data-keep": "page.first_run"}, ""),
    )
