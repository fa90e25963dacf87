"""Words of the page about a run: the clock, the coach's line, a refusal, and the score sheet."""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Iterable, Mapping
from typing import Any

from trainer.console import shell
from trainer.console.kept import KEPT
from trainer.console.reading import Reading
from trainer.drawing.glossary import Marks
from trainer.drawing.markup import Markup, el, plain_table
from trainer.drills.schema import Drill
from trainer.drills.sheet import dearest, level, lost, of_100
from trainer.hydraulics.refusal import INJURY
from trainer.plant.names import shown
from trainer.session.sheets import FailureData, MilestoneData, RowData, SheetData
from trainer.wording import joined, worded

NO_RESPONSE = "No response."
"""All that an assessment says of something that the plant refuses."""
NOT_SCORED = "not scored"
"""Instead of the points of what only an assessor can judge, and nobody has marked."""
MUST = "must-pass item"
"""Beside a criterion without whose points no run passes, whatever its score."""
DEAREST = 3
LITTLE = 0.5
"""Of what cost most, so many lines are named at the top, and none that cost no more points than this."""
MOST_SEEN = 6
"""More readings than this beside a criterion are cut down to those that explain it."""
IDLE = ("no", "open", "off")


def clock(seconds: float | None) -> str:
    """Simulated time to the nearest second, as in the score sheet's words: ``clock(75.04) == "1:15"``.

    A dash stands for a time that never came.
    """
    if seconds is None:
        return "–"
    whole = int(seconds + 0.5)
    hours, rest = divmod(whole, 3600)
    minutes = f"{rest // 60:02d}" if hours else str(rest // 60)
    return f"{hours}:{minutes}:{rest % 60:02d}" if hours else f"{minutes}:{rest % 60:02d}"


def seen(row: RowData | FailureData, end: float | None) -> str:
    """What the instruments showed beside a criterion or a critical failure, and when; empty where none bears on it."""
    rows = _telling(dict(row.get("seen") or {})).items()
    said = joined("; ", (shown(tag, text) for tag, text in rows))
    if not said:
        return ""
    t = row.get("seen_t")
    when = "Seen then" if t is None else f"At the end, {clock(t)}" if t == end else f"At {clock(t)}"
    return worded("{0}: {1}", when, said)


def _telling(shown: dict[str, str]) -> dict[str, str]:
    """Of many readings, those of parts that did anything: what stood open and touched nothing explains nothing."""
    if len(shown) <= MOST_SEEN:
        return shown
    busy = {tag.partition(".")[0] for tag, text in shown.items() if text not in IDLE}
    return {tag: text for tag, text in shown.items() if tag.partition(".")[0] in busy} or shown


def due(row: RowData) -> str:
    """By when a lost criterion had to be so for any points; empty where no time was set, or nothing was lost."""
    limit = row.get("due")
    lost = level(row.get("earned"), float(row.get("points", 0.0))) in ("none", "part")
    return f"Deadline: {clock(limit)}." if lost and limit is not None else ""


def evidence_file(evidence: Mapping[str, Any]) -> Reading:
    """An evidence document as a file for the page to hand over."""
    name = evidence["run"]["drill"] or "free-practice"
    content = json.dumps(evidence, ensure_ascii=False, indent=1)
    return {"content": content, "file": f"{name}.evidence.json", "type": "application/json"}


@functools.lru_cache(maxsize=256)
def refusal(why: str) -> Markup:
    """Why an action was refused, or what it did to whoever tried it, or nothing."""
    if not why:
        return Markup("")
    plain = why == NO_RESPONSE or getattr(why, "code", "") == INJURY
    return el("span", {}, None if plain else el("strong", {}, "Refused: "), why)


PASSED = "Passed"
NOT_FINISHED = "not finished: ended before the drill's end"


def broken_off(mode: str, finished: object) -> bool:
    """Whether this was a check that ended before its drill did: whatever its points, it is no pass."""
    return mode.startswith("check") and not finished


HELD = "Not shown: this check was ended early, and the next one may ask the same."
"""Instead of what would name the cause to somebody who looks and begins again."""


def causes(drill: Drill | None) -> frozenset[str]:
    """The criteria of a drill that ask what is wrong: their lines name it when it was not found."""
    asked = drill.criterion if drill is not None else []
    return frozenset(one.id for one in asked if one.kind in ("diagnose", "answer"))


def held_back(sheet: SheetData, mode: str, asked: frozenset[str]) -> SheetData:
    """The sheet without the cause, where a check was broken off before anything was decided; else as it is.

    ``asked`` are the criteria whose lines name it. Decided is what was played to its end, or has a critical error.
    """
    if not broken_off(mode, sheet.get("finished")) or sheet.get("critical"):
        return sheet
    shown = sheet.copy()
    shown["criteria"] = [
        {**row, "reason": HELD, "seen": {}} if row.get("id") in asked and not row.get("earned") else row
        for row in sheet.get("criteria") or []
    ]
    return shown


def names_cause(sheet: SheetData, mode: str, asked: frozenset[str]) -> bool:
    """Whether a sheet names the cause to somebody who broke the check off, as its evidence then does too."""
    return held_back(sheet, mode, asked).get("criteria") != sheet.get("criteria")


@functools.lru_cache(maxsize=256)
def coach(said: tuple[str, str] | None, surface: bool = False) -> Markup:
    """The coach's next step and why, words of the trade marked; surface: of a rig whose stack stands there."""
    if said is None:
        return Markup("")
    step, why = said
    mark = Marks(surface)
    return el(
        "span",
        {},
        mark(step),
        el("span", {"class": "why"}, " ", mark(why)) if why else None,
    )


def sheet(
    result: SheetData,
    drill: Drill | None,
    mode: str,
    reports: bool = False,
    beside: str = "",
    record: bool = False,
) -> Markup:
    """The head of the score sheet: verdict, critical failures, and what to do next, but for a ``record`` of the past.

    Free practice, which has no ``drill``, has no verdict. reports: whether the edition hands out the score report from
    here. beside: what is said of the evidence to download.
    """
    if drill is None:
        return el(
            "header",
            {"class": "verdict verdict-none"},
            el("h1", {}, "Free practice: what was done"),
            el(
                "p",
                {"class": "verdict-line"},
                el("span", {}, f"{clock(result.get('simulated_s'))} simulated, no score"),
            ),
            _keys(drill, reports) if not record else None,
        )
    word = verdict_word(mode, result.get("passed"), result.get("finished"), result.get("critical"))
    title = str(result.get("title") or (drill.title if drill else "Score sheet"))
    return el(
        "header",
        {"class": f"verdict verdict-{'pass' if word == PASSED else 'fail'}"},
        el("h1", {}, title),
        el(
            "p",
            {"class": "verdict-line"},
            el("strong", {"class": "verdict-word"}, word),
            el("span", {"class": "verdict-score"}, _score(result)),
            el("span", {}, f"{_mode(mode)}, {clock(result.get('simulated_s'))} simulated"),
        ),
        el("p", {"class": "verdict-why"}, verdict_words(mode, result)),
        el("p", {"class": "verdict-lost"}, dear) if (dear := _dear(result)) else None,
        _critical(result.get("critical") or [], result.get("simulated_s")),
        _keys(drill, reports, mode.startswith("check"), bool(result.get("passed"))) if not record else None,
        el("p", {"class": "soft"}, beside) if beside else None,
    )


def verdict_word(mode: str, passed: object, finished: object, critical: object) -> str:
    """Passed, not passed, or not finished: a check that was broken off before a critical failure."""
    if not broken_off(mode, finished):
        return PASSED if passed else "Not passed"
    return "Not passed" if critical else "Not finished"


def verdict_words(mode: str, result: SheetData) -> str:
    """Why it is passed or not, as the sheet has it; of a check that was broken off, that it was."""
    found = str(result.get("verdict") or "")
    if broken_off(mode, result.get("finished")):
        return worded("{0}. {1}", NOT_FINISHED.capitalize(), "It is no pass." if result.get("passed") else found)
    return found


def _keys(drill: Drill | None, reports: bool, check: bool = False, passed: bool = False) -> Markup:
    """What can be done next: what is not passed is tried again, what is passed leads on."""
    # A crew is opened on the first page, where the others join it: nobody tries again alone.
    crew = drill is not None and drill.crew == "shared"
    again = [
        shell.button("Try again", {"page": "again"}, "tool" if check or passed else "tool tool-strong"),
        shell.button("Try another variation", {"page": "again", "value": "other"}) if drill else None,
    ]
    return el(
        "div",
        {"class": "verdict-keys"},
        again if not crew else None,
        shell.button("Choose another drill", {"page": "leave"}, "tool tool-strong" if passed or crew else "tool"),
        shell.button("Progress", {"page": "progress"}, "tool", data_recall=KEPT) if drill else None,
        shell.button("Download evidence", {"page": "evidence"}),
        shell.button("Download report", {"page": "report"}) if reports and drill else None,
    )


def scores(result: SheetData, surface: bool = False) -> Markup:
    """Every criterion with what happened, when and why, what was seen, and the milestones.

    surface: whether the stack stands at the surface, for the words of the trade.
    """
    return el(
        "section",
        {"aria-label": "Score"},
        _crew(result),
        _criteria(result.get("criteria") or [], result.get("simulated_s"), Marks(surface), _shares(result)),
        _milestones(result.get("milestones") or []),
        el("p", {"class": "safety"}, shell.SAFETY),
    )


def _crew(result: SheetData) -> Markup | None:
    """What each member of a crew earned and lost, and what the crew earned together; None where one person worked."""
    shares = result.get("crew")
    if not shares:
        return None
    members = [(None, "The crew together"), *((share.get("post"), str(share.get("title"))) for share in shares)]
    criteria = result.get("criteria") or []
    rows = [_member(title, [row for row in criteria if (row.get("post") or None) == post]) for post, title in members]
    return el(
        "section",
        {"class": "crew-marks", "aria-label": "Marks of the crew"},
        el("h2", {}, "Marks of the crew"),
        plain_table(("Station", "Points", "Not earned in full"), rows, css="criteria"),
    )


def _member(title: str, rows: Iterable[RowData]) -> Markup:
    judged = [row for row in rows if row.get("earned") is not None]
    earned = math.fsum(row["earned"] or 0.0 for row in judged)
    most = math.fsum(row.get("points") or 0.0 for row in judged)
    lost = [str(row.get("title")) for row in judged if level(row["earned"], row.get("points") or 0.0) != "full"]
    return el(
        "tr",
        {},
        el("th", {"scope": "row"}, title),
        el("td", {}, f"{_points(earned)} of {_points(most)}"),
        el("td", {}, joined("; ", lost) or "–"),
    )


def _critical(rows: Iterable[FailureData], end: float | None) -> Markup | None:
    lines = [
        el(
            "li",
            {"data-critical": str(row.get("id"))},
            el("strong", {}, f"{clock(row.get('t'))} ", row.get("title"), " "),
            str(row.get("reason") or row.get("id")),
            el("p", {"class": "row-seen"}, seen(row, end)) if row.get("seen") else None,
            el("p", {"class": "source"}, worded("Source: {0}", row["source"])) if row.get("source") else None,
        )
        for row in rows
    ]
    if not lines:
        return None
    return el("div", {"class": "critical"}, el("h2", {}, "Critical error"), el("ul", {}, lines))


def _score(result: SheetData) -> str:
    return of_100(float(result.get("score", 0.0)), float(result.get("pass_mark", 0.0)))


def _shares(result: SheetData) -> str:
    """How the score of 100 is made of the points of the lines, and what a run that is not passed keeps of them."""
    judged = [row for row in result.get("criteria") or [] if row.get("earned") is not None]
    earned = math.fsum(row["earned"] or 0.0 for row in judged)
    most = math.fsum(row.get("points") or 0.0 for row in judged)
    if not judged:
        return ""
    said = f"The lines below have {_points(earned)} of their {_points(most)} points"
    part = f"{said}, which is {of_100(100.0 * earned / most)}." if most > 0.0 else f"{said}."
    if result.get("critical"):
        return f"{part} After a critical error only a quarter counts: {_score(result)}."
    if any(row.get("required") and (row["earned"] or 0.0) <= 0.0 for row in judged):
        return f"{part} With a must-pass item missing only four fifths count: {_score(result)}."
    return f"{said}: a score of {_score(result)}."


def _dear(result: SheetData) -> str:
    """What cost most of the points, the dearest first; empty where next to nothing was lost."""
    costly = dearest(result.get("criteria") or [], LITTLE)[:DEAREST]
    named = [worded("{0} ({1})", str(row.get("title") or row.get("id")), _points(lost(row))) for row in costly]
    return worded("Most points lost: {0}.", joined(", ", named)) if named else ""


def _mode(mode: str) -> str:
    """The mode with the word, before what follows it: "check mode, started by ..."."""
    kind, comma, rest = mode.partition(",")
    return f"{kind} mode{comma}{rest}"


def _points(value: object) -> str:
    return f"{float(str(value)):.3g}"


def _criteria(rows: Iterable[RowData], end: float | None, mark: Marks, shares: str) -> Markup:
    head = ("What", "When", "Points", "What happened, what was expected, why it matters, what was seen")
    caption = ("Criteria", el("span", {"class": "soft"}, shares) if shares else None)
    return plain_table(head, [_row(row, end, mark) for row in rows], caption, "criteria")


def _row(row: RowData, end: float | None, mark: Marks) -> Markup:
    earned, most = row.get("earned"), row.get("points")
    reached = level(earned, math.inf if most is None else float(most))
    shown = seen(row, end)
    return el(
        "tr",
        {"class": f"row-{reached}", "data-criterion": str(row.get("id"))},
        el(
            "th",
            {"scope": "row"},
            str(row.get("title") or row.get("id")),
            el("p", {"class": "soft"}, mark(MUST)) if row.get("required") else None,
        ),
        el("td", {}, clock(row.get("t"))),
        el("td", {"class": "points"}, NOT_SCORED if earned is None else f"{_points(earned)} of {_points(most)}"),
        el(
            "td",
            {},
            joined(" ", (part for part in (str(row.get("reason") or ""), due(row)) if part)),
            el("p", {"class": "row-why"}, mark(str(row["why"]))) if row.get("why") else None,
            el("p", {"class": "row-seen"}, shown) if shown else None,
            el("p", {"class": "source"}, worded("Source: {0}", row["source"])) if row.get("source") else None,
        ),
    )


def _milestones(rows: Iterable[MilestoneData]) -> Markup | None:
    reached = sorted((row for row in rows if row.get("t") is not None), key=lambda row: row["t"] or 0.0)
    if not reached:
        return None
    lines = [
        el("li", {}, el("strong", {}, clock(row.get("t"))), " ", row.get("title") or row.get("id")) for row in reached
    ]
    return el("section", {"class": "milestones"}, el("h2", {}, "Sequence of events"), el("ol", {}, lines))
