"""Two plants at a time get the bits that each gets alone by CPython, also where they part at an ``if`` or in a loop.

Source: WebAssembly Core Specification 2.0, section 4.3.4 (vector operations work on each lane as the single ones do).
"""

from __future__ import annotations

from array import array
from functools import cache
from math import sqrt
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.hydraulics.test_translate import EXPRESSIONS, FORMS, NUMBERS, SIZE, flat
from trainer.hydraulics.machine import advancing
from trainer.hydraulics.pairs import translate_pairs
from trainer.hydraulics.translate import FormError, translate
from trainer.runtime.by_wasmtime import Memory, compiled

Three = tuple[float, float, float]
PARTED = {
    **FORMS,
    "left in the middle of loops, each at its time": "x = a\nfor _ in range(5):\n    x = x * 0.5\n"
    "    for _ in range(3):\n        x = 0.75 * x + b\n        if x > c:\n            break\n        x -= 0.25\n"
    "    if x < b:\n        break\n    x += c",
    "gates in a loop": "x = a\nk = 0.0\nfor _ in range(4):\n    if x > b:\n        x = x * 0.5\n        if x > c:\n"
    "            x -= 1.0\n        k += 1.0\n    x += k\n    if x < c:\n        break",
    "a loop behind a gate that shuts": "x = a\nfor _ in range(3):\n    x += b\n    if x < c:\n        break\n"
    "if b > 0.0:\n    x = x / c",
    "division of a way in a way": "x = ((a / b if b != 0.0 else sqrt(c)) if c > 0.0 else 1.0 / a) if a != 0.0 else b",
    "roots between conditions": "x = 1.0 if a > 0.0 and sqrt(a) > b and (c > 0.0 and sqrt(c) > a or b / a > c) "
    "else 2.0",
}  # fmt: skip


class Many:
    """The same function for several plants in pairs, and by CPython for each alone."""

    def __init__(self, source: str, plants: int) -> None:
        scope: dict[str, Any] = {"sqrt": sqrt}
        exec(source, scope)
        self.plain = [array("d", bytes(8 * SIZE)) for _ in range(plants)]
        self.by_python = [advancing(scope["advance"], state) for state in self.plain]
        memory = Memory(SIZE * plants)
        self.quick = memory.numbers
        self.in_pairs = memory.link(*compiled(translate_pairs(source, SIZE)), plants)

    def agree(self, numbers: list[Three], scans: int = 2) -> bool:
        """Whether all lasted; AssertionError unless both say so and leave the same bits."""
        for state, three in zip(self.plain, numbers, strict=True):
            state[:] = array("d", [*three, *([0.0] * (SIZE - 3))])
        self.quick[:] = array("d", [value for state in self.plain for value in state])
        ends = [run(scans) for run in self.by_python]
        lasted = all(ends)
        assert self.in_pairs(scans) is lasted
        if lasted:
            assert bytes(self.quick) == b"".join(map(bytes, self.plain)), (list(self.quick), self.plain)
        return lasted


@cache
def many(form: str, plants: int = 3) -> Many:
    return Many(flat(form), plants)


THREES = st.tuples(NUMBERS, NUMBERS, NUMBERS)
CALM = st.tuples(*[st.sampled_from([-2.0, -0.5, -0.0, 0.25, 1.0, 3.0])] * 3)
"""Numbers of one size, with which plants part at every turn."""


@pytest.mark.parametrize("form", PARTED)
@settings(max_examples=100)
@given(numbers=st.lists(st.one_of(THREES, CALM), min_size=3, max_size=3))
@example(numbers=[(1.0, 0.0, -0.0), (1.0, 2.0, 3.0), (-1.0, -0.0, 1.0)])
@example(numbers=[(2.0, 0.5, 1.0), (0.25, 1.0, -1.0), (1e308, 1e308, 1.0)])
def test_a_form_gives_each_plant_its_bits(form: str, numbers: list[Three]) -> None:
    many(PARTED[form]).agree(numbers)


def test_one_of_two_stops_both_and_a_way_not_taken_stops_none() -> None:
    quotient, way = many(FORMS["quotient"], 2).agree, many(FORMS["quotient of a way not taken"], 2).agree
    assert quotient([(1.0, 2.0, 0.0), (1.0, -2.0, 0.0)])
    assert not quotient([(1.0, 2.0, 0.0), (1.0, 0.0, 0.0)])
    assert not quotient([(1.0, -0.0, 0.0), (1.0, 2.0, 0.0)])
    assert not quotient([(1e308, 1e-308, 0.0), (1.0, 2.0, 0.0)])
    assert way([(1.0, 0.0, -1.0), (1.0, 2.0, 1.0)])
    assert not way([(1.0, 0.0, 1.0), (1.0, 0.0, -1.0)])
    gate = many(FORMS["gate before bad arithmetic"], 2).agree
    assert gate([(1.0, 1.0, 0.0), (1.0, 0.0, 0.0)])
    last = many(FORMS["quotient"], 3).agree
    assert not last([(1.0, 1.0, 0.0), (1.0, 1.0, 0.0), (1.0, 0.0, 0.0)])


@settings(max_examples=60)
@given(lines=st.lists(st.tuples(st.sampled_from(["x", "y", "a"]), EXPRESSIONS, st.booleans()), min_size=1, max_size=4),
       numbers=st.lists(st.tuples(THREES, st.one_of(THREES, CALM)), min_size=8, max_size=8))  # fmt: skip
def test_forms_in_each_other_give_each_plant_its_bits(
    lines: list[tuple[str, str, bool]], numbers: list[tuple[Three, Three]]
) -> None:
    body = ["x = a", "y = b"]
    for target, text, gated in lines:
        body += ["if c > 0.0:", f"    {target} = {text}"] if gated else [f"{target} = {text}"]
    pair = Many(flat("\n".join([*body, "x = x + 0.5 * y"])), 2)
    for both in numbers:
        pair.agree(list(both))


def test_a_long_function_is_cut_and_stays_the_same() -> None:
    sums = [f"k{n} = k{n - 1} * 0.5 + {'b' if n % 3 else 'c'}" for n in range(1, 900)]
    body = ["k0 = a", *sums, "x = k899", "for _ in range(3):", *(f"    {line}" for line in sums), "    x += k7",
            "    if x > 4.0:", "        break"]  # fmt: skip
    assert Many(flat("\n".join(body)), 2).agree([(1.5, -0.25, 3.0), (2.5, 3.0, 1.0)])


@pytest.mark.parametrize("form", ["x = a ** 2.0", "x = -(a < b)", "x = a or b", "x = s[99]", "x = 1e999"])
def test_what_is_refused_for_one_is_refused_for_two(form: str) -> None:
    for translated in (translate, translate_pairs):
        with pytest.raises(FormError):
            translated(flat(form), SIZE)
