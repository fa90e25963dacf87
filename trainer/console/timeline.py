"""The timeline of a run: what was done, what came of it, which alarms stood, and a good crew's times beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from trainer.console import shell
from trainer.console.crews import Beside
from trainer.console.debrief import clock
from trainer.console.told import Deed
from trainer.drawing.markup import Markup, el, plain_table, shorten
from trainer.session.sheets import MilestoneData

WIDE, LABEL, RIGHT = 1060.0, 110.0, 14.0
TOP = 20.0
LANE = 36.0
#: Numbers nearer than this to the one before go one step lower.
NEAR = 19.0
DOWN = 18.0
YOU = "You"
STEPS = (60, 120, 300, 600, 1800, 3600)
#: A difference from the reference run, s, that says nothing: hands need as long. Invented.
ALIKE = 10


@dataclass(frozen=True)
class Rung:
    """An alarm that stood from ``t`` to ``until`` (None: to the end), s."""

    name: str
    t: float
    until: float | None = None


@dataclass
class Story:
    """All that a timeline shows of a run of ``seconds``."""

    seconds: float
    deeds: Sequence[Deed]
    milestones: Sequence[MilestoneData]
    beside: Beside | None = None
    alarms: Sequence[Rung] = ()
    told: Sequence[tuple[float, str]] = ()
    notes: Sequence[tuple[float, str]] = ()
    crew: Sequence[Deed] = field(default_factory=list)
    """What the good crew did, at the times of the trainee's run."""
    same: bool = False
    """Whether the reference run is of the trainee's own variation."""
    members: Markup | None = None
    """What each member of a crew did; None where one person worked."""
    in_time: Mapping[str, bool] = field(default_factory=dict)
    """Milestones by id that a criterion sets a time to: whether the trainee lost no points there."""

    @property
    def you(self) -> str:
        """Whose run it is, as the head of a column: one person's or a crew's."""
        return YOU if self.members is None else "Your crew"

    def goals(self) -> list[tuple[int, str, float | None, float | None]]:
        """The milestones with their numbers: title, when the trainee reached it, when the good crew would have."""
        rows = []
        for number, row in enumerate(self.milestones, start=1):
            ideal = self.beside.at(str(row["id"])) if self.beside else None
            rows.append((number, str(row.get("title") or row["id"]), row.get("t"), ideal))
        return rows


def markup(story: Story) -> Markup:
    """The strip, the milestones with both times, what was done, and what the good crew did."""
    return el(
        "section",
        {"class": "timeline", "aria-label": "Timeline"},
        _strip(story),
        el("p", {"class": "soft"}, _counted(story)),
        _goals(story),
        story.members,
        el("div", {"class": "two"}, _happened(story), _crew(story)),
    )


def _counted(story: Story) -> str:
    if story.beside is None:
        return "No reference run is kept for this drill."
    crew = story.beside.crew
    since = f"counted from “{story.beside.since}”" if story.beside.since else "counted from the start"
    variation = "the same variation as yours" if story.same else "another variation than yours"
    return (
        f"Reference run: {crew.score:.0f} points, played by the reference crew in {variation}, without the seconds "
        f"that a person needs to find each control. Its times are {since}. Other correct methods score as well: only "
        "the limits of the score sheet cost points."
    )


def later(own: float | None, ideal: float | None, in_time: bool | None = None) -> str:
    """How much later than the reference run, in words; ``in_time`` is whether it lost no points, if a time was set."""
    if ideal is None:
        return ""
    if own is None:
        return "not reached"
    by = round(own - ideal)
    said = "about the same time" if abs(by) <= ALIKE else f"{abs(by)} s {'later' if by > 0 else 'earlier'}"
    return said if in_time is None else f"{said}, {'in time' if in_time else 'too late'}"


def _goals(story: Story) -> Markup | None:
    rows = story.goals()
    if not rows:
        return None
    return plain_table(
        ("No.", "Milestone", story.you, "Reference run", "You were" if story.you == YOU else "Your crew was"),
        [
            el(
                "tr",
                {"class": "goal-missed" if t is None else None},
                el("td", {"class": "goal-number"}, number),
                el("th", {"scope": "row"}, title),
                el("td", {}, _moment(t)),
                el("td", {"class": "when"}, clock(ideal)),
                el("td", {}, later(t, ideal, story.in_time.get(name))),
            )
            for (number, title, t, ideal), name in zip(rows, (str(row["id"]) for row in story.milestones), strict=True)
        ],
        "Milestones",
        "criteria",
    )


def _moment(t: float | None) -> Markup | str:
    """A time that can be replayed from."""
    if t is None:
        return "–"
    return shell.button(
        clock(t), {"page": "replay", "value": round(t, 1)}, "moment", title=f"Replay from {clock(max(0.0, t - 5.0))}"
    )


