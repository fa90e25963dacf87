"""Every shipped drill with scripted and adaptive operators: good ones pass, bad ones fail for the right reason."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.drills.crew import Crew, shut_in_while_drilling
from tests.drills.crews import kick_out_of_hole
from tests.drills.roster import BAD, GOOD
from trainer import simulator
from trainer.drills import library
from trainer.session.commands import Command
from trainer.session.script import play
from trainer.simulator import Session

ACTIONS = Path(__file__).parent / "actions"
DRILLS = [path.stem for path in library.files()]
LONGEST_WAIT = 300.0
"""Simulated seconds of doing nothing that a test waits; by then all that comes by itself has come."""


def commands(name: str) -> list[Command]:
    text = (ACTIONS / f"{name}.jsonl").read_text(encoding="utf-8")
    return [Command.model_validate_json(line) for line in text.splitlines() if line.strip()]


def score(drill: str, script: str) -> dict[str, Any]:
    """The sheet two minutes after the script's last command, or at the end of the drill if that comes first."""
    session = Session.start(drill)
    script_of = commands(f"{drill}.{script}")
    play(session, script_of, until=script_of[-1].t + 120.0)
    return session.sheet()


def untold(sheet: dict[str, Any], reasons: dict[str, str]) -> dict[str, str | None]:
    """What the sheet says instead, of those criteria and critical failures that lack their reason."""
    said = lost(sheet)
    for failure in sheet["critical"]:
        said[failure["id"]] = f"{failure['reason']} {said.get(failure['id'], '')}"
    return {name: said.get(name) for name, reason in reasons.items() if reason not in said.get(name, "")}


def lost(sheet: dict[str, Any]) -> dict[str, str]:
    """Reasons by criterion, where points were lost."""
    return {r["id"]: r["reason"] for r in sheet["criteria"] if r["earned"] is not None and r["earned"] < r["points"]}


@pytest.mark.parametrize("drill", DRILLS)
def test_the_file_is_sound_on_its_plants(drill: str) -> None:
    assert simulator.check_drill(library.find(drill)) == []


@pytest.mark.parametrize("drill", DRILLS)
def test_there_are_one_good_and_two_bad_scripts(drill: str) -> None:
    scripts = {path.name.split(".")[1] for path in ACTIONS.glob(f"{drill}.*.jsonl")}
    assert "good" in scripts and len(scripts) >= 3


@pytest.mark.parametrize("drill", DRILLS)
def test_a_good_script_passes(drill: str) -> None:
    sheet = score(drill, "good")
    assert sheet["passed"], sheet["verdict"]
    assert sheet["score"] >= 95.0, lost(sheet)


@pytest.mark.parametrize("drill", DRILLS)
def test_doing_nothing_never_passes(drill: str) -> None:
    session = Session.start(drill, seed=3)
    session.advance_to(LONGEST_WAIT)
    assert not session.sheet()["passed"]
    assert session.sheet()["score"] < 30.0


def test_every_bad_script_is_accounted_for() -> None:
    shipped = {path.name.removesuffix(".jsonl") for path in ACTIONS.glob("*.jsonl")}
    assert {name for name in shipped if name.split(".")[1] not in ("good", "slow")} == set(BAD)


@pytest.mark.parametrize("name", sorted(BAD))
def test_bad_scripts_fail_for_the_expected_reasons(name: str) -> None:
    session = Session.start(name.split(".")[0])
    script = commands(name)
    play(session, script, until=script[-1].t if script else 0.0)
    # Some reasons come by themselves, later than the last command: a well that goes on flowing, a time that runs out.
    while not session.finished and (untold(session.sheet(), BAD[name]) or session.sheet()["passed"]):
        session.advance(20.0)
    assert not session.sheet()["passed"]
    assert untold(session.sheet(), BAD[name]) == {}


