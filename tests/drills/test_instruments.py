"""A crew sees what instruments show where it stands, as printed, and nothing else."""

from __future__ import annotations

import pytest

from tests.drills.crew import Crew
from tests.drills.instruments import AtTheEngine, UnseenError, as_printed, read_number, working_at
from trainer import units
from trainer.simulator import Session


@pytest.fixture(scope="module")
def alone() -> Crew:
    """Somebody alone at the driller's panel."""
    return Crew("dead-panel")


def test_what_only_the_engine_knows_is_not_seen() -> None:
    session = Session.start("kick-while-drilling")
    truths = [tag for tag, signal in session.machine.signals.items() if not signal.station]
    assert "well.influx_rate" in truths and "upper_annular.position" in truths
    crew = Crew("kick-while-drilling")
    for tag in truths:
        with pytest.raises(UnseenError, match="shown nowhere"):
            crew[tag]
    with pytest.raises(UnseenError, match="no instrument"):
        crew["no.such.tag"]


def test_the_run_itself_is_not_seen(alone: Crew) -> None:
    with pytest.raises(AssertionError, match="reads its instruments"):
        _ = alone.session


def test_a_faulty_gauge_shows_what_it_shows() -> None:
    desk = AtTheEngine("find-the-leak")
    machine = desk.session.machine
    machine.set_fault("accumulator.pressure.drift", 1.0)
    desk.wait(1.0)
    signal = machine.signals["accumulator.pressure"]
    assert desk.shown("accumulator.pressure") == as_printed(machine.read("accumulator.pressure"), signal)
    assert abs(desk.shown("accumulator.pressure") - desk.shown("unit.accumulator_gauge")) > 100.0


def test_who_is_alone_sees_the_station_where_he_stands() -> None:
    crew = Crew("dead-panel")
    assert crew["upper_annular.lamp_close"] == 0.0
    with pytest.raises(UnseenError, match="the crew is at driller"):
        crew["tank.level"]
    crew.do("go", "unit")
    with pytest.raises(UnseenError, match="on the way to unit"):
        crew["tank.level"]
    crew.until(lambda: False, 61.0)
    assert crew["tank.level"] > 0.0
    with pytest.raises(UnseenError, match="the crew is at unit"):
        crew["upper_annular.lamp_close"]


def test_a_crew_may_be_held_to_fewer_stations() -> None:
    crew = Crew("find-the-leak", desk=AtTheEngine("find-the-leak", stations=("driller",)))
    assert crew["totaliser.flow"] >= 0.0
    with pytest.raises(UnseenError, match="only at unit"):
        crew["tank.level"]


def test_no_crew_sees_more_decimals_than_are_printed() -> None:
    desk = AtTheEngine("find-the-leak")
    for tag, signal in desk.session.machine.signals.items():
        if signal.station and signal.unit != "state":
            text = units.show(desk.session.machine.read(tag), signal.unit)
            assert desk.shown(tag) == read_number(text), tag


def test_what_was_asked_and_told_is_read_from_the_words(alone: Crew) -> None:
    flush = Crew("control-line-flush", seed=4)
    drawn = flush.desk.session.referee.drawn  # type: ignore[attr-defined]
    assert flush.told("at least", "gal") == pytest.approx(units.to_unit(drawn["volume"], "gal"))
    with pytest.raises(UnseenError, match="gives no psi"):
        flush.told("at least", "psi")
    with pytest.raises(UnseenError, match="was told"):
        alone.asked("which")
    follow = Crew("follow-the-fluid", seed=3)
    assert follow.asked("function") == int(follow.desk.session.referee.drawn["function"])  # type: ignore[attr-defined]


def test_crews_work_at_the_desk_they_are_given() -> None:
    made: list[tuple[str, int, str]] = []

    def desk(drill: str, seed: int, mode: str) -> AtTheEngine:
        made.append((drill, seed, mode))
        return AtTheEngine(drill, seed, mode)

    with working_at(desk):
        Crew("dead-panel", 2)
    Crew("dead-panel", 3)
    assert made == [("dead-panel", 2, "check")]
