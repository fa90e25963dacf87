"""The sequence trainer: functions worked in a named order at one's own pace, each with its gallons and seconds.

A step is done when its control takes its position, from whatever station. The gallons and seconds are those of the
flow meter (``trainer.console.happened``). Practice holds them against what is expected; an assessment shows the count
alone. The last time of each sequence, and one's own sequences, are kept in this browser.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Final

from trainer import naming, units
from trainer.console.debrief import clock
from trainer.console.expected import meaning
from trainer.console.happened import Happened, Operation
from trainer.console.kept import KEPT_SEQUENCES as KEPT
from trainer.console.message import Message
from trainer.console.reading import Reading
from trainer.console.shell import button
from trainer.console.told import PLACES
from trainer.drawing.markup import Markup, el, join, plain_table
from trainer.drawing.rig_view import RigView
from trainer.session.session import Entry
from trainer.simulator import Session

OWN: Final = "own"
POD: Final = "pod_selector"
MOST_STEPS: Final = 40
LONGEST_KEPT: Final = 20_000

Steps = tuple[tuple[str, str], ...]
Patch = dict[str, dict[str, object]]


@dataclass(frozen=True, slots=True)
class Named:
    """A sequence by its id: title, and the steps, each a control and its position."""

    id: str
    title: str
    steps: Steps


@dataclass
class Done:
    """A step that was done: when (s), from where, and its operation where fluid was counted."""

    t: float
    by: str
    operation: Operation | None = None


@dataclass
class Going:
    """A sequence that is worked: the log entry from which on it looks, what was done, and what was done out of turn."""

    named: Named
    entry: int
    began: float
    done: list[Done] = field(default_factory=list)
    amiss: list[str] = field(default_factory=list)
    kept: bool = False

    @property
    def over(self) -> bool:
        """Whether the last step is done and the fluid that it moved has come to rest."""
        if len(self.done) < len(self.named.steps):
            return False
        operation = self.done[-1].operation
        return operation.rests if operation is not None else self.named.steps[-1][0] == POD


def named(rig: RigView) -> list[Named]:
    """The sequences that a plant's functions suggest: preventers in turn, all together, and pods where it has them."""
    plain = [f for f in rig.column() if f.kind in ("annular", "pipe_ram") and not f.critical]
    found = [
        Named("in-turn", "Close and open in turn", tuple((f.id, way) for f in plain for way in ("close", "open"))),
        Named(
            "drawdown",
            "Drawdown: close all, then open all",
            (*((f.id, "close") for f in plain), *((f.id, "open") for f in plain)),
        ),
    ]
    if rig.pods and plain:
        one, other = rig.pods[0].id, rig.pods[-1].id
        trial = plain[-1].id
        steps = ((trial, "close"), (trial, "open"))
        found.append(Named("pods", "Change pod and try it", ((POD, other), *steps, (POD, one), *steps)))
    return [each for each in found if each.steps]


