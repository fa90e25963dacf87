"""Which of many plants a referee has to look at: those on which something that its conditions compare has turned.

A condition is made of comparisons of readings; each is worked out for all plants by one call. As long as none of them
turns on a plant, and no time runs there, a referee that changed nothing at its last look would change nothing now.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from trainer.constants import HAIR
from trainer.drills.binding import Binder
from trainer.drills.expressions import Expression, walk
from trainer.drills.language import Call, Comparison, Logic, Name, Node, Text
from trainer.drills.runner import Runner, ScoredPlant
from trainer.planning.ensemble.columns import Columns

Row = np.ndarray[Any, np.dtype[Any]]
Many = Callable[[], Any]
_COMPARE: dict[str, Callable[[Any, Any], Any]] = {
    "<": np.less,
    "<=": np.less_equal,
    ">": np.greater,
    ">=": np.greater_equal,
    "==": np.equal,
    "!=": np.not_equal,
}
_RECKON: dict[str, Callable[[Any, Any], Any]] = {"+": np.add, "-": np.subtract, "*": np.multiply}


class Referee(Runner):
    """A drill's referee that also tells whether it can be left alone until something turns."""

    still = False
    """Whether the last look changed nothing and nothing runs by time alone."""
    due = 0.0
    """The next time at which something happens by the clock, s."""
    watch_due = 0.0
    """The next time at which one of the criteria has to watch the plant, s."""

    def attach(self, machine: ScoredPlant) -> None:
        """Bind every condition to the plant, as a single run does, and note which go by the clock alone."""
        super().attach(machine)
        clocked = [(n, item.ready["at"]) for n, item in enumerate(self.prepared.events) if "when" not in item.ready
                   and "at" in item.ready]  # fmt: skip
        self._clock = {n: self.binder.quantity(expression)() for n, expression in clocked}
        self._timed = [(key, names) for key, e in self.watched() if (names := _timed(e)) is not None]

    def watched(self) -> list[tuple[str, Expression]]:
        """Every condition that is looked at after a scan, with the key under which it is reached, if it is."""
        found = [(latch.key, latch.expression) for latch in self._latches]
        found += [("", item.ready["when"]) for item in self.prepared.events if "when" in item.ready]
        found += [("", judge.ready["holds"]) for judge in self._watching if "holds" in judge.ready]
        if self._end is not None:
            found.append(("", self._end.expression))
        return found

    def look(self, t: float, last: float) -> None:
        """``after`` at ``t``; the scan before was at ``last``, whether it was looked at or not."""
        self._last = last
        marks = self._marks()
        self.after(t)
        self.still = self._marks() == marks and not self._runs(t)
        waiting = [self._clock.get(n, math.inf) for n in self.events.waiting]
        ending = [] if self._end is None else [self._end]
        waiting += [latch.due() for latch in (*self._pending, *ending)]
        self.due = min([self.drill.end.at, *waiting])
        self.watch_due = min([judge.due for judge in self._watching], default=math.inf)

    def watch(self, t: float, last: float) -> None:
        """Let the criteria watch that are due at ``t``, where nothing has turned and nothing else is due."""
        for judge in self._watching:
            if t >= judge.due - HAIR:
                before = judge.progress()
                judge.watch(t, t - last)
                self.still = self.still and judge.progress() == before
        self.watch_due = min([judge.due for judge in self._watching], default=math.inf)

    def _marks(self) -> tuple[int, int, list[Any]]:
        progress = [judge.progress() for judge in self._watching]
        return len(self.scope.reached), len(self.events.waiting), progress

    def _runs(self, t: float) -> bool:
        """Whether time alone may change something: a fault that grows, an event that waits, a time, an end put off."""
        events, reached, end = self.events, self.scope.reached, self._end
        if events.growing or events.holding:
            return True
        if end is not None and t >= end.due() - HAIR:
            return True
        return any(key not in reached and (not names or not names.isdisjoint(reached)) for key, names in self._timed)


def _timed(expression: Expression) -> frozenset[str] | None:
    """Milestones from which on a condition's comparisons move by themselves; empty: always; None: never."""
    names: set[str] = set()
    for node in walk(expression.tree):
        if isinstance(node, Name) and node.value == "t":
            return frozenset()
        if isinstance(node, Call) and node.name == "since":
            first = node.arguments[0]
            assert isinstance(first, Name | Text)  # the checker let nothing else pass
            names.add(first.value)
    return frozenset(names) or None