@pytest.mark.parametrize("n", range(len(DRILLS)), ids=DRILLS)
def test_a_crew_that_reads_its_instruments_passes_with_another_seed(n: int) -> None:
    crew = GOOD[DRILLS[n]](n % 7 + 1)
    assert crew.refused == []
    assert crew.sheet["passed"] and crew.sheet["score"] >= 95.0, lost(crew.sheet)


def test_an_annular_on_the_open_hole_is_not_punished() -> None:
    crew = kick_out_of_hole(2, "upper_annular", "upper")
    assert crew.sheet["passed"] and crew.sheet["score"] == 100.0, lost(crew.sheet)


def test_a_slow_crew_scores_lower() -> None:
    good, slow = score("kick-while-drilling", "good"), score("kick-while-drilling", "slow")
    assert slow["passed"] and slow["score"] < good["score"] - 8.0
    assert "4 min" in lost(slow)["shut_in"] and "within 2 min 00 s for full points" in lost(slow)["shut_in"]


@pytest.mark.parametrize(
    "way",
    [
        {"seed": 1},
        {"seed": 2, "preventer": "upper_pipe_ram"},
        {"seed": 3, "preventer": "lower_annular", "line": "lower", "at": "remote"},
        {"seed": 4, "preventer": "middle_pipe_ram", "at": "unit"},
    ],
)
def test_a_different_correct_path_is_not_punished(way: dict[str, Any]) -> None:
    crew = shut_in_while_drilling(**way)
    assert crew.refused == []
    assert crew.sheet["passed"] and crew.sheet["score"] == 100.0, lost(crew.sheet)


def test_the_answers_of_another_seed_do_not_pass() -> None:
    copied = 0
    for seed in (1, 2):
        session = Session.start("kick-while-drilling", seed=seed)
        play(session, commands("kick-while-drilling.good"))
        sheet = session.sheet()
        row = next(r for r in sheet["criteria"] if r["id"] == "sidpp")
        # By chance two seeds may give nearly the same pressure; then the copied reading is right.
        assert sheet["passed"] is (row["earned"] > 0.0 and not sheet["critical"])
        copied += sheet["passed"]
    assert copied <= 1


def test_the_coach_leads_a_beginner_through() -> None:
    crew = Crew("kick-while-drilling", 5, "practice")
    coach = crew.session.coach
    assert coach is not None
    said: list[str] = []
    while not crew.session.finished and crew.session.time < 600.0:
        crew.wait(1.0)
        advice = coach.advice()
        if advice is not None and (not said or said[-1] != advice[0]):
            said.append(advice[0])
            _obey(crew, advice[0])
    assert said[0] == "Watch return flow against flow in, and the pit gain."
    assert crew.sheet["passed"], (crew.sheet["verdict"], said)


READ = {
    "Enter flow count": {
        "flow_count": "totaliser.count",
        "return_flow": "well.flow_out",
        "readback": "annular_regulator.readback",
    },
    "Read and enter SIDPP": {
        "sidpp": "well.drillpipe_pressure",
        "sicp": "well.casing_pressure",
        "pit_gain": "well.pit_gain",
    },
}
SAY = {
    "Tell the crew": "well_flows",
    "call the flow check": "flow_check_positive",
    "Report that": "shut_in",
    "Hand over": "handed_over",
}
SET = {
    "Stop the rotation": ("floor.rotary", 0),
    "Stop the mud pumps": ("floor.mud_pumps", 0),
    "Close the upper annular": ("upper_annular", "close"),
    "Open the upper inner": ("upper_inner_choke", "open"),
    "and the upper outer": ("upper_outer_choke", "open"),
}


def _obey(crew: Crew, advice: str) -> None:
    """Does what the coach says and nothing else."""
    for words, statement in SAY.items():
        if words in advice:
            crew.say(statement)
    for words, (target, value) in SET.items():
        if words in advice:
            crew.do("set", target, value)
    for words, readings in READ.items():
        if words in advice:
            for name, tag in readings.items():
                crew.read(name, tag)
    if "Pick up" in advice:
        crew.do("hoist", "floor.hook", 66.0 - crew["floor.hook"])
