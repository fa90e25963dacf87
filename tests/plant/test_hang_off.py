"""The string on a closed ram: landing, slacking off, pulling against it, letting go, cutting; packers that suffer."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plant.hands import Hands
from trainer.plant.hang_off import OVERPULL, borne, hang
from trainer.units import from_unit

KLBF = from_unit(1.0, "klbf")
RAM = "lower_pipe_ram"


def still(hook: float) -> Hands:
    """Quillback with rotation and pumps off and the hook at this height (ft)."""
    rig = Hands(settle=1.0)
    rig.do("set", "floor.rotary", 0, "floor")
    rig.wait(5.0)
    rig.do("hoist", "floor.hook", hook - rig["floor.hook"] / 0.3048, "floor")
    rig.wait(40.0)
    rig.do("set", "floor.mud_pumps", 0, "floor")
    rig.wait(15.0)
    return rig


def lower(rig: Hands, feet: float) -> None:
    rig.do("hoist", "floor.hook", -feet, "floor")
    rig.wait(8.0)


def test_a_joint_lands_on_the_ram_and_the_ram_takes_the_weight() -> None:
    """From the window to hang off: a foot or so, then the weight goes over as the string above relaxes, E A / L."""
    rig = still(75.8)
    assert rig["stack.all_clear"] == 1.0
    assert rig["stack.hang_low"] < rig["floor.hook"] < rig["stack.hang_high"]
    assert rig.seconds_to(RAM, "close") < 45.0
    rig.wait(5.0)
    load, bit = rig["floor.hook_load"], rig["well.bit_depth"]
    lower(rig, 2.0)
    slack = rig["floor.slack"]
    steel = math.pi / 4.0 * (0.127**2 - (4.276 * 0.0254) ** 2)
    stack = rig.plant.well.stack_at(rig.plant)
    assert rig[f"{RAM}.hung"] == pytest.approx(207e9 * steel / (stack + rig.plant.floor.hook) * slack, rel=1e-6)
    assert rig["floor.hook_load"] == pytest.approx(load - rig[f"{RAM}.hung"], abs=0.5 * KLBF)
    lower(rig, 10.0)
    assert rig[f"{RAM}.hung"] == rig["stack.weight_below"]
    assert rig["well.bit_depth"] - bit < 0.5, "the pipe stands where it landed"
    assert rig["floor.hook"] / 0.3048 > 70.0, "the driller stops when the weight is off"
    assert rig[f"{RAM}.sealing"] == 1.0
    assert rig[f"{RAM}.damage"] < 0.02


def test_a_joint_below_comes_up_against_the_ram() -> None:
    """Pulled from two feet below it: the driller stops at the overpull, and no joint goes through."""
    rig = still(69.0)
    rig.seconds_to(RAM, "close")
    load, hook = rig["floor.hook_load"], rig["floor.hook"]
    rig.do("hoist", "floor.hook", 10.0, "floor")
    rig.wait(40.0)
    assert rig["floor.hook_load"] == pytest.approx(load + OVERPULL, abs=KLBF)
    assert (rig["floor.hook"] - hook) / 0.3048 < 4.0
    assert rig[f"{RAM}.on_joint"] == 0.0


def test_an_unlocked_ram_without_pressure_lets_the_string_go_and_a_locked_one_holds_it() -> None:
    """Block takes the pressure off: locked, the weight stays on the ram; unlocked, it is back on the hook."""
    rig = still(75.8)
    rig.seconds_to(RAM, "close")
    lower(rig, 6.0)
    assert rig[f"{RAM}.hung"] > 200 * KLBF
    rig.set("ram_locks", "close")
    rig.wait(20.0)
    rig.set(RAM, "block")
    rig.wait(20.0)
    assert rig[f"{RAM}.hung"] > 200 * KLBF
    rig.set("ram_locks", "open")
    rig.wait(20.0)
    assert rig[f"{RAM}.hung"] == 0.0
    assert rig["floor.hook_load"] > 300 * KLBF


def shear(rig: Hands) -> None:
    rig.do("raise", "manifold_regulator", 20.0, "driller")
    rig.wait(40.0)
    rig.do("push", "driller.enable", None, "driller")
    rig.set("blind_shear_ram", "close", "driller")
    rig.wait(40.0)
    assert rig["bore.sheared"] == 1.0


def test_cut_off_above_the_ram_the_string_stays_hung() -> None:
    """Its weight rests on the ram, its top stands in the rams below the cut, and the hook lifts the stub away."""
    rig = still(75.8)
    rig.seconds_to(RAM, "close")
    lower(rig, 6.0)
    shear(rig)
    assert rig[f"{RAM}.hung"] == rig["stack.weight_below"] > 200 * KLBF
    assert rig["fish.drop"] == 0.0
    assert rig["blind_shear_ram.sealing"] == 1.0
    assert rig["upper_pipe_ram.pipe"] == 1.0
    assert rig["upper_annular.pipe"] == 1.0
    rig.do("hoist", "floor.hook", 25.0, "floor")
    rig.wait(40.0)
    assert rig["upper_annular.pipe"] == 0.0
    assert rig["upper_pipe_ram.pipe"] == 1.0


def test_cut_off_without_being_hung_it_falls_to_the_bottom() -> None:
    """Picked up 20 ft off bottom: the cut end falls as far, below the middle ram."""
    rig = still(66.0)
    shear(rig)
    assert rig["fish.drop"] == pytest.approx(rig["well.hole_depth"] - rig["well.bit_depth"], abs=0.01)
    assert rig["upper_pipe_ram.pipe"] == 0.0
    assert rig["stack.hung"] == 0.0


@pytest.mark.parametrize(("rpm", "least", "most"), [(0, 0.0, 0.0), (120, 0.3, 1.0)])
def test_turning_pipe_wears_the_annular_until_it_leaks(rpm: int, least: float, most: float) -> None:
    """Closed on pipe at 120 rpm for half a minute the packing is damaged and passes fluid; on still pipe it is not."""
    rig = still(66.0)
    rig.do("set", "floor.rotary", rpm, "floor")
    rig.wait(5.0)
    rig.seconds_to("upper_annular", "close")
    rig.wait(30.0)
    assert least <= rig["upper_annular.damage"] <= most
    assert (rig["upper_annular.leaks"] > 0.05) is (rpm > 0)


def test_a_ram_pressed_on_a_joint_is_damaged_and_leaks_later_on_plain_pipe() -> None:
    """Closed on a joint, opened, spaced out and closed again: it seats, and it leaks."""
    rig = still(73.0)
    assert rig[f"{RAM}.on_joint"] == 1.0
    rig.set(RAM, "close")
    rig.wait(30.0)
    assert rig[f"{RAM}.contact"] == 1.0
    assert rig[f"{RAM}.sealing"] == 0.0
    assert rig[f"{RAM}.damage"] == pytest.approx(0.6, abs=0.03)
    rig.set(RAM, "open")
    rig.wait(30.0)
    rig.do("hoist", "floor.hook", -7.0, "floor")
    rig.wait(20.0)
    rig.seconds_to(RAM, "close")
    rig.wait(5.0)
    assert rig[f"{RAM}.leaks"] > 0.2


@given(
    st.floats(-30, 60), st.floats(-0.5, 0.5), st.floats(-1, 2), st.floats(0, 5), st.floats(0, 5), st.floats(0, 2e6),
    st.floats(5e5, 3e7),
)  # fmt: skip
def test_the_pipe_never_passes_its_stops(
    hook: float, velocity: float, slack: float, down: float, up: float, weight: float, stiff: float
) -> None:
    """However the hook moves, the pipe goes no further than the rams allow, and no more is borne than hangs there."""
    before = hook - velocity * 0.1 + slack
    held, _, left, speed = hang(hook, hook, velocity, slack, down, up, weight, stiff, 0.0, 0.1)
    after = held + left
    assert before - down - 1e-9 <= after <= before + up + 1e-9
    assert speed == pytest.approx((after - before) / 0.1, abs=1e-6)
    assert 0.0 <= borne(left, stiff, weight, 0.0, down) <= weight
