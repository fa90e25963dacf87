"""What one call looks at for all plants turns where a referee's own condition turns, whatever a drill compares."""

from __future__ import annotations

import math
from array import array
from math import sqrt
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from trainer.drills import library
from trainer.drills.binding import Binder
from trainer.drills.expressions import Scope
from trainer.drills.language import Call, Comparison, parse
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.translate import translate
from trainer.planning.ensemble.watch import Conditions, Referee, room
from trainer.runtime.by_wasmtime import Memory, compiled
from trainer.simulator import build

INDEX = {"a.x": 0, "b.x": 1, "c.state": 2}
SIGNALS: Any = {"c.state": SimpleNamespace(states=("shut", "open", "block"))}
CHOICES = {"fault": ("leak", "drift")}
KEPT = parse("at(closing, a.x)")
ASKED = (
    "a.x < 3",
    "a.x <= b.x",
    "-1 < a.x - b.x <= 2",
    "a.x > 1 and (b.x >= 1 or not a.x == b.x)",
    "a.x / b.x < 1",
    "a.x / b.x != 1",
    "max(a.x, 2 / b.x) < 3",
    "min(2 / b.x, a.x) < 3",
    "max(at(closing, a.x), b.x) > 0.5",
    "max(b.x, at(closing, a.x)) > 0.5",
    "a.x - at(closing, a.x) > 0.5",
    "a.x != at(closing, a.x)",
    "abs(a.x) > abs(-b.x)",
    "c.state == 'open'",
    "'block' != c.state",
    "vary.fault == 'drift' and a.x * 2 + vary.size > b.x",
    "a.x",
    "not b.x",
)
NUMBERS = st.sampled_from([-3.0, -1.0, -0.0, 0.0, 0.25, 0.5, 0.75, 1.0, 2.0, 3.0, 1e300])


class Small:
    """One condition over three readings, as flat code and as a referee has it."""

    def __init__(self, text: str) -> None:
        tree = parse(text)
        self.state = array("d", [0.0, 0.0, 0.0])
        self.scope = Scope(read=lambda tag: self.state[INDEX[tag]], state=self.state, index=INDEX,
                           vary={"fault": 1.0, "size": 0.5})  # fmt: skip
        binder = Binder(self.scope, SIGNALS, CHOICES)
        self.holds = binder.condition(SimpleNamespace(tree=tree))  # type: ignore[arg-type]
        referee: Any = SimpleNamespace(binder=binder, watched=lambda: [("", SimpleNamespace(tree=tree))])
        found = Conditions(referee, INDEX)
        self.places = found.places
        self.turned = len(INDEX) + found.turned
        self.own = {"unknown": math.nan, "vary.fault": 1.0, "vary.size": 0.5}
        size = len(INDEX) + len(found.places)
        scope: dict[str, Any] = {"sqrt": sqrt}
        exec(found.source, scope)
        self.plain = scope["advance"]
        memory = Memory(size)
        self.quick = memory.numbers
        self.look = memory.link(*compiled(translate(found.source, size, finite=False)))

    def answers(self, numbers: list[tuple[float, float, float]], kept: list[float]) -> list[tuple[bool, bool, bool]]:
        """At each step but the first, at which all look: whether the condition gave another answer, and whether flat
        code said so, by Python and by wasmtime."""
        self.quick[:] = array("d", bytes(8 * len(self.quick)))
        plain = array("d", bytes(8 * len(self.quick)))
        was, found = False, []
        assert isinstance(KEPT, Call)
        for three, value in zip(numbers, kept, strict=True):
            self.state[:] = array("d", three)
            if not math.isnan(value):
                self.scope.kept[KEPT.key] = value
            else:
                self.scope.kept.pop(KEPT.key, None)
            for numbers_of in (plain, self.quick):
                numbers_of[: len(INDEX)] = self.state
                for name, place in self.places.items():
                    if name in self.own or name == KEPT.key:
                        numbers_of[len(INDEX) + place] = self.own.get(name, value)
            self.plain(plain)
            assert self.look(1)
            so = self.holds()
            found.append((so != was, plain[self.turned] == 1.0, self.quick[self.turned] == 1.0))
            was = so
        return found[1:]


@pytest.mark.parametrize("text", ASKED)
@settings(max_examples=60, deadline=None)
@given(
    numbers=st.lists(st.tuples(NUMBERS, NUMBERS, st.sampled_from([0.0, 1.0, 2.0])), min_size=6, max_size=6),
    kept=st.lists(st.one_of(st.just(math.nan), NUMBERS), min_size=6, max_size=6),
)
@example(numbers=[(2.0, 0.0, 1.0), (2.0, 4.0, 0.0), (0.0, 0.0, 2.0)] * 2, kept=[math.nan, 1.0, 1.0] * 2)
def test_a_turn_is_never_missed(text: str, numbers: list[tuple[float, float, float]], kept: list[float]) -> None:
    """It may be told where a part turns and the whole does not; of one comparison it is told just where it turns."""
    for turned, by_python, by_wasmtime in Small(text).answers(numbers, kept):
        assert by_python is by_wasmtime
        assert by_python or not turned
        if isinstance(tree := parse(text), Comparison) and len(tree.rest) == 1:
            assert by_python is turned


def test_every_drill_is_looked_at() -> None:
    """No condition of a shipped drill is of another form, and all of its own numbers have room beside a plant."""
    built: dict[str, Machine] = {}
    seen = 0
    for path in library.every_file().values():
        drill = library.load_file(path)
        for plant in drill.plants:
            machine = built.setdefault(plant, build(plant))
            prepared = library.prepared(path, machine)
            referee = Referee(prepared, 0, plant)
            referee.attach(machine)
            found = Conditions(referee, machine.index)
            assert len(found.places) <= room(prepared), drill.id
            assert translate(found.source, len(machine.index) + room(prepared), finite=False)
            seen += 1
    assert seen > 50
