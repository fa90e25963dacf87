"""Whether a condition can come true at all within the ranges of its readings: finds psi for bar."""

from __future__ import annotations

import math
from collections.abc import Mapping

from trainer import units
from trainer.drills.language import Arithmetic, Call, Comparison, Logic, Name, Negative, Node, Number
from trainer.plant.catalogue import Signal

Interval = tuple[float, float]
_ANY: Interval = (-math.inf, math.inf)


def never(node: Node, signals: Mapping[str, Signal]) -> bool:
    """True when no values within the readings' ranges satisfy the condition."""
    return not _possible(node, signals)[0]


def _possible(node: Node, signals: Mapping[str, Signal]) -> tuple[bool, bool]:
    """(can be true, can be false); both when nothing is known."""
    if isinstance(node, Logic):
        parts = [_possible(term, signals) for term in node.terms]
        if node.word == "not":
            return parts[0][1], parts[0][0]
        if node.word == "and":
            return all(p[0] for p in parts), any(p[1] for p in parts)
        return any(p[0] for p in parts), all(p[1] for p in parts)
    if isinstance(node, Comparison):
        true, false = True, False
        left = node.first
        for sign, right in node.rest:
            t, f = _pair(_interval(left, signals), sign, _interval(right, signals))
            true, false = true and t, false or f
            left = right
        return true, false
    return True, True


def _pair(a: Interval, sign: str, b: Interval) -> tuple[bool, bool]:
    if sign in (">", ">="):
        a, b, sign = b, a, "<" if sign == ">" else "<="
    if sign == "<":
        return a[0] < b[1], a[1] >= b[0]
    if sign == "<=":
        return a[0] <= b[1], a[1] > b[0]
    meet = a[0] <= b[1] and b[0] <= a[1]
    return (meet, True) if sign == "==" else (True, meet)


def _interval(node: Node, signals: Mapping[str, Signal]) -> Interval:
    match node:
        case Number():
            return node.value, node.value
        case Name() if node.value == "t":
            return 0.0, math.inf
        case Name() if node.value in signals and signals[node.value].unit != "state":
            signal = signals[node.value]
            return units.from_unit(signal.low, signal.unit), units.from_unit(signal.high, signal.unit)
        case Negative():
            low, high = _interval(node.inner, signals)
            return -high, -low
        case Arithmetic():
            return _arithmetic(node.sign, _interval(node.left, signals), _interval(node.right, signals))
        case Call():
            return _call(node, signals)
        case _:
            return _ANY


def _call(node: Call, signals: Mapping[str, Signal]) -> Interval:
    if node.name == "since":
        return 0.0, math.inf
    if node.name == "at":
        return _interval(node.arguments[1], signals)
    parts = [_interval(a, signals) for a in node.arguments]
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
