"""Which of many plants a referee has to look at: those on which something that its conditions compare has turned.

A condition is made of comparisons of readings. They are written as flat code, which is translated as a plant is and
looks at all plants by one call. As long as none of them turns on a plant, and no time runs there, a referee that
changed nothing at its last look would change nothing now.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from trainer.constants import HAIR
from trainer.drills.expressions import Expression, walk
from trainer.drills.language import Arithmetic, Call, Comparison, Logic, Name, Negative, Node, Number, Text
from trainer.drills.prepare import Prepared
from trainer.drills.readings import EVERY, LONGEST_LOOK, History, ReadingJudge, StoodJudge
from trainer.drills.runner import Runner, ScoredPlant
from trainer.planning.ensemble.columns import Columns

Row = np.ndarray[Any, np.dtype[Any]]
BITS = 52
"""Answers that one double holds, as a whole number."""


class Referee(Runner):
    """A drill's referee that also tells whether it can be left alone until something turns."""

    still = False
    """Whether the last look changed nothing and nothing runs by time alone."""
    due = 0.0
    """The next time at which something happens by the clock, s."""

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


def room(prepared: Prepared) -> int:
    """How many numbers beside each plant a drill's conditions need at most."""
    expressions = prepared.expressions()
    kept = {call.key for expression in expressions for call in expression.keeps}
    terms = sum(len(list(walk(expression.tree))) for expression in expressions)
    return len(kept) + len(prepared.vary) + terms // BITS + 3


class Conditions:
    """The comparisons of a drill's conditions as flat code over a plant's state and what lies beside it."""

    def __init__(self, referee: Referee, index: Mapping[str, int]) -> None:
        self.size = len(index)
        self.signals, self.choices = referee.binder.signals, referee.binder.choices
        self.index = index
        self.places: dict[str, int] = {}
        """Where beside a plant its own numbers lie: what was drawn and kept by name, then whether something turned."""
        self.lines: list[str] = []
        self.values: dict[Node, str] = {}
        self.answers: dict[str, None] = {}
        for _, expression in referee.watched():
            self._collect(expression.tree)
        self.turned = self._place("turned")
        words = [self._gathered(n) for n in range(0, len(self.answers), BITS)]
        differ = " or ".join(f"{word} != {known}" for word, known in words) or "0.0 > 1.0"
        self.lines += [f"s[{self.size + self.turned}] = 1.0 if {differ} else 0.0"]
        self.lines += [f"{known} = {word}" for word, known in words]

    @property
    def source(self) -> str:
        """The text of the flat function, as ``trainer.hydraulics.translate`` takes it."""
        return "\n".join(["def advance(s, sqrt=sqrt):", *(f"    {line}" for line in self.lines)]) + "\n"

    def _gathered(self, first: int) -> tuple[str, str]:
        """The name that holds some answers as one number, and the place of what they were."""
        word = f"w{first}"
        self.lines.append(f"{word} = 0.0")
        for bit, answer in enumerate(list(self.answers)[first : first + BITS]):
            self.lines.append(f"{word} += {2.0**bit!r} if {answer} else 0.0")
        return word, self._own(word)

    def _place(self, name: str) -> int:
        return self.places.setdefault(name, len(self.places))

    def _own(self, name: str) -> str:
        return f"s[{self.size + self._place(name)}]"

    def _collect(self, node: Node) -> None:
        match node:
            case Logic():
                for term in node.terms:
                    self._collect(term)
            case Comparison():
                left = node.first
                for sign, right in node.rest:
                    if not _timely(left, right):
                        self.answers[f"{self._side(left, right)} {sign} {self._side(right, left)}"] = None
                    left = right
            case Call() if node.name not in ("abs", "min", "max", "at", "since"):
                return  # what was done, said, noted or reached: a command or a look brings it
            case _ if not _timely(node):
                self.answers[f"{self._value(node)} > 0.5"] = None

    def _side(self, node: Node, other: Node) -> str:
        if isinstance(node, Text) and isinstance(other, Name):
            tag = other.value
            states = self.choices[tag[5:]] if tag.startswith("vary.") else self.signals[tag].states
            return repr(float(list(states).index(node.value)))
        return self._value(node)

    def _value(self, node: Node) -> str:
        """A quantity as a name or a double of ``s``, worked out once; what that takes comes before."""
        if node not in self.values:
            self.values[node] = self._worked_out(node)
        return self.values[node]

    def _worked_out(self, node: Node) -> str:
        match node:
            case Number():
                return self._named(repr(float(node.value)))
            case Name(tag):
                return self._own(tag) if tag.startswith("vary.") else f"s[{self.index[tag]}]"
            case Negative():
                return self._named(f"-{self._value(node.inner)}")
            case Arithmetic("/"):
                over, under = self._value(node.left), self._value(node.right)
                return self._named(f"{over} / {under} if {under} != 0.0 else {self._own('unknown')}")
            case Arithmetic():
                return self._named(f"{self._value(node.left)} {node.sign} {self._value(node.right)}")
            case Call(name="at"):
                return self._own(node.key)
            case Call(name="abs"):
                inner = self._value(node.arguments[0])
                return self._named(f"-{inner} if {inner} < 0.0 else {inner}")
            case Call(name="min" | "max"):
                # In the order written, as Python picks when one of them is not a number.
                sign = "<" if node.name == "min" else ">"
                best = self._value(node.arguments[0])
                for other in map(self._value, node.arguments[1:]):
                    best = self._named(f"{other} if {other} {sign} {best} else {best}")
                return best
        raise TypeError(f"{node!r} is no quantity")

    def _named(self, text: str) -> str:
        name = f"k{len(self.lines)}"
        self.lines.append(f"{name} = {text}")
        return name


