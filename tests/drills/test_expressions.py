"""The condition language: what it means, what it refuses and how fast it is."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.drills.fake import FakeMachine
from trainer import units
from trainer.drills import dimensions, language
from trainer.drills.binding import Binder
from trainer.drills.expressions import Known, Scope, condition, never_again, quantity
from trainer.drills.language import ExpressionError
from trainer.drills.ranges import never

MACHINE = FakeMachine()
KNOWN = Known(
    MACHINE,
    frozenset({"shut_in"}),
    frozenset({"well_flows"}),
    frozenset({"sicp"}),
    {"kick_at": dimensions.TIME},
    {"broken": ("ram.stuck", "ram.lamp")},
)


def scope_of(machine: FakeMachine) -> Scope:
    return Scope(machine.read, machine.state, machine.index, vary={"kick_at": 12.0, "broken": 1.0}, t=30.0)


def holds(source: str, scope: Scope | None = None) -> bool:
    binder = Binder(scope or scope_of(MACHINE), MACHINE.signals, {"broken": ["ram.stuck", "ram.lamp"]})
    return binder.condition(condition(source, KNOWN))()


@pytest.mark.parametrize(
    "source",
    [
        "header.pressure > 2700 psi",
        "header.pressure > 200 bar",
        "2500 psi < header.pressure <= 3000 psi",
        "not (2500 psi < header.pressure < 3000 psi)",
        "ram.valve == 'block' and ram.valve != \"close\"",
        "not ram.sealing and ram.sealing == 'no'",
        "ram.position < 5 % or header.pressure < 1 psi",
        "floor.mud_pumps == 70 spm",
        "header.pressure / 2 > 1400 psi",
        "abs(header.pressure - 3000 psi) <= 1 psi",
        "min(header.pressure, 100 psi) < max(header.pressure, 200 psi)",
        "-5 bbl < well.pit_gain",
        "well.flow_out * 60 s < 1 gal",
        "t > 20 s and t - vary.kick_at == 18 s",
        "vary.broken == 'ram.lamp'",
        "well.temperature > 80 degF and well.temperature < 40 degC",
        "well.pit_gain >= 0",
        "not (since(shut_in) > 1 s) and not (since(shut_in) <= 1 s)",
        "not (at(shut_in, header.pressure) > 0) and not (header.pressure / well.pit_gain > 0)",
        "not done(shut_in) and not said(well_flows) and not noted(sicp) and not pushed(driller.enable)",
    ],
)
def test_what_holds(source: str) -> None:
    assert holds(source)


def test_milestones_and_kept_values() -> None:
    scope = scope_of(MACHINE)
    scope.reached["shut_in"] = 21.5
    kept = condition("header.pressure - at(shut_in, header.pressure) < -500 psi", KNOWN)
    assert [call.key for call in kept.keeps] == ["at ( shut_in , header.pressure )"]
    scope.kept[kept.keeps[0].key] = units.from_unit(3600.0, "psi")
    assert holds(kept.source, scope)
    assert holds("done(shut_in) and since(shut_in) == 8.5 s", scope)


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("header.presure > 1 psi", "no reading 'header.presure'; did you mean header.pressure"),
        ("header.pressure > 200 gal", "header.pressure (psi) is a pressure but 200 gal is a volume"),
        ("header.pressure > 200", "200 is a plain number; write the number in a unit such as psi"),
        ("header.pressure > 200 foo", "'foo' was not expected"),
        ("header.pressure", "is a quantity, not a condition"),
        ("ram.valve", "say which: ram.valve == 'block' or 'open' or 'close'"),
        ("ram.valve == 'shut'", "no state 'shut'; it has 'block', 'open', 'close'"),
        ("ram.valve > 'open'", "a state has no order"),
        ("ram.valve == 2", "compare it with one of 'block', 'open', 'close'"),
        ("ram.valve + 1 > 0", "needs a quantity, but ram.valve is a state"),
        ("done(shutin)", "no milestone 'shutin'; did you mean shut_in?"),
        ("said(hello)", "no statement 'hello'"),
        ("noted(sidpp)", "no reading 'sidpp'"),
        ("pushed(driller.enabel)", "did you mean driller.enable?"),
        ("vary.kick > 3 s", "no [[vary]] with id 'kick'"),
        ("header.pressure = 3 psi", "write == to compare"),
        ("header.pressure > 3 psi +", "expected a reading"),
        ("(header.pressure > 3 psi", "expected ')'"),
        ("eval('1') == 1", "no function 'eval'"),
        ("done()", "takes 1 arguments, 0 given"),
        ("min(1 psi, 2 gal) > 0", "1 psi is a pressure but 2 gal is a volume"),
        ("well.temperature - 70 degF > 5 K", "temperatures may be compared but not reckoned with"),
        ("'a' > 'b'", "compares quantities"),
        ("header.pressure > 1e99 psi", "too large"),
        ("", "empty"),
        ("(" * 100 + "t" + ")" * 100, "nested more than"),
        ("t > 1 s" * 500, "longer than"),
    ],
)
def test_what_is_refused(source: str, said: str) -> None:
    with pytest.raises(ExpressionError) as caught:
        condition(source, KNOWN)
    assert said in str(caught.value)


def test_quantities_have_the_dimension_asked_for() -> None:
    assert quantity("25 psi", KNOWN).dimension == dimensions.of_unit("psi")
    assert quantity("well.flow_out * 2 min", KNOWN).dimension == dimensions.of_unit("bbl")
    with pytest.raises(ExpressionError, match="expected a time"):
        quantity("25 psi", KNOWN, dimensions.TIME)


def test_evidence_tags_are_in_the_order_written() -> None:
    made = condition("well.pit_gain > 1 bbl and (header.pressure > 1 psi or well.pit_gain > 2 bbl)", KNOWN)
    assert made.tags == ("well.pit_gain", "header.pressure")


@pytest.mark.parametrize(
    ("source", "impossible"),
    [
        ("header.pressure > 6000 psi", True),
        ("header.pressure > 4900 psi", False),
        ("header.pressure < 4000 bar and header.pressure > 400 bar", True),
        ("header.pressure - 3000 psi > 2500 psi", True),
        ("not (header.pressure < 6000 psi)", True),
        ("ram.position * 2 > 150 %", False),
        ("abs(well.pit_gain) > 300 bbl or t > 1 s", False),
        ("header.pressure / well.flow_out > 1 psi / 1 gpm", False),
    ],
)
def test_conditions_that_can_never_be(source: str, impossible: bool) -> None:
    assert never(condition(source, KNOWN).tree, MACHINE.signals) is impossible


_WORDS = [
    "header.pressure", "ram.valve", "done", "(", ")", ",", "and", "or", "not", "<", "==", "'open'", "3 psi",
    "7", "+", "-", "*", "/", "t", "since", "shut_in", "at", "min", "vary.kick_at", "%", "0", "ram.sealing",
]  # fmt: skip


@given(st.one_of(st.text(max_size=60), st.lists(st.sampled_from(_WORDS), max_size=14).map(" ".join)))
def test_any_text_gives_a_condition_or_one_sentence(source: str) -> None:
    try:
        made = condition(source, KNOWN)
    except ExpressionError as error:
        assert str(error).strip()
        return
    assert holds(made.source) in (True, False)


@given(st.floats(0.001, 9999.0), st.sampled_from(["psi", "bar", "gal", "ft", "gpm", "s", "lb/gal", "%", "h"]))
def test_numbers_with_units_are_si(value: float, unit: str) -> None:
    tree = language.parse(f"{value!r}{unit}")
    assert isinstance(tree, language.Number)
    assert math.isclose(tree.value, units.from_unit(value, unit), rel_tol=1e-12)


@pytest.mark.long
def test_a_condition_costs_little() -> None:
    scope = scope_of(MACHINE)
    binder = Binder(scope, MACHINE.signals)
    source = "not done(shut_in) and header.pressure > 2700 psi and ram.valve == 'block' and t > 5 s"
    made = binder.condition(condition(source, KNOWN))
    reached, values, now = scope.reached, MACHINE.state, scope

    def by_hand() -> bool:
        return "shut_in" not in reached and values[0] > 1.9e7 and values[1] == 0.0 and now.t > 5.0

    best, plain = (min(_seconds(call) for _ in range(5)) for call in (made, by_hand))
    print(f"a condition {1e6 * best:.2f} us, the same in plain Python {1e6 * plain:.2f} us")
    assert best < 12.0 * plain


def _seconds(call: object) -> float:
    assert callable(call)
    start = time.process_time()
    for _ in range(2000):
        call()
    return (time.process_time() - start) / 2000


@pytest.mark.parametrize(
    ("source", "never"),
    [
        ("not done(shut_in)", True),
        ("not done(landed)", False),
        ("well.flow_out > 20 gpm and not done(shut_in)", True),
        ("well.flow_out > 20 gpm or not done(shut_in)", False),
        ("not done(shut_in) or not done(landed)", False),
        ("done(shut_in)", False),
    ],
)
def test_what_can_never_hold_again_is_known(source: str, never: bool) -> None:
    assert (
        never_again(condition(source, replace(KNOWN, milestones=frozenset({"shut_in", "landed"}))).tree, {"shut_in"})
        is never
    )
