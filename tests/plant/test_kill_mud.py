"""Kill mud behind old mud: fronts by volume, nothing lost, and the pressures of the kill sheet."""

from __future__ import annotations

import pytest

from tests import killsheet
from tests.plant.bare_well import BareWell
from trainer.units import from_unit, to_unit

PLACES = ("string", "annulus", "line", "riser")
KILL = 11.2


@pytest.fixture(scope="module")
def pumping() -> BareWell:
    """Off bottom and still, 30 strokes a minute of old mud up an open well, kill mud waiting in its pit."""
    well = BareWell()
    well.do("set", "floor.rotary", 0)
    well.do("hoist", "floor.hook", 20)
    well.run(60)
    well.do("set", "floor.mud_pumps", 30)
    well.run(60)
    assert well.do("set", "pits.kill_weight", KILL) is None
    return well


@pytest.fixture
def well(pumping: BareWell) -> BareWell:
    """That well, begun again."""
    if not hasattr(pumping, "kept"):
        pumping.kept = pumping.machine.saved()  # type: ignore[attr-defined]
    pumping.machine.restore(pumping.kept)  # type: ignore[attr-defined]
    return pumping


def killed(well: BareWell) -> float:
    """All kill mud, wherever it is, m3."""
    return sum(well.machine.read(f"well.{place}_kill") for place in PLACES) + well.machine.read("well.kill_out")


def on(well: BareWell) -> None:
    assert well.do("set", "pits.line_up", "kill pit") is None
    assert well.do("push", "floor.strokes") is None


def strokes(well: BareWell, count: float) -> None:
    """Pump on until the counter shows it."""
    while well["floor.strokes"] < count:
        well.run(10)


def test_kill_mud_comes_to_the_bit_after_the_volume_of_the_string(well: BareWell) -> None:
    """Strokes to the bit = capacity of the string / pump output (kill sheet; d^2/1029.4, Lapeyrouse ch. 1)."""
    on(well)
    length = to_unit(well.machine.read("floor.string_length"), "ft")
    to_bit = killsheet.pipe_capacity(4.276) * length / 0.117
    strokes(well, 0.985 * to_bit)
    assert well.machine.read("well.annulus_kill") == 0.0
    strokes(well, 1.02 * to_bit)
    assert well.machine.read("well.annulus_kill") > 0.0


def test_pressures_are_those_of_the_kill_sheet(well: BareWell) -> None:
    """At the bit the pump gives slow pressure x kill weight / old weight, less what the two muds weigh apart.

    FCP = slow-rate pressure x kill / old weight (IADC formula sheet 2016); on an open well the columns then stand
    0.052 x difference x depth apart; half-way down the string half of it (straight line of the kill sheet).
    """
    slow = well["well.standpipe"]
    depth = well["well.bit_depth"]
    apart = killsheet.hydrostatic(KILL - 10.4, depth)
    final = killsheet.final_circulating(slow, KILL, 10.4) - apart
    on(well)
    length = to_unit(well.machine.read("floor.string_length"), "ft")
    to_bit = killsheet.pipe_capacity(4.276) * length / 0.117
    strokes(well, 0.5 * to_bit)
    assert well["well.standpipe"] == pytest.approx(0.5 * (slow + final), abs=10.0)
    strokes(well, 1.005 * to_bit)
    assert well["well.standpipe"] == pytest.approx(final, abs=15.0)
    bottom = well["well.bottom_pressure"]
    capacity = killsheet.annular_capacity(12.25, 8.0)
    at, climbed = well["floor.strokes"], 400.0 * capacity
    strokes(well, at + climbed / 0.117)
    risen = well["well.bottom_pressure"] - bottom
    assert risen == pytest.approx(killsheet.hydrostatic(KILL - 10.4, 400.0), rel=0.1)


def test_no_kill_mud_is_made_or_lost(well: BareWell) -> None:
    """Down, up, through the riser and back to the pit: what is anywhere is what was pumped, to 1e-9; so is all mud."""
    whole, pumped = well.mud(), 0.0
    on(well)
    assert well.do("set", "floor.mud_pumps", 80) is None
    for scan in range(96000):
        well.machine.scan()
        pumped += well.machine.read("well.pump_flow") * 0.1
        if scan % 600 == 0:
            assert killed(well) == pytest.approx(pumped, rel=1e-9, abs=1e-9)
            assert well.mud() == pytest.approx(whole, rel=1e-9)
    assert well.machine.read("well.riser_kill") > 1.0
    assert well.machine.read("well.annulus_kill") == pytest.approx(well.machine.read("well.annulus_mud"), rel=0.02)


def test_old_mud_is_not_pumped_behind_kill_mud(well: BareWell) -> None:
    on(well)
    well.run(30)
    assert "must not be pumped behind it" in str(well.do("set", "pits.line_up", "active pit"))
    assert "cannot be changed" in str(well.do("set", "pits.kill_weight", 12))


def test_a_well_without_kill_mud_is_the_well_as_it_was(well: BareWell) -> None:
    """Mixed and not pumped, kill mud changes nothing: a static well shows no flow."""
    assert well.do("set", "floor.mud_pumps", 0) is None
    well.run(70)
    for _ in range(50):
        well.machine.scan()
        assert well["well.flow_out"] == 0.0
    assert well["well.bottom_pressure"] == pytest.approx(
        well.site.well.gradient * from_unit(10800.0, "ft") / 6894.757, rel=1e-3
    )
