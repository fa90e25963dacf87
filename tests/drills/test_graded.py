"""Criteria that many drills score (``[[graded]]`` in scenarios/rules): each with runs on both sides of its levels."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.drills import agreement
from tests.drills.fake import FakeMachine
from trainer import units
from trainer.console.crews import crew_of
from trainer.drills import library
from trainer.drills.prepare import prepare
from trainer.drills.rules import graded
from trainer.drills.schema import DrillError, read_drill
from trainer.simulator import Session

TEXT = (Path(__file__).parent / "small.toml").read_text(encoding="utf-8")
PROMPT = '[graded.prompt]\npoints = 10\nfull = "20 s"\nzero = "60 s"\n\n[end]'
ASKED = {drill: set(loaded.graded) for drill, loaded in library.all_drills().items() if loaded.graded}


def faults(old: str, new: str) -> list[str]:
    """What is wrong with the small drill with one thing changed in its scored rule."""
    with pytest.raises(DrillError) as caught:
        prepare(read_drill(TEXT.replace("[end]", PROMPT.replace(old, new), 1)), FakeMachine())
    return [str(problem) for problem in caught.value.problems]


def test_a_scored_rule_is_written_out_with_the_drills_own_levels_and_milestones() -> None:
    drill = read_drill(TEXT.replace("[end]", "[roles]\nclosing = 'shut_in'\n\n" + PROMPT, 1))
    made, rule = drill.criterion[-1], graded()["prompt"]
    assert (made.id, made.kind, made.points, made.why) == ("prompt", "reach", 10.0, rule.why)
    assert (made.when, made.from_, made.full, made.zero) == ("done(shut_in)", "kick", 20.0, 60.0)
    prepare(drill, FakeMachine())


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("graded.prompt", "graded.promt", "graded: there is no scored rule 'promt'; did you mean"),
        ('zero = "60 s"\n', "", "graded.prompt.zero: missing; add 'zero'."),
        ('zero = "60 s"', 'zero = "10 s"', "graded.prompt.zero: comes before the time"),
        ("[graded", "[roles]\nkick = 'kik'\n\n[graded", "graded.prompt.from: there is no milestone 'kik'"),
    ],
)
def test_faults_of_a_scored_rule_are_told_at_its_place(old: str, new: str, said: str) -> None:
    assert any(said in fault for fault in faults(old, new))


def test_every_scored_rule_is_scored_somewhere() -> None:
    assert set().union(*ASKED.values()) == set(graded()) and len(ASKED) >= 13


def played(drill: str, sign_to_command: float | None = None) -> Session:
    """What the good crew does, or the same with so long (s) from sign to command; it enters what gauges show."""
    crew, spec = crew_of(drill), library.load_file(library.find(drill))
    assert crew is not None
    sign, sent = (crew.milestones[spec.roles.get(name, name)] for name in ("kick", "closing"))
    late = 0.0 if sign_to_command is None else sign_to_command - (sent - sign)
    tags = {reading.id: reading.tag for reading in spec.reading}
    session = Session.start(drill, seed=0)
    for command in (entry.command() for entry in crew.log):
        at = command.t + (late if command.t > sign else 0.0)
        session.advance(max(0.0, at - session.time))
        value = command.value
        if command.do == "read" and (tag := tags.get(command.target)):
            signal = session.machine.signals[tag]
            value = value if signal.states else round(units.to_unit(session.machine.read(tag), signal.unit), 1)
        session.submit(command.model_copy(update={"t": session.time, "value": value}))
    session.advance(90.0)
    return session


@pytest.mark.parametrize("drill", sorted(drill for drill, asked in ASKED.items() if "prompt" in asked))
def test_a_prompt_crew_gets_all_for_it_a_slow_one_nothing_and_still_passes(drill: str) -> None:
    levels = library.load_file(library.find(drill)).graded["prompt"]
    slow = float(levels.zero.removesuffix(" s")) + 1.0
    for taken, share in ((None, 1.0), (slow, 0.0)):
        sheet = played(drill, taken).sheet()
        row = next(row for row in sheet["criteria"] if row["id"] == "prompt")
        assert row["earned"] == share * levels.points, row["reason"]
        assert sheet["passed"], (taken, sheet["verdict"])


@pytest.mark.parametrize(
    ("rule", "well", "badly"),
    [
        # Read a minute after they stood; read five minutes after.
        ("read_promptly", "56", "32"),
        # Held on the way up and down; let 10 to 20 psi under the formation on the way down.
        ("overbalance", "54", "71"),
    ],
)
def test_levels_tell_a_good_run_from_a_worse_one(rule: str, well: str, badly: str) -> None:
    """Two of the graded runs, told apart by three graders who did not see the rule."""
    rows = []
    for number in (well, badly):
        sheet = agreement.watched(number).session.sheet()
        rows.append(next(row for row in sheet["criteria"] if row["id"] == rule))
        assert sheet["passed"]
    assert rows[0]["earned"] == rows[0]["points"]
    assert rows[1]["earned"] < 0.7 * rows[1]["points"]
