"""Good runs with one thing undone, skipped or said falsely at the end: they once passed, with 80 to 100 points.

Attacks thought up from the trade, not from the rules. What catches each is named: a critical error or a must-pass.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.drills import adversaries
from tests.drills.adversaries import begun
from trainer.session.commands import Command
from trainer.simulator import Session

ACTIONS = Path(__file__).parent / "actions"
Row = dict[str, Any]


def given(target: str, value: str, at: str = "driller") -> Row:
    return {"do": "set", "target": target, "value": value, "from": at}


def there_and_back(target: str, wrong: str, right: str, at: str = "unit") -> tuple[Row, Row]:
    return given(target, wrong, at), given(target, right, at)


ENABLE: Row = {"do": "push", "target": "driller.enable", "from": "driller"}
EDS = ("driller.enable", "eds.arm", "eds.start")
DONE_BEFORE: list[tuple[str, float, Row, str]] = [
    # A drill, so many seconds before its last report, what is done then, and what must be said.
    ("dead-panel", 0.1, given("upper_annular", "open", "unit"), "opened again"),
    ("lost-rig-air", 0.1, given("lower_annular", "open", "unit"), "opened again"),
    ("lost-ac-power", 0.1, given("upper_annular", "open"), "opened again"),
    ("stuck-valve", 0.1, given("upper_pipe_ram", "open", "unit"), "opened again"),
    ("surface-lost-rig-air", 0.1, given("upper_pipe_ram", "open", "unit"), "opened again"),
    ("kick-out-of-hole", 5.0, given("ram_locks", "open"), "Lock opened again"),
    ("kick-while-drilling", 1.0, given("pod_selector", "block"), "in block with the well shut in"),
    ("shut-in-on-stored-fluid", 20.0, given("bank_a.bleed", "open", "unit"), "unable to operate the preventers"),
    ("filter-change", 10.0, given("filter_1.upstream_lock", "off", "unit"), "Locks taken off"),
    ("find-the-leak", 1.0, given("lower_annular", "block"), "All other functions put back"),
    ("battery-endurance-test", 0.3, given("power.charger", "off", "unit"), "Charger on, power on"),
    ("pressure-switch-fault", 0.3, given("air_pump_1.mode", "off", "unit"), "Pumps left safe"),
    ("start-up-from-cold", 1.0, given("bank_b.isolation", "shut", "unit"), "Left ready for service"),
    ("mix-fluid", 8.0, given("riser_connector", "open"), "Preventer or connector operated"),
    ("riser-gas", 100.0, given("diverter_flowline", "open"), "Flowline opened while gas is diverted"),
    ("daily-round", 1.0, given("pod_selector", "block"), "Pod selector left in block"),
    ("surface-accumulator-drawdown", 1.0, given("power.main", "off", "unit"), "Main power left off"),
    ("surface-lamp-lies", 1.0, given("air.supply", "shut", "unit"), "Rig air left shut off"),
    ("regulator-setting", 1.0, given("bank_a.bleed", "open", "unit"), "Accumulators left out of service"),
    ("pod-changeover", 0.5, given("pod_selector", "yellow"), "Pod reported in service when confirmed"),
    ("choke-practice", 10.0, given("pod_selector", "block"), "Pod selector in block with the well shut in"),
    ("surface-lamp-lies", 10.0, given("power.main", "off", "unit"), "unable to operate the preventers"),
]
LEFT_OUT: list[tuple[str, str, str | None, str]] = [
    # A drill, what is never done, with which value, and what must be said.
    ("pod-changeover", "floor.rotary", None, "Drilled on with one pod"),
    ("precharge-check", "bank_b.isolation", "open", "Bank back in service"),
    ("filter-change", "filter_1.bleed", "shut", "One filter in line"),
    ("control-line-flush", "pod_selector", "yellow", "Line-up as it was found"),
    ("mix-fluid", "mixing.mode", "auto", "Left in automatic"),
    ("emergency-disconnect", "floor.mud_pumps", None, "Rotation and mud pumps stopped before the start"),
]
SAID: list[tuple[str, str, str, str]] = [
    # A drill, what is true and said, what is said instead, and what must be said of it.
    ("function-test", "failed", "passed", "Result reported when true"),
    ("closing-time-test", "yellow_slow", "alike", "Slow pod reported"),
    ("pump-recharge-test", "air_short", "both_good", "Slow pump group reported"),
    ("battery-endurance-test", "no_charge", "sound", "Result of the battery test reported"),
    ("precharge-check", "low", "high", "Precharge judged correctly"),
]


FOR_A_WHILE: list[tuple[str, float, float, Row, Row, str]] = [
    # A drill, from when to when something is done beside all that is right, what it is and how it is put back.
    ("bank-isolation", 100.0, 110.0, *there_and_back("bank_b.bleed", "open", "shut"), "Bank bled while in service"),
    ("precharge-check", 300.0, 340.0, *there_and_back("bank_a.bleed", "open", "shut"), "Bank bled while in service"),
    ("accumulator-drawdown", 60.0, 64.0, *there_and_back("bank_b.bleed", "open", "shut"), "Bank bled while in service"),
    (
        "stack-pressure-test", 700.0, 900.0,
        *there_and_back("upper_inner_choke", "open", "close", "driller"), "tested until the result was known",
    ),
]  # fmt: skip
AGAINST: list[tuple[str, str, str]] = [
    # A drill, a criterion that a right word earned, and what is said after it that goes against it.
    ("float-in-the-string", "call", "zero"),
    ("kick-while-tripping", "call", "drains"),
    ("riser-gas", "call", "drains"),
    ("kick-while-drilling", "flow_check", "flow_check_negative"),
    ("check-valve-leaks-back", "told", "holds"),
    ("accumulator-drawdown", "verdict", "passed failed"),
]


def good(drill: str) -> list[Row]:
    text = (ACTIONS / f"{drill}.good.jsonl").read_text(encoding="utf-8")
    return [json.loads(line) for line in text.splitlines()]


def played(drill: str, rows: list[Row]) -> Session:
    """A run, two minutes after its last action."""
    session = Session.restore(begun(drill, 0))
    for command in sorted((Command.model_validate(row) for row in rows), key=lambda command: command.t):
        session.advance_to(max(command.t, session.time))
        if session.finished:
            break
        session.submit(command.model_copy(update={"t": session.time}))
    session.advance(120.0)
    return session


def verdict(drill: str, rows: list[Row]) -> str:
    """Why a run did not pass."""
    sheet = played(drill, rows).sheet()
    assert not sheet["passed"]
    return str(sheet["verdict"]) + "; ".join(row["title"] for row in sheet["critical"])


@pytest.mark.parametrize(("drill", "before", "deed", "said"), DONE_BEFORE)
def test_what_is_undone_before_the_last_report_does_not_pass(drill: str, before: float, deed: Row, said: str) -> None:
    rows = good(drill)
    last = max(row["t"] for row in rows if row["do"] == "say")
    assert said in verdict(drill, [*rows, ENABLE | {"t": last - before}, deed | {"t": last - before + 0.05}])


@pytest.mark.parametrize(("drill", "target", "value", "said"), LEFT_OUT)
def test_what_is_left_out_does_not_pass(drill: str, target: str, value: str | None, said: str) -> None:
    rows = [row for row in good(drill) if row["target"] != target or value not in (None, row["value"])]
    assert said in verdict(drill, rows)


@pytest.mark.parametrize(("drill", "true", "false", "said"), SAID)
def test_a_false_report_does_not_pass(drill: str, true: str, false: str, said: str) -> None:
    rows = [row | {"target": false} if row["target"] == true else row for row in good(drill)]
    assert said in verdict(drill, rows)


@pytest.mark.parametrize("drill", ["kick-out-of-hole", "hang-off-and-shear"])
def test_a_disconnect_started_without_an_order_does_not_pass(drill: str) -> None:
    """The sequence takes longer than the drill lasts: nothing has parted when it ends."""
    rows = good(drill)
    last = max(row["t"] for row in rows if row["do"] == "say")
    pushed = [ENABLE | {"t": last - 2.0 + 0.1 * n, "target": name} for n, name in enumerate(EDS)]
    assert "Emergency disconnect started" in verdict(drill, [*rows, *pushed])


@pytest.mark.parametrize(("drill", "begin", "end", "wrong", "back", "said"), FOR_A_WHILE)
def test_what_is_wrong_for_a_while_does_not_pass(
    drill: str, begin: float, end: float, wrong: Row, back: Row, said: str
) -> None:
    assert said in verdict(drill, [*good(drill), wrong | {"t": begin}, back | {"t": end}])


@pytest.mark.parametrize(("drill", "criterion", "against"), AGAINST)
def test_a_word_that_goes_against_a_right_one_takes_its_points(drill: str, criterion: str, against: str) -> None:
    rows = good(drill)
    last = max(row["t"] for row in rows if row["do"] == "say")
    more = [{"t": last - 0.2, "do": "say", "target": word, "from": "driller"} for word in against.split()]
    for said in ([], more):
        sheet = played(drill, [*rows, *said]).sheet()
        row = next(row for row in sheet["criteria"] if row["id"] == criterion)
        assert row["earned"] == (0.0 if said else row["points"]), row["reason"]


def test_what_was_reported_too_soon_counts_when_it_is_reported_again_and_true() -> None:
    rows = good("pod-changeover")
    again = next(row for row in rows if row["target"] == "suspended")
    stopped = next(row for row in rows if row["target"] == "floor.rotary")
    soon = again | {"t": stopped["t"] - 0.1}
    for said, right in (([soon], False), ([soon, again], True)):
        session = played("pod-changeover", [*(row for row in rows if row is not again), *said])
        row = next(row for row in session.sheet()["criteria"] if row["id"] == "suspended")
        assert (row["earned"] == row["points"]) is right, row["reason"]


def test_many_short_dips_add_up_to_a_second_kick() -> None:
    """Ten of 22 s with the choke half too wide, a minute apart: none is long enough to be an error by itself."""
    rows = good("kill-drillers-method")
    first = next(row["t"] for row in rows if row["target"] == "icp") + 20.0
    dips = [(first + 90.0 * n, first + 90.0 * n + 22.0) for n in range(10)]
    kept = [row for row in rows if row["target"] != "floor.choke" or not any(a < row["t"] < b for a, b in dips)]
    for a, b in dips:
        was = [row for row in kept if row["target"] == "floor.choke" and row["t"] <= a][-1]
        kept += [was | {"t": a, "value": 1.5 * was["value"]}, was | {"t": b}]
    kept = [row for row in kept if row["t"] <= dips[-1][1]]
    assert "More than 1 bbl of influx let in again" in verdict("kill-drillers-method", kept)


def test_drilling_with_the_panels_lost_does_not_pass() -> None:
    """Whether it is said that work is suspended earns points; going on with it is the error (30 CFR 250.738 (d))."""
    rows = [row | {"t": row["t"] + 130.0} if row["t"] > 108.0 else row for row in good("lost-rig-air")]
    drilled = [
        (110.0, "set", "floor.mud_pumps", 70.0), (110.0, "set", "floor.rotary", 100.0),
        (111.0, "hoist", "floor.hook", -24.0), (160.0, "hoist", "floor.hook", 24.0),
        (185.0, "set", "floor.rotary", 0.0), (185.0, "set", "floor.mud_pumps", 0.0),
    ]  # fmt: skip
    rows += [{"t": t, "do": do, "target": target, "value": value, "from": "floor"} for t, do, target, value in drilled]
    assert "Work went on with a station lost" in verdict("lost-rig-air", rows)


def test_a_unit_that_cannot_close_the_next_preventer_is_an_error_in_every_drill_that_shuts_in() -> None:
    lacking = []
    for name, drill in adversaries.drills().items():
        if "barrier_opened" in drill.rules or name == "hang-off-and-shear":
            wanted = {"control_lost"} | ({"control_blocked"} if "quillback" in drill.plants else set())
            lacking += [f"{name}: {rule}" for rule in sorted(wanted - {*drill.rules})]
    assert not lacking, lacking


@pytest.mark.parametrize(("off", "right"), [(-360.0, True), (12.0, True), (40.0, False)])
def test_a_bearing_is_compared_the_shorter_way_round(off: float, right: bool) -> None:
    drill = "shallow-gas-diverter"
    row = next(row for row in good(drill) if row["target"] == "wind")
    session = Session.restore(begun(drill, 0))
    session.advance_to(row["t"])
    session.submit(Command.model_validate(row | {"t": session.time, "value": row["value"] + off}))
    wind = next(one for one in session.sheet()["criteria"] if one["id"] == "wind")
    assert (wind["earned"] == wind["points"]) is right, wind["reason"]


@pytest.mark.parametrize(("left_out", "earned"), [("manifold_readback", 9.0), ("readback", 6.0)])
def test_an_annular_is_confirmed_by_the_regulator_that_feeds_it(left_out: str, earned: float) -> None:
    """The manifold regulator feeds the rams: what it reads says nothing of a closed annular (common practice)."""
    rows = [row for row in good("kick-while-drilling") if row["target"] != left_out]
    sheet = played("kick-while-drilling", rows).sheet()
    assert next(row for row in sheet["criteria"] if row["id"] == "confirm")["earned"] == earned