def _timely(*nodes: Node) -> bool:
    """Whether a term moves by time: that is looked at as long as it does; see ``Referee._runs``."""
    inner = [n for node in nodes for n in walk(node)]
    return any((isinstance(n, Call) and n.name == "since") or n == Name("t") for n in inner)


class Watch:
    """The comparisons of a drill's conditions over all plants of a block."""

    def __init__(self, referees: Sequence[Referee], columns: Columns) -> None:
        found = Conditions(referees[0], columns.mould.index)
        self.referees, self.own = referees, columns.beside
        self._look = columns.each(found.source)
        self._turned = self.own[found.turned]
        kept = {call.key for expression in referees[0].prepared.expressions() for call in expression.keeps}
        self._kept = {name: place for name, place in found.places.items() if name in kept}
        for name, place in found.places.items():
            if name.startswith("vary."):
                self.own[place] = [referee.scope.vary[name[5:]] for referee in referees]
            elif name == "unknown" or name in kept:
                self.own[place] = math.nan

    def look(self) -> bool:
        """Look at every plant after a scan; whether on one of them a comparison gives another answer than before."""
        self._look()
        return bool(self._turned.any())

    def turned(self) -> Row:
        """On which plants a comparison gave another answer at the last look, as truth values."""
        found: Row = self._turned > 0.5
        return found

    def looked(self, place: int) -> None:
        """Take over what the referee of a plant kept at its milestones."""
        kept = self.referees[place].scope.kept
        for key, row in self._kept.items():
            self.own[row, place] = kept.get(key, math.nan)


class Gauges:
    """What the instruments that a drill asks for showed on all plants of a block in the last half minute."""

    def __init__(self, referees: Sequence[Referee], columns: Columns) -> None:
        self.columns = columns
        asked = [(place, judge) for place, referee in enumerate(referees) for judge in referee.judges
                 if isinstance(judge, ReadingJudge | StoodJudge) and judge.tag]  # fmt: skip
        places = {tag: n for n, tag in enumerate(dict.fromkeys(judge.tag for _, judge in asked))}
        self._rows = [columns.mould.index[tag] for tag in places]
        self.kept: list[tuple[float, Row]] = []
        self.due = 0.0 if places else math.inf
        """When they are looked at next, s."""
        for place, judge in asked:
            judge.history = _OfOne(self, places[judge.tag], place)

    def look(self, t: float) -> None:
        """Keep what they show at ``t`` s: when it is due, after the referees have looked."""
        self.kept = [one for one in self.kept if one[0] >= t - LONGEST_LOOK]
        self.kept.append((t, self.columns.state[self._rows]))
        self.due = t + EVERY


class _OfOne(History):
    """What one instrument of one plant showed, kept with all others."""

    def __init__(self, gauges: Gauges, row: int, place: int) -> None:
        super().__init__()
        self.due = math.inf
        self._gauges, self._row, self._place = gauges, row, place

    def since(self, t: float) -> list[float]:
        """The values (SI) that were taken at ``t`` s from the start or later, in order."""
        return [float(table[self._row, self._place]) for at, table in self._gauges.kept if at >= t]
