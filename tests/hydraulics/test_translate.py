"""Each form of the flat code does in WebAssembly what it does in CPython, to the bit; any other form is refused.

Source: IEEE 754-2019, by which both round; WebAssembly Core Specification 2.0, section 4.3.3 (its floating-point
operations are those of IEEE 754, round to nearest, ties to even).
"""

from __future__ import annotations

import ast
import math
import sys
from array import array
from functools import cache
from math import sqrt
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from trainer.hydraulics.inline import Inliner, name
from trainer.hydraulics.machine import Run, advancing
from trainer.hydraulics.translate import FormError, sizes, translate
from trainer.runtime.by_wasmtime import Memory, compiled

TINY = 5e-324
EDGES = (0.0, -0.0, TINY, -TINY, sys.float_info.min, -sys.float_info.min, 1.0, -1.0, 0.1, 1e308, -1e308, 1e-300)
NUMBERS = st.one_of(st.sampled_from(EDGES), st.floats(allow_nan=False, allow_infinity=False))
SIZE = 12
"""More doubles than a pass of the look for what is not finite takes at once, and not a multiple of it."""

FORMS = {
    "sum": "x = a + b",
    "difference": "x = a - b",
    "product": "x = a * b",
    "quotient": "x = a / b",
    "quotient by a number": "x = a / 3.0",
    "quotient that nobody uses": "x = a / b\nx = c",
    "quotient of a way not taken": "x = a / b if c > 0.0 else c",
    "root": "x = sqrt(a)",
    "root of a way not taken": "x = sqrt(a) if b > 0.0 else b",
    "root of what was turned": "x = sqrt(-a)",
    "minus": "x = -a",
    "plus": "x = +a",
    "order of operations": "x = a + b * c - a / (c - b)",
    "no fused multiply and add": "x = a * b + c",
    "number, exact": "x = a * 0.1 + 5e-324 - 1.7976931348623157e308",
    "added to": "x = a\nx += b\nx -= c\nx *= 0.5\nx /= 3.0",
    "way": "x = a if b < c else b",
    "ways in ways": "x = (a if b < 0.0 else b) if c < 0.0 else (c if a == b else -a)",
    "less": "x = 1.0 if a < b else 2.0",
    "at most": "x = 1.0 if a <= b else 2.0",
    "more": "x = 1.0 if a > b else 2.0",
    "at least": "x = 1.0 if a >= b else 2.0",
    "equal": "x = 1.0 if a == b else 2.0",
    "unequal": "x = 1.0 if a != b else 2.0",
    "chain": "x = 1.0 if a < b <= c else 2.0",
    "and, cut short": "x = 1.0 if b != 0.0 and a / b > c else 2.0",
    "or, cut short": "x = 1.0 if b == 0.0 or a / b > c or sqrt(c) > 1.0 else 2.0",
    "and, or, not": "x = 1.0 if a > 0.0 and (b > 0.0 or not c > 0.0) else 2.0",
    "number as a condition": "x = 1.0 if a else 2.0",
    "number beside a condition": "x = 1.0 if a and b > 0.0 or not c else 2.0",
    "condition as a number": "x = a < b\ny = (a < c) or (b < c)\nx = x * 2.0 + y * a + (not a) / 4.0",
    "condition kept": "k = a < b\nx = 1.0 if k and c > 0.0 else 2.0",
    "true and false": "x = True if a > b else False",
    "gate": "x = a\nif b > 0.0:\n    x = c\n    if c > a:\n        x += 1.0",
    "gate before bad arithmetic": "x = a\nif b > 0.0:\n    x = a / b",
    "loop": "x = a\nfor _ in range(3):\n    x = x * 0.5 + b",
    "loop that is left": "x = a\nfor _ in range(4):\n    x = x * 0.5\n    if x < b:\n        break\n    x += c",
    "loops in loops": "x = a\nfor _ in range(3):\n    for _ in range(4):\n        x = 0.25 * x + b\n        if x > c:\n"
    "            break\n    x -= 1.0",
    "name that lasts from pass to pass": "x = a\nk = b\nfor _ in range(3):\n    x += k\n    k = x * 0.25",
    "gated name": "k = c\nif a > 0.0:\n    k = b\nx = k",
    "finite by a hair": "x = a * 2.0",
    "not finite, then finite": "x = (a * 1e300) * 0.0 + 1.0 if c > 0.0 else 1.0 / (a * 1e300)",
}


