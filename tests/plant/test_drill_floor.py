"""The drill floor: what can be worked when, where the tool joints are, and how things move."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plant.bare_well import BareWell
from trainer.plant.drill_floor import approach, hoist, pipe_place


def test_everything_moves_at_its_pace() -> None:
    """Pumps, rotation, choke and hook come to their settings, none at once."""
    well = BareWell()
    well.do("set", "floor.mud_pumps", 30)
    well.do("set", "floor.choke", 50)
    well.do("hoist", "floor.hook", 20)
    hook = well["floor.hook"]
    well.run(1)
    assert 30 < well["floor.mud_pumps"] < 70
    assert 0 < well["floor.choke"] < 50
    assert hook < well["floor.hook"] < hook + 20
    well.run(30)
    assert well["floor.mud_pumps"] == pytest.approx(30)
    assert well["floor.choke"] == pytest.approx(50)
    assert well["floor.hook"] == pytest.approx(hook + 20, abs=0.2)
    assert well["floor.bit_weight"] == 0.0
    assert well["floor.rop"] == 0.0


def test_tool_joint_is_found_again_after_any_jump() -> None:
    """Distance from the upper pipe ram up to the nearest joint: (ram + hook) modulo the joint length."""
    well = BareWell()
    joint = 31.0
    for hook in (0.0, 12.0, 44.0, 93.0):
        well.machine.put("floor.hook", hook * 0.3048)
        well.machine.put("floor.hook.set", hook * 0.3048)
        well.do("set", "floor.rotary", 0)
        well.run(8)
        now = well["floor.hook"]
        assert well["floor.tool_joint"] == pytest.approx((1685.0 + now) % joint, abs=1e-6)


@given(st.floats(0, 33), st.floats(0, 600), st.floats(500, 2500))
def test_tool_joint_distance_stays_within_a_joint(hook: float, index: float, ram: float) -> None:
    """From any start the count settles within as many scans as joints are missing."""
    index = float(int(index))
    distance = 0.0
    for _ in range(700):
        index, distance, _, _ = pipe_place(hook, 0.0, index, 3000.0, 0.0, 9.4488, ram, 180.0)
    assert 0.0 <= distance < 9.4488 + 1e-9


def test_space_out_stops_at_the_top_and_at_the_bottom() -> None:
    """The hook stays within its travel and the bit within the hole."""
    well = BareWell()
    well.do("hoist", "floor.hook", 100)
    well.run(90)
    assert well["floor.hook"] == pytest.approx(98.0, abs=0.1)
    well.do("hoist", "floor.hook", -100)
    well.run(120)
    assert well["well.bit_depth"] <= well["well.hole_depth"]


def test_the_floor_refuses_what_cannot_be_done() -> None:
    """Each refusal is a sentence that tells what to do instead."""
    well = BareWell()
    assert "Stop the mud pumps" in str(well.do("set", "floor.top_drive", "off"))
    assert "Break out the top drive" in str(well.do("set", "floor.trip", "out"))
    assert "top drive is on the string" in str(well.do("push", "floor.stab"))
    assert "takes 0 to 120" in str(well.do("set", "floor.mud_pumps", 500))
    well.do("set", "floor.mud_pumps", 0)
    well.do("set", "floor.rotary", 0)
    well.run(30)
    assert well.do("set", "floor.top_drive", "off") is None
    well.run(1)
    assert "make up the top drive" in str(well.do("set", "floor.mud_pumps", 40))
    assert "cannot turn it" in str(well.do("set", "floor.rotary", 40))
    assert "stab it first" in str(well.do("set", "floor.safety_valve", "shut"))
    assert well.do("set", "floor.trip", "out") is None
    assert "tripping" in str(well.do("hoist", "floor.hook", 5))
    assert "order the trip to stop" in str(well.do("push", "floor.stab"))


def test_tripping_out_racks_stands_and_in_adds_them() -> None:
    """The string gets shorter by whole stands, and longer again."""
    well = BareWell(start="tripping")
    length = well["floor.string_length"]
    well.do("set", "floor.trip", "out")
    well.run(400)
    out = (length - well["floor.string_length"]) / 93.0
    assert out >= 3.0
    assert out == pytest.approx(round(out), abs=1e-9)
    well.do("set", "floor.trip", "in")
    well.run(600)
    assert well["floor.string_length"] > length - out * 93.0 + 90.0


def test_a_stuck_safety_valve_does_not_shut() -> None:
    """The handle turns, the string stays open to the pumps."""
    well = BareWell()
    well.machine.set_fault("floor.safety_valve_stuck", 1.0)
    well.do("set", "floor.safety_valve", "shut")
    well.run(5)
    assert well["well.standpipe"] == pytest.approx(3000, rel=0.01)


def test_hook_load_is_the_buoyed_string() -> None:
    """About 200 klbf of pipe and collars in 10.4 lb/gal mud, and the block; less what stands on the bit."""
    well = BareWell()
    well.run(1)
    drilling = well["floor.hook_load"]
    well.do("hoist", "floor.hook", 20)
    well.run(30)
    assert well["floor.hook_load"] == pytest.approx(drilling + 25.0, abs=0.1)
    steel = (5.0**2 - 4.276**2) * 2.67 * (10845 - 900) + 8.0**2 * 2.67 * 0.9 * 900
    assert well["floor.hook_load"] == pytest.approx(steel * (1 - 10.4 / 65.5) / 1000.0 + 60.0, rel=0.01)


@given(st.floats(-5, 5), st.floats(-5, 5), st.floats(0.01, 1))
def test_approach_never_overshoots(value: float, target: float, step: float) -> None:
    """One scan brings the value nearer by a step at most."""
    new = approach(value, target, step)
    assert abs(new - value) <= step + 1e-12
    assert abs(target - new) <= abs(target - value) + 1e-12


def test_hoist_waits_for_the_stand() -> None:
    """While a stand is changed the hook is still."""
    hook, _, _, wait, _, speed = hoist(5.0, 20.0, 0.0, 3.0, 2000.0, 3000.0, 28.3, 29.9, 0.4, 0.8, 45.0)
    assert (hook, speed) == (5.0, 0.0)
    assert wait == pytest.approx(2.9)


def test_the_choke_is_nudged_within_its_range() -> None:
    """Steps of a per cent, never beyond shut or open."""
    well = BareWell()
    assert well.do("raise", "floor.choke", 1.5) is None
    well.run(2)
    assert well["floor.choke"] == pytest.approx(1.5)
    assert well.do("lower", "floor.choke", 50) is None
    well.run(2)
    assert well["floor.choke"] == 0.0
