"""Whether a condition can come true at all, by the ranges of its readings: finds psi for bar, and waiting in vain."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from trainer import units
from trainer.drills.language import (
    TURNED,
    Arithmetic,
    Call,
    Comparison,
    Logic,
    Name,
    Negative,
    Node,
    Number,
    Text,
    id_of,
)
from trainer.hydraulics.catalogue import Signal

Interval = tuple[float, float]
_ANY: Interval = (-math.inf, math.inf)


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of the names that a condition uses: where readings and the seed's picks can lie."""

    signals: Mapping[str, Signal]
    vary: Mapping[str, Interval] = field(default_factory=dict)
    """Ranges from which the seed picks, SI."""
    end: float = math.inf
    """Longest time that the drill can take, s."""
    reachable: frozenset[str] | None = None
    """Milestones that can be reached, and answers that can be given; None: all."""
    happened: frozenset[str] = frozenset()
    """Milestones that have been reached whenever the condition is looked at."""

    def missing(self, node: Node) -> bool:
        """Whether a term looks back at a milestone that is never reached: such a comparison is never true."""
        if isinstance(node, Call) and node.name in ("since", "at"):
            return self.reachable is not None and milestone_of(node) not in self.reachable
        if isinstance(node, Arithmetic):
            return self.missing(node.left) or self.missing(node.right)
        return isinstance(node, Negative) and self.missing(node.inner)


def milestone_of(node: Call) -> str:
    """The id of the milestone that a function such as ``done`` or ``since`` is given."""
    return id_of(node.arguments[0])


def never(node: Node, signals: Mapping[str, Signal]) -> bool:
    """True when no values within the readings' ranges satisfy the condition."""
    return not possible(node, Facts(signals))[0]


def conjuncts(node: Node) -> Iterator[Node]:
    """The terms that must all hold for the condition to hold: itself alone unless it is joined by ``and``."""
    if isinstance(node, Logic) and node.word == "and":
        for term in node.terms:
            yield from conjuncts(term)
    else:
        yield node


def possible(node: Node, facts: Facts) -> tuple[bool, bool]:
    """Whether a condition can be true, and whether it can be false; both when nothing is known."""
    if isinstance(node, Logic):
        parts = [possible(term, facts) for term in node.terms]
        if node.word == "not":
            return parts[0][1], parts[0][0]
        if node.word == "and":
            return all(p[0] for p in parts) and not _contradict(list(conjuncts(node)), facts), any(p[1] for p in parts)
        return any(p[0] for p in parts), all(p[1] for p in parts)
    if isinstance(node, Comparison):
        return _comparison(node, facts)
    if isinstance(node, Call) and node.name in ("done", "answered"):
        name = milestone_of(node)
        if name in facts.happened and node.name == "done":
            return True, False
        return facts.reachable is None or name in facts.reachable, True
    return True, True


def _comparison(node: Comparison, facts: Facts) -> tuple[bool, bool]:
    true, false = True, False
    for left, sign, right in _pairs(node):
        if sign != "!=" and (facts.missing(left) or facts.missing(right)):
            return False, True
        t, f = _pair(interval(left, facts), sign, interval(right, facts))
        true, false = true and t, false or f
    return true, false


def _pairs(node: Comparison) -> Iterator[tuple[Node, str, Node]]:
    left = node.first
    for sign, right in node.rest:
        yield left, sign, right
        left = right


def _contradict(terms: Sequence[Node], facts: Facts) -> bool:
    """Whether two terms ask for different things: x < 1 and x > 2, two states at once, or a thing and its opposite."""
    if any(isinstance(term, Logic) and term.word == "not" and term.terms[0] in terms for term in terms):
        return True
    bounds: dict[str, tuple[float, float]] = {}
    states: dict[str, set[str]] = {}
    for term in terms:
        for left, sign, right in _pairs(term) if isinstance(term, Comparison) else ():
            if not isinstance(left, Name):
                left, sign, right = right, TURNED[sign], left
            if not isinstance(left, Name):
                continue
            if isinstance(right, Text) and sign == "==":
                states.setdefault(left.value, set()).add(right.value)
                continue
            low, high = interval(right, facts)
            least, most = bounds.get(left.value, interval(left, facts))
            if sign in (">", ">=", "=="):
                least = max(least, low)
            if sign in ("<", "<=", "=="):
                most = min(most, high)
            bounds[left.value] = (least, most)
    return any(len(names) > 1 for names in states.values()) or any(low > high for low, high in bounds.values())


def _pair(a: Interval, sign: str, b: Interval) -> tuple[bool, bool]:
    if sign in (">", ">="):
        a, b, sign = b, a, "<" if sign == ">" else "<="
    if sign == "<":
        return a[0] < b[1], a[1] >= b[0]
    if sign == "<=":
        return a[0] <= b[1], a[1] > b[0]
    meet = a[0] <= b[1] and b[0] <= a[1]
    return (meet, True) if sign == "==" else (True, meet)


def interval(node: Node, facts: Facts) -> Interval:
    """Least and largest value, SI; endless where nothing is known."""
    match node:
        case Number():
            return node.value, node.value
        case Name() if node.value == "t":
            return 0.0, facts.end
        case Name() if node.value.startswith("vary."):
            return facts.vary.get(node.value[5:], _ANY)
        case Name() if node.value in facts.signals and facts.signals[node.value].unit != "state":
            signal = facts.signals[node.value]
            return units.from_unit(signal.low, signal.unit), units.from_unit(signal.high, signal.unit)
        case Negative():
            low, high = interval(node.inner, facts)
            return -high, -low
        case Arithmetic():
            return _arithmetic(node.sign, interval(node.left, facts), interval(node.right, facts))
        case Call():
            return _call(node, facts)
        case _:
            return _ANY


def _call(node: Call, facts: Facts) -> Interval:
    if node.name == "since":
        return 0.0, facts.end
    if node.name == "at":
        return interval(node.arguments[1], facts)
    parts = [interval(a, facts) for a in node.arguments]
    if node.name == "abs":
        low, high = parts[0]
        return max(0.0, low, -high), max(abs(low), abs(high))
    pick = min if node.name == "min" else max
    return pick(p[0] for p in parts), pick(p[1] for p in parts)


def _arithmetic(sign: str, a: Interval, b: Interval) -> Interval:
    if sign == "+":
        return a[0] + b[0], a[1] + b[1]
    if sign == "-":
        return a[0] - b[1], a[1] - b[0]
    if sign == "/":
        if b[0] <= 0.0 <= b[1]:
            return _ANY
        b = (1.0 / b[1], 1.0 / b[0])
    if math.inf in (abs(a[0]), abs(a[1]), abs(b[0]), abs(b[1])):
        return _ANY
    products = [a[0] * b[0], a[0] * b[1], a[1] * b[0], a[1] * b[1]]
    return min(products), max(products)