class Rows(Binder):
    """Binds the terms of a drill's conditions to all plants of a block at once: a value is a row of numbers."""

    def __init__(self, referees: Sequence[Referee], columns: Columns) -> None:
        first = referees[0].binder
        super().__init__(first.scope, first.signals, first.choices)
        self.referees = referees
        self.columns = columns
        self.at: dict[str, Row] = {}

    def comparison(self, left: Node, sign: str, right: Node) -> Many:
        """Where a comparison holds: what gives, each time it is asked, one answer a plant."""
        compare, a, b = _COMPARE[sign], self._side(left, right), self._side(right, left)
        return lambda: compare(a(), b())

    def positive(self, node: Node) -> Many:
        """Where a quantity that stands for a condition says yes, which is over a half: one answer a plant."""
        value = self._value(node)
        return lambda: value() > 0.5

    def _value(self, node: Node) -> Many:
        if isinstance(node, Call) and node.name == "at":
            row = self.at.setdefault(node.key, np.full(len(self.referees), math.nan))
            return lambda: row
        return super()._value(node)

    def _side(self, node: Node, other: Node) -> Many:
        if isinstance(node, Text) and isinstance(other, Name):
            number = self._index(other.value, node.value)
            return lambda: number
        return self._value(node)

    def _name(self, tag: str) -> Many:
        if tag == "t":
            return super()._name(tag)
        if tag.startswith("vary."):
            drawn = np.array([referee.scope.vary[tag[5:]] for referee in self.referees])
            return lambda: drawn
        columns, row = self.columns, self.columns.mould.index[tag]
        return lambda: columns.state[row]

    def _reckon(self, sign: str, a: Many, b: Many) -> Many:
        if sign in _RECKON:
            reckon = _RECKON[sign]
            return lambda: reckon(a(), b())
        return lambda: _quotient(a(), b())

    def _apply(self, name: str, terms: list[Many]) -> Many:
        return _function(name, terms)


class Watch:
    """The comparisons of a drill's conditions over all plants of a block."""

    def __init__(self, referees: Sequence[Referee], columns: Columns) -> None:
        self.rows = Rows(referees, columns)
        self.parts: dict[str, Many] = {}
        for _, expression in referees[0].watched():
            self._collect(expression.tree)
        shape = (len(self.parts), len(referees))
        self.now, self.then = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)

    def turned(self) -> Row:
        """On which plants a comparison gives another answer than when this was last asked."""
        self.now, self.then = self.then, self.now
        with np.errstate(all="ignore"):
            for row, part in zip(self.now, self.parts.values(), strict=True):
                row[:] = part()
        found: Row = (self.now != self.then).any(axis=0)
        return found

    def looked(self, place: int) -> None:
        """Take over what the referee of a plant kept at its milestones."""
        kept = self.rows.referees[place].scope.kept
        for key, row in self.rows.at.items():
            row[place] = kept.get(key, math.nan)

    def _collect(self, node: Node) -> None:
        match node:
            case Logic():
                for term in node.terms:
                    self._collect(term)
            case Comparison():
                left = node.first
                for sign, right in node.rest:
                    self._keep(f"{left} {sign} {right}", (left, right), self.rows.comparison(left, sign, right))
                    left = right
            case Call() if node.name not in ("abs", "min", "max", "at", "since"):
                return  # what was done, said, noted or reached: a command or a look brings it
            case _:
                self._keep(repr(node), (node,), self.rows.positive(node))

    def _keep(self, key: str, nodes: tuple[Node, ...], part: Many) -> None:
        inner = [n for node in nodes for n in walk(node)]
        # What moves by time is looked at as long as it does; see Referee._runs.
        if not any((isinstance(n, Call) and n.name == "since") or n == Name("t") for n in inner):
            self.parts[key] = part


def _quotient(a: Any, b: Any) -> Any:
    return np.where(np.equal(b, 0.0), math.nan, np.divide(a, b))


def _function(name: str, terms: list[Many]) -> Many:
    if name == "abs":
        inner = terms[0]
        return lambda: np.abs(inner())
    less = np.less if name == "min" else np.greater

    def pick() -> Any:
        # In the order written, as Python picks when one of them is not a number.
        best = terms[0]()
        for term in terms[1:]:
            other = term()
            best = np.where(less(other, best), other, best)
        return best

    return pick
