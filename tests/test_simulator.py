"""The front door: sessions by name, free practice, one's own drill file, and names that are not here."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from trainer import resources
from trainer.drills.schema import DrillError
from trainer.session import evidence
from trainer.session.session import SnapshotError
from trainer.session.verify import verify
from trainer.simulator import ChoiceError, PlantError, Session, rebuilder

DRILL = "kick-while-drilling"


def test_free_practice_judges_nothing_and_can_be_verified() -> None:
    session = Session.start(None)
    assert session.submit({"do": "set", "target": "upper_annular", "value": "close"}) is None
    session.advance(30.0)
    assert session.signals()["upper_annular.valve"] == 2.0
    assert session.sheet()["criteria"] == []
    document = evidence.parse(json.dumps(session.evidence()))
    assert verify(document, rebuilder()).ok


def test_own_drill_file_runs_and_verifies_only_with_the_file(tmp_path: Path) -> None:
    own = tmp_path / "my-kick.toml"
    source = (resources.scenarios() / f"{DRILL}.toml").read_text(encoding="utf-8")
    own.write_text(source.replace(f'id = "{DRILL}"', 'id = "my-kick"', 1), encoding="utf-8")
    session = Session.start(str(own))
    session.advance(5.0)
    document = evidence.parse(json.dumps(session.evidence()))
    without = verify(document, rebuilder())
    assert not without.ok
    assert "give its file with --drill" in without.reason
    assert verify(document, rebuilder([own])).ok
    own.write_text(own.read_text(encoding="utf-8").replace("minutes = 12", "minutes = 13"), encoding="utf-8")
    changed = verify(document, rebuilder([own]))
    assert changed.ok
    assert "made with drill my-kick" in changed.reason


def test_evidence_cannot_make_the_verifier_open_a_path(tmp_path: Path) -> None:
    session = Session.start(None)
    record = session.evidence()
    record["run"]["drill"] = str(tmp_path / "anything.toml")
    verdict = verify(evidence.parse(json.dumps(record)), rebuilder())
    assert not verdict.ok
    assert "there is no drill" in verdict.reason


def test_names_that_are_not_here_are_told() -> None:
    with pytest.raises(DrillError, match=DRILL):
        Session.start("kick-while-driling")
    with pytest.raises(PlantError, match="quillback"):
        Session.start(DRILL, "nowhere")
    with pytest.raises(ChoiceError, match="no mode 'easy'"):
        Session.start(DRILL, mode="easy")
    with pytest.raises(ChoiceError, match="no seed -1"):
        Session.start(DRILL, seed=-1)
    with pytest.raises(SnapshotError, match="not a snapshot"):
        Session.restore({"format": 1})