class Sequences:
    """What the panel of sequences does for one run. ``run`` is worked elsewhere; this only looks."""

    def __init__(self, run: Session, rig: RigView, helped: bool, before: Sequences | None = None) -> None:
        self.run = run
        self._rig = rig.id
        self._named = {each.id: each for each in named(rig)}
        self._helped = helped
        self._known = {target for _, target in run.machine.operables}
        self.open = False
        self._going: Going | None = None
        self._record: list[tuple[str, str]] | None = None
        self._entry = 0
        self._happened = Happened()
        self._last: dict[str, list[list[float]]] = {}
        self._before: list[list[float]] = []
        """The last time of the sequence that is worked, as it was when this one began."""
        self._kept: dict[str, object] = before.kept if before is not None else {}
        self._news = ""
        self._adopt()

    @property
    def kept(self) -> dict[str, object]:
        """What is kept of all rigs, as plain data for the browser: the runs of each sequence by rig."""
        return self._kept

    # What the browser kept

    def _adopt(self) -> None:
        """Take what was kept for this rig; whatever is no such thing is passed over."""
        mine = self._kept.get(self._rig)
        mine = mine if isinstance(mine, dict) else {}
        last = mine.get("last")
        if isinstance(last, dict):
            self._last = {str(name): rows for name, rows in last.items() if _rows(rows)}
        own = mine.get(OWN)
        if isinstance(own, list) and 0 < len(own) <= MOST_STEPS:
            steps = tuple((str(row[0]), str(row[1])) for row in own if isinstance(row, list) and len(row) == 2)
            if steps and all(target in self._known for target, _ in steps):
                self._named[OWN] = Named(OWN, "My own", steps)

    def _keep(self) -> None:
        own = self._named.get(OWN)
        self._kept[self._rig] = {"last": self._last, **({OWN: [list(step) for step in own.steps]} if own else {})}
        self._news = json.dumps(self._kept)

    # What the page says

    def handle(self, message: Message) -> None:
        """Do what a message of the panel says."""
        value = str(message.get("value") or "")
        match message.get("page"):
            case "sequences":
                self.open = value == "open"
                self._recall(str(message.get("kept") or ""))
            case "sequence" if value in self._named:
                self._begin(self._named[value])
            case "sequence-stop":
                self._going = None
            case "sequence-record":
                self._going, self._record, self._entry = None, [], len(self.run.log)
            case "sequence-keep" if self._record is not None:
                if self._record:
                    self._named[OWN] = Named(OWN, "My own", tuple(self._record[:MOST_STEPS]))
                    self._last.pop(OWN, None)
                    self._keep()
                self._record = None

    def _recall(self, kept: str) -> None:
        if self._kept or not kept or len(kept) > LONGEST_KEPT:
            return
        try:
            found = json.loads(kept)
        except ValueError:
            return
        if isinstance(found, dict):
            self._kept = found
            self._adopt()

    def _begin(self, chosen: Named) -> None:
        self._record = None
        self._going, self._before = Going(chosen, len(self.run.log), self.run.time), self._last.get(chosen.id, [])

    # What it sees

    def look(self, happened: Happened) -> None:
        """See what was done since the last look."""
        self._happened = happened
        if self._record is not None:
            for entry in self.run.log[self._entry :]:
                if self._counts(entry):
                    self._record.append((entry.target, str(entry.value)))
            self._entry = len(self.run.log)
        going = self._going
        if going is None:
            return
        for entry in self.run.log[going.entry :]:
            if self._counts(entry) and len(going.done) < len(going.named.steps):
                self._step(going, entry)
        going.entry = len(self.run.log)
        for (target, _), done in zip(going.named.steps, going.done, strict=False):
            if done.operation is None:
                fits = (one for one in happened.operations if one.function == target and one.t >= done.t - 0.2)
                done.operation = next(fits, None)
        if going.over and not going.kept:
            going.kept = True
            self._last[going.named.id] = [
                [done.operation.lasted if done.operation else 0.0, done.operation.took if done.operation else 0.0]
                for done in going.done
            ]
            self._keep()

    def _counts(self, entry: Entry) -> bool:
        """Whether an entry of the log puts a function or the pod selector somewhere."""
        moved = entry.do == "set" and entry.refused is None and isinstance(entry.value, str)
        return moved and (f"{entry.target}.valve" in self.run.machine.signals or entry.target == POD)

    def _step(self, going: Going, entry: Entry) -> None:
        t = entry.t
        if (entry.target, entry.value) == going.named.steps[len(going.done)]:
            going.done.append(Done(t, PLACES.get(entry.from_, entry.from_)))
        else:
            going.amiss.append(f"{clock(t)} {_named(entry.target, str(entry.value))}")

    @property
    def points(self) -> tuple[str, ...]:
        """The control of the next step, for the page to light; in an assessment nothing is lit."""
        going = self._going
        if going is None or not self._helped or len(going.done) >= len(going.named.steps):
            return ()
        target, value = going.named.steps[len(going.done)]
        return (f"control:{target}={value}",)

    # What the page shows

    def line(self) -> str:
        """The next step, for the line of the coach; nothing where no sequence is worked."""
        going = self._going
        if going is None or not self._helped:
            return ""
        if len(going.done) == len(going.named.steps):
            return f"{going.named.title}: all steps done."
        at = len(going.done)
        return f"{going.named.title}, step {at + 1} of {len(going.named.steps)}: {_named(*going.named.steps[at])}."

    def texts(self, system: units.System) -> dict[str, Reading]:
        """The readings of the panel's board, amounts in the chosen units, and what the browser is to keep anew."""
        out: dict[str, Reading] = {
            "page.sequences": {"state": "open" if self.open else "shut"},
            "page.sequence": {"html": self._shown(system) if self.open else Markup("")},
        }
        if self._news:
            out["page.sequences_kept"] = {"state": KEPT, "text": self._news}
        return out

    def _shown(self, system: units.System) -> Markup:
        if self._record is not None:
            rows = [el("li", {}, _named(*step)) for step in self._record]
            return el(
                "div",
                {},
                el("p", {}, "Operate the functions in your own order, from any station. Then keep it."),
                el("ol", {}, rows),
                button("Keep as my own", {"page": "sequence-keep"}, "tool tool-strong"),
            )
        going = self._going
        if going is None:
            return el(
                "div",
                {},
                el("p", {}, "Choose a sequence. Operate it at your own pace, from any station."),
                [
                    button(f"{each.title} ({len(each.steps)} steps)", {"page": "sequence", "value": each.id}, "tool")
                    for each in self._named.values()
                ],
                button("Make my own", {"page": "sequence-record"}),
            )
        return self._table(going, system)

    def _table(self, going: Going, system: units.System) -> Markup:
        last = self._before
        heads = ["Step", "At", "From", "Seconds", "Counted" if self._happened.counts else "Spent"]
        heads += ["Expected", "Difference"] if self._helped else []
        heads += ["Last time"]
        rows = []
        for at, step in enumerate(going.named.steps):
            done = going.done[at] if at < len(going.done) else None
            before = last[at] if at < len(last) else None
            rows.append(self._row(step, done, before, at == len(going.done), system))
        return el(
            "div",
            {},
            el("h3", {}, going.named.title),
            plain_table(heads, rows, css="sequence-table"),
            el("p", {}, self._total(going, system)) if going.done else None,
            el("p", {"class": "row-why"}, f"Out of turn: {'; '.join(going.amiss)}.") if going.amiss else None,
            button("Choose another sequence", {"page": "sequence-stop"}),
            button("Again from the start", {"page": "sequence", "value": going.named.id}),
        )

    def _row(
        self,
        step: tuple[str, str],
        done: Done | None,
        before: list[float] | None,
        following: bool,
        system: units.System,
    ) -> Markup:
        one = done.operation if done is not None else None
        took = self._happened.amount(one.took, system) if one is not None else "–"
        cells = [
            clock(done.t) if done is not None else "–",
            done.by if done is not None else "",
            f"{one.lasted:.0f} s" if one is not None else "–",
            took,
        ]
        why = None
        if self._helped:
            wanted = one.wanted if one is not None else None
            off = one.took - wanted if one is not None and wanted is not None else None
            cells += [
                units.show(wanted, "gal", system) if wanted is not None else "–",
                f"{'+' if off >= 0.0 else '−'}{units.show(abs(off), 'gal', system)}" if off is not None else "–",
            ]
            if one is not None and wanted is not None and one.rests:
                why = meaning(wanted, one.took)
        cells.append(f"{before[0]:.0f} s, {self._happened.amount(before[1], system)}" if before is not None else "–")
        mark = {"aria-current": "step"} if following else {}
        name = el("th", {"scope": "row", **mark}, "▸ " if following else None, _named(*step))
        row = el("tr", {}, name, [el("td", {}, cell) for cell in cells])
        return join(row, el("tr", {"class": "row-why"}, el("td", {"colspan": len(cells) + 1}, why)) if why else None)

    def _total(self, going: Going, system: units.System) -> str:
        counted = seconds = 0.0
        for done in going.done:
            if done.operation is not None:
                counted += done.operation.took
                seconds += done.operation.lasted
        lasted = going.done[-1].t - going.began
        return (
            f"{len(going.done)} of {len(going.named.steps)} steps in {clock(lasted)}; fluid moved for {seconds:.0f} s, "
            f"{'counted' if self._happened.counts else 'spent'} {self._happened.amount(counted, system)} in all."
        )


def _rows(rows: object) -> bool:
    return (
        isinstance(rows, list)
        and len(rows) <= MOST_STEPS
        and all(
            isinstance(row, list) and len(row) == 2 and all(isinstance(n, int | float) and n == n for n in row)
            for row in rows
        )
    )


def _named(target: str, value: str) -> str:
    return f"{naming.target(target)}: {value}"


def board() -> Markup:
    """The panel of sequences."""
    return el(
        "dialog",
        {"class": "beside sequences", "data-dialog": "page.sequences", "tabindex": -1, "aria-label": "Sequences"},
        el(
            "div",
            {"class": "talk-head"},
            el("h2", {}, "Sequences"),
            button("Hide", {"page": "sequences", "value": ""}),
        ),
        el("div", {"data-html": "page.sequence", "aria-live": "polite"}, ""),
        el("span", {"data-keep": "page.sequences_kept"}, ""),
    )
