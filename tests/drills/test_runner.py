"""A drill run on the small plant: what is earned, what is lost and why."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.drills.fake import FakeMachine, run
from trainer.drills.language import parse
from trainer.drills.prepare import prepare
from trainer.drills.runner import Runner
from trainer.drills.schema import read_drill

TEXT = (Path(__file__).parent / "small.toml").read_text(encoding="utf-8")
Commands = list[dict[str, Any]]


def start(seed: int = 1, text: str = TEXT) -> tuple[Runner, FakeMachine]:
    machine = FakeMachine()
    runner = Runner(prepare(read_drill(text), machine), seed)
    runner.begin(machine)
    return runner, machine


def act(t: float, do: str, target: str, value: object = None) -> dict[str, Any]:
    return {"t": t, "do": do, "target": target, "value": value, "from": "floor"}


GOOD: Commands = [
    act(30, "say", "well_flows"),
    act(32, "set", "floor.mud_pumps", 0),
    act(34, "push", "driller.enable"),
    act(35, "set", "ram", "close"),
    act(50, "read", "sicp", "512 psi"),
    act(52, "read", "totaliser.count", 20),
]


def play(commands: Commands, seed: int = 1, until: float = 130.0) -> Any:
    runner, machine = start(seed)
    run(runner, machine, commands, until)
    return runner.sheet()


def rows(sheet: Any) -> dict[str, Any]:
    return {row.id: row for row in sheet.criteria}


def with_true_sicp(commands: Commands, seed: int, off: float = 0.0) -> Commands:
    runner, _ = start(seed)
    true = runner.drawn["formation"] / 6894.757293168361
    return [{**c, "value": true + off} if c["target"] == "sicp" else c for c in commands]


def test_a_good_operator_earns_everything() -> None:
    sheet = play(with_true_sicp(GOOD, 1))
    assert sheet.passed and sheet.score == 100.0 and sheet.critical == []
    judged = rows(sheet)
    assert judged["manner"].earned is None
    assert all(row.earned == row.points for row in sheet.criteria if row.id != "manner")
    assert sheet.simulated_s == pytest.approx(75.0, abs=0.2)
    assert sheet.finished
    assert judged["shut_in"].seen == {"ram.sealing": "yes", "well.flow_out": "0.0 gpm"}
    assert "30 s" not in judged["shut_in"].reason
    document = sheet.to_json()
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert {
        "drill",
        "plant",
        "seed",
        "simulated_s",
        "passed",
        "score",
        "critical",
        "criteria",
        "signals",
    } <= set(document)
    assert document["signals"]["ram.position"] == pytest.approx(100.0)


def test_a_run_goes_on_past_its_end_while_points_are_open() -> None:
    good = with_true_sicp(GOOD, 1)
    shut_in = play(good).simulated_s
    # The count is not read yet: there is a minute left for it, and the run ends once it is.
    runner, machine = start()
    run(runner, machine, good[:-1], shut_in + 10.0)
    assert not runner.finished and runner.left == pytest.approx(50.0, abs=0.2)
    late = round(shut_in + 11.0)
    run(runner, machine, [act(late, "read", "totaliser.count", 20)], late + 20.0)
    assert runner.finished and runner.ended == pytest.approx(late, abs=1.1) and runner.sheet().score == 100.0
    # What can no longer be earned holds up nothing.
    slow = [{**one, "t": one["t"] + 60} for one in good]
    lost = [*slow, act(100, "say", "all_well")]
    assert play([one for one in lost if one["target"] != "well_flows"], until=240.0).simulated_s <= 120.0


def test_doing_nothing_fails() -> None:
    sheet = play([])
    assert not sheet.passed and sheet.score == 0.0
    assert sheet.verdict.startswith("Not passed. Missing: ")
    assert "Not done by 2 min 00 s" in rows(sheet)["shut_in"].reason
    assert "No points: 'Well shut in' (for at least 2.0 s) not reached" in rows(sheet)["pressure"].reason


def test_each_lost_point_tells_what_the_instruments_showed() -> None:
    sheet = play([])
    for row in sheet.criteria:
        if row.earned is not None and row.earned < row.points:
            assert row.seen and row.seen_t == pytest.approx(120.0), row.id
    judged = rows(sheet)
    assert judged["shut_in"].seen == {"ram.sealing": "no", "well.flow_out": "640.0 gpm"}
    assert judged["shut_in"].due == pytest.approx(kick_of(1) + 90.0)
    assert judged["sicp"].seen == {"well.casing_pressure": "0 psi"}
    # What came too late or too early tells what was seen then, not at the end.
    late = rows(play([{**c, "t": c["t"] + 30.0} for c in with_true_sicp(GOOD, 1)]))["shut_in"]
    assert late.seen_t == late.t < 100.0 and late.seen != judged["shut_in"].seen


@pytest.mark.parametrize("commands", [[], GOOD], ids=["missed", "done"])
def test_what_only_another_variation_asks_for_is_not_shown(commands: Commands) -> None:
    ways = "(vary.how == 'ram' and ram.sealing) or (vary.how == 'flow' and well.flow_out < 5 gpm)"
    text = TEXT.replace("ram.sealing and well.flow_out < 5 gpm", f"({ways})")
    text = text.replace("[[vary]]", '[[vary]]\nid = "how"\ntitle = "How"\none_of = ["ram", "flow"]\n\n[[vary]]', 1)
    shown = {}
    for seed in range(8):
        runner, machine = start(seed, text)
        run(runner, machine, commands, 130.0)
        shown[runner.drawn["how"]] = list(rows(runner.sheet())["shut_in"].seen)
    assert shown == {0.0: ["ram.sealing"], 1.0: ["well.flow_out"]}


def test_milestones_that_wait_for_each_other_break_no_sheet() -> None:
    machine = FakeMachine()
    text = TEXT.replace('when = "well.pit_gain > 0.5 bbl"', 'when = "done(shut_in) and well.pit_gain > 0.5 bbl"')
    runner = Runner(prepare(read_drill(text), machine), 1)
    runner.begin(machine)
    run(runner, machine, [], 5.0)
    row = rows(runner.sheet())["shut_in"]
    assert {"ram.sealing", "well.flow_out", "well.pit_gain"} <= set(row.seen)


def test_a_slow_operator_loses_by_the_clock() -> None:
    slow = [{**c, "t": c["t"] + 30.0} for c in with_true_sicp(GOOD, 1)]
    sheet = play(slow)
    row = rows(sheet)["shut_in"]
    assert sheet.passed and 0.0 < row.earned < row.points
    assert "Required: 'Well shut in', for at least 2.0 s, within 30.0 s for full points" in row.reason
    assert "after 'The well flows'" in row.reason


def test_the_wrong_order_is_told_with_its_times() -> None:
    wrong = [c for c in with_true_sicp(GOOD, 1) if c["target"] != "floor.mud_pumps"]
    wrong.insert(3, act(44, "set", "floor.mud_pumps", 0))
    row = rows(play(wrong))["order"]
    assert row.earned == 5.0
    assert "'Ram set to close' at 35.1 s before 'Pumps stopped' at 44.1 s" in row.reason


def test_acting_before_the_kick_earns_nothing() -> None:
    early = [{**c, "t": n * 0.5} for n, c in enumerate(with_true_sicp(GOOD, 1))]
    sheet = play(early)
    judged = rows(sheet)
    assert not sheet.passed
    assert judged["call"].earned == 0.0 and "too early" in judged["call"].reason
    assert judged["sicp"].earned == 0.0 and "before 'Well shut in'" in judged["sicp"].reason


@pytest.mark.parametrize(("off", "earned"), [(24.0, 15.0), (-24.0, 15.0), (51.0, 0.0)])
def test_readings_have_a_tolerance(off: float, earned: float) -> None:
    # The gauge has just jumped: then twice the 25 psi are allowed.
    row = rows(play(with_true_sicp(GOOD, 1, off)))["sicp"]
    assert row.earned == earned
    assert "limit ±50 psi" in row.reason and "at 50.0 s" in row.reason


def test_the_last_entry_counts_and_guessing_does_not() -> None:
    true = with_true_sicp(GOOD, 1)[4]["value"]
    twice = [*GOOD[:4], act(50, "read", "sicp", 1.0), act(51, "read", "sicp", true)]
    assert rows(play(twice))["sicp"].earned == 15.0
    guess = [*GOOD[:4], *(act(50 + n, "read", "sicp", true + n - 3) for n in range(4))]
    assert "4 entries; at most 3 count" in rows(play(guess))["sicp"].reason


def test_a_reading_that_is_no_pressure_counts_for_nothing() -> None:
    assert rows(play([*GOOD[:4], act(50, "read", "sicp", "five gal")]))["sicp"].earned == 0.0


def test_false_and_wrong_statements() -> None:
    false = [*GOOD[1:4], act(60, "say", "well_flows")]
    row = rows(play(false))["call"]
    assert row.earned == 0.0 and "when this was not met" in row.reason
    assert row.seen == {"well.flow_out": "0.0 gpm"}
    wrong = [act(29, "say", "all_well"), *GOOD]
    assert "'All is well.'" in rows(play(wrong))["call"].reason


def test_a_count_made_up_does_not_confirm() -> None:
    row = rows(play([*GOOD[:5], act(52, "read", "totaliser.count", 60)]))["count"]
    assert row.earned == 0.0 and "Wrong value: Flow count" in row.reason


@pytest.mark.parametrize(("sent", "earned"), [("close", 10.0), ("open", 0.0)])
def test_a_reading_confirms_only_where_it_tells_something(sent: str, earned: float) -> None:
    """An entry that is right says nothing of a ram that the instrument does not feed; the coach says so."""
    where = f"where = {{ 'totaliser.count' = \"ram.valve == '{sent}'\" }}\n"
    text = TEXT.replace('of = ["totaliser.count"]\n', f'of = ["totaliser.count"]\n{where}')
    runner, machine = start(text=text)
    run(runner, machine, with_true_sicp(GOOD, 1), 130.0)
    assert rows(runner.sheet())["count"].earned == earned


def test_wasted_fluid_costs_points() -> None:
    waste = [
        *GOOD[:4],
        act(40, "set", "ram", "open"),
        act(44, "set", "ram", "close"),
        act(64, "read", "totaliser.count", 20),
    ]
    row = rows(play(waste))["fluid"]
    assert 0.0 < row.earned < 5.0
    assert row.reason.startswith("Fluid used: 3")


def test_a_critical_failure_outweighs_all_points() -> None:
    runner, machine = start()
    run(runner, machine, with_true_sicp(GOOD, 1), 60.0)
    machine.put("well.pit_gain", 21 * 0.158987)
    run(runner, machine, [], 130.0)
    sheet = runner.sheet()
    assert sheet.score == 25.0 and not sheet.passed
    assert sheet.critical[0].id == "big_kick" and sheet.critical[0].t == pytest.approx(60.1)
    assert sheet.critical[0].seen == {"well.pit_gain": "21.0 bbl"}


def kick_of(seed: int) -> float:
    return next(m["t"] for m in play([], seed).milestones if m["id"] == "kick")


def test_the_seed_picks_the_kick() -> None:
    times = [kick_of(seed) for seed in range(6)]
    assert len(set(times)) > 3 and all(10.0 < t < 32.0 for t in times)
    assert times == [next(m["t"] for m in play([], seed).milestones if m["id"] == "kick") for seed in range(6)]


def test_the_trainee_is_told() -> None:
    runner, machine = start()
    run(runner, machine, [], 25.0)
    assert [text for _, text in runner.messages] == [
        "You are drilling.",
        "The shaker hand calls: more returns.",
    ]


@pytest.mark.parametrize("moment", [0.0, 5.0, 28.3, 31.0, 40.0, 45.1, 46.0, 51.0, 90.0])
def test_a_snapshot_goes_on_exactly(moment: float) -> None:
    commands = with_true_sicp(GOOD, 1)
    whole, machine = start()
    run(whole, machine, commands, 130.0)
    half, other = start()
    run(half, other, [c for c in commands if c["t"] < moment], moment)
    saved = json.loads(json.dumps(half.state(), allow_nan=False))
    fresh, third = start()
    third.state[:] = other.state
    fresh.load(saved)
    assert fresh.state() == half.state()
    run(fresh, third, [c for c in commands if c["t"] >= moment], 130.0)
    assert fresh.state() == whole.state()
    assert fresh.sheet().to_json() == whole.sheet().to_json()


def test_refused_actions_are_kept() -> None:
    runner, machine = start()
    assert run(runner, machine, [act(3, "set", "ram", "close")], 5.0) == ["push enable first"]
    assert runner.refusals == [(3.0, "push enable first")]


NAMED = """
[[criterion]]
id = "name"
kind = "diagnose"
title = "Fault named"
points = 10
category = "instruments"
fault = "vary.broken"
full = "60 s"
zero = "100 s"
each_wrong = 0.5
why = "What is not known cannot be mended."
source = "Invented for the tests."

