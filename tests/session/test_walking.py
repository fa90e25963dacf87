"""One person alone: walking takes simulated time, a hand works only where it is, and a replay walks the same way."""

from __future__ import annotations

import pytest

from trainer.session.evidence import make
from trainer.session.replay import Player, recording
from trainer.session.walking import MANNED, Walking
from trainer.simulator import Session

DRILL = "dead-panel"
CLOSE = {"do": "set", "target": "upper_annular", "value": "close"}
AT_UNIT, AT_PANEL = {**CLOSE, "from": "unit"}, {**CLOSE, "from": "driller"}
TO_UNIT = {"do": "go", "target": "unit"}


@pytest.fixture(scope="module")
def walked() -> Session:
    """A run in which somebody tried the lever from afar, walked there, was in a hurry, and closed it."""
    session = Session.start(DRILL, seed=3)
    session.advance(5.0)
    assert session.submit(AT_UNIT) == (
        "you are at the driller's panel; the control unit is 30 s away: walk there first"
    )
    assert session.log == []
    assert session.submit(TO_UNIT) is None
    session.advance(12.0)
    assert session.submit(AT_UNIT) == "you are on the way to the control unit: 18 s to go"
    assert session.submit(AT_PANEL) == "you are on the way to the control unit: 18 s to go"
    assert session.submit({"do": "go", "target": "driller"}) == "you are on the way to the control unit: 18 s to go"
    # A call can be made from anywhere.
    assert session.submit({"do": "say", "target": "dead"}) is None
    session.advance(18.0)
    assert session.submit(AT_UNIT) is None
    assert "is 30 s away" in str(session.submit(AT_PANEL))
    assert session.submit(TO_UNIT) == "you are at the control unit already"
    session.advance(5.0)
    return session


def test_what_was_done_is_in_the_log(walked: Session) -> None:
    assert [(entry.do, entry.target) for entry in walked.log] == [
        ("go", "unit"),
        ("say", "dead"),
        ("set", "upper_annular"),
    ]


def test_a_replay_walks_the_same_way(walked: Session) -> None:
    player = Player(Session.start(DRILL, seed=3), recording(walked))
    player.seek(walked.time)
    assert player.session.checkpoint() == walked.checkpoint()
    # Back to where the person was on the way: they still are.
    player.seek(10.0)
    assert "on the way" in str(player.session.submit(AT_UNIT))


def test_a_snapshot_knows_where_the_person_is(walked: Session) -> None:
    again = Session.restore(walked.snapshot())
    assert again.checkpoint() == walked.checkpoint()
    assert "at the control unit" in str(again.submit(AT_PANEL))


def test_evidence_of_a_walk_is_evidence(walked: Session) -> None:
    assert make(walked).record()["log"][0]["do"] == "go"


def test_where_stations_are_manned_nobody_walks() -> None:
    session = Session.start(None, "sandpiper")
    assert session.submit(TO_UNIT) == MANNED
    assert session.submit({"do": "set", "target": "annular", "value": "close", "from": "unit"}) is None
    assert session.submit({"do": "set", "target": "annular", "value": "open", "from": "driller"}) is None


def test_every_way_leads_past_the_panel_and_the_floor_is_there() -> None:
    walking = Walking({"unit": 60.0, "remote": 30.0})
    assert [walking.seconds(at) for at in ("driller", "floor", "remote", "unit")] == [0.0, 0.0, 30.0, 60.0]
    assert walking.refuse_hand("floor", 0) is None
    walking.go("remote", 0)
    assert walking.left(0) == 30.0
    assert walking.refuse_hand("remote", 1500) is None
    assert walking.seconds("unit") == 90.0
    assert walking.refuse_to_go("roof", 1500) == "there is no station 'roof' to go to (driller, floor, remote, unit)"
