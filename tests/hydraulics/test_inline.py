"""The inliner copies a law as it stands; what is constant is worked out, what is outside the subset refused."""

from __future__ import annotations

import ast
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.hydraulics.inline import Inliner, SubsetError, constant, fold, name, parse

LIMIT = 3.0


def half(a: float) -> float:
    """Half of it."""
    return 0.5 * a


def both(a: float, b: float) -> tuple[float, float]:
    """Two results, one of them by another law."""
    c = half(a) + b
    a = c * LIMIT
    return max(a, b), (c if a > b and not b < 0.0 else -abs(b))


def swap(a: float, b: float) -> tuple[float, float]:
    """The other way round."""
    return b, a


def looped(a: float) -> float:
    """Outside the subset."""
    for _ in range(3):
        a = a + 1.0
    return a


def indexed(a: float) -> float:
    """Outside the subset too."""
    return [a][0]


def run(law, args, targets, scope):  # type: ignore[no-untyped-def]
    out: list[ast.stmt] = []
    inliner = Inliner()
    inliner.assign(targets, inliner.call(law, args, out), out)
    source = "\n".join(ast.unparse(ast.fix_missing_locations(s)) for s in out)
    values = {"sqrt": sqrt, **scope}
    exec(source, values)
    return source, values


@given(a=st.floats(-1e6, 1e6), b=st.floats(-1e6, 1e6))
def test_inlined_law_equals_the_law(a: float, b: float) -> None:
    source, values = run(both, [name("p"), name("q")], ["r", "s"], {"p": a, "q": b})
    assert (values["r"], values["s"]) == both(a, b)
    assert "half" not in source


def test_results_may_overwrite_their_own_arguments() -> None:
    _, values = run(swap, [name("p"), name("q")], ["p", "q"], {"p": 1.0, "q": 2.0})
    assert (values["p"], values["q"]) == (2.0, 1.0)


def test_constants_are_worked_out() -> None:
    source, values = run(half, [constant(8.0)], ["r"], {})
    assert values["r"] == 4.0
    assert source == "r = 4.0"


def test_a_fault_at_rest_costs_nothing() -> None:
    term = fold(ast.BinOp(name("k"), ast.Mult(), constant(0.0)))
    assert ast.unparse(term) == "0.0"


@pytest.mark.parametrize(("law", "said"), [(looped, "only assignments"), (indexed, "outside the subset")])
def test_outside_the_subset_is_refused(law, said: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(SubsetError, match=said):
        Inliner().call(law, [name("a")], [])


def test_wrong_number_of_values_is_refused() -> None:
    with pytest.raises(SubsetError, match="takes 1 values, was given 2"):
        Inliner().call(half, [name("a"), name("b")], [])
    assert parse(half).params == ("a",)
