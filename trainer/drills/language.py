"""The little language of drill conditions: text to a tree, with quantities read by their units.

    upper_pipe_ram.position > 95 % and well.flow_out < 5 gpm
    pod_selector.position == 'yellow' or not done(shut_in)
    100 psi <= manifold_regulator.readback - at(closing, manifold_regulator.readback) < 400 psi

Names are readings of the plant (with dots), ``t`` (time since the start of the drill) or ``vary.<id>``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from trainer import units
from trainer.drills import dimensions
from trainer.drills.dimensions import Dimension

LONGEST: Final = 2000
DEEPEST: Final = 40
FUNCTIONS: Final[dict[str, tuple[int, int]]] = {
    "abs": (1, 1),
    "min": (2, 8),
    "max": (2, 8),
    "done": (1, 1),
    "since": (1, 1),
    "at": (2, 2),
    "said": (1, 1),
    "noted": (1, 1),
    "pushed": (1, 1),
    "by": (2, 2),
    "answered": (1, 1),
    "called": (1, 1),
    "repeated": (1, 1),
    "hand": (2, 2),
}
"""Functions with the least and most arguments they take."""


class ExpressionError(ValueError):
    """A condition that cannot be understood; the text says what, where and how to mend it."""


@dataclass(frozen=True, slots=True)
class Number:
    """A quantity with its value in SI and its dimension; ``text`` is how the drill's file wrote it."""

    value: float
    dimension: Dimension
    text: str


@dataclass(frozen=True, slots=True)
class Text:
    """A name in quotes: a state of a reading, or the id of something that the drill declares."""

    value: str


@dataclass(frozen=True, slots=True)
class Name:
    """A reading, ``t``, ``vary.x``, or the bare id given to a function."""

    value: str


@dataclass(frozen=True, slots=True)
class Call:
    """A function of the language applied to its arguments, of which there is at least one."""

    name: str
    arguments: tuple[Node, ...]
    key: str
    """Source text of the call without spaces: the name under which ``at`` keeps its value."""


@dataclass(frozen=True, slots=True)
class Negative:
    """A quantity with its sign turned, as in ``-well.pit_gain``; not for states or conditions."""

    inner: Node


@dataclass(frozen=True, slots=True)
class Arithmetic:
    """Two quantities joined by one of + - * /; dimensions are checked when it is read, division by zero gives NaN."""

    sign: str
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Comparison:
    """A chain such as a < b <= c: the first term, then (sign, term) pairs."""

    first: Node
    rest: tuple[tuple[str, Node], ...]


@dataclass(frozen=True, slots=True)
class Logic:
    """Conditions joined by ``and`` or ``or``, two or more; or one under ``not``."""

    word: str
    terms: tuple[Node, ...]


Node = Number | Text | Name | Call | Negative | Arithmetic | Comparison | Logic

TURNED: Final = {"<": ">", ">": "<", "<=": ">=", ">=": "<=", "==": "==", "!=": "!="}
"""The sign that says the same with both sides exchanged."""


def id_of(node: Node) -> str:
    """The id that a function is given, bare or in quotes; empty for any other term."""
    return node.value if isinstance(node, Name | Text) else ""


_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*(?:\.[A-Za-z0-9_]+)*")
_QUOTED = re.compile(r"'([^']*)'|\"([^\"]*)\"")
_SIGN = re.compile(r"<=|>=|==|!=|[<>+\-*/(),]")
# "1" is left out: two bare numbers in a row are a slip, not a quantity.
_UNITS: Final = sorted({*units.UNITS, "spm"} - {"state", "1"}, key=lambda u: (-len(u), u))
_COMPARE: Final = frozenset({"<", "<=", ">", ">=", "==", "!="})
_WORDS: Final = frozenset({"and", "or", "not"})


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str  # number, text, name, sign, word, end
    text: str
    column: int
    number: Number | None = None


def _unit_at(source: str, start: int) -> tuple[str, int] | None:
    """The longest unit that begins at ``start`` and is not merely the front of a longer word."""
    for unit in _UNITS:
        if source.startswith(unit, start):
            end = start + len(unit)
            follows = source[end : end + 1]
            if not (unit[-1].isalnum() and (follows.isalnum() or follows in ("_", "."))):
                return unit, end
    return None


def _quantity(source: str, match: re.Match[str]) -> tuple[_Token, int]:
    end = match.end()
    start = end
    while start < len(source) and source[start].isspace():
        start += 1
    found = _unit_at(source, start)
    value = float(match.group())
    if abs(value) > 1e15:
        raise ExpressionError(f"{match.group()} is too large to be a reading; use at most 1e15.")
    if found is None:
        number = Number(value, dimensions.NONE, match.group())
    else:
        unit, end = found
        text = f"{match.group()} {unit}"
        number = Number(units.from_unit(value, unit), dimensions.of_unit(unit), text)
    return _Token("number", number.text, match.start() + 1, number), end


