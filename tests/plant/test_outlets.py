"""Where the returns go: flow line, overboard, over the floor, nowhere; and a riser that has parted from the stack."""

from __future__ import annotations

import pytest

from tests.plant.bare_well import BareWell
from trainer.session.interventions import carry_out
from trainer.simulator import Session
from trainer.units import from_unit, to_unit

OVERBOARD, SHUT, FLOOR = 2.0, 0.0, 3.0
KICK = from_unit(350.0, "psi")
MARGIN = from_unit(80.0, "psi")


def drilling_a_kick() -> BareWell:
    """A well that flows while it is drilled."""
    well = BareWell()
    well.machine.put("well.exposed", 1.0)
    well.machine.put("well.formation_pressure", well.machine.read("well.formation_pressure") + KICK)
    return well


def test_overboard_line_takes_the_returns_from_flow_line_and_pit() -> None:
    well = BareWell()
    well.run(5.0)
    before = well.mud()
    assert well["well.flow_out"] > 300.0
    assert well["diverter.flow"] == 0.0
    well.bore(outlet=OVERBOARD)
    well.run(30.0)
    assert well["well.flow_out"] == pytest.approx(0.0, abs=0.1)
    assert to_unit(well["diverter.flow"], "gpm") == pytest.approx(well["well.flow_in"], rel=0.05)
    assert well["well.pit_gain"] < -0.8 * well["well.to_sea"] < 0.0, "the pumps draw on, and nothing comes back"
    assert well.mud() == pytest.approx(before, rel=1e-12)


def test_with_all_shut_above_an_open_packer_it_runs_over_the_floor() -> None:
    well = BareWell()
    well.bore(outlet=FLOOR)
    well.run(20.0)
    assert well["well.spilled"] > 1.0
    assert well["well.flow_out"] == pytest.approx(0.0, abs=1.0)


def test_packer_with_no_way_out_puts_the_pressure_on_the_shoe() -> None:
    well = drilling_a_kick()
    well.run(30.0)
    open_, before = well["well.stack_pressure"], well.mud()
    assert well["well.lost"] == 0.0
    well.bore(outlet=SHUT)
    well.run(30.0)
    assert well["diverter.pressure"] > from_unit(500.0, "psi"), "more than a diverter is made for"
    assert well["well.stack_pressure"] - open_ == pytest.approx(well["diverter.pressure"], rel=0.02)
    assert well["well.lost"] > 1.0, "the shoe gives way"
    assert well.mud() == pytest.approx(before, rel=1e-12)


def test_parted_riser_loses_its_mud_and_the_well_flows_to_the_sea() -> None:
    well = BareWell()
    well.machine.put("well.exposed", 1.0)
    well.machine.put("well.formation_pressure", well.site.well.gradient * well.site.well.depth - MARGIN)
    well.do("set", "floor.mud_pumps", 0.0)
    well.run(20.0)
    before, bottom, riser = well.mud(), well["well.bottom_pressure"], well["well.riser_mud"]
    assert well["well.influx_rate"] == 0.0
    well.bore(disconnected=1.0)
    well.run(20.0)
    # The riser margin: mud and sea water over the same depth.
    site = well.site
    stack = site.well.stack_at(site)
    sea = 1025.0 * 9.80665 * (stack - site.well.air_gap)
    margin = to_unit(site.well.gradient * stack - sea, "psi")
    assert bottom - well["well.bottom_pressure"] == pytest.approx(margin, rel=0.1)
    assert margin > 150.0
    assert well["well.influx_rate"] > 10.0, "drilling without riser margin: it comes in at once"
    assert from_unit(well["well.to_sea"], "bbl") > 0.98 * riser
    assert well["well.flow_out"] == pytest.approx(0.0, abs=1.0)
    assert well["well.pit_gain"] == pytest.approx(0.0, abs=1.0)
    assert well.mud() == pytest.approx(before, rel=1e-12)


def test_well_shut_in_below_stays_shut_in_when_the_riser_parts() -> None:
    well = drilling_a_kick()
    well.do("set", "floor.mud_pumps", 0.0)
    well.run(15.0)
    well.bore(area=0.0, choke_path=1.0, kill_path=1.0, sheared=1.0)
    well.run(120.0)
    under, shown = well["well.stack_pressure"], well["well.kill_pressure"]
    assert shown > 50.0
    well.bore(disconnected=1.0, choke_path=0.0, kill_path=0.0)
    well.run(30.0)
    assert well["well.stack_pressure"] == pytest.approx(under, rel=0.02)
    assert well["well.sealed"] == 1.0
    assert max(well["well.kill_pressure"], well["well.casing_pressure"]) < 1.0, "the lines have parted with the riser"
    assert well["well.riser_mud"] < 0.1


def test_instructor_turns_the_wind() -> None:
    machine = Session.start("shallow-gas-diverter").machine
    done = carry_out(machine, "put", "weather.wind_from", 120.0)
    assert not isinstance(done, str), done
    machine.scan()
    assert to_unit(machine.read("weather.wind_from"), "deg") == pytest.approx(120.0)
