"""The first page's part about the person: the one step to do next and why, and the courses with what is known."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from trainer import naming
from trainer.console import guided, shell
from trainer.console.kept import KEPT_LEARNT
from trainer.drawing.markup import Markup, el, join
from trainer.drills.schema import Drill
from trainer.learn.standing import Advice, CourseStanding, Path, Point, State

#: The states of a learning point in the order in which a course shows them, each with its word.
WORDS: Mapping[State, str] = {
    "mastered": "mastered",
    "due": "due for review",
    "practised": "practiced",
    "new": "not started",
}
MASTERED = "A point is mastered when it was done well without help, or twice in a row with it."
MOST_POINTS = 4
"""Learning points that the next step names."""
MOST_DUE = 4
"""Learning points that the list of what is due names."""


def next_step(path: Path, drills: Mapping[str, Drill], newcomer: bool) -> Markup | None:
    """The one step to do next, with its button; for a newcomer the first run, and what staff assigned below it."""
    advice = path.advice
    if newcomer and (way := guided.way_in()) is not None:
        given = advice is not None and advice.course.id in path.assigned
        return join(way, _advised(advice, drills)) if given and advice is not None else way
    return _advised(advice, drills) if advice is not None else _all_done(path)


def _advised(advice: Advice, drills: Mapping[str, Drill]) -> Markup:
    if advice.parts:
        rig = naming.title(advice.parts)
        title, facts = f"Learn the parts of {rig}", f"{rig} · at your own pace"
        message: dict[str, str] = {"page": "learn", "plant": advice.parts}
        key = shell.button(
            "Continue", message, "tool tool-strong way-in-key", data_recall=f"{KEPT_LEARNT}{advice.parts}"
        )
    else:
        drill = drills[advice.drill]
        title = drill.title
        facts = f"{naming.title(advice.course.rig)} · {drill.level.capitalize()} · {drill.minutes:g} min · practice"
        message = {"page": "start", "drill": drill.id, "plant": advice.course.rig, "mode": "practice"}
        key = el(
            "form",
            {"class": "way-in-form", "data-page": message, "aria-label": "Next step"},
            el("button", {"class": "tool tool-strong way-in-key", "type": "submit"}, "Continue"),
        )
    return el(
        "section",
        {"class": "way-in", "aria-label": "Next step"},
        el("p", {"class": "way-in-eye"}, "Your next step"),
        el("h2", {}, title),
        el("p", {}, el("strong", {}, "Why: "), advice.why),
        el("ul", {"class": "point-list"}, [_point(point) for point in advice.points[:MOST_POINTS]])
        if advice.points
        else None,
        el("p", {"class": "soft"}, facts),
        key,
    )


def _all_done(path: Path) -> Markup:
    soonest = min((point.due for one in path.drills.values() for point in one.points if point.due), default=None)
    said = f"Nothing is due before {soonest.day} {soonest:%b %Y}. " if soonest else ""
    return el(
        "section",
        {"class": "way-in", "aria-label": "Next step"},
        el("p", {"class": "way-in-eye"}, "Your next step"),
        el("h2", {}, "All courses are finished"),
        el("p", {}, f"{said}Choose any drill below and run it as a check, without help."),
    )


def _point(point: Point) -> Markup:
    return el("li", {}, _mark(point.state), f"{point.text}", el("span", {"class": "soft"}, f" · {WORDS[point.state]}"))


def _mark(state: State) -> Markup:
    return el("i", {"class": f"mark mark-{state}", "aria-hidden": "true"})


def courses(path: Path, what_is: Callable[[str], str]) -> Markup:
    """Every course by rig: how many of its learning points are mastered and due, and whether it is open.

    what_is: says of a rig, by its id, what kind it is; empty for nothing."""
    rigs = dict.fromkeys(each.course.rig for each in path.courses)
    everything = [point for each in path.courses for point in each.points]
    mastered, practised = (sum(each.count(state) for each in path.courses) for state in ("mastered", "practised"))
    whole = len(everything)
    return el(
        "section",
        {"class": "path", "aria-label": "Your path"},
        el(
            "h2",
            {},
            "Your path",
            el("span", {"class": "soft"}, f" {mastered} of {whole} learning points mastered, {practised} practiced"),
        ),
        el("div", {"class": "path-rigs"}, [_rig(rig, what_is(rig), path) for rig in rigs]),
        el(
            "p",
            {"class": "path-key soft"},
            [el("span", {}, _mark(state), word) for state, word in WORDS.items()],
            el("span", {}, MASTERED),
        ),
        _due(path),
    )


def _rig(rig: str, what: str, path: Path) -> Markup:
    at = path.advice.course.id if path.advice is not None else ""
    return el(
        "div",
        {},
        el("h3", {}, naming.title(rig)),
        el("p", {"class": "soft path-rig"}, what) if what else None,
        el("ol", {}, [_course(each, each.course.id == at, path) for each in path.courses if each.course.rig == rig]),
    )


def _course(each: CourseStanding, here: bool, path: Path) -> Markup:
    due, mastered, whole = each.count("due"), each.count("mastered"), len(each.points)
    practised = each.count("practised")
    names = {one.course.id: one.course.title for one in path.courses if not one.finished}
    before = [names[name] for name in each.course.after if name in names]
    said = f"{mastered} of {whole}"
    if practised:
        said += f", {practised} practiced"
    if due:
        said += f", {due} due"
    if (given := path.assigned.get(each.course.id)) is not None and not each.finished:
        said += f" · assigned{f', by {given.due.day} {given.due:%b %Y}' if given.due else ''}"
    elif before:
        said += f" · after {', '.join(before)}"
    elif here:
        said += " · you are here"
    # One course is shown in full; the others say how far they are in words.
    dots = [_mark(state) for state in WORDS for _ in range(each.count(state))] if here else []
    return el(
        "li",
        {"class": f"course{' course-here' if here else ''}{'' if each.open else ' course-shut'}"},
        el(
            "button",
            {"class": "course-key", "type": "button", "data-find-course": each.course.id, "title": each.course.purpose},
            el("strong", {}, each.course.title),
            el("span", {"class": "dots", "aria-hidden": "true"}, dots) if dots else None,
            el("span", {"class": "soft"}, said),
        ),
    )


def _due(path: Path) -> Markup | None:
    """What is due for review, the longest due first."""
    due = path.due
    if not due:
        return None
    lines = []
    for _, point in due[:MOST_DUE]:
        late = (path.today - point.due).days if point.due else 0
        when = "today" if late <= 0 else "1 day late" if late == 1 else f"{late} days late"
        lines.append(el("li", {}, _mark("due"), point.text, el("span", {"class": "soft"}, f" · {when}")))
    more = len(due) - MOST_DUE
    return el(
        "div",
        {"class": "path-due"},
        el("h3", {}, f"Due for review: {len(due)}"),
        el("ul", {"class": "point-list"}, lines),
        el("p", {"class": "soft"}, f"and {more} more") if more > 0 else None,
    )
