"""Conditions of a drill: checked against the plant's catalogue at load, then bound to fast closures.

Nothing here evaluates text: a parsed tree becomes nested Python closures that read the machine.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from trainer.drills import dimensions
from trainer.drills.dimensions import Dimension
from trainer.drills.language import (
    Arithmetic,
    Call,
    Comparison,
    ExpressionError,
    Logic,
    Name,
    Negative,
    Node,
    Number,
    Text,
    id_of,
    parse,
)
from trainer.drills.ranges import conjuncts
from trainer.hydraulics.catalogue import Fault, Operable, Signal
from trainer.wording import amount


class Catalogue(Protocol):
    """What a plant offers: enough to check a drill without running it."""

    @property
    def signals(self) -> Mapping[str, Signal]: ...

    @property
    def operables(self) -> Mapping[tuple[str, str], Operable]: ...

    @property
    def faults(self) -> Mapping[str, Fault]: ...


@dataclass(frozen=True, slots=True)
class Known:
    """The names a condition may use beside the plant's: ids of the drill itself."""

    catalogue: Catalogue
    milestones: frozenset[str] = frozenset()
    statements: frozenset[str] = frozenset()
    readings: frozenset[str] = frozenset()
    vary: Mapping[str, Dimension] = field(default_factory=dict)
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    answers: frozenset[str] = frozenset()
    calls: frozenset[str] = frozenset()
    posts: frozenset[str] = frozenset()


@dataclass(slots=True)
class Scope:
    """What bound conditions look at while a drill runs. Times are simulated seconds."""

    read: Callable[[str], float]
    state: Sequence[float] = ()
    index: Mapping[str, int] = field(default_factory=dict)
    """The machine's own numbers and the place of each reading in them: looked at directly, since it is faster."""
    t: float = 0.0
    reached: dict[str, float] = field(default_factory=dict)
    kept: dict[str, float] = field(default_factory=dict)
    said: dict[str, float] = field(default_factory=dict)
    noted: dict[str, float] = field(default_factory=dict)
    pushed: dict[str, float] = field(default_factory=dict)
    by: dict[str, str] = field(default_factory=dict)
    """Station of the last accepted command on each target."""
    answered: dict[str, float] = field(default_factory=dict)
    called: dict[str, float] = field(default_factory=dict)
    repeated: dict[str, float] = field(default_factory=dict)
    hand: dict[str, str] = field(default_factory=dict)
    """Post of the crew member who gave the last accepted command on each target."""
    vary: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Kind:
    """Sort of a term: "quantity", "state", "text" or "truth"."""

    sort: str
    dimension: Dimension = dimensions.NONE
    states: tuple[str, ...] = ()
    label: str = ""


_TRUTH = _Kind("truth")
_YES_NO = (("no", "yes"), ("off", "on"))
_IDS = {
    "done": "milestones",
    "since": "milestones",
    "at": "milestones",
    "said": "statements",
    "noted": "readings",
    "answered": "answers",
    "called": "calls",
    "repeated": "calls",
}


def nearest(word: str, known: Iterable[str]) -> str:
    """A hint naming the closest alternatives, or the first few when nothing is close."""
    import difflib

    names = sorted(known)
    close = difflib.get_close_matches(word, names, n=3, cutoff=0.5)
    if close:
        return "did you mean " + " or ".join(close) + "?"
    return "known: " + (", ".join(names[:12]) + (", ..." if len(names) > 12 else "") if names else "none") + "."


