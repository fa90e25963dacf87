"""Identification exercises made from a plant: point to it, name it, say what it does, trace what feeds it, which
valve takes it out of service, what its gauge should read.

Every question has one right answer: wrong choices are taken from what is wrong on this very plant.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from trainer.drawing.context import DrawingContext, round_step
from trainer.drawing.markup import shorten
from trainer.learn.parts import Thing
from trainer.learn.path import Feeds, before, feeds, goal_of, isolators

KINDS: Final = {
    "point": "Point to it",
    "name": "Name it",
    "does": "What it does",
    "feeds": "What feeds it",
    "trace": "Trace it back",
    "isolates": "What isolates it",
    "reads": "What its gauge reads",
}
CHOICES: Final = 4
NEAR: Final = 8
"""Wrong names come from so many parts that the drawing has next to a part."""
ARROW: Final = " ← "
FEWEST: Final = 3
"""A question with fewer choices than this is not asked."""


@dataclass(frozen=True, slots=True)
class Question:
    """One exercise. ``choices`` are words to choose from, the right one at ``right``; without any, parts are clicked:
    ``about`` itself, or for a trace one feeder after the other until ``goal``.

    ``nameless``: the drawing must not tell names meanwhile. ``lit``: parts to light from the start. ``why`` is told
    after the answer.
    """

    key: str
    about: str
    ask: str
    choices: tuple[str, ...] = ()
    right: int = -1
    goal: str = ""
    nameless: bool = False
    lit: tuple[str, ...] = ()
    why: str = ""

    @property
    def kind(self) -> str:
        """Which kind of exercise this is, a key of ``KINDS`` and of the records of answers."""
        return self.key.partition(" ")[0]


class Questions:
    """All exercises that a plant gives. ``keys`` names them, ``make`` makes one."""

    def __init__(self, desk: DrawingContext, parts: dict[str, Thing]) -> None:
        self.desk = desk
        self.parts = parts
        self.network: Feeds = {
            name: tuple(f for f in feeding if f in parts)
            for name, feeding in feeds(desk.rig).items()
            if name in parts and parts[name].drawn
        }
        self.valves = {part: valve for part, valve in isolators(desk.rig).items() if part in parts and valve in parts}
        self._turns: dict[str, int] = {}
        self.keys = self._keys()

    def _keys(self) -> tuple[str, ...]:
        found: list[str] = []
        for name, thing in self.parts.items():
            kinds = ["point", "name"] if thing.drawn else []
            kinds.append("does")
            if self.network.get(name):
                kinds.append("feeds")
                if self.way(name, self._goal(name)).count(ARROW) > 1:
                    kinds.append("trace")
            if name in self.valves:
                kinds.append("isolates")
            if thing.gauge is not None and self._bands(thing.gauge):
                kinds.append("reads")
            found += [f"{kind} {name}" for kind in kinds]
        # A mixture from the start, the same for everybody; a second part of a kind when all kinds were met.
        random.Random(self.desk.rig.id).shuffle(found)
        met: Counter[tuple[str, str]] = Counter()
        for key in found:
            exercise, _, name = key.partition(" ")
            self._turns[key] = met[(exercise, self.parts[name].kind)]
            met[(exercise, self.parts[name].kind)] += 1
        found.sort(key=lambda key: self._turns[key])
        return tuple(key for key in found if self._enough(key))

    def _enough(self, key: str) -> bool:
        question = self.make(key, random.Random(0))
        return not question.choices or len(question.choices) >= FEWEST

    def make(self, key: str, lot: random.Random) -> Question:
        """The exercise ``key``; ``lot`` draws its wrong choices and their order. KeyError for an unknown key."""
        kind, _, name = key.partition(" ")
        thing = self.parts[name]
        return _MAKERS[kind](self, key, thing, lot)

    # One maker a kind

    def _point(self, key: str, thing: Thing, lot: random.Random) -> Question:
        return Question(key, thing.id, f"Point to: {thing.title}.", nameless=True, why=_about(thing))

    def _name(self, key: str, thing: Thing, lot: random.Random) -> Question:
        """The wrong names are those of parts drawn near it; one that looks the same only when such parts were met."""
        order = [other for other in self.parts.values() if other.drawn]
        at = order.index(thing)
        near = sorted(order, key=lambda other: abs(order.index(other) - at))
        alike = [other.title for other in near if other.kind == thing.kind and other.title != thing.title]
        others = [other.title for other in near if other.kind != thing.kind][:NEAR]
        lot.shuffle(others)
        choices, right = _mixed(thing.title, [*(alike[:1] if self._turns[key] else []), *others], lot)
        ask, why = "Which part is marked?", _about(thing)
        return Question(key, thing.id, ask, choices, right, nameless=True, lit=(thing.id,), why=why)

    def _does(self, key: str, thing: Thing, lot: random.Random) -> Question:
        own = thing.line("What it does")
        others = [other.line("What it does") for other in self.parts.values() if other.kind != thing.kind]
        lot.shuffle(others)
        choices, right = _mixed(own, others, lot)
        ask, why = f"{thing.title}: what does it do?", f"{_about(thing)} {thing.line('Safety')}"
        return Question(key, thing.id, ask, choices, right, lit=(thing.id,), why=why)

    def _feeds(self, key: str, thing: Thing, lot: random.Random) -> Question:
        feeding = self.network[thing.id]
        named = self.parts[lot.choice(feeding)].title
        upstream = before(self.network, thing.id)
        wrong = [n for n in self.network if n not in upstream and n != thing.id]
        # Parts that lie farther upstream would be half right: they are no choices.
        others = [self.parts[name].title for name in wrong]
        lot.shuffle(others)
        choices, right = _mixed(named, others, lot)
        ask = f"{thing.title}: where does its fluid come from directly?"
        why = f"It comes from: {'; '.join(self.parts[name].title for name in feeding)}."
        return Question(key, thing.id, ask, choices, right, lit=(thing.id,), why=why)

    def _trace(self, key: str, thing: Thing, lot: random.Random) -> Question:
        goal = self._goal(thing.id)
        ask = (
            f"{thing.title}: trace its fluid back to: {self.parts[goal].title}. Click what feeds it directly, "
            "then what feeds that, and so on."
        )
        return Question(key, thing.id, ask, goal=goal, lit=(thing.id,), why=f"The path: {self.way(thing.id, goal)}.")

    def _isolates(self, key: str, thing: Thing, lot: random.Random) -> Question:
        valve = self.parts[self.valves[thing.id]]
        others = [self.parts[v].title for part, v in self.valves.items() if v != valve.id]
        others += [t.title for t in self.parts.values() if t.id.endswith((".bleed", ".drain"))]
        lot.shuffle(others)
        choices, right = _mixed(valve.title, others, lot)
        ask = f"{thing.title}: which valve takes it out of service?"
        return Question(
            key, thing.id, ask, choices, right, lit=(thing.id,), why=f"{_about(valve)} {valve.line('Safety')}"
        )

    def _reads(self, key: str, thing: Thing, lot: random.Random) -> Question:
        bands = self._bands(str(thing.gauge))
        choices, right = _mixed(bands[0], bands[1:], lot)
        ask = f"{thing.title}: what should its gauge read at rest?"
        why = in_a_row(f"It should read {bands[0]}.", thing.line("Normal reading"))
        return Question(key, thing.id, ask, choices, right, lit=(thing.id,), why=why)

    # What makers need

    def _goal(self, name: str) -> str:
        return goal_of(self.network, name, self.desk.rig.tank)

    def way(self, name: str, goal: str) -> str:
        """The titles along one way back from a part to ``goal``, with arrows."""
        found = [name]
        while found[-1] != goal and self.network.get(found[-1]):
            nearer = [f for f in self.network[found[-1]] if f == goal or goal in before(self.network, f)]
            found.append((nearer or list(self.network[found[-1]]))[0])
        return ARROW.join(self.parts[n].title for n in found)

    def _bands(self, tag: str) -> list[str]:
        """The normal band of a gauge as words, then bands of the same width elsewhere on its scale."""
        signal = self.desk.signals[tag]
        if signal.normal is None or signal.unit == "state":
            return []
        scale = self.desk.scale(tag)
        assert scale.normal is not None
        low, high = scale.normal
        wide = high - low
        step = round_step((scale.high - scale.low) / 100.0)
        found = [_band(low, high, scale.unit)]
        for k in range(6):
            start = scale.low + k * (scale.high - scale.low - wide) / 5.0
            start = round(start / step) * step
            if (start > high or start + wide < low) and start + wide <= scale.high + step:
                found.append(_band(start, start + wide, scale.unit))
        return found if len(found) >= FEWEST else []


_MAKERS = {
    "point": Questions._point,
    "name": Questions._name,
    "does": Questions._does,
    "feeds": Questions._feeds,
    "trace": Questions._trace,
    "isolates": Questions._isolates,
    "reads": Questions._reads,
}


def in_a_row(*sentences: str) -> str:
    """Sentences as one text, each a space after the one before; those that are empty are left out."""
    return " ".join(filter(None, sentences))


def _about(thing: Thing) -> str:
    return f"{thing.title}. {thing.line('What it is')}"


def _mixed(right: str, wrong: Iterable[str], lot: random.Random) -> tuple[tuple[str, ...], int]:
    """The right choice among wrong ones, none twice, in an order by lot; and where the right one stands."""
    others = [text for text in dict.fromkeys(wrong) if text != right][: CHOICES - 1]
    choices = [right, *others]
    lot.shuffle(choices)
    return tuple(choices), choices.index(right)


def _band(low: float, high: float, unit: str) -> str:
    digits = 0 if max(abs(low), abs(high)) >= 100 else 1
    return f"{shorten(round(low, digits))} to {shorten(round(high, digits))} {unit}"
