"""What the system tells of itself over a run: the flow count of each operation, and alarms as they come and go.

An operation is a function's four-way valve that takes another position, whoever moved it. Its count runs until the
next operation: two functions worked together share what the meter shows, as they do on a rig. A plant without a
totaliser counts how far the header has fallen instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from trainer import units
from trainer.console.debrief import clock, name_of
from trainer.console.shell import alarm_name
from trainer.drawing.markup import Markup, el, join
from trainer.plant.catalogue import Signal

Reading = dict[str, object]

#: The operations and alarm changes that the lists show, newest first.
SHOWN: Final = 7
KEPT: Final = 200
_COUNT: Final = "totaliser.count"
_HEADER: Final = "accumulator.pressure"


class _Readable(Protocol):
    @property
    def signals(self) -> Mapping[str, Signal]: ...

    def read(self, tag: str) -> float: ...


@dataclass
class Operation:
    """One operation: when, which function to which position, and what it took (m3, or Pa off the header)."""

    t: float
    function: str
    position: str
    took: float = 0.0


class Happened:
    """Looks at a machine again and again and keeps what changed."""

    def __init__(self) -> None:
        self.operations: list[Operation] = []
        self.alarms: list[tuple[float, str, str]] = []
        """Time, tag and the state that the alarm went to."""
        self._was: dict[str, float] = {}
        self._meter = ""
        self._before = 0.0
        self._base = 0.0
        self._t = 0.0
        self._told: tuple[units.System, dict[str, Reading]] | None = None
        """The texts as last told, until something changes: pages ask ten times a second."""

    def look(self, t: float, machine: _Readable) -> list[str]:
        """Note what changed since the last look; returns the tags of alarms that came new."""
        if not self._was or t < self._t:
            self._start(t, machine)
            return []
        self._t = t
        self._measure(machine)
        came = []
        for tag, was in self._was.items():
            value = machine.read(tag)
            if value == was:
                continue
            self._was[tag], self._told = value, None
            state = machine.signals[tag].states[int(value + 0.5)]
            if tag.startswith("alarm."):
                self.alarms.append((t, tag, state))
                came += [tag] if state == "unacknowledged" else []
            else:
                self.operations.append(Operation(t, tag.removesuffix(".valve"), state))
                self._base = self._before
        del self.operations[:-KEPT], self.alarms[:-KEPT]
        return came

    def _start(self, t: float, machine: _Readable) -> None:
        """Begin, or begin again after a run was taken back to an earlier moment."""
        signals = machine.signals
        self._told = None
        self.operations = [each for each in self.operations if each.t <= t]
        self.alarms = [each for each in self.alarms if each[0] <= t]
        watched = [tag for tag in signals if tag.startswith("alarm.") or _of_function(tag, signals)]
        self._was = {tag: machine.read(tag) for tag in watched}
        self._meter = next((tag for tag in (_COUNT, _HEADER) if tag in signals), "")
        self._before = machine.read(self._meter) if self._meter else 0.0
        self._base, self._t = self._before, t

    def _measure(self, machine: _Readable) -> None:
        """Add what the meter shows since the last look to the operation that is going on."""
        if not self._meter:
            return
        value = machine.read(self._meter)
        if self.operations:
            last = self.operations[-1]
            if self._meter == _COUNT:
                # A count that went down was reset: go on counting from there.
                took = last.took + (value - self._before if value >= self._before else value)
            else:
                took = max(last.took, self._base - value)
            if took != last.took:
                last.took, self._told = took, None
        self._before = value

    def texts(self, system: units.System) -> dict[str, Reading]:
        """The page's texts: both lists, and what the last operation took."""
        if self._told is None or self._told[0] != system:
            self._told = system, self._texts(system)
        return self._told[1]

    def _texts(self, system: units.System) -> dict[str, Reading]:
        last = self.operations[-1] if self.operations else None
        return {
            "page.spent": {"text": self._took(last, system) if last else "–"},
            "page.operations": {"html": self._listed(system)},
            "page.alarm_log": {"html": self._alarm_log()},
        }

    def summary(self, system: units.System) -> Markup:
        """All operations and alarms of a run, for the end of a free practice."""
        spent = "Flow count" if self._meter == _COUNT else "Header pressure spent"
        operations = [
            (clock(each.t), f"{name_of(each.function)} {each.position}", self._took(each, system))
            for each in self.operations
        ]
        alarms = [(clock(t), alarm_name(tag), state) for t, tag, state in self.alarms]
        return el(
            "section",
            {"aria-label": "Summary"},
            _table("Functions operated", ("When", "Function", spent), operations, "No function was operated."),
            _table("Alarms", ("When", "Alarm", "State"), alarms, "No alarm came."),
        )

    def _took(self, operation: Operation, system: units.System) -> str:
        unit = "gal" if self._meter == _COUNT else "psi"
        return units.show(operation.took, unit, system)

    def _listed(self, system: units.System) -> Markup:
        if not self.operations:
            return Markup("<li>No function has been worked yet.</li>")
        return Markup(
            "".join(
                el(
                    "li",
                    {},
                    el("span", {"class": "log-time"}, clock(each.t)),
                    el("span", {"class": "log-what"}, f"{name_of(each.function)} {each.position}"),
                    el("strong", {}, self._took(each, system)),
                )
                for each in self.operations[: -SHOWN - 1 : -1]
            )
        )

    def _alarm_log(self) -> Markup:
        if not self.alarms:
            return Markup("<li>No alarm has come yet.</li>")
        return Markup(
            "".join(
                el(
                    "li",
                    {},
                    el("span", {"class": "log-time"}, clock(t)),
                    el("span", {"class": "log-what"}, alarm_name(tag)),
                    el("span", {}, state),
                )
                for t, tag, state in self.alarms[: -SHOWN - 1 : -1]
            )
        )


def _table(title: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]], empty: str) -> Markup:
    if not rows:
        return Markup(join(el("h2", {}, title), el("p", {}, empty)))
    return el(
        "table",
        {"class": "criteria"},
        el("caption", {}, title),
        el("thead", {}, el("tr", {}, [el("th", {"scope": "col"}, word) for word in heads])),
        el("tbody", {}, [el("tr", {}, [el("td", {}, text) for text in row]) for row in rows]),
    )


def _of_function(tag: str, signals: Mapping[str, Signal]) -> bool:
    return tag.endswith(".valve") and signals[tag].states == ("block", "open", "close")
