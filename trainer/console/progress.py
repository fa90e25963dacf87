"""Progress over attempts: what share of the points somebody earned, attempt by attempt, on each learning point.

The page keeps the attempts in the browser, a short record each; a classroom takes them from its records instead.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from trainer.console import about, shell
from trainer.console.presenter import Patch
from trainer.drawing.markup import Markup, el, plain_table
from trainer.drills.schema import Drill
from trainer.session.sheets import RowData, SheetData

#: How many the browser keeps.
MOST = 200
LONGEST = 400_000
#: Columns of the table: the latest attempts at a drill.
SHOWN = 8
#: A smaller change than this is told as none.
SAME = 0.02
SCORE = "Score"
DASHES = ("solid", "dashed", "dotted", "dotdash", "dashdot")

CATEGORIES = {
    "outcome": "Outcome",
    "sequence": "Sequence",
    "timing": "Timing",
    "instruments": "Use of instruments",
    "fluid": "Stored fluid",
    "communication": "Communication",
    "safety": "Safety",
}


@dataclass(frozen=True)
class Attempt:
    """One attempt at a drill: ``points`` has, by learning point, what was earned and what could be."""

    id: str
    drill: str
    title: str
    mode: str
    score: float
    passed: bool
    points: Mapping[str, tuple[float, float]]
    at: str = ""
    """The day, as text."""

    def record(self) -> dict[str, object]:
        """The attempt as plain JSON data for the browser to keep; it adds the day itself."""
        return {
            "id": self.id,
            "drill": self.drill,
            "title": self.title,
            "mode": self.mode,
            "score": round(self.score, 1),
            "passed": self.passed,
            "points": {name: [round(got, 2), round(most, 2)] for name, (got, most) in self.points.items()},
        }


def attempt(key: str, sheet: SheetData, mode: str, drill: Drill) -> Attempt:
    """The attempt that a score sheet tells of, under its key; a key that the sheet lacks counts as zero."""
    return Attempt(
        id=key,
        drill=drill.id,
        title=drill.title,
        mode=mode,
        score=float(sheet.get("score", 0.0)),
        passed=bool(sheet.get("passed")),
        points=points_of(sheet.get("criteria") or [], drill),
    )


def attempt_id(drill: str, seed: int, seconds: float, score: float) -> str:
    """What tells one attempt from another, the same wherever it is kept."""
    return f"{drill} {seed} {seconds:.1f} {score:.2f}"


def points_of(rows: Sequence[RowData], drill: Drill | None) -> dict[str, tuple[float, float]]:
    """What the criteria earned, by the learning points that they show, or by their kind where they name none."""
    shows = {one.id: one.teaches for one in drill.criterion} if drill else {}
    out: dict[str, tuple[float, float]] = {}
    for row in rows:
        earned, most = row.get("earned"), float(row.get("points") or 0.0)
        if earned is None or most <= 0.0:
            continue
        named = (
            [drill.learning[at - 1] for at in shows.get(str(row["id"]), []) if at <= len(drill.learning)]
            if drill
            else []
        )
        kind = str(row.get("category") or "other")
        for name in named or [CATEGORIES.get(kind, kind.capitalize())]:
            got, of = out.get(name, (0.0, 0.0))
            out[name] = (got + float(earned), of + most)
    return out


def last_seed(done: Sequence[Attempt], drill: str) -> int:
    """The variation of the last attempt at a drill; 0 where there was none."""
    found = [one.id.split()[1:2] for one in done if one.drill == drill]
    return int(found[-1][0]) if found and found[-1] and found[-1][0].isdecimal() else 0


def read(text: str) -> list[Attempt]:
    """The attempts in what a browser kept, the newest ``MOST`` of them. What is none is passed over."""
    if len(text) > LONGEST:
        return []
    try:
        rows = json.loads(text or "[]")
    except ValueError:
        return []
    if isinstance(rows, dict):
        rows = _unpacked(rows)
    found = [_attempt(row) for row in rows[-MOST:]] if isinstance(rows, list) else []
    return [one for one in found if one is not None]


def _unpacked(packed: Mapping[str, object]) -> list[object]:
    """The rows of a list in which every text stands once; the page sends it so, since messages are bounded."""
    texts, rows = packed.get("texts"), packed.get("rows")
    found: list[object] = []
    if not isinstance(texts, list) or not isinstance(rows, list):
        return found
    for row in rows:
        try:
            key, title, mode, score, passed, at, flat = row
            points = {texts[flat[n]]: flat[n + 1 : n + 3] for n in range(0, len(flat), 3)}
            told = {"id": key, "drill": str(key).split()[0], "title": texts[title], "mode": mode, "score": score}
            found.append({**told, "passed": passed == 1, "at": at, "points": points})
        except (TypeError, ValueError, IndexError):
            continue
    return found


def _attempt(row: object) -> Attempt | None:
    try:
        assert isinstance(row, dict)
        points = {str(name)[:300]: (float(pair[0]), float(pair[1])) for name, pair in list(row["points"].items())[:40]}
        if not all(math.isfinite(got) and math.isfinite(most) and most > 0.0 for got, most in points.values()):
            return None
        score = float(row["score"])
        if not 0.0 <= score <= 100.0:
            return None
        texts = [str(row.get(key, ""))[:300] for key in ("id", "drill", "title", "mode", "at")]
        return Attempt(texts[0], texts[1], texts[2], texts[3], score, row["passed"] is True, points, texts[4])
    except (AssertionError, KeyError, TypeError, ValueError, IndexError, AttributeError):
        return None


class Progress:
    """The page: the attempts at one drill, and which drill. ``where`` is the page to go back to."""

    def __init__(self, attempts: Sequence[Attempt], where: str = "chooser", drill: str = "") -> None:
        self.where = where
        unique = {one.id: one for one in attempts}
        self.attempts = list(unique.values())
        drills = [one.drill for one in self.attempts]
        self.drill = drill if drill in drills else (drills[-1] if drills else "")

    def choose(self, drill: str) -> None:
        """Look at the attempts of another drill; nothing changes where there are none of it."""
        if any(one.drill == drill for one in self.attempts):
            self.drill = drill

    def of_drill(self) -> list[Attempt]:
        """The attempts at the drill that is looked at, oldest first; empty before any was made."""
        return [one for one in self.attempts if one.drill == self.drill]

    def names(self) -> list[str]:
        """The learning points of the chosen drill, in the order in which they first came."""
        return list(dict.fromkeys(name for one in self.of_drill() for name in one.points))

    def patch(self) -> Patch:
        """The page of progress as a patch: its markup, and the lines and ends of its plot."""
        return {
            "header": {"readings": {"page.page": {"state": "progress"}}},
            "progress": {"markup": self.markup()},
            "progress.lines": {"data": self.lines()},
            "progress.ends": {"data": self.ends()},
        }

    def lines(self) -> dict[str, list[Any]]:
        """A line a learning point, and the score: numbers of the attempts, and per cent."""
        done = self.of_drill()
        out: dict[str, list[Any]] = {"xs": [], "ys": [], "width": [], "dash": []}
        for number, name in enumerate((SCORE, *self.names())):
            pairs = [(at, share) for at, one in enumerate(done, start=1) if (share := _share(one, name)) is not None]
            out["xs"].append([at for at, _ in pairs])
            out["ys"].append([100.0 * share for _, share in pairs])
            out["width"].append(1.5 if number else 4.0)
            out["dash"].append(DASHES[number % len(DASHES)])
        return out

    def ends(self) -> dict[str, list[Any]]:
        """The words at the right end of each line: the number that its row has in the table."""
        lines = self.lines()
        rows = [
            (xs[-1], ys[-1], SCORE if at == 0 else str(at))
            for at, (xs, ys) in enumerate(zip(lines["xs"], lines["ys"], strict=True))
            if xs
        ]
        # Words at one place stand side by side.
        seen: dict[tuple[float, int], list[str]] = {}
        for x, y, word in rows:
            seen.setdefault((x, round(y / 4.0)), []).append(word)
        return {
            "x": [x for x, _ in seen],
            "y": [4.0 * y for _, y in seen],
            "text": [", ".join(words) for words in seen.values()],
        }

    def markup(self) -> Markup:
        """Which drill, the table of its latest attempts, and the way back."""
        drills = {one.drill: one.title for one in self.attempts}
        chosen = self.of_drill()[-SHOWN:]
        return el(
            "div",
            {"class": "sheet progress"},
            el("h1", {}, "Progress"),
            el(
                "div",
                {"class": "verdict-keys"},
                _choice(drills, self.drill) if drills else None,
                shell.button("Back", {"page": "progress-back"}, "tool tool-strong"),
                about.key("progress"),
            ),
            el("p", {}, _words(self.of_drill()) if drills else "There is no attempt yet: run a drill to its end."),
            _table(chosen, self.names()) if chosen else None,
            el("h2", {"class": "trace-title"}, "Share of the points, attempt by attempt") if chosen else None,
        )


def _choice(drills: Mapping[str, str], chosen: str) -> Markup:
    options = [
        el("option", {"value": name, "selected": "selected" if name == chosen else None}, title)
        for name, title in sorted(drills.items(), key=lambda item: item[1])
    ]
    return el("select", {"data-choose": {"page": "progress-drill"}, "aria-label": "Drill"}, options)


def _words(done: Sequence[Attempt]) -> str:
    passed = len([one for one in done if one.passed])
    times = "once" if len(done) == 1 else f"{len(done)} times"
    return f"{done[-1].title}: run {times}, passed {passed}. Best score {max(one.score for one in done):.0f} of 100."


def _share(one: Attempt, name: str) -> float | None:
    if name == SCORE:
        return one.score / 100.0
    got, most = one.points.get(name, (0.0, 0.0))
    return got / most if most > 0.0 else None


def _table(done: Sequence[Attempt], names: Sequence[str]) -> Markup:
    head = [(one.mode.capitalize(), el("span", {"class": "day"}, one.at)) for one in done]
    rows = []
    for number, name in enumerate((SCORE, *names)):
        cells = []
        before: float | None = None
        for one in done:
            share = _share(one, name)
            cells.append(el("td", {}, _cell(share, before)))
            before = share if share is not None else before
        label = el("span", {"class": "goal-number"}, f"{number}  " if number else "")
        rows.append(el("tr", {}, el("th", {"scope": "row"}, label, name), cells))
    return plain_table(["Learning point", *head], rows, "Latest attempts", "criteria")


def _cell(share: float | None, before: float | None) -> str:
    if share is None:
        return "–"
    shown = f"{100.0 * share:.0f} %"
    if before is None or abs(share - before) < SAME:
        return shown
    return f"{shown} {'▲ up' if share > before else '▼ down'}"