[[vary]]
id = "broken"
title = "What is broken"
one_of = ["ram.stuck", "ram.lamp"]
"""


def test_a_fault_to_be_named_is_the_one_the_seed_picked() -> None:
    machine = FakeMachine()
    drill = read_drill(TEXT.replace("[end]", NAMED + "\n[end]"))
    earned = set()
    for seed in range(5):
        for commands in (["ram.stuck"], ["ram.lamp"], ["well.kick", "ram.stuck", "ram.lamp"]):
            machine = FakeMachine()
            runner = Runner(prepare(drill, machine), seed)
            runner.begin(machine)
            run(runner, machine, [act(5 + n, "name", c) for n, c in enumerate(commands)], 40.0)
            row = next(row for row in runner.sheet().criteria if row.id == "name")
            picked = runner.fault_id("vary.broken")
            wrong = len([name for name in commands if name != picked])
            assert row.earned == (10.0 * 0.5**wrong if picked in commands else 0.0)
            earned.add(picked)
    assert earned == {"ram.stuck", "ram.lamp"}


def test_whoever_guesses_cannot_pass() -> None:
    must = NAMED.replace("each_wrong", "required = true\neach_wrong")
    drill = read_drill(TEXT.replace("[end]", must + "\n[end]"))
    for wrong, lost in ((1, False), (2, False), (3, True)):
        machine = FakeMachine()
        more = [f"ram.other{n}" for n in range(3)]
        machine.faults |= {name: replace(machine.faults["ram.stuck"], id=name) for name in more}
        runner = Runner(prepare(drill, machine), 0)
        runner.begin(machine)
        named = [runner.fault_id("vary.broken"), *more[:wrong]]  # the right one first: the rest are still guesses
        run(runner, machine, [*(act(5 + n, "name", c) for n, c in enumerate(named)), *GOOD], 130.0)
        row = next(row for row in runner.sheet().criteria if row.id == "name")
        assert row.earned == (0.0 if lost else 10.0 * 0.5**wrong)
        assert f"leave {50 // wrong}% of the points" in row.reason or lost
        assert ("Fault named" in runner.sheet().verdict) is lost and runner.passable is not lost


def test_what_the_drill_cannot_tell_from_the_fault_counts_as_the_fault() -> None:
    named = NAMED.split("[[vary]]")[0].replace("each_wrong = 0.5", 'alike = ["lamp"]')
    named = named.replace("vary.broken", "ram.stuck")
    machine = FakeMachine()
    runner = Runner(prepare(read_drill(TEXT.replace("[end]", named + "\n[end]")), machine), 1)
    runner.begin(machine)
    run(runner, machine, [act(5, "name", "ram.lamp")], 6.0)
    assert rows(runner.sheet())["name"].earned == 10.0


def test_a_reading_for_another_moment_of_the_same_instrument_does_not_count() -> None:
    before = '[[reading]]\nid = "before"\ntitle = "Count before"\ntag = "totaliser.count"\n'
    after = before.replace("before", "after")
    drill = TEXT.replace('of = ["totaliser.count"]', 'of = ["after"]').replace("[end]", f"{before}\n{after}\n[end]")
    for entered, earned in (("before", 0.0), ("after", 10.0)):
        machine = FakeMachine()
        runner = Runner(prepare(read_drill(drill), machine), 1)
        runner.begin(machine)
        run(runner, machine, [*with_true_sicp(GOOD, 1)[:-1], act(52, "read", entered, 20)], 60.0)
        assert rows(runner.sheet())["count"].earned == earned


def test_what_has_to_last_has_one_time_everywhere() -> None:
    sheet = play(with_true_sicp(GOOD, 1))
    assert rows(sheet)["shut_in"].t == next(m["t"] for m in sheet.milestones if m["id"] == "shut_in")


def test_what_is_required_is_said_in_words() -> None:
    runner, _ = start()
    spec = runner.judges[0].spec.model_copy(update={"expected": None})
    said = runner.desk.expected(spec, parse("done(shut_in) and noted(sicp) and not said(all_well)"))
    assert said == "'Well shut in' reached, 'Shut-in casing pressure' entered and not yet 'All is well.' reported"


def test_an_entry_after_its_last_time_does_not_count_and_is_open_no_more() -> None:
    """A pressure drop read when the filter is isolated already shows nothing of the filter."""
    drill = TEXT.replace('of = ["totaliser.count"]\nafter = "shut_in"', 'of = ["totaliser.count"]\nuntil = "shut_in"')
    for t, earned in ((33, 10.0), (52, 0.0)):
        machine = FakeMachine()
        runner = Runner(prepare(read_drill(drill), machine), 1)
        runner.begin(machine)
        run(runner, machine, [*GOOD[:4], act(t, "read", "totaliser.count", 0 if t < 35 else 20)], 60.0)
        judge = next(judge for judge in runner.judges if judge.spec.id == "count")
        assert rows(runner.sheet())["count"].earned == earned and judge.best(60.0) == earned / 10.0
        assert judge.heard(60.0, "read", "totaliser.count") == (None if earned else "Entered too late for points.")