def _tokens(source: str) -> list[_Token]:
    tokens: list[_Token] = []
    place = 0
    while place < len(source):
        if source[place].isspace():
            place += 1
            continue
        if match := _NUMBER.match(source, place):
            token, place = _quantity(source, match)
            tokens.append(token)
            continue
        if match := _NAME.match(source, place):
            kind = "word" if match.group() in _WORDS else "name"
            tokens.append(_Token(kind, match.group(), place + 1))
        elif match := _QUOTED.match(source, place):
            tokens.append(_Token("text", match.group(1) or match.group(2) or "", place + 1))
        elif match := _SIGN.match(source, place):
            tokens.append(_Token("sign", match.group(), place + 1))
        else:
            hint = " (write == to compare)" if source[place] == "=" else ""
            raise ExpressionError(f"column {place + 1}: {source[place]!r} has no meaning here{hint}.")
        place = match.end()
    tokens.append(_Token("end", "the end", len(source) + 1))
    return tokens


class _Parser:
    def __init__(self, source: str) -> None:
        self.tokens = _tokens(source)
        self.place = 0
        self.depth = 0

    @property
    def now(self) -> _Token:
        return self.tokens[self.place]

    def take(self) -> _Token:
        token = self.now
        self.place += 1
        return token

    def is_sign(self, *texts: str) -> bool:
        return self.now.kind == "sign" and self.now.text in texts

    def is_word(self, text: str) -> bool:
        return self.now.kind == "word" and self.now.text == text

    def expect(self, sign: str) -> None:
        if not self.is_sign(sign):
            raise ExpressionError(f"column {self.now.column}: expected {sign!r}, found {self.now.text!r}.")
        self.place += 1

    def deeper(self) -> None:
        self.depth += 1
        if self.depth > DEEPEST:
            raise ExpressionError(f"nested more than {DEEPEST} deep; split it into milestones.")

    def either(self) -> Node:
        self.deeper()
        terms = [self.both()]
        while self.is_word("or"):
            self.place += 1
            terms.append(self.both())
        self.depth -= 1
        return terms[0] if len(terms) == 1 else Logic("or", tuple(terms))

    def both(self) -> Node:
        terms = [self.inverse()]
        while self.is_word("and"):
            self.place += 1
            terms.append(self.inverse())
        return terms[0] if len(terms) == 1 else Logic("and", tuple(terms))

    def inverse(self) -> Node:
        if not self.is_word("not"):
            return self.comparison()
        self.place += 1
        self.deeper()
        inner = self.inverse()
        self.depth -= 1
        return Logic("not", (inner,))

    def comparison(self) -> Node:
        first = self.sum()
        rest: list[tuple[str, Node]] = []
        while self.now.kind == "sign" and self.now.text in _COMPARE:
            sign = self.take().text
            rest.append((sign, self.sum()))
        return Comparison(first, tuple(rest)) if rest else first

    def sum(self) -> Node:
        left = self.product()
        while self.is_sign("+", "-"):
            sign = self.take().text
            left = Arithmetic(sign, left, self.product())
        return left

    def product(self) -> Node:
        left = self.signed()
        while self.is_sign("*", "/"):
            sign = self.take().text
            left = Arithmetic(sign, left, self.signed())
        return left

    def signed(self) -> Node:
        if not self.is_sign("-"):
            return self.atom()
        self.place += 1
        self.deeper()
        inner = self.signed()
        self.depth -= 1
        return Negative(inner)

    def atom(self) -> Node:
        start = self.place
        token = self.take()
        if token.number is not None:
            return token.number
        if token.kind == "text":
            return Text(token.text)
        if token.kind == "name":
            return self.call(token, start) if self.is_sign("(") else Name(token.text)
        if token.kind == "sign" and token.text == "(":
            inner = self.either()
            self.expect(")")
            return inner
        raise ExpressionError(f"column {token.column}: expected a reading, a number or '(', found {token.text!r}.")

    def call(self, token: _Token, start: int) -> Node:
        if token.text not in FUNCTIONS:
            known = ", ".join(FUNCTIONS)
            raise ExpressionError(f"column {token.column}: no function {token.text!r}; there are {known}.")
        self.expect("(")
        arguments: list[Node] = []
        while not self.is_sign(")"):
            arguments.append(self.either())
            if not self.is_sign(")"):
                self.expect(",")
        self.expect(")")
        least, most = FUNCTIONS[token.text]
        if not least <= len(arguments) <= most:
            wanted = str(least) if least == most else f"{least} to {most}"
            raise ExpressionError(
                f"column {token.column}: {token.text} takes {wanted} arguments, {len(arguments)} given."
            )
        key = " ".join(t.text for t in self.tokens[start : self.place])
        return Call(token.text, tuple(arguments), key)


@lru_cache(maxsize=8192)
def parse(source: str) -> Node:
    """The tree of a condition or quantity, which nobody changes.

    Raises ``ExpressionError`` with the column of the first fault.
    """
    if len(source) > LONGEST:
        raise ExpressionError(f"longer than {LONGEST} characters; split it into milestones.")
    parser = _Parser(source)
    if parser.now.kind == "end":
        raise ExpressionError("empty; write a condition such as accumulator.pressure < 2000 psi.")
    tree = parser.either()
    if parser.now.kind != "end":
        raise ExpressionError(
            f"column {parser.now.column}: {parser.now.text!r} was not expected; "
            "join conditions with and / or, and give every number one of the known units."
        )
    return tree