def flat(form: str) -> str:
    """A flat function over three numbers, with the form's result as the fourth."""
    lines = ["a = s[0]", "b = s[1]", "c = s[2]", *form.splitlines(), "s[3] = x"]
    return "\n".join(["def advance(s, sqrt=sqrt):", *(f"    {line}" for line in lines)]) + "\n"


class Both:
    """The same function by CPython and as WebAssembly."""

    def __init__(self, source: str) -> None:
        scope: dict[str, Any] = {"sqrt": sqrt}
        exec(source, scope)
        self.plain = array("d", bytes(8 * SIZE))
        self.by_python: Run = advancing(scope["advance"], self.plain)
        memory = Memory(SIZE)
        self.quick = memory.numbers
        self.by_wasmtime = memory.link(*compiled(translate(source, SIZE)))

    def agree(self, *numbers: float, scans: int = 2) -> bool:
        """Whether the numbers lasted; AssertionError unless both say so and leave the same bits."""
        start = array("d", [*numbers, *([0.0] * (SIZE - len(numbers)))])
        self.plain[:] = start
        self.quick[:] = start
        lasted = self.by_python(scans)
        assert self.by_wasmtime(scans) is lasted
        if lasted:
            assert bytes(self.quick) == bytes(self.plain), (list(self.quick), list(self.plain))
        return lasted


@cache
def both(form: str) -> Both:
    return Both(flat(form))


@pytest.mark.parametrize("form", FORMS)
@settings(max_examples=100)
@given(a=NUMBERS, b=NUMBERS, c=NUMBERS)
@example(a=1.0, b=0.0, c=-0.0)
@example(a=-1.0, b=-0.0, c=1.0)
@example(a=1e308, b=1e308, c=1.0)
@example(a=-0.0, b=1.0, c=-1.0)
@example(a=1.0 + 2.0**-52, b=1.0 - 2.0**-53, c=-1.0)
def test_a_form_gives_the_same_bits(form: str, a: float, b: float, c: float) -> None:
    both(FORMS[form]).agree(a, b, c)


def test_what_stops_one_stops_the_other() -> None:
    """Division by zero of either sign, the root of a negative number, and what is not finite at the end of a scan."""
    lasts = both(FORMS["quotient"]).agree
    assert lasts(1.0, 2.0, 0.0)
    assert not lasts(1.0, 0.0, 0.0)
    assert not lasts(1.0, -0.0, 0.0)
    assert not lasts(1e308, 1e-308, 0.0)
    assert not both(FORMS["root"]).agree(-TINY, 0.0, 0.0)
    assert both(FORMS["root"]).agree(-0.0, 0.0, 0.0)
    assert not both(FORMS["quotient that nobody uses"]).agree(1.0, 0.0, 0.0)
    assert both(FORMS["quotient of a way not taken"]).agree(1.0, 0.0, -1.0)
    assert both(FORMS["and, cut short"]).agree(1.0, 0.0, 1.0)


@pytest.mark.parametrize("place", range(SIZE))
@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_a_state_that_is_not_finite_is_seen_wherever_it_is(place: int, value: float) -> None:
    state = [1.0] * SIZE
    state[place] = value
    assert not both("x = 1.0" if place != 3 else "x = a\nx = s[3]").agree(*state, scans=1)


EXPRESSIONS = st.recursive(
    st.one_of(st.sampled_from("abc"), st.sampled_from(EDGES).map(lambda x: repr(x) if x >= 0 else f"({x!r})")),
    lambda inner: st.one_of(
        st.builds(lambda p, o, q: f"({p} {o} {q})", inner, st.sampled_from("+-*/"), inner),
        st.builds(lambda t, p, o, q, e: f"({t} if {p} {o} {q} else {e})", inner, inner,
                  st.sampled_from(["<", "<=", ">", ">=", "==", "!="]), inner, inner),
        st.builds(lambda t, p, w, q, e: f"({t} if {p} > 0.0 {w} {q} else {e})", inner, inner,
                  st.sampled_from(["and", "or"]), inner, inner),
        st.builds(lambda x: f"(-{x})", inner),
        st.builds(lambda x: f"sqrt({x})", inner),
    ),
    max_leaves=12,
)  # fmt: skip


@settings(max_examples=60)
@given(lines=st.lists(st.tuples(st.sampled_from(["x", "y", "a"]), EXPRESSIONS), min_size=1, max_size=4),
       numbers=st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), min_size=8, max_size=8))  # fmt: skip
