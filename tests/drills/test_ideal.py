"""The good crews that the debrief shows: one for each drill, and still what such a crew does today."""

from __future__ import annotations

import json

import pytest

from tests.chromium import THOROUGH
from tests.drills import ideal
from trainer.console.by_member import shares
from trainer.console.crews import beside, crew_of
from trainer.drills import library

SHOWN = sorted([*library.all_drills(), *library.crewed()]) if THOROUGH else ["kick-while-drilling", "crew-choke-panel"]
#: A change of the plant may move a crew's times by this much, s, before the files are made anew.
SLACK = 15.0


def test_every_drill_has_a_good_crew() -> None:
    crewed = {name: library.load_file(path) for name, path in library.crewed().items()}
    for drill, loaded in (library.all_drills() | crewed).items():
        crew = crew_of(drill)
        assert crew is not None, drill
        assert crew.score >= loaded.pass_mark and crew.log, drill
        assert set(crew.milestones) <= {milestone.id for milestone in loaded.milestone}, drill


@pytest.mark.parametrize("drill", SHOWN)
def test_a_good_crew_still_does_what_is_shown(drill: str) -> None:
    made = json.loads(ideal.text(ideal.document(drill)))
    crew = crew_of(drill)
    assert crew is not None and made["milestones"].keys() == crew.milestones.keys()
    for name, t in made["milestones"].items():
        assert crew.milestones[name] == pytest.approx(t, abs=SLACK), name


def test_the_reference_run_of_a_crew_says_who_did_what() -> None:
    crew = crew_of("crew-choke-panel")
    assert crew is not None
    assert {entry.by for entry in crew.log} == {"driller", "choke", "toolpusher"}
    assert {entry.target for entry in crew.log if entry.figure is not None} == {
        "sidpp_is",
        "sicp_is",
        "gain_is",
        "bled_is",
    }
    found = shares(crew.log, ("driller", "choke", "toolpusher"))
    assert found["choke"].repeated() == "3 of 3, after 3 s"
    # Two readings and the choke, opened and shut; it is read, bled and called from one station.
    assert (found["choke"].actions, found["choke"].calls) == (4, 4)
    assert shares((), ("driller",))["driller"].repeated() == "none received"


def test_times_are_counted_from_what_came_by_itself() -> None:
    crew = crew_of("kick-while-drilling")
    assert crew is not None
    kick, closing = crew.milestones["kick"], crew.milestones["closing"]
    moved = beside(crew, [{"id": "kick", "title": "It kicks", "t": kick - 60.0}])
    assert (moved.by, moved.since) == (-60.0, "It kicks")
    assert moved.at("closing") == pytest.approx(closing - 60.0)
    assert moved.at("nothing") is None
    assert beside(crew, [{"id": "closing", "title": "Closing", "t": 3.0}]).by == 0.0


def test_a_name_that_is_no_drill_has_no_crew() -> None:
    assert crew_of("../plants/quillback") is None
    assert crew_of("no-such-drill") is None
