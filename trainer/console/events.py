"""The event log of a control system by messages: orders and from where, what the pods answered, links and alarms.

It is the system's own record, so it has what the panels know and no more: an order that was refused is in it, a fault
is not. The first alarm that came while none was on is marked as the first out. Newest first; what is shown of it, and
in which order, is for the page's own switches.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from trainer import naming
from trainer.console.debrief import clock
from trainer.console.shell import alarm_name
from trainer.console.told import PLACES, Teller
from trainer.drawing.markup import Markup, el, join
from trainer.drills.schema import Drill
from trainer.hydraulics.catalogue import Signal
from trainer.simulator import Session
from trainer.units import System

KEPT: Final = 2000
SHOWN: Final = 120
"""Lines that the log keeps, and those that the page shows."""
IN_ANSWER: Final = 60.0
"""s after an order: what is answered later is no answer to it, but a link that came back. Invented."""
BY_ORDER: Final = ("set", "push", "raise", "lower")
ANSWER: Final = ".answer"
#: What the filter offers: the kind of a line, and the word on the button.
KINDS: Final = (("all", "All"), ("order", "Orders"), ("answer", "Answers"), ("link", "Links"), ("alarm", "Alarms"))


@dataclass(frozen=True)
class Event:
    """One line: when (s), its kind, from which station or pod, about what, and what of it."""

    t: float
    kind: str
    where: str
    what: str
    state: str


def kept_by(signals: Mapping[str, Signal]) -> bool:
    """Whether a plant has such a log: its orders are messages, which the pods answer."""
    return any(tag.endswith(ANSWER) for tag in signals)


class EventLog:
    """Looks at a run again and again and keeps what happened, as far as its control system knows."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self._run: Session | None = None
        self._was: dict[str, float] = {}
        self._ordered: dict[str, float] = {}
        self._read = 0
        self._t = 0.0
        self._told: Markup | None = None

    def look(self, run: Session, drill: Drill | None, system: System) -> None:
        """Note what changed since the last look; a run that went back loses what came after."""
        fresh = run is not self._run or run.time < self._t
        if fresh:
            self._start(run)
        self._t = run.time
        self._orders(run, drill, system)
        if fresh:
            self.events.sort(key=lambda event: event.t)
        for tag, was in self._was.items():
            value = run.machine.read(tag)
            if value != was:
                self._was[tag] = value
                self._note(run, tag, run.machine.signals[tag].states[int(value + 0.5)])
        del self.events[:-KEPT]

    def _start(self, run: Session) -> None:
        signals = run.machine.signals
        # Taken back to an earlier moment: the same run, or another whose log is the beginning of its.
        before = self._run
        same = before is not None and (run is before or list(run.log) == list(before.log)[: len(run.log)])
        # Orders are read anew from the log; what was answered up to then stays.
        self.events = [one for one in self.events if same and one.t <= run.time and one.kind != "order"]
        self._run, self._told, self._ordered, self._read = run, None, {}, 0
        watched = [tag for tag in signals if tag.endswith(ANSWER) or _of_links(tag) or tag.startswith("alarm.")]
        self._was = {tag: run.machine.read(tag) for tag in watched} if kept_by(signals) else {}

    def _orders(self, run: Session, drill: Drill | None, system: System) -> None:
        if len(run.log) == self._read or not self._was:
            return
        teller = Teller(run.machine, drill, system)
        for entry in run.log[self._read :]:
            if entry.do in BY_ORDER and entry.from_ in PLACES and entry.from_ not in ("unit", "floor"):
                words = teller.words(entry.do, entry.target, entry.value)
                state = "sent" if entry.refused is None else "refused"
                self._add(Event(entry.t, "order", PLACES[entry.from_], words, state))
                if entry.refused is None:
                    self._ordered[entry.target] = entry.t
        self._read = len(run.log)

    def _note(self, run: Session, tag: str, state: str) -> None:
        part = tag.rpartition(".")[0]
        if tag.startswith("alarm."):
            others = [at for at in self._was if at.startswith("alarm.") and at != tag and self._was[at] > 0.5]
            first = state == "unacknowledged" and not others
            self._add(Event(run.time, "alarm", "Alarm", alarm_name(tag), f"{state}, first out" if first else state))
        elif not tag.endswith(ANSWER):
            where = "Controllers" if tag.endswith(".leads") else f"{naming.title(part.split('_')[-1])} pod"
            what = {"up": "Link", "leads": "Leads"}.get(tag.rpartition(".")[2], naming.title(tag.split(".")[-1]))
            self._add(Event(run.time, "link", where, what, state))
        elif state != "waiting":
            selector = run.machine.signals["pod_selector.position"]
            pod = selector.states[int(run.machine.read("pod_selector.position") + 0.5)]
            took = run.time - self._ordered.get(part, -math.inf)
            after = f" after {took:.1f} s" if state == "answered" and took < IN_ANSWER else ""
            self._add(Event(run.time, "answer", f"{naming.title(pod)} pod", naming.title(part), state + after))

    def _add(self, event: Event) -> None:
        self.events.append(event)
        self._told = None

    def markup(self) -> Markup:
        """The lines as list items, the newest first, each with its kind for the page's filter."""
        if self._told is None:
            lines = [
                el(
                    "li",
                    {"data-kind": one.kind},
                    el("span", {"class": "log-time"}, clock(one.t)),
                    el("span", {"class": "log-where"}, one.where),
                    el("span", {"class": "log-what"}, one.what),
                    el("strong", {}, one.state),
                )
                for one in self.events[: -SHOWN - 1 : -1]
            ]
            self._told = join(*lines) if lines else el("li", {}, "No events.")
        return self._told


def _of_links(tag: str) -> bool:
    return (tag.startswith("link_") and tag.endswith(".up")) or tag.endswith((".leads", "_answers"))


def board() -> Markup:
    """The log with its switches: what kind of lines it shows, and whether the oldest stands first."""
    kinds = [
        el(
            "label",
            {"class": "log-kind"},
            el("input", {"type": "radio", "name": "log-kind", "value": kind, "checked": "checked" if not n else None}),
            word,
        )
        for n, (kind, word) in enumerate(KINDS)
    ]
    turned = el("label", {"class": "log-kind"}, el("input", {"type": "checkbox", "value": "oldest"}), "Oldest first")
    return el(
        "section",
        {"class": "log log-events", "aria-label": "Event log"},
        el("h3", {}, "Event log"),
        el("div", {"class": "log-kinds", "role": "group", "aria-label": "Lines shown"}, kinds, turned),
        el("ul", {"data-html": "page.events"}, el("li", {}, "No events.")),
    )
