"""The alarms on pit gain and flow difference: a kick brings them, pumps that start or stop do not."""

from __future__ import annotations

import pytest

from tests.plant.crew import Crew

PIT, FLOW = "alarm.pit_gain", "alarm.flow_difference"


def test_a_kick_brings_both_alarms_at_the_first_set_points_and_the_horn() -> None:
    """Set points +-5 bbl and +-50 gpm are common practice; 30 CFR 250.457 asks for both, seen and heard."""
    crew = Crew()
    crew.run(5)
    crew.machine.set_fault("well.kick", 1.0)
    while crew.word(FLOW) == "normal":
        crew.run(0.1)
        assert crew["well.flow_difference"] < 55.0
    assert crew["well.flow_difference"] == pytest.approx(crew["well.flow_out"] - crew["well.flow_in"])
    assert crew["well.flow_difference"] > 50.0
    assert crew.word("alarms.horn") == "sounding"
    assert crew.do("push", "alarms.acknowledge", station="driller") is None
    crew.run(0.3)
    assert (crew.word(FLOW), crew.word("alarms.horn")) == ("acknowledged", "silent")
    while crew.word(PIT) == "normal":
        crew.run(0.1)
        assert crew["well.pit_gain"] < 5.1
    assert crew["well.pit_gain"] > 5.0
    assert crew.word("alarms.horn") == "sounding"  # a further alarm sounds it again


def test_pumps_that_stop_and_start_bring_no_alarm_but_a_set_point_does() -> None:
    crew = Crew()
    for speed in (0, 70):
        crew.set("floor.mud_pumps", speed, "floor")
        crew.run(1)
        assert crew.word("alarms.well_held") == "yes"
        for _ in range(60):
            crew.run(1)
            assert crew.word(FLOW) == "normal"
        assert crew.word("alarms.well_held") == "no"
    crew.set("alarms.flow_difference_limit", 20, "driller")
    crew.machine.set_fault("well.kick", 0.4)
    while crew["well.flow_difference"] < 20.0:
        crew.run(0.1)
        assert crew["well.pit_gain"] < 5.0
    crew.run(0.2)
    assert crew.word(FLOW) == "unacknowledged"


def test_a_pump_that_changes_speed_during_a_kick_takes_no_alarm_away() -> None:
    crew = Crew()
    crew.machine.set_fault("well.kick", 1.0)
    while crew.word(FLOW) == "normal":
        crew.run(0.5)
    crew.set("floor.mud_pumps", 60, "floor")
    crew.run(2)
    assert (crew.word("alarms.well_held"), crew.word(FLOW)) == ("yes", "unacknowledged")


@pytest.mark.parametrize(
    ("value", "from_"), [("0.5 bbl", "driller"), ("60 bbl", "driller"), (None, "driller"), (5, "unit")]
)
def test_a_set_point_that_cannot_be_is_refused(value: object, from_: str) -> None:
    assert Crew().do("set", "alarms.pit_gain_limit", value, from_)
