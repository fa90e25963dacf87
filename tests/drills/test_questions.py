"""Questions that the seed picks, readings that no instrument shows, and from where a command came."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.drills.fake import FakeMachine, run
from tests.drills.test_runner import TEXT, act
from trainer.drills.prepare import prepare
from trainer.drills.runner import Runner
from trainer.drills.schema import DrillError, read_drill

MORE = """
[[vary]]
id = "question"
title = "What is asked"
one_of = ["What closes?", "What counts?", "What lights?"]

[[statement]]
id = "ram"
text = "The ram."

[[statement]]
id = "meter"
text = "The flow meter."

[[statement]]
id = "lamp"
text = "The lamp."

[[milestone]]
id = "asked"
title = "Asked"
when = "t > 20 s"

[[milestone]]
id = "answered"
title = "Answered"
when = "answered(what)"

[[milestone]]
id = "at_the_unit"
title = "Closed at the unit"
when = "done(closing) and by(ram, 'unit')"

[[reading]]
id = "closing_time"
title = "Closing time by the stop-watch"
unit = "s"

[[criterion]]
id = "what"
kind = "answer"
title = "Question answered"
points = 10
category = "instruments"
question = "vary.question"
answers = ["ram", "meter", "lamp"]
after = "asked"
within = "60 s"
why = "A name is what people call to each other."
source = "Invented for the tests."

[[criterion]]
id = "closing_time"
kind = "reading"
title = "Closing time taken"
points = 10
category = "instruments"
reading = "closing_time"
tolerance = "1 s"
against = "since(closing) - since(shut_in)"
why = "It is what the record asks for."
source = "Invented for the tests."
"""
ANSWERS = ("ram", "meter", "lamp")


def start(seed: int = 1, text: str = TEXT + MORE) -> tuple[Runner, FakeMachine]:
    machine = FakeMachine()
    runner = Runner(prepare(read_drill(text), machine), seed)
    runner.begin(machine)
    return runner, machine


def sheet(commands: list[dict[str, Any]], seed: int = 1) -> tuple[Runner, dict[str, Any]]:
    runner, machine = start(seed)
    run(runner, machine, commands, 130.0)
    return runner, {row.id: row for row in runner.sheet().criteria}


def right(seed: int) -> str:
    return ANSWERS[int(start(seed)[0].drawn["question"])]


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_the_right_answer_depends_on_the_seed_and_none_may_go_against_it(seed: int) -> None:
    good = right(seed)
    wrong = next(answer for answer in ANSWERS if answer != good)
    _, rows = sheet([act(10, "say", good), act(25, "say", good), act(26, "say", good)], seed)
    assert rows["what"].earned == 10.0 and "Correct answer at 25.0 s" in rows["what"].reason
    _, rows = sheet([act(25, "say", good), act(26, "say", wrong)], seed)
    assert rows["what"].earned == 0.0 and "contradicted at 26.0 s" in rows["what"].reason
    _, rows = sheet([act(25, "say", wrong), act(26, "say", good)], seed)
    assert rows["what"].earned == 0.0 and "Correct answer:" in rows["what"].reason


def test_a_report_is_no_answer_and_a_late_answer_earns_nothing() -> None:
    _, rows = sheet([act(25, "say", "well_flows"), act(30, "say", right(1))])
    assert rows["what"].earned == 10.0
    runner, rows = sheet([act(95, "say", right(1))])
    assert rows["what"].earned == 0.0 and "14.9 s late" in rows["what"].reason
    assert runner.scope.reached["answered"] == pytest.approx(95.1)


CLOSE = [
    act(32, "set", "floor.mud_pumps", 0),
    act(34, "push", "driller.enable"),
    {"t": 35, "do": "set", "target": "ram", "value": "close", "from": "unit"},
]


def test_a_time_by_the_stop_watch_is_compared_with_what_happened() -> None:
    _, rows = sheet([*CLOSE, act(60, "read", "closing_time", "9.9 s")])
    assert rows["closing_time"].earned == 10.0, rows["closing_time"].reason
    _, rows = sheet([*CLOSE, act(60, "read", "closing_time", 20)])
    assert rows["closing_time"].earned == 0.0 and "Entered 20.0 s" in rows["closing_time"].reason
    _, rows = sheet([act(60, "read", "closing_time", 20)])
    assert "before it could be measured" in rows["closing_time"].reason


def test_the_station_of_the_last_command_is_seen_and_survives_a_snapshot() -> None:
    runner, _ = sheet(CLOSE)
    assert "at_the_unit" in runner.scope.reached
    from_floor = [{**c, "from": "floor"} for c in CLOSE]
    assert "at_the_unit" not in sheet(from_floor)[0].scope.reached

    runner, machine = start()
    run(runner, machine, CLOSE, 35.0)
    kept = json.loads(json.dumps(runner.state()))
    other, _ = start()
    other.load(kept)
    assert other.scope.by == {"floor.mud_pumps": "floor", "driller.enable": "floor"}
    assert json.loads(json.dumps(other.state())) == kept


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("by(ram, 'unit')", "by(ram, 'floor')", "ram is operated from 'driller', 'unit', not from 'floor'"),
        ("by(ram, 'unit')", "by(rams, 'unit')", "nothing to operate called 'rams'"),
        ("answered(what)", "answered(whatever)", "the drill has no answer 'whatever'"),
        ('answers = ["ram", "meter", "lamp"]', 'answers = ["ram", "meter"]', "2 answers to 3 questions"),
        ('"vary.question"', '"vary.kick_at"', "no [[vary]] with one_of is called so"),
        ('unit = "s"', 'unit = "sec"', "is not known"),
        ('unit = "s"', 'unit = "s"\ntag = "ram.position"', "give the tag it is read from, or the unit"),
        ('against = "since(closing) - since(shut_in)"\n', "", "no instrument shows it"),
        ('tolerance = "1 s"', 'tolerance = "1 psi"', "expected a time"),
    ],
)
def test_slips_are_told_with_their_place(old: str, new: str, told: str) -> None:
    assert MORE.count(old) == 1
    with pytest.raises(DrillError) as caught:
        start(text=TEXT + MORE.replace(old, new))
    assert told in str(caught.value)
