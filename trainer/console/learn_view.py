"""Learn the parts, as markup: the board with the schematic, and the column beside it for each state of a lesson."""

from __future__ import annotations

import re
from collections.abc import Callable

from trainer.console import about
from trainer.console.shell import SAFETY, button
from trainer.drawing.cards import card_lines, card_reading
from trainer.drawing.context import DrawingContext
from trainer.drawing.glossary import Marks
from trainer.drawing.markup import Child, Markup, el, join
from trainer.drawing.path_view import runs_of
from trainer.drawing.schematic import window_box, windows
from trainer.learn.boxes import AT_ONCE, GAPS
from trainer.learn.lesson import ASKS, MODES, Lesson
from trainer.learn.parts import Thing
from trainer.learn.questions import Question, in_a_row

#: How to tell the reading of an instrument.
Told = Callable[[str], str]

_TITLES = re.compile(r"<title>.*?</title>", re.S)
_STYLE = re.compile(r"<style>.*?</style>", re.S)


def do(what: str, value: object = "") -> dict[str, object]:
    """The message of a button of this page."""
    return {"page": "learn", "do": what, "value": str(value)}


def board(desk: DrawingContext, sheet: Markup, lesson: Lesson) -> Markup:
    """The whole board: modes, the column, and the schematic without the tips that would tell names."""
    modes = [
        button(word, do("mode", mode), "tab", data_state="page.learn_mode", data_when=mode, aria_pressed="false")
        for mode, word in MODES.items()
    ]
    # Paths light by what the lesson says, not by what is pointed at; the first style is the schematic's own.
    drawn = _STYLE.sub("", _TITLES.sub("", sheet), count=1)
    whole = f'data-look="page.learn_look" data-whole="{window_box("whole")}"'
    drawn = drawn.replace('<svg class="schematic"', f'<svg {whole} class="schematic"', 1)
    return el(
        "div",
        {"class": "learn", "data-state": "page.learn_lit", "data-keep": "page.learn_kept"},
        _rules(desk, lesson),
        el(
            "header",
            {"class": "learn-top"},
            button("‹ Home", {"page": "leave"}, "tool", title="Back to the first page"),
            el("h1", {}, "Learn the parts", el("span", {"class": "soft"}, f" · rig {desk.rig.title}")),
            el("nav", {"class": "tabs", "aria-label": "Ways to learn"}, modes),
            _search(),
            button("Units", {"page": "units"}, "tool", title="Change units"),
            el("button", {"class": "tool", "type": "button", "data-theme-switch": ""}, "Theme"),
            about.key("learn"),
            button("Drills", {"page": "leave"}, "tool tool-strong", title="Back to the drills"),
        ),
        el("section", {"class": "learn-text", "aria-label": "Lesson", "data-html": "page.learn", "tabindex": 0}, ""),
        el(
            "div",
            {"class": "deck deck-learn", "data-board": "learn", "style": "--tall:850"},
            Markup(drawn),
            windows(desk),
        ),
        el("div", {"class": "deck deck-sight", "data-board": "sight", "data-html": "page.learn_picture"}, ""),
    )


def _search() -> Markup:
    return el(
        "form",
        {"class": "learn-find", "data-page": {"page": "learn", "do": "find"}, "role": "search"},
        el("label", {"class": "sr", "for": "learn-words"}, "Search parts"),
        el(
            "input",
            {
                "id": "learn-words",
                "name": "value",
                "type": "search",
                "maxlength": 80,
                "autocomplete": "off",
                "placeholder": "part, id or word",
            },
        ),
        el("button", {"class": "tool", "type": "submit"}, "Search"),
    )


def _rules(desk: DrawingContext, lesson: Lesson) -> Markup:
    """Style rules that light each part, and the lines that feed it, while the board's state names them."""
    runs: set[str] = set()
    rules = []
    for thing in lesson.parts.values():
        if thing.drawn:
            runs.update(runs_of(desk, thing.id))
            rules.append(f'.learn[data-value~="{thing.id}"] .part[data-component="{thing.id}"]')
    seen = ",".join(f'.learn[data-value~="{name}"] .picture .frame[data-of="{name}"]' for name in lesson.sight.pieces)
    marked = ",".join(rules)
    children = ",".join(f"{rule} > *" for rule in rules)
    lines = [
        f'.learn[data-value~="run:{run}"] '
        + (".pipe-suction" if run == "suction" else f'.pipe[data-pressure="{run}"]')
        + "{stroke:var(--path)!important}"
        for run in sorted(runs)
    ]
    glow = "{filter:drop-shadow(0 0 2px var(--path)) drop-shadow(0 0 4px var(--path))}"
    return el(
        "style",
        {},
        Markup(f"{marked}{{outline:3px solid var(--path);outline-offset:3px;border-radius:3px}}{children}{glow}"),
        Markup("".join(lines)),
        Markup(f"{seen}{{stroke:var(--path)}}"),
    )


