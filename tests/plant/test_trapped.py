"""Pressure and gas that a shut-in leaves behind: trapped pressure bled off by quarter barrels, gas in the riser."""

from __future__ import annotations

import pytest

from tests.plant.bare_well import BareWell
from tests.plant.hands import PSI, Hands
from trainer.units import from_unit

BBL = from_unit(1.0, "bbl")


def bleed(rig: Hands, volume: float) -> None:
    """Crack the choke until the pit has taken ``volume`` m3, shut it, wait."""
    before = rig["well.pit"]
    rig.do("set", "floor.choke", 4, "floor")
    assert rig.until(lambda: rig["well.pit"] - before > volume, 60.0) < 60.0
    rig.do("set", "floor.choke", 0, "floor")
    rig.wait(40.0)


def test_trapped_pressure_is_bled_until_the_drill_pipe_falls_no_more() -> None:
    """Shut in with the pumps still turning, both gauges stand too high; the last steady drill-pipe pressure is right.

    The rule (bleed a quarter barrel, look, repeat while the drill pipe falls): common practice. Each quarter barrel
    beyond it lets the formation in by as much.
    """
    rig = Hands(settle=1.0)
    rig.machine.set_fault("well.kick", 1.0)
    rig.wait(60.0)
    rig.do("set", "floor.rotary", 0, "floor")
    rig.do("hoist", "floor.hook", 21, "floor")
    rig.wait(25.0)
    rig.do("set", "floor.mud_pumps", 12, "floor")
    rig.wait(10.0)
    rig.set("upper_annular", "close")
    rig.wait(18.0)
    rig.do("set", "floor.mud_pumps", 0, "floor")
    for valve in ("lower_inner_choke", "lower_outer_choke"):
        rig.set(valve, "open")
    rig.wait(60.0)
    assert rig["well.flow_out"] == 0.0
    right = rig["well.formation_pressure"] - rig["well.string_head"]
    assert rig["well.drillpipe_pressure"] > right + 10.0 * PSI
    casing = rig["well.casing_pressure"]
    bleed(rig, 0.25 * BBL)
    assert rig["well.drillpipe_pressure"] == pytest.approx(right, abs=2.0 * PSI)
    assert rig["well.casing_pressure"] < casing - 10.0 * PSI
    steady, influx = rig["well.drillpipe_pressure"], rig["well.influx_volume"]
    bleed(rig, 0.25 * BBL)
    assert rig["well.drillpipe_pressure"] == pytest.approx(steady, abs=1.0 * PSI)
    assert rig["well.influx_volume"] - influx == pytest.approx(0.25 * BBL, rel=0.1)


def test_gas_above_a_closed_preventer_rises_and_unloads_the_riser() -> None:
    """Well shut in below it, a little gas at the bottom of the riser comes up, faster and faster, pushing mud out."""
    well = BareWell()
    well.do("set", "floor.rotary", 0)
    well.do("set", "floor.mud_pumps", 0)
    well.bore(area=0.0)
    stack = well.site.well.stack_at(well.site)
    well.machine.put("well.riser_gas", 40.0)
    well.machine.put("well.riser_gas_top", stack - 15.0)
    well.machine.put("well.riser_gas_bottom", stack)
    before = well.mud()
    well.run(60)
    first = well["well.flow_out"]
    peak = 0.0
    for _ in range(40):
        well.run(60)
        peak = max(peak, well["well.flow_out"])
    assert well.machine.read("well.riser_gas") < 1.0
    assert peak > 10.0 * max(first, 1.0)
    assert well["well.pit_gain"] > 10.0
    assert well.mud() == pytest.approx(before, abs=1e-9)
