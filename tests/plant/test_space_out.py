"""What stands in each ram: the hook heights at which a joint blocks it, and when a line sees the well."""

from __future__ import annotations

import pytest

from tests.plant.hands import Hands

BLOCKED = {
    "quillback": {
        "casing_shear_ram": (4.4, 7.6),
        "blind_shear_ram": (1.4, 4.6),
        "upper_pipe_ram": (29.4, 32.6),
        "middle_pipe_ram": (26.4, 29.6),
        "lower_pipe_ram": (20.4, 23.6),
    },
    "sandpiper": {"upper_pipe_ram": (29.4, 32.6), "blind_shear_ram": (27.4, 30.6), "lower_pipe_ram": (23.4, 26.6)},
}
"""Height (ft) of the nearest joint above the upper pipe ram between which each ram has a joint in it: worked out by
hand from the heights of the rams, joints 31 ft apart, half a joint and half a block 1.64 ft."""


@pytest.mark.parametrize("plant", BLOCKED)
def test_each_ram_knows_its_joint_at_every_height_of_the_hook(plant: str) -> None:
    """The string lifted through a whole joint: each ram blocked just where the hand-made table has it."""
    rig = Hands(plant)
    rig.wait(0.2)
    for step in range(124):
        rig.machine.put("floor.hook", (40.0 + 0.25 * step) * 0.3048)
        rig.machine.put("floor.hook.set", (40.0 + 0.25 * step) * 0.3048)
        rig.wait(0.3)
        h = rig.machine.read("floor.tool_joint") / 0.3048
        clear = 1.0
        for ram, (low, high) in BLOCKED[plant].items():
            blocked = low < h < high or low < h + 31.0 < high
            near = min(abs(edge - at) for edge in (low, high) for at in (h, h + 31.0))
            if near > 0.1:
                assert rig.machine.read(f"{ram}.on_joint") == float(blocked), (ram, h)
                assert (rig.machine.read(f"{ram}.clearance") < 0.0) is blocked
                assert rig.machine.read(f"{ram}.pipe") == (2.0 if blocked else 1.0)
            clear *= 1.0 - rig.machine.read(f"{ram}.on_joint")
        assert rig.machine.read("stack.all_clear") == clear


def _open(rig: Hands, pair: str, line: str) -> None:
    for valve in ("inner", "outer"):
        rig.set(f"{pair}_{valve}_{line}", "open")
    rig.wait(10.0)


def test_an_outlet_above_the_closed_ram_does_not_see_the_well() -> None:
    """Out of the hole, blind shear shut: the upper choke outlet is blind, the lower one sees the well."""
    rig = Hands()
    rig.start("out_of_hole")
    rig.wait(2.0)
    rig.set("blind_shear_ram", "close")
    rig.wait(40.0)
    assert rig["blind_shear_ram.sealing"] == 1.0
    _open(rig, "upper", "choke")
    assert rig["choke_line.sees_well"] == 0.0
    _open(rig, "lower", "choke")
    assert rig["choke_line.sees_well"] == 1.0
    _open(rig, "lower", "kill")
    assert rig["kill_line.sees_well"] == 1.0


def test_a_closed_annular_leaves_either_outlet_open_to_the_well() -> None:
    """On pipe: upper annular shut, both outlets see; the lowest ram shut too, only what lies under it."""
    rig = Hands()
    assert rig.do("set", "floor.mud_pumps", 0, "floor") is None
    assert rig.do("hoist", "floor.hook", 21, "floor") is None
    rig.wait(30.0)
    assert rig["stack.all_clear"] == 1.0
    rig.set("upper_annular", "close")
    rig.wait(40.0)
    _open(rig, "upper", "choke")
    assert rig["upper_annular.contact"] == 1.0
    assert rig["choke_line.sees_well"] == 1.0
    rig.set("lower_pipe_ram", "close")
    rig.wait(30.0)
    assert rig["lower_pipe_ram.sealing"] == 1.0
    assert rig["choke_line.sees_well"] == 0.0
    _open(rig, "lower", "kill")
    assert rig["kill_line.sees_well"] == 1.0