def lit_words(desk: DrawingContext, lesson: Lesson) -> str:
    """The board's state: every part that is lit, the lines that feed it, and whether names are hidden."""
    found = list(lesson.lit)
    question = lesson.question
    if lesson.mode == "sight":
        found.append("sight")
    elif lesson.mode not in ASKS or (lesson.answer is not None and question is not None):
        for name in lesson.lit:
            found += [f"run:{run}" for run in runs_of(desk, name)]
    found += ["nameless"] * lesson.nameless + ["unread"] * lesson.unread
    return " ".join(dict.fromkeys(found)) or "none"


def column(desk: DrawingContext, lesson: Lesson, told: Told) -> Markup:
    """What stands beside the schematic."""
    if lesson.mode == "tour":
        return _tour(desk, lesson, told)
    return _cards(desk, lesson, told) if lesson.mode == "cards" else _quiz(desk, lesson)


def _tour(desk: DrawingContext, lesson: Lesson, told: Told) -> Markup:
    stop, count = lesson.stops[lesson.at], len(lesson.stops)
    last = lesson.at == count - 1
    chosen = lesson.parts.get(lesson.open)
    more = [
        el("h3", {}, "The parts here"),
        _list([lesson.parts[name] for name in stop.parts]),
    ]
    jumps = [
        el(
            "li",
            {},
            button(f"{at + 1}. {s.title}", do("stop", at), "link", aria_current="step" if at == lesson.at else None),
        )
        for at, s in enumerate(lesson.stops)
    ]
    return el(
        "div",
        {"class": "lesson"},
        el("p", {"class": "soft"}, f"Stop {lesson.at + 1} of {count}"),
        el("h2", {"data-first": "", "tabindex": -1}, stop.title),
        el("p", {"class": "lesson-say"}, Marks(not desk.rig.pods)(stop.text)),
        el(
            "div",
            {"class": "lesson-keys"},
            button("Back", do("step", "back"), "tool", aria_disabled="true" if lesson.at == 0 else None),
            button(
                "Next stop",
                do("step", "on"),
                "tool" if last else "tool tool-strong",
                aria_disabled="true" if last else None,
            ),
            button("Answer questions", do("mode", "quiz"), "tool tool-strong") if last else None,
        ),
        el("p", {}, "This is the last stop. Now answer questions on these parts.") if last else None,
        _card(desk, chosen, told) if chosen else more,
        el("details", {}, el("summary", {}, "All stops"), el("ol", {"class": "lesson-stops"}, jumps)),
        el("p", {"class": "safety"}, SAFETY) if last else None,
    )


def _cards(desk: DrawingContext, lesson: Lesson, told: Told) -> Markup:
    chosen = lesson.parts.get(lesson.open)
    found = lesson.found()
    if chosen is None:
        many = f"{len(found)} of {len(lesson.parts)} parts" if lesson.words else f"{len(found)} parts"
        head = f"{many} for “{lesson.words}”" if lesson.words else f"{many}, in the order of the drawing"
        return el(
            "div",
            {"class": "lesson"},
            el(
                "div",
                {"role": "status"},
                el("h2", {"data-first": "", "tabindex": -1}, head if found else _none(lesson.words)),
            ),
            _list(found),
        )
    return el(
        "div",
        {"class": "lesson"},
        el("div", {"class": "lesson-keys"}, button("All found", do("part", ""), "tool")),
        _card(desk, chosen, told),
    )


def _none(words: str) -> str:
    return f"No part fits “{words}”. Try one word, such as filter, pilot or nitrogen."


def _list(found: list[Thing]) -> Markup:
    rows = [el("li", {}, button(thing.title, do("part", thing.id), "link")) for thing in found]
    return el("ul", {"class": "lesson-list"}, rows)


def _card(desk: DrawingContext, thing: Thing, told: Told) -> Markup:
    reading = None if thing.gauge is None else card_reading(desk, thing.gauge, told(thing.gauge))
    head = el("h2", {"data-first": "", "tabindex": -1}, thing.title)
    return el(
        "article",
        {"class": "card", "aria-label": thing.title},
        head,
        el("p", {"class": "soft"}, f"Called {thing.id} in drills and readings"),
        reading,
        card_lines(thing.kind, thing.lines, not desk.rig.pods),
    )


def _quiz(desk: DrawingContext, lesson: Lesson) -> Markup:
    question = lesson.question
    assert question is not None
    kinds = [("", "All kinds"), *lesson.kinds().items()]
    options = [el("option", {"value": k, "selected": "selected" if k == lesson.only else None}, w) for k, w in kinds]
    mark = Marks(not desk.rig.pods)
    return el(
        "div",
        {"class": "lesson"},
        el("label", {"class": "sr", "for": "learn-only"}, "Kind of exercise"),
        el("select", {"id": "learn-only", "data-choose": {"page": "learn", "do": "only"}}, options),
        el("p", {"class": "soft"}, lesson.kinds()[question.kind]),
        el("h2", {"data-first": "", "tabindex": -1, "class": "lesson-ask"}, mark(question.ask)),
        _choices(lesson, question) if question.choices else _clicked(lesson, question),
        _outcome(lesson, question, mark),
        _words(mark, question) if lesson.answer is None else None,
        _score(lesson),
    )