class _Checker:
    def __init__(self, known: Known) -> None:
        self.known = known

    def kind(self, node: Node) -> _Kind:
        match node:
            case Number():
                return _Kind("quantity", node.dimension, label=node.text)
            case Text():
                return _Kind("text", label=repr(node.value))
            case Name():
                return self.name(node.value)
            case Call():
                return self.call(node)
            case Negative():
                return self.quantity(node.inner, "minus")
            case Arithmetic():
                return self.arithmetic(node)
            case Comparison():
                self.comparison(node)
                return _TRUTH
            case Logic():
                for term in node.terms:
                    self.truth(term)
                return _TRUTH

    def name(self, tag: str) -> _Kind:
        if tag == "t":
            return _Kind("quantity", dimensions.TIME, label="t")
        if tag.startswith("vary."):
            found = self.known.vary.get(tag[5:])
            if tag[5:] in self.known.choices:
                return _Kind("state", states=self.known.choices[tag[5:]], label=tag)
            if found is None:
                raise ExpressionError(f"no [[vary]] with id {tag[5:]!r}; {nearest(tag[5:], self.known.vary)}")
            return _Kind("quantity", found, label=tag)
        signal = self.known.catalogue.signals.get(tag)
        if signal is None:
            raise ExpressionError(f"the plant has no reading {tag!r}; {nearest(tag, self.known.catalogue.signals)}")
        if signal.unit == "state":
            return _Kind("state", states=signal.states, label=tag)
        return _Kind("quantity", dimensions.of_unit(signal.unit), label=f"{tag} ({signal.unit})")

    def quantity(self, node: Node, user: str) -> _Kind:
        kind = self.kind(node)
        if kind.sort == "quantity":
            return kind
        what = kind.label or "a condition"
        hint = f"; compare it by name: {what} == {kind.states[-1]!r}" if kind.states else ""
        raise ExpressionError(f"{user} needs a quantity, but {what} is a {kind.sort}{hint}.")

    def truth(self, node: Node) -> None:
        kind = self.kind(node)
        if kind.sort == "truth" or (kind.sort == "state" and kind.states in _YES_NO):
            return
        what = kind.label or "this"
        if kind.sort == "state":
            names = " or ".join(repr(s) for s in kind.states)
            raise ExpressionError(f"{what} is a state; say which: {what} == {names}.")
        raise ExpressionError(f"{what} is a {kind.sort}, not a condition; compare it with something.")

    def call(self, node: Call) -> _Kind:
        if node.name in ("abs", "min", "max"):
            kinds = [self.quantity(a, node.name) for a in node.arguments]
            for other in kinds[1:]:
                self.same(kinds[0], other, node.name)
            return kinds[0]
        name = id_of(node.arguments[0])
        if not name:
            raise ExpressionError(f"{node.name} takes an id, such as {node.name}(shut_in).")
        if node.name in ("pushed", "by", "hand"):
            targets = {target for _, target in self.known.catalogue.operables}
            if name not in targets:
                raise ExpressionError(f"the plant has nothing to operate called {name!r}; {nearest(name, targets)}")
            if node.name == "by":
                self.station(name, id_of(node.arguments[1]))
            elif node.name == "hand" and (given := id_of(node.arguments[1])) not in self.known.posts:
                raise ExpressionError(f"the drill has no post {given!r}; {nearest(given, self.known.posts)}")
            return _TRUTH
        room = _IDS[node.name]
        known: frozenset[str] = getattr(self.known, room)
        if name not in known and not (room == "readings" and name in self.known.catalogue.signals):
            raise ExpressionError(f"the drill has no {room[:-1]} {name!r}; {nearest(name, known)}")
        if node.name == "since":
            return _Kind("quantity", dimensions.TIME, label=node.key)
        if node.name == "at":
            return self.quantity(node.arguments[1], "at")
        return _TRUTH

    def station(self, target: str, given: str) -> None:
        places = {place for key, o in self.known.catalogue.operables.items() if key[1] == target for place in o.station}
        if given not in places:
            names = ", ".join(repr(place) for place in sorted(places))
            raise ExpressionError(f"{target} is operated from {names}, not from {given!r}; name one of these stations.")

    def arithmetic(self, node: Arithmetic) -> _Kind:
        left = self.quantity(node.left, node.sign)
        right = self.quantity(node.right, node.sign)
        if dimensions.TEMPERATURE in (left.dimension, right.dimension):
            raise ExpressionError("temperatures may be compared but not reckoned with, since degF has an offset.")
        if node.sign == "*":
            return _Kind("quantity", dimensions.times(left.dimension, right.dimension), label="the product")
        if node.sign == "/":
            return _Kind("quantity", dimensions.over(left.dimension, right.dimension), label="the quotient")
        self.same(left, right, node.sign)
        return _Kind("quantity", left.dimension, label="the sum" if node.sign == "+" else "the difference")

    def same(self, left: _Kind, right: _Kind, user: str) -> None:
        if left.dimension == right.dimension:
            return
        words = f"{left.label} is {dimensions.word(left.dimension)}"
        words += f" but {right.label} is {dimensions.word(right.dimension)}"
        wanted = dimensions.sample_unit(left.dimension)
        hint = f"; write the number in a unit such as {wanted}" if wanted else "; leave the unit away"
        raise ExpressionError(f"{user} cannot join these: {words}{hint}.")

    def comparison(self, node: Comparison) -> None:
        left_node = node.first
        for sign, right_node in node.rest:
            left, right = self.kind(left_node), self.kind(right_node)
            if "state" in (left.sort, right.sort):
                self.state_comparison(left, sign, right)
            elif left.sort == right.sort == "quantity":
                if not (_is_zero(left_node) or _is_zero(right_node)):
                    self.same(left, right, sign)
            else:
                odd = left if left.sort != "quantity" else right
                raise ExpressionError(f"{sign} compares quantities, but {odd.label or 'this'} is a {odd.sort}.")
            left_node = right_node

    def state_comparison(self, left: _Kind, sign: str, right: _Kind) -> None:
        if sign not in ("==", "!="):
            raise ExpressionError(f"a state has no order: use == or != with {left.label or right.label}.")
        if left.sort == right.sort == "state":
            if left.states != right.states:
                raise ExpressionError(f"{left.label} and {right.label} do not have the same states.")
            return
        state, other = (left, right) if left.sort == "state" else (right, left)
        names = ", ".join(repr(s) for s in state.states)
        if other.sort != "text":
            raise ExpressionError(f"{state.label} is a state: compare it with one of {names}, in quotes.")
        if other.label not in [repr(s) for s in state.states]:
            raise ExpressionError(f"{state.label} has no state {other.label}; it has {names}.")


