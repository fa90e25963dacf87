"""What if I had acted earlier: the run once more with actions moved, and what then comes out otherwise."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from trainer import units
from trainer.console.debrief import MUST, clock
from trainer.console.rerun import Rerun
from trainer.console.told import Deed
from trainer.drawing.markup import Markup, el, plain_table
from trainer.hydraulics.catalogue import Signal
from trainer.session.replay import Recording, shifted
from trainer.session.sheets import SheetData
from trainer.simulator import Session

#: Seconds by which actions can be moved.
SHIFTS = (-120, -60, -30, -20, -10, -5, 5, 10, 20, 30, 60)
#: A change of less than this share of the larger value is told as no change.
SAME = 1e-3

#: What is compared besides score and times, where the plant has it: tag, title, and which value of the run.
FIGURES = (
    ("well.influx_volume", "Influx at the end", "end"),
    ("well.pit_gain", "Largest pit gain", "highest"),
    ("well.casing_pressure", "Highest casing pressure", "highest"),
    ("accumulator.pressure", "Lowest accumulator pressure", "lowest"),
    ("totaliser.count", "Flow count at the end", "end"),
)


@dataclass(frozen=True)
class Outcome:
    """What came of a run: its score sheet, and the figures that are compared, in SI by tag."""

    sheet: SheetData
    figures: Mapping[str, float] = field(default_factory=dict)


def outcome(rerun: Rerun) -> Outcome:
    """What came of a run that was computed to its end; figures that the plant does not have are left out."""
    session = rerun.player.session
    signals = session.machine.signals
    found = {}
    for tag, _, which in FIGURES:
        if tag in signals:
            of = {"lowest": rerun.lowest, "highest": rerun.highest}.get(which, {})
            found[tag] = of.get(tag, session.machine.read(tag))
    return Outcome(session.sheet(), found)


class WhatIf:
    """One question: the action at ``place`` in the log given ``by`` seconds later, and what follows moved along."""

    def __init__(
        self, begin: Callable[[], Session], recorded: Recording, deed: Deed, by: float, following: bool = True
    ) -> None:
        self.asked = f"“{deed.text}” at {clock(deed.t)}, {_moved(by)}" + (
            ", and all that you did after it" if following else ", and nothing else moved"
        )
        self.by = by
        self.rerun = Rerun(begin, shifted(recorded, deed.place, by, following, deed.also))
        self.outcome: Outcome | None = None

    def work(self) -> bool:
        """Compute a slice of the other run, so that no page waits for it; True once it is done."""
        if self.outcome is None and self.rerun.work():
            self.outcome = outcome(self.rerun)
        return self.outcome is not None

    @property
    def share(self) -> float:
        """How much of the other run has been computed, as a share of its length from 0 to 1."""
        return self.rerun.share


def _moved(by: float) -> str:
    return f"{abs(by):g} s {'later' if by > 0 else 'earlier'}"


def form(deeds: Sequence[Deed], place: int | None, by: int, following: bool) -> Markup:
    """The question: which action, by how much, and whether the rest moves along."""
    mine = [deed for deed in deeds if deed.mine]
    if not mine:
        return el("p", {}, "You did nothing in this run that could be moved.")

    def choice(value: object, word: str, chosen: bool) -> Markup:
        return el("option", {"value": value, "selected": "selected" if chosen else None}, word)

    return el(
        "form",
        {"class": "what-if", "data-page": {"page": "what-if"}, "aria-label": "What if"},
        el(
            "label",
            {"class": "what-if-wide"},
            "What if I had done this",
            el(
                "select",
                {"name": "place"},
                [
                    choice(deed.place, f"{clock(deed.t)}  {deed.by}: {deed.text}"[:110], deed.place == place)
                    for deed in mine
                ],
            ),
        ),
        el("label", {}, "by", el("select", {"name": "by"}, [choice(s, _moved(s), s == by) for s in SHIFTS])),
        el(
            "label",
            {},
            "and",
            el(
                "select",
                {"name": "following"},
                choice("yes", "all after it as well", following),
                choice("no", "nothing else", not following),
            ),
        ),
        el("button", {"class": "tool tool-strong", "type": "submit"}, "Compute"),
    )


def answer(asked: str, was: Outcome, then: Outcome, signals: Mapping[str, Signal], system: units.System) -> Markup:
    """The outcome as it was beside the one that comes of the change, as a table in the chosen units."""
    rows = [
        _row("Result", _result(was.sheet), _result(then.sheet)),
        _row("Score", f"{was.sheet['score']:.0f} of 100", f"{then.sheet['score']:.0f} of 100"),
    ]
    for tag, title, _ in FIGURES:
        if tag in was.figures and tag in then.figures:
            rows.append(_figure(title, was.figures[tag], then.figures[tag], signals[tag].unit, system))
    rows += _times(was.sheet, then.sheet)
    rows += _criteria(was.sheet, then.sheet)
    same = " same" if all(row.startswith("<tr>") for row in rows) else ""
    return el(
        "div",
        {"class": f"answer{same}"},
        el("p", {}, el("strong", {}, "What if: "), f"{asked}."),
        el("p", {}, "No change in the result.") if same else None,
        plain_table(("Outcome", "As it was", "Then", "Difference"), rows, "Outcome", "criteria"),
        el(
            "p",
            {"class": "soft"},
            "Calculated with the same plant, drill and seed. Your readings keep the values that you entered, and "
            "with other gauge readings you might have acted differently.",
        ),
    )


def _row(title: str, was: str, then: str, difference: str = "") -> Markup:
    changed = was != then
    return el(
        "tr",
        {"class": "changed" if changed else None},
        el("th", {"scope": "row"}, title),
        el("td", {}, was),
        el("td", {}, then),
        el("td", {}, difference if changed else "the same"),
    )


def _result(sheet: SheetData) -> str:
    """Passed, or why not: critical errors first, then must-pass items without points, then the mark."""
    return "Passed" if sheet.get("passed") else str(sheet.get("verdict") or "Not passed")


def _figure(title: str, was: float, then: float, unit: str, system: units.System) -> Markup:
    if abs(then - was) <= SAME * max(abs(was), abs(then)):
        then = was
    # A difference of absolute temperatures would carry the offset of the scale: none is among the figures.
    more = units.show(abs(then - was), unit, system)
    return _row(
        title,
        units.show(was, unit, system),
        units.show(then, unit, system),
        f"{more} {'more' if then > was else 'less'}",
    )


def _times(was: SheetData, then: SheetData) -> list[Markup]:
    after = {row["id"]: row.get("t") for row in then.get("milestones", [])}
    rows = []
    for row in was.get("milestones", []):
        first, second = row.get("t"), after.get(row["id"])
        if first is None and second is None:
            continue
        difference = ""
        if first is not None and second is not None:
            difference = f"{abs(second - first):.0f} s {'later' if second > first else 'earlier'}"
        rows.append(_row(str(row.get("title") or row["id"]), clock(first), clock(second), difference))
    return rows


def _criteria(was: SheetData, then: SheetData) -> list[Markup]:
    after = {row["id"]: row for row in then.get("criteria", [])}
    rows = []
    for row in was.get("criteria", []):
        first, second = row.get("earned"), after.get(row["id"], {}).get("earned")
        if first is None or second is None or abs(first - second) < 0.05:
            continue
        most = f"{row['points']:g}"
        gained = f"{abs(second - first):.3g} points {'more' if second > first else 'less'}"
        if row.get("required"):
            gained += f". A {MUST}: without points there is no pass."
        if second < first:
            gained += f" {after[row['id']].get('reason') or ''}"
        rows.append(_row(f"Points: {row['title']}", f"{first:.3g} of {most}", f"{second:.3g} of {most}", gained))
    return rows
