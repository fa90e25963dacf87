"""A condition in words, as the score sheet, the coach and the debrief say it: with the boards' own names."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from trainer import naming
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
from trainer.plant import names

_THAN: Final = {"<": "below", "<=": "at most", ">": "above", ">=": "at least", "==": "at", "!=": "not at"}
_OPPOSITE: Final = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}
_JOINED: Final = {"+": "plus", "-": "less", "*": "times", "/": "divided by"}
_AMONG: Final = {"min": "the smallest of", "max": "the largest of"}
_EVENTS: Final = frozenset({"done", "said", "noted", "by", "pushed", "answered"})
_WHOLE: Final = re.compile(r"^\d{4,}(?![.\d])")


@dataclass(frozen=True, slots=True)
class Titles:
    """What ids are called: the plant's readings, and by kind (``done``, ``said``, ``noted``, ``vary``) the drill's."""

    signals: Mapping[str, Signal]
    of: Callable[[str, str], str]


def condition(node: Node, titles: Titles) -> str:
    """A condition in words.

    ``well.sealed and floor.safety_valve == 'shut'`` is "a preventer seals the well and safety valve is shut".
    """
    match node:
        case Logic("not", (inner,)):
            return _denied(inner, titles)
        case Logic(word, terms):
            said = [_nested(term, word, titles) for term in terms]
            return f"{', '.join(said[:-1])} {word} {said[-1]}"
        case Comparison():
            return _compared(node, titles)
        case Name(tag):
            return _state(tag, "yes", titles)
        case Call(name=name) if name in _EVENTS:
            return _event(node, titles)
        case _:
            return quantity(node, titles)


def quantity(node: Node, titles: Titles) -> str:
    """A quantity in words: ``abs(a.level - b.level)`` is "the difference of a level and b level"."""
    match node:
        case Number(text=text):
            return _WHOLE.sub(lambda found: f"{int(found[0]):,}", text)
        case Text(value):
            return value
        case Name("t"):
            return "time from the start"
        case Name(tag) if tag.startswith("vary."):
            return names.mid_sentence(titles.of("vary", tag[5:]))
        case Name(tag):
            return names.inside(tag)
        case Negative(inner):
            return f"minus {quantity(inner, titles)}"
        case Arithmetic(sign, left, right):
            return f"{quantity(left, titles)} {_JOINED[sign]} {quantity(right, titles)}"
        case Call():
            return _measured(node, titles)
        case _:
            return condition(node, titles)


def _event(node: Call, titles: Titles) -> str:
    """Something that was done or has come, in words."""
    match node:
        case Call("done", (name, *_)):
            return f"'{titles.of('done', id_of(name))}' reached"
        case Call("said" | "noted" as kind, (name, *_)):
            return f"'{titles.of(kind, id_of(name))}' {'reported' if kind == 'said' else 'entered'}"
        case Call("by", (name, station)):
            return f"{names.inside(id_of(name))} operated from {naming.station(id_of(station))}"
        case Call("pushed", (name, *_)):
            return f"{names.inside(id_of(name))} pressed"
        case _:
            return "the question answered"


def _measured(node: Call, titles: Titles) -> str:
    """A quantity that a function gives."""
    match node:
        case Call("abs", (Arithmetic("-", left, right),)):
            return f"the difference of {quantity(left, titles)} and {quantity(right, titles)}"
        case Call("abs", (inner,)):
            return f"the size of {quantity(inner, titles)}"
        case Call("min" | "max" as name, among):
            return f"{_AMONG[name]} {' and '.join(quantity(one, titles) for one in among)}"
        case Call("since", (name, *_)):
            return f"time since '{titles.of('done', id_of(name))}'"
        case Call("at", (name, inner)):
            return f"{quantity(inner, titles)} at '{titles.of('done', id_of(name))}'"
        case _:
            return condition(node, titles)


def _nested(term: Node, word: str, titles: Titles) -> str:
    """A term of an ``and`` or ``or``; one of the other kind in it is held together."""
    said = condition(term, titles)
    if isinstance(term, Logic) and term.word not in ("not", word):
        return f"either {said}" if term.word == "or" else f"both {said}"
    return said


def _denied(node: Node, titles: Titles) -> str:
    """That a condition does not hold."""
    match node:
        case Logic("not", (inner,)):
            return condition(inner, titles)
        case Logic(word, terms):
            other = "and" if word == "or" else "or"
            return condition(Logic(other, tuple(Logic("not", (term,)) for term in terms)), titles)
        case Call("done", (name, *_)):
            return f"before '{titles.of('done', id_of(name))}'"
        case Call("said" | "noted" | "by" | "pushed", _):
            return f"not yet {condition(node, titles)}"
        case Comparison(first, ((sign, second),)):
            return condition(Comparison(first, ((_OPPOSITE[sign], second),)), titles)
        case Name(tag):
            return _state(tag, "no", titles)
        case _:
            return f"not: {condition(node, titles)}"


def _compared(node: Comparison, titles: Titles) -> str:
    match node:
        case Comparison(Name(tag), (("==" | "!=" as sign, Text(value)),)):
            return _state(tag, value, titles) if sign == "==" else _other(tag, value, titles)
        case Comparison(Call("abs", (inner,)), (("<" | "<=", most),)):
            middle, around = inner, "zero"
            if isinstance(inner, Arithmetic) and inner.sign == "-":
                middle, around = inner.left, quantity(inner.right, titles)
            return f"{quantity(middle, titles)} within {quantity(most, titles)} of {around}"
        case Comparison(Number() as first, ((sign, middle), *rest)) if sign not in ("==", "!="):
            # A range, or a limit that is written first.
            bounds = [f"{_THAN[TURNED[sign]]} {quantity(first, titles)}"]
            bounds += [f"{_THAN[one]} {quantity(term, titles)}" for one, term in rest]
            return f"{quantity(middle, titles)} {' and '.join(bounds)}"
    said = quantity(node.first, titles)
    return said + " and".join(f" {_THAN[sign]} {quantity(term, titles)}" for sign, term in node.rest)


def _state(tag: str, value: str, titles: Titles) -> str:
    """That a reading is in a state: what is so or not so by its own name."""
    states = titles.signals[tag].states if tag in titles.signals else ()
    if states == ("no", "yes") or (value in ("no", "yes") and states != ("off", "on")):
        return names.inside(tag) if value == "yes" else f"{names.inside(tag)}: no"
    if states == ("off", "on"):
        value = {"yes": "on", "no": "off"}.get(value, value)
    if tag.endswith(".authority"):
        return f"{names.inside(tag)} {value}"
    if tag.endswith(".valve"):
        return names.mid_sentence(names.shown(tag, value))
    return f"{names.inside(tag) if not tag.startswith('vary.') else quantity(Name(tag), titles)} is {value}"


def _other(tag: str, value: str, titles: Titles) -> str:
    """That a reading is in another state: the one that is left, where there are two."""
    states = titles.signals[tag].states if tag in titles.signals else ()
    left = [state for state in states if state != value]
    return _state(tag, left[0], titles) if len(left) == 1 else _state(tag, f"not {value}", titles)
