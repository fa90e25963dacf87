"""A replay is the run itself: the same states, from any moment, and a run taken over there stands on its own."""

from __future__ import annotations

import json

import pytest

from tests.session import fakes
from trainer.session import evidence as documents
from trainer.session.interventions import DEBRIEF, INSTRUCTOR
from trainer.session.replay import Player, Recording, give, recording, shifted
from trainer.session.session import Entry, SessionCore
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder


def _acted() -> SessionCore:
    run = fakes.start(seed=4)
    for t, do, target, value in (
        (3.0, "set", "choke", 80.0),
        (12.5, "set", "valve", "open"),
        (12.5, "push", "hatch", None),
        (31.0, "set", "valve", "shut"),
    ):
        run.advance_to(t)
        run.submit({"do": do, "target": target, "value": value, "from": "floor" if target == "choke" else "driller"})
    run.advance_to(44.0)
    return run


def test_any_moment_in_any_order_is_the_moment_that_was() -> None:
    run = _acted()
    player = Player(fakes.start(seed=4), recording(run))
    assert player.play(10_000) == 440 and player.over
    assert player.session.checkpoints == run.checkpoints
    assert player.session.log == run.log
    straight = {}
    for t in (0.0, 3.0, 12.4, 12.5, 29.9, 31.0, 44.0):
        fresh = Player(fakes.start(seed=4), recording(run))
        fresh.play(round(t * 10))
        straight[t] = fresh.session.checkpoint()
    for t in (31.0, 3.0, 44.0, 12.5, 12.4, 0.0, 29.9):
        player.seek(t)
        assert player.time == t
        assert player.session.checkpoint() == straight[t]
    player.seek(1e9)
    assert player.session.checkpoint() == run.checkpoint()


def test_a_part_of_a_run_is_computed_when_it_is_asked_for() -> None:
    player = Player(fakes.start(seed=4), recording(_acted()))
    assert player.reach == 10.0
    player.seek(25.0)
    assert player.time == 25.0 and player.reach == 30.0
    looked: list[float] = []
    player.seek(0.0)
    player.play(3, lambda: looked.append(player.time))
    assert looked == pytest.approx([0.1, 0.2, 0.3])


def test_a_run_that_ended_by_itself_is_over_there() -> None:
    run = fakes.start()
    run.advance(90.0)
    player = Player(fakes.start(), recording(run))
    player.play(10_000)
    assert player.over and player.time == run.time == 60.0


def test_a_run_taken_over_re_computes_and_says_where_it_began() -> None:
    run = Session.start("kick-while-drilling", seed=2, mode="check")
    run.advance(11.0)
    run.submit({"do": "set", "target": "floor.rotary", "value": 0, "from": "floor"})
    run.intervene("fault", "well.losses", 0.2)
    run.advance(14.0)
    player = Player(Session.start("kick-while-drilling", seed=2, mode="check"), recording(run))
    player.seek(25.0)
    player.seek(13.0)
    own = Session.start("kick-while-drilling", seed=2, mode="practice")
    player.hand_over(own, "0" * 64)
    assert own.time == 13.0 and own.coach is not None
    player.seek(2.0)
    own.submit({"do": "set", "target": "floor.mud_pumps", "value": 0, "from": "floor"})
    own.advance(8.0)
    assert [entry.from_ for entry in own.log] == ["floor", INSTRUCTOR, DEBRIEF, "floor"]
    document = documents.parse(json.dumps(own.evidence()))
    assert document.run.mode == "practice"
    verdict = verify(document, rebuilder())
    assert verdict.ok, verdict.reason
    assert "taken over at 13.0 s from the replay of an earlier run" in verdict.reason


def test_only_a_debrief_takes_over_and_it_does_nothing_else() -> None:
    run = fakes.start()
    assert "does nothing else" in str(run.intervene("take-over", "run", None, INSTRUCTOR))
    assert "does nothing else" in str(run.intervene("set", "valve", "open", DEBRIEF))
    assert run.log == []
    before = bytes(run.machine.state)
    assert run.intervene("take-over", "run", "of", DEBRIEF) is None
    assert bytes(run.machine.state) == before


def _times(recorded: Recording) -> list[tuple[int, str]]:
    return [(entry.tick, entry.target) for entry in recorded.log]


def test_an_action_is_moved_alone_or_with_what_follows() -> None:
    run = _acted()
    run.log.append(Entry(tick=2100, do="fault", target="valve.slow", value=1.0, from_=INSTRUCTOR))
    recorded = recording(run)
    assert _times(shifted(recorded, 1, -4.0)) == [
        (150, "choke"),
        (425, "valve"),
        (425, "hatch"),
        (1350, "valve"),
        (2100, "valve.slow"),
    ]
    alone = shifted(recorded, 1, -20.0, following=False)
    assert _times(alone)[:2] == [(0, "valve"), (150, "choke")]
    assert alone.end == recorded.end
    later = shifted(recorded, 3, 20.0)
    assert later.end == recorded.end + 1000 and _times(later)[-1] == (2550, "valve")


def test_acting_earlier_changes_what_comes_of_it() -> None:
    recorded = recording(_acted())
    emptied = []
    for seconds in (0.0, -10.0):
        player = Player(fakes.start(seed=4), shifted(recorded, 1, seconds, following=False))
        player.play(10_000)
        emptied.append(player.session.machine.state[0])
    assert emptied[1] < emptied[0]


def test_an_entry_that_is_no_command_is_refused_in_words() -> None:
    run = fakes.start()
    refused = give(run, Entry(tick=0, do="fly", target="valve", value="open", from_="driller"))
    assert refused is not None and "fly" in refused
