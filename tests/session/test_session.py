"""The clock, the log, snapshots and their exactness."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.session.fakes import FakeMachine, FakeReferee, identity, start
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.session.script import play
from trainer.session.session import SessionCore, SnapshotError, read_snapshot
from trainer.simulator import Session

SCRIPT = [
    Command.model_validate(record)
    for record in (
        {"t": 1.23, "do": "set", "target": "valve", "value": "open"},
        {"t": 12.0, "do": "push", "target": "hatch"},
        {"t": 20.04, "do": "set", "target": "choke", "value": "35 %", "from": "floor"},
        {"t": 33.3, "do": "read", "target": "tank.volume", "value": "200 gal"},
        {"t": 99.0, "do": "say", "target": "late"},
    )
]


def test_commands_take_effect_at_the_next_scan_boundary() -> None:
    session = start()
    refusals = play(session, SCRIPT)
    assert [entry.tick for entry in session.log] == [65, 600, 1005, 1665]
    assert session.log[2].value == pytest.approx(35.0)
    assert refusals == [
        "12.0 s: push hatch: The hatch is bolted.",
        "60.0 s: the drill had ended; 1 commands were not used",
    ]


def test_clock_stops_at_the_end_of_the_drill() -> None:
    session = start()
    assert session.advance(3600.0) == 600
    assert session.time == 60.0
    assert session.finished
    assert session.submit({"do": "set", "target": "valve", "value": "open"}) == (
        "the drill has ended; start it again to operate"
    )


def test_small_steps_add_up_to_the_same_scans() -> None:
    session = start()
    scans = [session.advance(0.04) for _ in range(250)]
    assert sum(scans) == 100
    assert session.time == 10.0
    assert [point.tick for point in session.checkpoints] == [0, 500]


@pytest.mark.parametrize("seconds", [-1.0, float("nan"), float("inf"), 1e9])
def test_impossible_times_are_refused(seconds: float) -> None:
    with pytest.raises(ValueError, match="give 0 to"):
        start().advance(seconds)


def test_bad_commands_leave_the_session_unharmed() -> None:
    session = start()
    session.advance(5.0)
    before = session.snapshot()
    for bad in (
        {"do": "set", "target": "nothing", "value": "open"},
        {"do": "fly", "target": "valve"},
        {"t": 1.0, "do": "set", "target": "valve", "value": "open"},
        {"t": 7.0, "do": "set", "target": "valve", "value": "open"},
        {"do": "set", "target": "choke", "value": 1e308, "from": "floor"},
        ["not", "a", "command"],
    ):
        assert isinstance(session.submit(bad), str)  # type: ignore[arg-type]
    assert session.snapshot() == before


def test_refused_command_is_logged_and_seen_by_the_referee() -> None:
    session = start()
    assert session.submit({"do": "push", "target": "hatch"}) == "The hatch is bolted."
    assert session.log[0].refused == "The hatch is bolted."
    assert session.referee.state()["refused"] == 1


def test_signals_are_in_field_units() -> None:
    assert start().signals() == {"tank.volume": pytest.approx(250.0), "valve.position": 0.0}


@given(cut=st.floats(0.0, 59.0), seed=st.integers(0, 2**53 - 1))
def test_restored_snapshot_goes_on_to_the_bit(cut: float, seed: int) -> None:
    whole = start(seed)
    play(whole, SCRIPT)
    first = start(seed)
    play(first, [command for command in SCRIPT if command.t <= cut], until=cut)
    # Through JSON text, as a page keeps it.
    kept = read_snapshot(json.loads(json.dumps(first.snapshot())))
    second = SessionCore(FakeMachine(), FakeReferee(), identity(seed)).resume(kept)
    play(second, [command for command in SCRIPT if command.t > cut])
    assert second.checkpoints == whole.checkpoints
    assert second.log == whole.log
    assert second.machine.state == whole.machine.state
    assert second.sheet() == whole.sheet()


def test_snapshot_of_something_else_is_refused() -> None:
    snapshot = start(1).snapshot()
    with pytest.raises(SnapshotError, match="in another version"):
        start(2).resume(read_snapshot(snapshot))
    with pytest.raises(SnapshotError, match="damaged"):
        start(1).resume(read_snapshot({**snapshot, "machine": "AAAA"}))
    with pytest.raises(SnapshotError, match="not a snapshot: tick"):
        read_snapshot({**snapshot, "tick": -1})
    with pytest.raises(SnapshotError, match="not a snapshot"):
        read_snapshot("nonsense")


@pytest.mark.parametrize("quick", [True, False])
def test_a_plant_that_cannot_be_computed_ends_the_run_at_its_last_sound_scan(quick: bool) -> None:
    """Compiled or not: the same moment, the same state, the same sentence, and evidence that can be written."""
    if quick:
        run = Session.start(None, "sandpiper")
    else:
        with server.plain():
            run = Session.start(None, "sandpiper")
    run.advance(1.0)
    run.machine.put(next(name for name in run.machine.names if name.endswith(".gas")), 0.0)
    assert run.advance(60.0) < 600
    assert run.finished
    assert "no longer a finite number" in run.stopped
    assert all(map(math.isfinite, run.machine.state))
    ENDED.add((run.tick, run.stopped, run.checkpoint().state))
    assert len(ENDED) == 1
    assert run.submit({"do": "set", "target": "annular", "value": "close", "from": "driller"}) is not None
    json.dumps(run.evidence(), allow_nan=False)


ENDED: set[tuple[int, str, str]] = set()