def test_forms_in_each_other_give_the_same_bits(
    lines: list[tuple[str, str]], numbers: list[tuple[float, float, float]]
) -> None:
    form = "\n".join(["x = a", *(f"{target} = {text}" for target, text in lines), "x = x + 0.5 * a"])
    one = Both(flat(form))
    for three in numbers:
        one.agree(*three)


def least_most_size(a: float, b: float) -> tuple[float, float, float]:
    """As Python has them."""
    return min(a, b), max(a, b), abs(a)


@given(a=NUMBERS, b=NUMBERS)
@example(a=0.0, b=-0.0)
@example(a=-0.0, b=0.0)
def test_min_max_and_abs_of_a_law_are_pythons(a: float, b: float) -> None:
    out: list[ast.stmt] = []
    inliner = Inliner()
    inliner.assign(["x", "y", "z"], inliner.call(least_most_size, [name("a"), name("b")], out), out)
    form = "\n".join(ast.unparse(ast.fix_missing_locations(line)) for line in out) + "\ns[4] = y\ns[5] = z"
    one = both(form)
    assert one.agree(a, b)
    assert bytes(one.quick[3:6]) == bytes(array("d", least_most_size(a, b)))


def test_a_long_function_is_cut_and_stays_the_same() -> None:
    """Names of several pieces, one piece alone, and a piece in a loop."""
    sums = [f"k{n} = k{n - 1} * 0.5 + {'b' if n % 3 else 'c'}" for n in range(1, 900)]
    body = ["k0 = a", *sums, "x = k899", "for _ in range(3):", *(f"    {line}" for line in sums), "    x += k7"]
    source = flat("\n".join(body))
    assert translate(source, SIZE).count(b"\x10") > 4, "calls of pieces"
    one = Both(source)
    assert one.agree(1.5, -0.25, 3.0)
    assert sizes(translate(source, SIZE)).scratch > 3


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ("x = a ** 2.0", "Pow"),
        ("x = a % b", "Mod"),
        ("x = a // b", "FloorDiv"),
        ("x = max(a, b)", "max"),
        ("x = sqrt(a, b)", "sqrt"),
        ("x = 2", "no form"),
        ("x = 'a'", "no form"),
        ("x = 1e999", "no form"),
        ("x = -(a < b)", "sign before True"),
        ("k = a < b\nx = -k", "sign before True"),
        ("k = a < b\nx = k + True", "between True and False"),
        ("x = a or b", "between conditions"),
        ("x = 1.0 if a < b / c < 1.0 else 2.0", "chain"),
        ("x = 1.0 if a is b else 2.0", "Is"),
        ("x = a if b < c else d", "nothing sets d"),
        ("x = s[99]", "s\\[NUMBER\\]"),
        ("x = s[-1]", "s\\[NUMBER\\]"),
        ("s[0] += 1.0\nx = a", "no form"),
        ("x, y = a, b", "nothing sets x"),
        ("x = y = a", "nothing sets x"),
        ("x = a\nif b > 0.0:\n    x = b\nelse:\n    x = c", "no form"),
        ("x = a\nwhile x > 1.0:\n    x = 0.5 * x", "no form"),
        ("x = a\nfor i in range(3):\n    x += i", "has to be"),
        ("x = a\nfor _ in range(0):\n    x += b", "range\\(NUMBER\\)"),
        ("x = a\nfor _ in range(3):\n    if x > b:\n        x = b\n        break", "no form"),
        ("x = a\nfor _ in range(3):\n    if x > b:\n        break\n        x = b", "beside a break"),
        ("x = a\nif b > 0.0:\n    for _ in range(2):\n        x += b", "nothing sets _"),
        ("x = a\nreturn x", "no form"),
        ("sqrt = a\nx = a", "may not be set"),
    ],
)  # fmt: skip
def test_any_other_form_is_refused(form: str, said: str) -> None:
    with pytest.raises(FormError, match=said):
        translate(flat(form), SIZE)


def test_another_function_or_module_is_refused() -> None:
    with pytest.raises(FormError, match="has to begin"):
        translate("def other(t):\n    pass\n", SIZE)
    with pytest.raises(ValueError, match="not a translated plant"):
        sizes(b"\0asm\1\0\0\0")
    with pytest.raises(ValueError, match="not a translated plant"):
        sizes(b"")
