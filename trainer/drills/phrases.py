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
from trainer.wording import joined, worded, written

_THAN: Final = {"<": "below", "<=": "at most", ">": "above", ">=": "at least", "==": "at", "!=": "not at"}
_OPPOSITE: Final = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}
_JOINED: Final = {"+": "plus", "-": "less", "*": "times", "/": "divided by"}
_AMONG: Final = {"min": "the smallest of", "max": "the largest of"}
_EVENTS: Final = frozenset({"done", "said", "noted", "by", "pushed", "answered", "called", "repeated", "hand"})
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
            return worded("{0} {1} {2}", joined(", ", said[:-1]), word, said[-1])
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
            return written(_WHOLE.sub(lambda found: f"{int(found[0]):,}", text))
        case Text(value):
            return value
        case Name("t"):
            return "time from the start"
        case Name(tag) if tag.startswith("vary."):
            return names.mid_sentence(titles.of("vary", tag[5:]))
        case Name(tag):
            return names.inside(tag)
        case Negative(inner):
            return worded("minus {0}", quantity(inner, titles))
        case Arithmetic(sign, left, right):
            return worded("{0} {1} {2}", quantity(left, titles), _JOINED[sign], quantity(right, titles))
        case Call():
            return _measured(node, titles)
        case _:
            return condition(node, titles)


def _event(node: Call, titles: Titles) -> str:
    """Something that was done or has come, in words."""
    match node:
        case Call("done", (name, *_)):
            return worded("'{0}' reached", titles.of("done", id_of(name)))
        case Call("said" | "noted" as kind, (name, *_)):
            return worded("'{0}' {1}", titles.of(kind, id_of(name)), "reported" if kind == "said" else "entered")
        case Call("by", (name, station)):
            return worded("{0} operated from {1}", names.inside(id_of(name)), naming.station(id_of(station)))
        case Call("called" | "repeated" as kind, (name, *_)):
            return worded(
                "'{0}' {1}", titles.of("called", id_of(name)), "called" if kind == "called" else "repeated back"
            )
        case Call("hand", (name, post)):
            return worded("{0} worked by: {1}", names.inside(id_of(name)), titles.of("post", id_of(post)))
        case Call("pushed", (name, *_)):
            return worded("{0} pressed", names.inside(id_of(name)))
        case _:
            return "the question answered"


def _measured(node: Call, titles: Titles) -> str:
    """A quantity that a function gives."""
    match node:
        case Call("abs", (Arithmetic("-", left, right),)):
            return worded("the difference of {0} and {1}", quantity(left, titles), quantity(right, titles))
        case Call("abs", (inner,)):
            return worded("the size of {0}", quantity(inner, titles))
        case Call("min" | "max" as name, among):
            return worded("{0} {1}", _AMONG[name], joined(" and ", (quantity(one, titles) for one in among)))
        case Call("since", (name, *_)):
            return worded("time since '{0}'", titles.of("done", id_of(name)))
        case Call("at", (name, inner)):
            return worded("{0} at '{1}'", quantity(inner, titles), titles.of("done", id_of(name)))
        case _:
            return condition(node, titles)


def _nested(term: Node, word: str, titles: Titles) -> str:
    """A term of an ``and`` or ``or``; one of the other kind in it is held together."""
    said = condition(term, titles)
    if isinstance(term, Logic) and term.word not in ("not", word):
        return worded("either {0}", said) if term.word == "or" else worded("both {0}", said)
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
            return worded("before '{0}'", titles.of("done", id_of(name)))
        case Call("said" | "noted" | "by" | "pushed" | "called" | "repeated" | "hand", _):
            return worded("not yet {0}", condition(node, titles))
        case Comparison(first, ((sign, second),)):
            return condition(Comparison(first, ((_OPPOSITE[sign], second),)), titles)
        case Name(tag):
            return _state(tag, "no", titles)
        case _:
            return worded("not: {0}", condition(node, titles))


def _compared(node: Comparison, titles: Titles) -> str:
    match node:
        case Comparison(Name(tag), (("==" | "!=" as sign, Text(value)),)):
            return _state(tag, value, titles) if sign == "==" else _other(tag, value, titles)
        case Comparison(Call("abs", (inner,)), (("<" | "<=", most),)):
            middle, around = inner, "zero"
            if isinstance(inner, Arithmetic) and inner.sign == "-":
                middle, around = inner.left, quantity(inner.right, titles)
            return worded("{0} within {1} of {2}", quantity(middle, titles), quantity(most, titles), around)
        case Comparison(Number() as first, ((sign, middle), *rest)) if sign not in ("==", "!="):
            # A range, or a limit that is written first.
            bounds = [worded("{0} {1}", _THAN[TURNED[sign]], quantity(first, titles))]
            bounds += [worded("{0} {1}", _THAN[one], quantity(term, titles)) for one, term in rest]
            return worded("{0} {1}", quantity(middle, titles), joined(" and ", bounds))
    said = quantity(node.first, titles)
    return said + joined(" and", (worded(" {0} {1}", _THAN[sign], quantity(term, titles)) for sign, term in node.rest))


def _state(tag: str, value: str, titles: Titles) -> str:
    """That a reading is in a state: what is so or not so by its own name."""
    states = titles.signals[tag].states if tag in titles.signals else ()
    if states == ("no", "yes") or (value in ("no", "yes") and states != ("off", "on")):
        return names.inside(tag) if value == "yes" else worded("{0}: no", names.inside(tag))
    if states == ("off", "on"):
        value = {"yes": "on", "no": "off"}.get(value, value)
    if tag.endswith(".authority"):
        return worded("{0} {1}", names.inside(tag), value)
    if tag.endswith(".valve"):
        return names.mid_sentence(names.shown(tag, value))
    return worded(
        "{0} is {1}", names.inside(tag) if not tag.startswith("vary.") else quantity(Name(tag), titles), value
    )


def _other(tag: str, value: str, titles: Titles) -> str:
    """That a reading is in another state: the one that is left, where there are two."""
    states = titles.signals[tag].states if tag in titles.signals else ()
    left = [state for state in states if state != value]
    return _state(tag, left[0], titles) if len(left) == 1 else _state(tag, worded("not {0}", value), titles)