def _is_zero(node: Node) -> bool:
    return isinstance(node, Number) and node.value == 0.0 and node.dimension == dimensions.NONE


def walk(node: Node) -> Iterator[Node]:
    """Every node of a tree, parents first, from left to right; a leaf gives itself alone."""
    yield node
    match node:
        case Call():
            inner: tuple[Node, ...] = node.arguments
        case Negative():
            inner = (node.inner,)
        case Arithmetic():
            inner = (node.left, node.right)
        case Comparison():
            inner = (node.first, *(term for _, term in node.rest))
        case Logic():
            inner = node.terms
        case _:
            inner = ()
    for part in inner:
        yield from walk(part)


Picked = Mapping[str, str]
"""What the seed picked, by ``vary.<id>``, of what is one of several words."""


def deciding(node: Node, picked: Picked) -> Iterator[Node]:
    """The terms of a condition that matter in this variation: of several ways, those that it asks for."""
    if isinstance(node, Logic) and node.word != "not":
        for term in node.terms:
            if not _of_another(term, picked):
                yield from deciding(term, picked)
    else:
        yield node


def _of_another(node: Node, picked: Picked) -> bool:
    """Whether a term only holds in another variation."""
    match node:
        case Logic("and", terms):
            return any(_of_another(term, picked) for term in terms)
        case Comparison(Name(name), (("==", Text(value)),)):
            return picked.get(name, value) != value
        case _:
            return False


@dataclass(frozen=True, slots=True)
class Expression:
    """A condition or quantity that was read and checked: its tree, its dimension, and the readings it looks at."""

    source: str
    tree: Node
    dimension: Dimension
    tags: tuple[str, ...]
    """Readings it looks at, in the order written: the evidence to print with a verdict."""
    keeps: tuple[Call, ...]
    """Its ``at(...)`` calls, whose values must be stored when their milestone is reached."""
    uses: tuple[str, ...]
    """Milestones it depends on."""


def never_again(tree: Node, reached: Container[str]) -> bool:
    """Whether a condition can hold no more, whatever comes: it asks that a milestone of ``reached`` is not done."""
    match tree:
        case Logic("not", (Call("done", (milestone,)),)):
            return id_of(milestone) in reached
        case Logic("and", terms):
            return any(never_again(term, reached) for term in terms)
        case Logic("or", terms):
            return all(never_again(term, reached) for term in terms)
    return False


def _expression(source: str, tree: Node, signals: Mapping[str, Signal], dimension: Dimension) -> Expression:
    tags: dict[str, None] = {}
    keeps: list[Call] = []
    uses: dict[str, None] = {}
    for node in walk(tree):
        if isinstance(node, Name) and node.value in signals:
            tags[node.value] = None
        elif isinstance(node, Call) and _IDS.get(node.name) == "milestones":
            uses[id_of(node.arguments[0])] = None
            if node.name == "at":
                keeps.append(node)
    return Expression(source, tree, dimension, tuple(tags), tuple(keeps), tuple(uses))


def terms(whole: Expression, signals: Mapping[str, Signal]) -> list[Expression]:
    """The conditions that have to hold together for this one, each by itself."""
    return [_expression(whole.source, term, signals, dimensions.NONE) for term in conjuncts(whole.tree)]


def condition(source: str, known: Known) -> Expression:
    """A condition, checked; raises ``ExpressionError`` with one sentence on what is wrong."""
    tree = parse(source)
    _Checker(known).truth(tree)
    return _expression(source, tree, known.catalogue.signals, dimensions.NONE)


def quantity(source: str, known: Known, dimension: Dimension | None = None) -> Expression:
    """A quantity in SI, checked, of the given dimension if one is asked for."""
    tree = parse(source)
    checker = _Checker(known)
    kind = checker.kind(tree)
    if kind.sort == "state" and dimension is None:
        return _expression(source, tree, known.catalogue.signals, dimensions.NONE)
    kind = checker.quantity(tree, "this")
    if dimension is not None and kind.dimension != dimension:
        wanted = dimensions.sample_unit(dimension)
        raise ExpressionError(
            f"expected {dimensions.word(dimension)}{f' (for example in {wanted})' if wanted else ''}, "
            f"but {kind.label} is {dimensions.word(kind.dimension)}."
        )
    return _expression(source, tree, known.catalogue.signals, kind.dimension)


def show_value(signal: Signal, value: float) -> str:
    """A reading as people say it: number and unit, or the name of the state."""
    if signal.unit == "state":
        index = int(value)
        return signal.states[index] if 0 <= index < len(signal.states) else str(index)
    return amount(value, signal.unit) if math.isfinite(value) else "no reading"
