"""Interventions act, are logged, and re-compute."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from trainer.session import evidence as documents
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder


@pytest.fixture
def session() -> Session:
    started = Session.start("kick-while-drilling", seed=2)
    started.advance(2.0)
    return started


def test_a_run_with_interventions_verifies(session: Session) -> None:
    fault = "well.losses"
    assert session.intervene("fault", fault, 0.5) is None
    assert session.intervene("put", "well.pit_volume", 300.0) is None
    assert session.intervene("set", "floor.rotary", 0, by="assistant") is None
    session.advance(10.0)
    assert [entry.from_ for entry in session.log] == ["instructor", "instructor", "assistant"]
    assert session.machine.read(f"fault.{fault}") == 0.5
    document = documents.parse(json.dumps(session.evidence()))
    verdict = verify(document, rebuilder())
    assert verdict.ok, verdict.reason
    assert "an instructor intervened 2 times" in verdict.reason


def test_the_referee_hears_of_an_assistant_only(session: Session) -> None:
    heard: list[Any] = []
    session.referee.before = lambda t, command, refusal: heard.append(command.target)  # type: ignore[method-assign]
    session.intervene("set", "floor.rotary", 0)
    assert heard == []
    session.intervene("set", "floor.mud_pumps", 0, by="assistant")
    assert heard == ["floor.mud_pumps"]


@pytest.mark.parametrize(
    ("do", "target", "value", "by", "said"),
    [
        ("fault", "nothing.here", 1.0, "instructor", "no fault"),
        ("fault", "well.losses", 2.0, "instructor", "0 .healthy. to 1"),
        ("fault", "well.losses", "much", "instructor", "0 .healthy. to 1"),
        ("put", "nothing", 1.0, "instructor", "no variable"),
        ("put", "well.pit_volume", float("nan"), "instructor", "finite"),
        ("put", "well.pit_volume", None, "instructor", "finite"),
        ("set", "floor.rotary", 1e9, "instructor", "out of range"),
        ("say", "shut_in", None, "instructor", "no intervention"),
        ("explode", "rig", None, "instructor", "no intervention"),
        ("fault", "well.losses", 1.0, "trainee", "does not intervene"),
    ],
)
def test_what_cannot_be_done_leaves_no_trace(
    session: Session, do: str, target: str, value: Any, by: str, said: str
) -> None:
    before = bytes(session.machine.state)
    refusal = session.intervene(do, target, value, by)
    assert refusal is not None
    assert re.search(said, refusal), refusal
    assert session.log == []
    assert bytes(session.machine.state) == before


def test_an_altered_intervention_is_found(session: Session) -> None:
    session.intervene("fault", "well.losses", 0.5)
    session.advance(10.0)
    record = session.evidence()
    record["log"][0]["value"] = 0.25
    verdict = verify(documents.parse(json.dumps(record)), rebuilder())
    assert not verdict.states
    assert not verdict.seal