def _words(mark: Marks, question: Question) -> Child:
    """The words of the trade in the choices, which are buttons and cannot explain them themselves."""
    terms = mark.terms(" · ".join(question.choices))
    if not terms:
        return None
    listed = [join(" · " if at else "", term) for at, term in enumerate(terms)]
    return el("p", {"class": "soft lesson-words"}, el("span", {}, "Words here:"), " ", listed)


def _choices(lesson: Lesson, question: Question) -> Markup:
    done = lesson.answer is not None
    given = lesson.answer.given if lesson.answer is not None else ""

    def css(at: int, words: str) -> str:
        if not done:
            return "choice"
        return "choice choice-right" if at == question.right else "choice choice-wrong" if words == given else "choice"

    rows = [
        el("li", {}, button(words, do("answer", at), css(at, words), aria_disabled="true" if done else None))
        for at, words in enumerate(question.choices)
    ]
    return el("ol", {"class": "lesson-choices"}, rows)


def _clicked(lesson: Lesson, question: Question) -> Markup:
    if lesson.answer is not None:
        return Markup("")
    if not question.goal:
        return el("p", {}, "Click it on the drawing. From the keyboard: Tab to it, then Enter.")
    way = [lesson.parts[name].title for name in (question.about, *lesson.traced)]
    return el("p", {"role": "status"}, "So far: ", el("strong", {}, " ← ".join(way)), " ← ?")


def _outcome(lesson: Lesson, question: Question, mark: Marks) -> Child:
    if lesson.answer is None:
        return el("div", {"class": "lesson-keys"}, button("I do not know: show me", do("show"), "tool"))
    right, given = lesson.answer.right, lesson.answer.given
    word = "Right." if right else f"Not {given[0].lower()}{given[1:].rstrip('.')}." if given else "Here it is."
    if not right and question.choices:
        named = question.choices[question.right]
        word = f"No. It is: {named}" if given else f"It is: {named}"
    css = "lesson-right" if right else "lesson-wrong" if given else "lesson-shown"
    return el(
        "div",
        {"class": f"lesson-done {css}"},
        el("p", {"role": "status"}, el("strong", {}, word)),
        el("p", {}, mark(question.why)),
        el("div", {"class": "lesson-keys"}, button("Next", do("next"), "tool tool-strong", data_first="")),
    )


def _score(lesson: Lesson) -> Markup:
    """How far the learner is: the goal with its bar, then both tabs of questions apart."""
    tabs = {MODES[mode]: lesson.standing(mode) for mode in reversed(ASKS)}
    known, begun = (sum(getattr(one, name) for one in tabs.values()) for name in ("known", "begun"))
    rows = (
        ("Known", [one.known for one in tabs.values()]),
        ("Right once", [one.begun for one in tabs.values()]),
        ("Missed, to come back", [one.missed for one in tabs.values()]),
        ("Not asked yet", [one.new for one in tabs.values()]),
        ("This session", [f"{one.right} right of {one.asked}" for one in tabs.values()]),
    )
    due = len(lesson.boxes.due([*lesson.sight.keys, *lesson.questions.keys]))
    after = (
        f"You know a question when you were right twice in a row, with {GAPS[AT_ONCE - 1]} other questions between. "
        f"A question that you miss comes again after {GAPS[0]} others. What you know is due for review on a later day."
    )
    return el(
        "section",
        {"class": "lesson-score", "aria-label": "Score"},
        el("h3", {}, "Your progress"),
        _bar(known, begun, lesson.goal),
        el(
            "table",
            {},
            el("tr", {}, el("td", {}), [el("th", {"scope": "col"}, tab) for tab in tabs]),
            [
                el("tr", {}, el("th", {"scope": "row"}, name), [el("td", {}, str(cell)) for cell in cells])
                for name, cells in rows
            ],
        ),
        el("p", {"class": "soft"}, f"Due for review today: {due}. ") if due else None,
        el("p", {"class": "soft"}, after, " It is kept in this browser."),
    )


def _bar(known: int, begun: int, goal: int) -> Markup:
    """What is known and what was right once, in words and as a bar as long as the goal."""
    first = f"You know {known} questions"
    if goal:
        of_all = f"You know {known} of the {goal} questions that the course needs"
        first = of_all if known < goal else f"You know {known} questions; the course needs {goal}"
    said = in_a_row(f"{first}.", f"Right once: {begun}.", "By sight and Exercises both count.")
    whole = max(goal, known + begun, 1)
    parts = [
        el("span", {"class": f"bar-{css}", "style": f"flex-grow:{many}"})
        for css, many in (("known", known), ("begun", begun), ("rest", whole - known - begun))
        if many
    ]
    return join(el("p", {}, said), el("div", {"class": "lesson-bar", "aria-hidden": "true"}, parts))
