"""Checked conditions bound to a running machine: trees become nested closures, the common shapes by one."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from trainer.drills.expressions import Expression, Scope
from trainer.drills.language import TURNED, Arithmetic, Call, Comparison, Logic, Name, Negative, Node, Number, Text
from trainer.hydraulics.catalogue import Signal

Truth = Callable[[], bool]
Value = Callable[[], float]


class Binder:
    """Makes closures over one scope; ``signals`` and ``choices`` give the order of state names."""

    def __init__(
        self, scope: Scope, signals: Mapping[str, Signal], choices: Mapping[str, Sequence[str]] | None = None
    ) -> None:
        self.scope = scope
        self.signals = signals
        self.choices = choices or {}

    def condition(self, expression: Expression) -> Truth:
        """A function of no arguments that says whether the condition holds now."""
        return self._truth(expression.tree)

    def quantity(self, expression: Expression) -> Value:
        """A function of no arguments giving the value now, SI; NaN where it is not defined."""
        return self._value(expression.tree)

    def kept(self, call: Call) -> Value:
        """The value an ``at`` call keeps when its milestone is reached."""
        return self._value(call.arguments[1])

    def _value(self, node: Node) -> Value:
        scope = self.scope
        match node:
            case Number():
                constant = node.value
                return lambda: constant
            case Name():
                return self._name(node.value)
            case Negative():
                inner = self._value(node.inner)
                return lambda: -inner()
            case Arithmetic():
                return self._reckon(node.sign, self._value(node.left), self._value(node.right))
            case Call():
                key = node.key
                first = node.arguments[0]
                if node.name == "at":
                    kept = scope.kept
                    return lambda: kept.get(key, math.nan)
                if node.name == "since":
                    reached, name = scope.reached, _id(first)
                    return lambda: scope.t - reached[name] if name in reached else math.nan
                return self._apply(node.name, [self._value(a) for a in node.arguments])
            case _:
                truth = self._truth(node)
                return lambda: 1.0 if truth() else 0.0

    def _name(self, tag: str) -> Value:
        scope = self.scope
        if tag == "t":
            return lambda: scope.t
        if tag.startswith("vary."):
            constant = scope.vary[tag[5:]]
            return lambda: constant
        if tag in scope.index:
            state, place = scope.state, scope.index[tag]
            return lambda: state[place]
        read = scope.read
        return lambda: read(tag)

    def _truth(self, node: Node) -> Truth:
        match node:
            case Logic():
                return _logic(node.word, [self._truth(term) for term in node.terms])
            case Comparison():
                pairs: list[Truth] = []
                left = node.first
                for sign, right in node.rest:
                    pairs.append(self._pair(left, sign, right))
                    left = right
                return _logic("and", pairs)
            case Call() if node.name in ("by", "hand"):
                last: dict[str, str] = getattr(self.scope, node.name)
                target, where = _id(node.arguments[0]), _id(node.arguments[1])
                return lambda: last.get(target) == where
            case Call() if node.name in ("answered", "done", "said", "noted", "pushed", "called", "repeated"):
                room: dict[str, float] = getattr(self.scope, "reached" if node.name == "done" else node.name)
                name = _id(node.arguments[0])
                return lambda: name in room
            case _:
                value = self._value(node)
                return lambda: value() > 0.5

    def _pair(self, left: Node, sign: str, right: Node) -> Truth:
        if isinstance(left, Text) or (isinstance(left, Number) and not isinstance(right, Number)):
            left, sign, right = right, TURNED[sign], left
        if isinstance(left, Name) and isinstance(right, Text):
            number = self._index(left.value, right.value)
            if left.value in self.scope.index:
                return _reading(self.scope.state, self.scope.index[left.value], sign, number)
            return _against(self._name(left.value), sign, number)
        if isinstance(right, Number):
            constant = right.value
            if isinstance(left, Name) and left.value in self.scope.index:
                return _reading(self.scope.state, self.scope.index[left.value], sign, constant)
            return _against(self._value(left), sign, constant)
        return _between(self._value(left), sign, self._value(right))

    def _reckon(self, sign: str, a: Value, b: Value) -> Value:
        return _arithmetic(sign, a, b)

    def _apply(self, name: str, terms: list[Value]) -> Value:
        return _function(name, terms)

    def _index(self, tag: str, state: str) -> float:
        states = self.choices[tag[5:]] if tag.startswith("vary.") else self.signals[tag].states
        return float(list(states).index(state))


def _id(node: Node) -> str:
    assert isinstance(node, Name | Text)  # the checker let nothing else pass
    return node.value


def _reading(state: Sequence[float], place: int, sign: str, c: float) -> Truth:
    """The commonest condition of all, one reading against a number: a single closure."""
    if sign == "<":
        return lambda: state[place] < c
    if sign == ">":
        return lambda: state[place] > c
    if sign == "==":
        return lambda: state[place] == c
    return _against(lambda: state[place], sign, c)


def _against(value: Value, sign: str, c: float) -> Truth:
    if sign == "<":
        return lambda: value() < c
    if sign == "<=":
        return lambda: value() <= c
    if sign == ">":
        return lambda: value() > c
    if sign == ">=":
        return lambda: value() >= c
    if sign == "==":
        return lambda: value() == c
    return lambda: value() != c


def _between(a: Value, sign: str, b: Value) -> Truth:
    if sign == "<":
        return lambda: a() < b()
    if sign == "<=":
        return lambda: a() <= b()
    if sign == ">":
        return lambda: a() > b()
    if sign == ">=":
        return lambda: a() >= b()
    if sign == "==":
        return lambda: a() == b()
    return lambda: a() != b()


def _arithmetic(sign: str, a: Value, b: Value) -> Value:
    if sign == "+":
        return lambda: a() + b()
    if sign == "-":
        return lambda: a() - b()
    if sign == "*":
        return lambda: a() * b()

    def quotient() -> float:
        under = b()
        return a() / under if under != 0.0 else math.nan

    return quotient


def _function(name: str, terms: list[Value]) -> Value:
    if name == "abs":
        inner = terms[0]
        return lambda: abs(inner())
    # min and max in Python depend on the order when NaN is among them; the order here is as written.
    pick = min if name == "min" else max
    return lambda: pick([term() for term in terms])


def _logic(word: str, terms: list[Truth]) -> Truth:
    if word == "not":
        inner = terms[0]
        return lambda: not inner()
    if len(terms) == 1:
        return terms[0]
    # Looked at ten times a simulated second: a few terms at a time are quicker than a loop over all.
    if len(terms) == 2:
        first, second = terms
        if word == "and":
            return lambda: first() and second()
        return lambda: first() or second()
    first, second, rest = terms[0], terms[1], _logic(word, terms[2:])
    if word == "and":
        return lambda: first() and second() and rest()
    return lambda: first() or second() or rest()
