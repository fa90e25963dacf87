"""Learn the parts, as markup: the board with the schematic, and the column beside it for each state of a lesson."""

from __future__ import annotations

import re
from collections.abc import Callable

from trainer.console import about
from trainer.console.shell import SAFETY, button
from trainer.drawing.cards import card_lines, card_reading
from trainer.drawing.context import DrawingContext
from trainer.drawing.glossary import Marks
from trainer.drawing.markup import Child, Markup, el
from trainer.drawing.path_view import runs_of
from trainer.drawing.schematic import window_box, windows
from trainer.learn.boxes import GAPS
from trainer.learn.lesson import ASKS, MODES, Lesson
from trainer.learn.parts import Thing
from trainer.learn.questions import Question

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
    seen = ",".join(
        f'.learn[data-value~="{name}"] .picture .part[data-component="{name}"] > .hit' for name in lesson.sight.pieces
    )
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
        Markup(f"{seen}{{stroke:var(--path);stroke-width:4}}"),
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
    if lesson.nameless:
        found.append("nameless")
    return " ".join(dict.fromkeys(found)) or "none"


def column(desk: DrawingContext, lesson: Lesson, told: Told) -> Markup:
    """What stands beside the schematic."""
    if lesson.mode == "tour":
        return _tour(desk, lesson, told)
    return _cards(desk, lesson, told) if lesson.mode == "cards" else _quiz(lesson)


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


def _quiz(lesson: Lesson) -> Markup:
    question = lesson.question
    assert question is not None
    kinds = [("", "All kinds"), *lesson.kinds().items()]
    options = [el("option", {"value": k, "selected": "selected" if k == lesson.only else None}, w) for k, w in kinds]
    return el(
        "div",
        {"class": "lesson"},
        el("label", {"class": "sr", "for": "learn-only"}, "Kind of exercise"),
        el("select", {"id": "learn-only", "data-choose": {"page": "learn", "do": "only"}}, options),
        el("p", {"class": "soft"}, lesson.kinds()[question.kind]),
        el("h2", {"data-first": "", "tabindex": -1, "class": "lesson-ask"}, question.ask),
        _choices(lesson, question) if question.choices else _clicked(lesson, question),
        _outcome(lesson, question),
        _score(lesson),
    )


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


def _outcome(lesson: Lesson, question: Question) -> Child:
    if lesson.answer is None:
        return el("div", {"class": "lesson-keys"}, button("I do not know: show me", do("show"), "tool"))
    right, given = lesson.answer.right, lesson.answer.given
    word = "Right." if right else f"Not {given[0].lower()}{given[1:].rstrip('.')}." if given else "Now you see it."
    if not right and question.choices:
        word = f"No. It is: {question.choices[question.right]}"
    return el(
        "div",
        {"class": "lesson-done lesson-right" if right else "lesson-done lesson-wrong"},
        el("p", {"role": "status"}, el("strong", {}, word)),
        el("p", {}, question.why),
        el("div", {"class": "lesson-keys"}, button("Next", do("next"), "tool tool-strong", data_first="")),
    )


def _score(lesson: Lesson) -> Markup:
    boxes, keys = lesson.boxes, lesson.keys()
    seen = sum(1 for key in keys if key in boxes.lying)
    missed = sum(1 for key in boxes.missed() if key in set(keys))
    share = f" ({100 * lesson.right // lesson.asked} %)" if lesson.asked else ""
    rows = (
        ("This session", f"{lesson.right} right of {lesson.asked}{share}"),
        ("All sessions", f"{boxes.right} right of {boxes.asked}"),
        ("Asked so far", f"{seen} of {len(keys)} questions"),
        ("Known", f"{boxes.known(keys)} of {len(keys)}"),
        ("Missed, to come back", str(missed)),
        ("Due for review today", str(len(boxes.due(keys)))),
    )
    after = (
        f"A question that you miss comes back after {GAPS[0]} others, one that you know after {GAPS[-2]} or more. "
        "You know a question after two correct answers, or after three if you missed it once. On a later day it is due "
        "again, after a longer time each time you know it."
    )
    return el(
        "section",
        {"class": "lesson-score", "aria-label": "Score"},
        el("h3", {}, "Score"),
        el("dl", {}, [el("div", {}, el("dt", {}, name), el("dd", {}, words)) for name, words in rows]),
        el("p", {"class": "soft"}, after, " It is kept in this browser."),
    )
