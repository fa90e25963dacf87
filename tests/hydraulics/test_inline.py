"""The inliner copies a law as it stands; what is constant is worked out, what is outside the subset refused."""

from __future__ import annotations

import ast
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.hydraulics.inline import Inliner, SubsetError, constant, fold, listed, name, parse
from trainer.hydraulics.lists import added, chosen, largest

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


def along(values: list[float], weights: list[float], number: float) -> tuple[float, float, float, list[float]]:
    """All that a law does with lists."""
    products = [v * w - half(v) for v, w in zip(values, weights, strict=True)]
    most = max(largest(products), 0.0)
    return (
        added(products),
        (most if any(v < w for v, w in zip(values, weights, strict=True)) else -1.0),
        chosen(values, number),
        [p + most for p in products],
    )


def filtered(values: list[float]) -> float:
    """Outside the subset: which values stay is known only when it runs."""
    return added([v for v in values if v > 0.0])


def run(law, args, targets, scope):  # type: ignore[no-untyped-def]
    out: list[ast.stmt] = []
    inliner = Inliner()
    inliner.assign(targets, inliner.call(law, args, out), out)
    source = "\n".join(ast.unparse(ast.fix_missing_locations(s)) for s in out)
    values = {"sqrt": sqrt, **scope}
    exec(source, values)
    return source, values


@given(st.lists(st.tuples(*2 * [st.floats(-1e6, 1e6)]), max_size=5), st.floats(-1.0, 7.0))
def test_a_list_is_written_out_and_gives_what_the_law_gives(pairs: list[tuple[float, float]], number: float) -> None:
    scope = {f"{n}{at}": value for at, pair in enumerate(pairs) for n, value in zip("vw", pair, strict=True)}
    lists = [listed([name(f"{n}{at}") for at in range(len(pairs))]) for n in "vw"]
    targets = ["total", "most", "one", *(f"p{at}" for at in range(len(pairs)))]
    source, values = run(along, [*lists, name("number")], targets, scope | {"number": number})
    total, most, one, rest = along([v for v, _ in pairs], [w for _, w in pairs], number)
    assert [values[t] for t in targets] == [total, most, one, *rest]
    assert "[" not in source and "for" not in source


def test_a_list_of_which_some_are_left_out_is_refused() -> None:
    with pytest.raises(SubsetError, match="filtered, line 3: a list is made by one loop over lists"):
        Inliner().call(filtered, [listed([name("a")])], [])


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
