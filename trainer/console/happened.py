"""What the system tells of itself over a run: the flow count of each operation, and alarms as they come and go.

An operation is a function's four-way valve, or the pod selector, that takes another position, whoever moved it. Its
count runs until the next operation: two functions worked together share what the meter shows, as they do on a rig. A
plant without a totaliser counts how far the header has fallen instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from trainer import naming, units
from trainer.console.debrief import clock
from trainer.console.expected import Stroke, expected, meaning, near
from trainer.console.harm import Harm
from trainer.console.reading import Readable, Reading
from trainer.console.shell import alarm_name
from trainer.drawing.markup import Markup, el, join, plain_table
from trainer.hydraulics.catalogue import Signal

#: The operations and alarm changes that the lists show, newest first.
SHOWN: Final = 7
KEPT: Final = 200
#: Less than this is the trickle that recharges the stack bottles, no function on its way, m3/s; for how long it is to
#: be so before a function counts as done, s. Invented.
MOVING: Final = units.from_unit(6.0, "gpm")
REST: Final = 4.0
#: For how long nothing has to move where nothing has moved yet: a pilot signal takes its time, s. Invented.
REST_BEFORE: Final = 12.0
SHARED: Final = "Another function or the pod selector moved at the same time: only the sum of both can be judged."
#: What the selected pod takes when its lines fill goes to no function.
_POD: Final = "pod_selector"
_COUNT: Final = "totaliser.count"
_HEADER: Final = "accumulator.pressure"


@dataclass
class Operation:
    """One operation: when, which function to which position, and what it took (m3, or Pa off the header)."""

    t: float
    function: str
    position: str
    took: float = 0.0
    start: float = 0.0
    """Where the part stood when it began, 0 open to 1 closed."""
    wanted: float | None = None
    """What the meter should count, m3; None where nobody helps, or no meter counts."""
    lasted: float = 0.0
    """For how long fluid went to it, s."""
    rests: bool = False
    """Whether fluid has come to rest since."""
    shared: bool = False
    """Whether another function moved at the same time: the meter counts both together."""


class Happened:
    """Looks at a machine again and again and keeps what changed."""

    def __init__(self) -> None:
        self.operations: list[Operation] = []
        self.alarms: list[tuple[float, str, str]] = []
        """Time, tag and the state that the alarm went to."""
        self.harm = Harm()
        self._was: dict[str, float] = {}
        self.strokes: Mapping[str, Stroke] = {}
        """The functions whose count is held against what it should be: in practice all, in an assessment none."""
        self._meter = ""
        self._before = 0.0
        self._base = 0.0
        self._t = 0.0
        self._told: tuple[units.System, dict[str, Reading]] | None = None
        """The texts as last told, until something changes: pages ask ten times a second."""

    def look(self, t: float, machine: Readable) -> list[str]:
        """Note what changed since the last look; returns the tags of alarms that came new."""
        if not self._was or t < self._t:
            self._start(t, machine)
            return []
        passed, self._t = t - self._t, t
        self.harm.look(t, machine)
        self._measure(machine, passed)
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
                function = tag.rpartition(".")[0]
                at = f"{function}.position"
                start = machine.read(at) if at in machine.signals else 0.0
                operation = Operation(t, function, state, start=start)
                if self.operations and not self.still(self.operations[-1]):
                    self.operations[-1].shared = operation.shared = True
                self.operations.append(operation)
                self._base = self._before
        del self.operations[:-KEPT], self.alarms[:-KEPT]
        return came

    def _start(self, t: float, machine: Readable) -> None:
        """Begin, or begin again after a run was taken back to an earlier moment."""
        signals = machine.signals
        self.harm.start(t, machine)
        self._told = None
        self.operations = [each for each in self.operations if each.t <= t]
        self.alarms = [each for each in self.alarms if each[0] <= t]
        watched = [tag for tag in signals if tag.startswith("alarm.") or _of_function(tag, signals)]
        self._was = {tag: machine.read(tag) for tag in watched}
        self._meter = next((tag for tag in (_COUNT, _HEADER) if tag in signals), "")
        self._before = machine.read(self._meter) if self._meter else 0.0
        self._base, self._t = self._before, t

    def _measure(self, machine: Readable, passed: float) -> None:
        """Add what the meter shows since the last look to the operation that is going on."""
        if not self._meter:
            return
        value = machine.read(self._meter)
        if self.operations:
            last = self.operations[-1]
            before = last.took
            if self._meter == _COUNT:
                # A count that went down was reset: go on counting from there.
                more = value - self._before if value >= self._before else value
                # What trickles on afterwards recharges the stack bottles, and belongs to no operation.
                took = last.took if last.rests and more <= MOVING * max(passed, 0.0) else last.took + more
            else:
                took = max(last.took, self._base - value)
            if took != last.took:
                last.took, self._told = took, None
            least = MOVING if self._meter == _COUNT else 0.0
            if took - before > least * max(passed, 0.0):
                last.lasted = self._t - last.t
            self._expect(last, machine)
            if self.still(last) is not last.rests:
                last.rests, self._told = not last.rests, None
        self._before = value

    def _expect(self, last: Operation, machine: Readable) -> None:
        stroke = self.strokes.get(last.function)
        if stroke is None or self._meter != _COUNT:
            return
        limit = f"{last.function}.limit"
        stop = machine.read(limit) if limit in getattr(machine, "index", ()) else 1.0
        last.wanted = expected(stroke, last.position, last.start, stop)

    def still(self, operation: Operation) -> bool:
        """Whether fluid has come to rest after an operation."""
        return self._t - operation.t - operation.lasted >= (REST if operation.lasted > 0.0 else REST_BEFORE)

    def beside(self, operation: Operation, system: units.System) -> str:
        """What an operation should have taken and the difference; nothing where nobody helps."""
        if operation.wanted is None:
            return ""
        if operation.shared:
            return "with another operation"
        off = operation.took - operation.wanted
        sign = "+" if off >= 0.0 else "−"
        told = f"expected {units.show(operation.wanted, 'gal', system)}, {sign}{units.show(abs(off), 'gal', system)}"
        if not self.still(operation) and operation is self.operations[-1]:
            return told
        return f"{told}: {'normal' if near(operation.wanted, operation.took) else 'not normal'}"

    def _short(self, last: Operation, system: units.System) -> str:
        """Beside the meter: what was expected and on which side the count is, or that the pod took it."""
        if last.function == _POD:
            return f"pod selector to {last.position}"
        if last.wanted is None or last.shared:
            return self.beside(last, system)
        told = f"expected {units.show(last.wanted, 'gal', system)}"
        if not self.still(last):
            return told
        return f"{told}: {'normal' if near(last.wanted, last.took) else 'high' if last.took > last.wanted else 'low'}"

    def texts(self, system: units.System) -> dict[str, Reading]:
        """The page's texts: both lists, and what the last operation took."""
        if self._told is None or self._told[0] != system:
            self._told = system, self._texts(system)
        return self._told[1]

    def _texts(self, system: units.System) -> dict[str, Reading]:
        last = self.operations[-1] if self.operations else None
        return {
            "page.spent": {"text": self._took(last, system) if last else "–"},
            "page.spent_of": {"text": self._short(last, system) if last else ""},
            "page.operations": {"html": self._listed(system)},
            "page.alarm_log": {"html": self._alarm_log()},
        }

    def summary(self, system: units.System) -> Markup:
        """All operations and alarms of a run, for the end of a free practice."""
        spent = "Flow count" if self._meter == _COUNT else "Header pressure used"
        operations = [
            (clock(each.t), f"{naming.target(each.function)} {each.position}", self._took(each, system))
            for each in self.operations
        ]
        alarms = [(clock(t), alarm_name(tag), state) for t, tag, state in self.alarms]
        return el(
            "section",
            {"aria-label": "Summary"},
            el("h2", {}, "Critical errors") if self.harm.told else None,
            [
                el("p", {}, el("strong", {}, f"{clock(t)} "), f"{said} In a drill no pass is possible after this.")
                for t, said in self.harm.told
            ],
            _table("Functions operated", ("When", "Function", spent), operations, "No function was operated."),
            _table("Alarms", ("When", "Alarm", "State"), alarms, "No alarm came."),
        )

    @property
    def counts(self) -> bool:
        """Whether a flow meter counts; else the header's fall is what an operation took."""
        return self._meter == _COUNT

    def amount(self, took: float, system: units.System) -> str:
        """What an operation took, as text: gallons of the meter, or pressure off the header."""
        return units.show(took, "gal" if self.counts else "psi", system)

    def _took(self, operation: Operation, system: units.System) -> str:
        return self.amount(operation.took, system)

    def _listed(self, system: units.System) -> Markup:
        if not self.operations:
            return Markup("<li>No functions operated.</li>")
        return Markup(
            "".join(
                el(
                    "li",
                    {},
                    el("span", {"class": "log-time"}, clock(each.t)),
                    el("span", {"class": "log-what"}, f"{naming.target(each.function)} {each.position}"),
                    el("strong", {}, self._took(each, system)),
                    self._judged(each, system),
                )
                for each in self.operations[: -SHOWN - 1 : -1]
            )
        )

    def _judged(self, each: Operation, system: units.System) -> Markup | None:
        """In practice: what was expected, and what the difference can mean."""
        if each.wanted is None:
            return None
        if each.shared:
            return el("span", {"class": "log-why"}, SHARED)
        means = meaning(each.wanted, each.took) if self.still(each) or each is not self.operations[-1] else "Going on."
        return el("span", {"class": "log-why"}, f"{self.beside(each, system)}. {means}")

    def _alarm_log(self) -> Markup:
        if not self.alarms:
            return Markup("<li>No alarms.</li>")
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
        return join(el("h2", {}, title), el("p", {}, empty))
    return plain_table(heads, rows, title, "criteria")


def _of_function(tag: str, signals: Mapping[str, Signal]) -> bool:
    return tag == f"{_POD}.position" or (tag.endswith(".valve") and signals[tag].states == ("block", "open", "close"))
