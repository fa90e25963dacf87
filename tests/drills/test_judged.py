"""The stored runs whose verdict is known (``judged/runs.toml``): nobody edits them."""

from __future__ import annotations

import hashlib
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.drills import oracle
from trainer.session.commands import Command
from trainer.session.script import play
from trainer.simulator import Session

JUDGED = Path(__file__).parent / "judged"
RUNS: dict[str, dict[str, Any]] = tomllib.loads((JUDGED / "runs.toml").read_text(encoding="utf-8"))


@cache
def played(name: str) -> Session:
    """The stored run, two minutes beyond its last command or to the end of the drill."""
    text = (JUDGED / f"{name}.jsonl").read_text(encoding="utf-8")
    commands = [Command.model_validate_json(line) for line in text.splitlines()]
    session = Session.start(RUNS[name]["drill"], seed=0)
    play(session, commands, until=commands[-1].t + 120.0)
    return session


def test_nobody_has_edited_them() -> None:
    assert {path.stem for path in JUDGED.glob("*.jsonl")} == set(RUNS)
    for name, run in RUNS.items():
        assert hashlib.sha256((JUDGED / f"{name}.jsonl").read_bytes()).hexdigest() == run["sha256"], name


@pytest.mark.parametrize("name", RUNS)
def test_the_verdict_is_right(name: str) -> None:
    run, sheet = RUNS[name], played(name).sheet()
    if run["must"] != "any":
        assert sheet["passed"] is (run["must"] == "pass"), sheet["verdict"]
    rows = {row["id"]: row for row in sheet["criteria"]}
    for criterion in run.get("full", []):
        assert rows[criterion]["earned"] == rows[criterion]["points"], rows[criterion]["reason"]
    assert sheet["score"] < run.get("below", 101.0)


def test_the_sheet_says_what_trapped_pressure_is() -> None:
    row = next(row for row in played("sidpp-while-trapped").sheet()["criteria"] if row["id"] == "sidpp_free")
    assert row["earned"] == 0.0 and "Trapped pressure is" in row["why"]


def test_a_safe_position_that_was_left_earns_nothing() -> None:
    rows = {row["id"]: row for row in played("carried-away-by-the-hoist").sheet()["criteria"]}
    assert rows["spaced_out"]["earned"] == rows["order"]["earned"] == 0.0


UNSAFE = {
    "lower-ram-on-a-joint": "lower_pipe_ram closed on a tool joint",
    "annular-on-turning-pipe": "closed on turning pipe",
    "outlets-above-the-shear-ram": "a line that does not see the well",
    "barely-hung-locks-open": "without its lock",
    "carried-away-by-the-hoist": "closed on moving pipe",
}
SOUND = ("no-depth-no-pit-volume", "diverted-without-depth", "sidpp-while-trapped")


@pytest.mark.parametrize("name", [*UNSAFE, *SOUND])
def test_the_oracle_tells_safe_from_unsafe(name: str) -> None:
    session = played(name)
    judgement = oracle.judge(RUNS[name]["drill"], 0, session.log, session.time)
    if name in UNSAFE:
        assert UNSAFE[name] in str(judgement), judgement
    else:
        assert judgement.safe and judgement.complete, judgement


def test_the_oracle_does_not_look_at_the_rules() -> None:
    text = Path(oracle.__file__).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line.startswith(("import ", "from "))]
    assert lines and not any("trainer.drills" in line or "scenarios" in line for line in lines)