def _happened(story: Story) -> Markup:
    rows: list[tuple[float, str, str, str, str]] = []
    rows += [(deed.t, "deed" if deed.mine else "staff", deed.by, deed.text, deed.refused) for deed in story.deeds]
    rows += [(rung.t, "alarm", "Alarm", f"{rung.name} {_stood(rung)}", "") for rung in story.alarms]
    rows += [(t, "told", "Message", text, "") for t, text in story.told if t > 0.0]
    rows += [(t, "note", "Note", text, "") for t, text in story.notes]
    rows.sort(key=lambda row: row[0])
    return plain_table(
        ("Time", "Where" if story.members is None else "Member", "What"),
        [
            el(
                "tr",
                {"class": f"line-{kind}"},
                el("td", {}, _moment(t)),
                el("td", {}, by),
                el("td", {}, text, el("p", {"class": "row-why"}, f"Refused: {refused}") if refused else None),
            )
            for t, kind, by, text, refused in rows
        ],
        "Actions and events",
        "criteria",
    )


def _stood(rung: Rung) -> str:
    return "until the end" if rung.until is None else f"for {max(1, round(rung.until - rung.t))} s"


def _crew(story: Story) -> Markup | None:
    if not story.crew:
        return None
    rows = [
        el("tr", {}, el("td", {"class": "when"}, clock(deed.t)), el("td", {}, deed.by), el("td", {}, deed.text))
        for deed in story.crew
    ]
    return plain_table(
        ("Time", "Where" if story.members is None else "Member", "What"),
        rows,
        "Actions of the reference run",
        "criteria",
    )


# The strip


def _strip(story: Story) -> Markup:
    """Lanes over time. Everything in it stands in the tables below, too, so it is one picture to a screen reader."""
    goals = story.goals()
    end = max(story.seconds, 1.0, *(max(t or 0.0, ideal or 0.0) for _, _, t, ideal in goals))

    def x(t: float) -> float:
        return LABEL + (WIDE - LABEL - RIGHT) * min(max(t, 0.0), end) / end

    lanes = [
        ("Reference run", _numbers([(n, ideal) for n, _, _, ideal in goals], x, "lane-crew")),
        (story.you, _numbers([(n, t) for n, _, t, _ in goals], x, "lane-you")),
        (
            "Your actions" if story.you == YOU else "Crew's actions",
            ([_tick(x(deed.t), deed) for deed in story.deeds], 1),
        ),
        ("Alarms", ([_bar(x(rung.t), x(end if rung.until is None else rung.until)) for rung in story.alarms], 1)),
    ]
    y, drawn = TOP, []
    for name, (content, steps) in lanes:
        high = LANE + (steps - 1) * DOWN
        drawn.append(
            el(
                "g",
                {"transform": f"translate(0 {shorten(y)})"},
                el("rect", {"class": "lane", "x": 0, "y": 1, "width": WIDE, "height": high - 2}),
                el("text", {"class": "lane-name", "x": 8, "y": 22}, name),
                content,
            )
        )
        y += high
    step = next((one for one in STEPS if end / one <= 14), STEPS[-1])
    marks = [
        el(
            "g",
            {},
            el("line", {"class": "grid", "x1": x(t), "x2": x(t), "y1": TOP, "y2": y}),
            el("text", {"class": "grid-time", "x": x(t), "y": 13, "text-anchor": "middle"}, clock(t)),
        )
        for t in (float(at) for at in range(0, int(end) + 1, step))
    ]
    box = f"0 0 {shorten(WIDE)} {shorten(y + 2)}"
    return el(
        "svg",
        {"class": "strip", "viewBox": box, "role": "img", "aria-label": "The run over time; the tables show the same"},
        marks,
        drawn,
    )


def _numbers(marks: Sequence[tuple[int, float | None]], x: Any, css: str) -> tuple[list[Markup], int]:
    """Numbered dots at their times, stepped down where they would hide each other; and how many steps were used."""
    ends: list[float] = []
    out = []
    for number, t in sorted((mark for mark in marks if mark[1] is not None), key=lambda mark: mark[1] or 0.0):
        at = x(t)
        step = next((place for place, last in enumerate(ends) if at - last >= NEAR), len(ends))
        if step == len(ends):
            ends.append(at)
        ends[step] = at
        out.append(
            el(
                "g",
                {"class": css, "transform": f"translate({shorten(at)} {shorten(18.0 + DOWN * step)})"},
                el("circle", {"r": 9}),
                el("text", {"text-anchor": "middle", "y": 4}, number),
            )
        )
    return out, max(1, len(ends))


def _tick(at: float, deed: Deed) -> Markup:
    css = "tick-refused" if deed.refused else "tick" if deed.mine else "tick-staff"
    high = 7.0 if deed.refused else 12.0
    return el("line", {"class": css, "x1": at, "x2": at, "y1": 18.0 - high, "y2": 18.0 + high})


def _bar(first: float, last: float) -> Markup:
    return el("rect", {"class": "rung", "x": first, "y": 11, "width": max(3.0, last - first), "height": 14})
