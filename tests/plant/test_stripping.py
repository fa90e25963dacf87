"""Stripping in through a closed annular, and a float above the bit."""

from __future__ import annotations

import pytest

from tests.plant.bare_well import BareWell
from tests.plant.hands import PSI, Hands
from tests.plant.test_sections import mud, pair
from tests.plant.test_well import BBL, kicked, shut


def test_stripping_in_takes_the_closed_end_volume_of_the_pipe_through_the_choke() -> None:
    """What is bled is OD^2 / 1029.4 bbl/ft (Lapeyrouse, ch. 1) and what the gas gains; a stand takes ID^2 / 1029.4."""
    rig = Hands()
    rig.start("tripping")
    rig.machine.put("floor.speed_of_trip", 0.3)
    whole = mud(rig)
    assert rig.do("push", "floor.stab", station="floor") is None
    rig.wait(14.0)
    assert rig.do("set", "floor.trip", "in", "floor") is not None, "not with the valve open"
    assert rig.do("set", "floor.safety_valve", "shut", "floor") is None
    rig.machine.put("well.formation_pressure", rig["well.bottom_pressure"] + 250.0 * PSI)
    rig.set("upper_annular", "close", "driller")
    rig.wait(30.0)
    pair(rig, "upper", "choke")
    rig.wait(200.0)
    assert rig.do("set", "trip_tank.line_up", "off", "floor") is None
    pit, tank, bit = rig["well.pit"], rig["trip_tank.volume"], rig["well.bit_depth"]
    long, gas = rig["floor.string_length"], rig["well.influx_volume"]
    held, place = rig.psi("well.casing_pressure") + 50.0, 0.0
    assert rig.do("set", "floor.trip", "out", "floor") is not None, "never out"
    assert rig.do("set", "floor.trip", "in", "floor") is None
    stand = rig.plant.floor.stand_length
    while rig["well.bit_depth"] < bit + 1.6 * stand:
        rig.wait(3.0)
        off = rig.psi("well.casing_pressure") - held
        place = min(max(place + (0.2 if off > 0.0 else -0.5), 0.0), 8.0)
        assert rig.do("set", "floor.choke", place, "floor") is None
    assert rig.do("set", "floor.trip", "stop", "floor") is None
    while rig.psi("well.casing_pressure") > held + 2.0:
        assert rig.do("set", "floor.choke", 1.0, "floor") is None
        rig.wait(1.0)
    assert rig.do("set", "floor.choke", 0, "floor") is None
    rig.wait(20.0)
    well = rig.plant.well
    feet = (rig["well.bit_depth"] - bit) / 0.3048
    outer, inner = well.pipe / 0.0254, well.pipe_inside / 0.0254
    grown = (rig["well.influx_volume"] - gas) / BBL
    assert abs(grown) < 0.4
    assert (rig["well.pit"] - pit) / BBL == pytest.approx(outer**2 / 1029.4 * feet + grown, abs=0.08)
    put_on = (rig["floor.string_length"] - long) / 0.3048
    assert put_on > 50.0
    assert (tank - rig["trip_tank.volume"]) / BBL == pytest.approx(inner**2 / 1029.4 * put_on, rel=2e-3)
    assert 0.0 < rig["upper_annular.damage"] < 0.2
    assert mud(rig) == pytest.approx(whole, rel=1e-9)


def test_behind_a_float_the_drill_pipe_shows_nothing_until_the_pump_lifts_it() -> None:
    """Inched up, the drill pipe breaks over at SIDPP: formation less mud in the string (IADC formula sheet 2016, 1)."""
    well = BareWell()
    well.machine.put("well.float", 1.0)
    over = well["well.formation_pressure"] - well["well.string_head"]
    kicked(well, 6.0)
    shut(well)
    assert well["well.casing_pressure"] > over
    assert well["well.drillpipe_pressure"] < 0.5 * over, "the float holds what is below it"
    first, casing = well.mud(), well["well.casing_pressure"]
    assert well.do("set", "floor.mud_pumps", 1.0) is None
    while well["well.casing_pressure"] < casing + 8.0:
        well.run(0.5)
    assert well["well.drillpipe_pressure"] == pytest.approx(over, abs=40.0)
    assert well.do("set", "floor.mud_pumps", 0) is None
    well.run(60)
    assert well["well.drillpipe_pressure"] == pytest.approx(over, abs=40.0)
    assert well.mud() == pytest.approx(first, abs=1e-9)
