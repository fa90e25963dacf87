"""What a drill that is well written may still get wrong: steps nobody can reach, points nobody can earn."""

from __future__ import annotations

import pytest

from tests.drills.fake import FakeMachine
from tests.drills.test_runner import TEXT
from trainer.drills import sense
from trainer.drills.prepare import prepare
from trainer.drills.schema import DrillError, read_drill

MORE = """
[[milestone]]
id = "a"
title = "A"
when = "done(b)"

[[milestone]]
id = "b"
title = "B"
when = "done(a) and t > 3 s"
"""
ANSWER = """
[[criterion]]
id = "what"
kind = "answer"
title = "What"
points = 5
category = "outcome"
question = "vary.question"
answers = ["well_flows", "all_well"]
why = "Why."
source = "Invented for the tests."

[[vary]]
id = "question"
title = "Question"
one_of = ["One?", "Two?"]
"""
DIAGNOSE = """
[[criterion]]
id = "fault"
kind = "diagnose"
title = "Fault named"
points = 5
category = "outcome"
fault = "ram.lamp"
why = "Why."
source = "Invented for the tests."
"""


def told(old: str = "", new: str = "", more: str = "") -> list[str]:
    assert TEXT.count(old) >= 1
    try:
        drill = read_drill(TEXT.replace(old, new, 1) + more)
        return [str(problem) for problem in sense.problems(prepare(drill, FakeMachine()))]
    except DrillError as error:
        return [str(problem) for problem in error.problems]


def test_the_small_drill_makes_sense() -> None:
    assert told() == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        # steps that cannot be reached
        ("done(kick) and ram.valve == 'close'", "done(kick) and ram.valve == 'close' and ram.valve == 'open'",
         "whether its terms contradict each other"),
        ("well.flow_out < 5 gpm\"\nfor", "well.flow_out < 5 gpm and well.flow_out > 50 gpm\"\nfor",
         "can never be true within the ranges of its readings"),
        ("when = \"well.pit_gain > 0.5 bbl\"", "when = \"done(shut_in) and well.pit_gain > 0.5 bbl\"",
         "milestone[1].when: can never be reached: 'kick' waits for itself"),
        ("when = \"well.pit_gain > 0.5 bbl\"", "when = \"well.pit_gain > 0.5 bbl and t > 300 s\"",
         "milestone[1].when: can never be reached"),
        ('for = "2 s"\n\n[[statement]]', 'for = "200 s"\n\n[[statement]]', "milestone[4].for: lasts longer"),
        # points that cannot be earned, or cost nothing
        ('holds = "header.pressure > 2000 psi"', 'holds = "header.pressure > 2000 psi and not done(kick)"',
         "criterion[3].holds: can never hold"),
        ('holds = "header.pressure > 2000 psi"', 'holds = "header.pressure > -1 psi"',
         "criterion[3].holds: always holds, so the points are earned for nothing"),
        ('holds = "well.flow_out > 5 gpm"', 'holds = "well.flow_out > 5 gpm and not done(kick)"',
         "criterion[5].holds: can never hold"),
        ('steps = ["kick", "pumps_stopped", "closing"]', 'steps = ["pumps_stopped", "kick"]',
         "criterion[2].steps: 'kick' always comes before 'pumps_stopped'"),
        ('from = "closing"\nuntil = "shut_in"', 'from = "closing"\nuntil = "kick"',
         "criterion[7].until: 'kick' always comes before 'closing': the window ends before it begins"),
        ('when = "done(shut_in)"\nfrom = "kick"', 'when = "done(kick)"\nfrom = "shut_in"',
         "criterion[1].from: 'shut_in' always comes after what is to be reached"),
        ('full = "25 gal"\nzero = "40 gal"', 'full = "40 gal"\nzero = "25 gal"', "criterion[7].zero: is less than"),
        ('instead_of = ["all_well"]', 'instead_of = ["well_flows"]', "criterion[5].instead_of: 'well_flows' is the"),
        # slips of units
        ('tolerance = "25 psi"', 'tolerance = "5000 psi"', "criterion[4].tolerance: 5000 psi is half the range"),
        ('tolerance = "25 psi"', 'tolerance = "0 psi"', "criterion[4].tolerance: is not above zero"),
        ('"header.pressure" = "2900 psi"', '"header.pressure" = "2900 bar"',
         "initial.values.header.pressure: '2900 bar' is beyond the range of header.pressure, 0 to 5000 psi"),
        ('over = "5 s"', 'over = "5 s"\nseverity = "80"', "event[1].severity: '80' is beyond 0 to 100 %"),
        ('at = "120 s"', 'at = "2 h"', "does not go with minutes = 2"),
        ("minutes = 2", "minutes = 20", "does not go with minutes = 20; check the unit."),
        ('at = "vary.kick_at"', 'at = "vary.kick_at * 20"', "event[1].at: comes after the drill's end at 120"),
        ('low = "400 psi"\nhigh = "700 psi"', 'low = "700 psi"\nhigh = "400 psi"', "vary[2].high: is not above low"),
        # what is never shown, and what always happens
        ('need = "done(pumps_stopped)"\ndone = "ram.valve == \'close\'"', 'need = "done(shut_in)"\ndone = "done(kick)"',
         "coach[2].done: always holds before the step is needed"),
        ('when = "well.pit_gain > 20 bbl"', 'when = "well.pit_gain > 20 bbl and done(kick) and not done(kick)"',
         "critical[1].when: 'well.pit_gain > 20 bbl and done(kick) and not done(kick)' can never be true"),
        ('when = "well.pit_gain > 20 bbl"', 'when = "well.pit_gain > -200 bbl"', "critical[1].when: always holds"),
        ('"well.formation" = "vary.formation"', '"well.formation" = "500 psi"', "vary[2]: nothing uses vary.formation"),
    ],
)  # fmt: skip
def test_nonsense_is_told_with_its_place(old: str, new: str, said: str) -> None:
    found = told(old, new)
    assert any(said in fault for fault in found), found


def test_what_waits_in_a_circle_is_told_on_every_milestone_of_it() -> None:
    found = told(more=MORE)
    assert [fault.split(":")[0] for fault in found] == ["milestone[5].when", "milestone[6].when"]
    assert "'a' waits for itself" in found[0]
    # What hangs on them says what it waits for.
    hanging = told(more=MORE + '[[coach]]\nid = "c"\nneed = "done(a)"\ndone = "t > 9 s"\nsay = "A"\nwhy = "B"\n')
    assert "coach[3].need: can never come about; it waits for 'a', which is never reached." in hanging


def test_a_question_must_be_put_and_a_fault_brought() -> None:
    assert any("question: is never put: write {vary.question}" in fault for fault in told(more=ANSWER))
    assert told("You are drilling.", "You are drilling. {vary.question}", ANSWER) == []
    assert any("fault: 'ram.lamp' is never brought" in fault for fault in told(more=DIAGNOSE))
    event = '[[event]]\ntitle = "Lamp"\nat = "3 s"\nfault = "ram.lamp"\n'
    assert told(more=DIAGNOSE + event) == []
