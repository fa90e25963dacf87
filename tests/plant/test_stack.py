"""The stack's functions: locks, springs, connectors, isolation, shearing, sealing, disconnecting."""

from __future__ import annotations

import pytest

from tests.plant.hands import GALLON, PSI, Hands

FAILSAFE = "upper_inner_choke"


@pytest.fixture
def rig() -> Hands:
    return Hands()


def enabled(rig: Hands, target: str, value: str) -> None:
    assert rig.do("push", "driller.enable", None, "driller") is None
    rig.set(target, value, "driller")


def test_a_locked_ram_stays_closed_without_pressure_and_opens_only_unlocked(rig: Hands) -> None:
    assert rig.seconds_to("upper_pipe_ram", "close") < 45.0
    rig.set("ram_locks", "close")
    rig.wait(20.0)
    assert rig["upper_pipe_ram.locked"] == 1.0
    rig.set("upper_pipe_ram", "block")
    rig.wait(20.0)
    assert rig.psi("upper_pipe_ram.close_pressure") < 5.0
    assert rig["upper_pipe_ram.sealing"] == 1.0
    assert rig.seconds_to("upper_pipe_ram", "open", 20.0) == float("inf")
    rig.set("ram_locks", "open")
    assert rig.until(lambda: rig["upper_pipe_ram.opened"] > 0.5, 30.0) < 30.0
    assert rig.lost() < 1e-9


def test_locks_find_no_room_behind_open_rams(rig: Hands) -> None:
    rig.set("ram_locks", "close")
    rig.wait(20.0)
    assert rig["ram_locks.position"] < 0.2
    assert rig["upper_pipe_ram.locked"] == 0.0


def test_an_unlocked_ram_without_pressure_does_not_hold_a_balanced_well(rig: Hands) -> None:
    rig.do("set", "floor.mud_pumps", 0, "floor")
    rig.wait(20.0)
    rig.seconds_to("upper_pipe_ram", "close")
    rig.wait(5.0)
    assert rig["upper_pipe_ram.sealing"] == 1.0
    rig.set("upper_pipe_ram", "block")
    rig.wait(20.0)
    assert rig["upper_pipe_ram.sealing"] == 0.0


def test_the_well_helps_a_closed_ram_stay_closed(rig: Hands) -> None:
    rig.do("set", "floor.mud_pumps", 0, "floor")
    rig.wait(20.0)
    rig.seconds_to("upper_pipe_ram", "close")
    rig.wait(5.0)
    before = rig["upper_pipe_ram.closing"]
    rig.machine.put("well.stack_pressure", rig["well.stack_pressure"] + 2000.0 * PSI)
    rig.wait(0.2)
    assert rig["upper_pipe_ram.closing"] > before + 300.0 * PSI


def test_failsafe_valves_close_by_spring_in_block(rig: Hands) -> None:
    assert rig.seconds_to(FAILSAFE, "open") < 10.0
    rig.set(FAILSAFE, "block")
    assert rig.until(lambda: rig[f"{FAILSAFE}.closed"] > 0.5, 30.0) < 10.0


def test_a_broken_spring_leaves_the_valve_open(rig: Hands) -> None:
    rig.machine.set_fault(f"{FAILSAFE}.spring_broken", 1.0)
    rig.seconds_to(FAILSAFE, "open")
    rig.set(FAILSAFE, "block")
    rig.wait(30.0)
    assert rig[f"{FAILSAFE}.opened"] == 1.0


def test_blades_stop_on_pipe_until_the_pressure_shears_it(rig: Hands) -> None:
    """Shear pressure adds to what the well asks (well pressure / closing ratio): 1500 psi does not cut this pipe."""
    enabled(rig, "blind_shear_ram", "close")
    rig.wait(25.0)
    assert rig["bore.sheared"] == 0.0
    assert rig["blind_shear_ram.sealing"] == 0.0
    assert 0.6 < rig["blind_shear_ram.position"] < 0.65
    assert rig.do("raise", "manifold_regulator", 20.0, "driller") is None
    rig.wait(40.0)
    assert rig["bore.sheared"] == 1.0
    assert rig["blind_shear_ram.sealing"] == 1.0


def test_the_casing_shear_cuts_and_does_not_seal(rig: Hands) -> None:
    enabled(rig, "casing_shear_ram", "close")
    rig.wait(30.0)
    assert rig["bore.sheared"] == 1.0
    assert rig["casing_shear_ram.closed"] == 1.0
    assert rig["casing_shear_ram.sealing"] == 0.0


def test_nothing_shears_collars_and_a_pipe_ram_does_not_fit_them() -> None:
    rig = Hands()
    rig.start("collars")
    rig.wait(2.0)
    assert rig["bore.pipe"] == 2.0
    rig.do("raise", "manifold_regulator", 20.0, "driller")
    rig.wait(30.0)
    enabled(rig, "blind_shear_ram", "close")
    rig.set("upper_pipe_ram", "close", "driller")
    rig.wait(30.0)
    assert rig["bore.sheared"] == 0.0
    assert rig["upper_pipe_ram.sealing"] == 0.0
    assert rig["upper_pipe_ram.closed"] == 0.0
    rig.set("upper_annular", "close", "driller")
    rig.wait(30.0)
    assert rig["upper_annular.sealing"] == 1.0


def test_a_tool_joint_stops_a_ram(rig: Hands) -> None:
    ram = next(f for f in rig.plant.function if f.id == "lower_pipe_ram")
    joint = rig.plant.floor.stand_length / rig.plant.floor.joints_in_stand
    here = rig["floor.tool_joint"] + ram.below
    for variable in ("floor.hook", "floor.hook.set"):
        rig.machine.put(variable, rig[variable] + (joint - here) % joint)
    rig.wait(1.0)
    rig.set("lower_pipe_ram", "close")
    rig.wait(20.0)
    assert rig["lower_pipe_ram.closed"] == 0.0
    assert rig["lower_pipe_ram.sealing"] == 0.0


def test_an_unlatched_pod_feeds_nothing_and_the_other_does(rig: Hands) -> None:
    enabled(rig, "yellow_pod_connector", "open")
    assert rig.until(lambda: rig["yellow_pod_connector.opened"] > 0.5, 30.0) < 30.0
    rig.set("middle_pipe_ram", "close")
    rig.wait(25.0)
    assert rig["middle_pipe_ram.position"] < 0.02
    rig.set("pod_selector", "blue")
    assert rig.until(lambda: rig["middle_pipe_ram.closed"] > 0.5, 60.0) < 60.0
    assert rig.lost() < 1e-9


def test_stack_bottles_are_isolated_by_their_function(rig: Hands) -> None:
    assert rig["stack_bottles.isolation"] == 1.0
    rig.set("stack_isolation", "close")
    rig.wait(15.0)
    assert rig["stack_bottles.isolation"] == 0.0
    fluid = rig["stack_bottles.v"]
    rig.seconds_to("upper_annular", "close")
    assert rig["stack_bottles.v"] == pytest.approx(fluid, rel=1e-6)


def test_flow_count_tells_the_volume_of_a_function(rig: Hands) -> None:
    rig.do("push", "totaliser.reset")
    rig.seconds_to("middle_pipe_ram", "close")
    rig.wait(60.0)
    ram = next(f for f in rig.plant.function if f.id == "middle_pipe_ram")
    # What the lines gave up comes back to them through the meter: the count is the piston's volume.
    assert rig["totaliser.count"] == pytest.approx(ram.close_volume, abs=2.5 * GALLON)


class TestDisconnect:
    def test_it_asks_for_enable_and_arming(self, rig: Hands) -> None:
        assert "Arm" in (rig.do("push", "eds.start", None, "driller") or "")
        assert "enable" in (rig.do("push", "eds.arm", None, "driller") or "")
        rig.do("push", "driller.enable", None, "driller")
        assert rig.do("push", "eds.arm", None, "driller") is None
        rig.wait(0.1)
        assert rig["eds.state"] == 1.0
        rig.wait(21.0)
        assert rig["eds.state"] == 0.0
        assert rig.do("push", "eds.start", None, "driller") is not None

    def test_it_shears_seals_locks_and_lets_the_riser_go_for_good(self, rig: Hands) -> None:
        rig.do("push", "driller.enable", None, "driller")
        rig.do("push", "eds.arm", None, "driller")
        assert rig.do("push", "eds.start", None, "driller") is None
        rig.wait(2.0)
        assert "locked out" in (rig.do("set", "upper_annular", "close", "driller") or "")
        rig.until(lambda: rig["bore.disconnected"] > 0.5)
        assert rig["bore.sheared"] == 1.0
        assert rig["blind_shear_ram.sealing"] == 1.0
        assert rig["blind_shear_ram.locked"] == 1.0
        assert rig["bore.area"] == 0.0
        rig.wait(15.0)
        assert rig["eds.state"] == 3.0
        assert rig["blind_shear_ram.sealing"] == 1.0
        rig.set("riser_connector", "close")
        rig.set("lower_annular", "close")
        rig.wait(60.0)
        assert rig["bore.disconnected"] == 1.0
        assert rig["lower_annular.position"] < 0.02
        assert rig.lost() < 1e-9

    def test_without_air_it_does_nothing(self, rig: Hands) -> None:
        rig.machine.set_fault("air.lost", 1.0)
        rig.machine.put("air.p", 0.0)
        rig.wait(2.0)
        rig.do("push", "driller.enable", None, "driller")
        rig.do("push", "eds.arm", None, "driller")
        rig.do("push", "eds.start", None, "driller")
        rig.wait(60.0)
        assert rig["bore.sheared"] == 0.0
        assert rig["bore.disconnected"] == 0.0

    def test_a_stalled_sequence_leaves_the_connector_locked(self, rig: Hands) -> None:
        rig.machine.set_fault("eds.stalls", 1.0)
        rig.do("push", "driller.enable", None, "driller")
        rig.do("push", "eds.arm", None, "driller")
        rig.do("push", "eds.start", None, "driller")
        rig.wait(90.0)
        assert rig["riser_connector.closed"] == 1.0
        assert rig["bore.disconnected"] == 0.0
        assert rig["eds.clock"] < 34.0


class TestDiverter:
    def test_the_packer_refuses_without_a_way_overboard(self, rig: Hands) -> None:
        assert "Interlock" in (rig.do("set", "diverter_packer", "close") or "")
        rig.set("port_overboard", "open")
        rig.wait(10.0)
        assert rig.do("set", "diverter_packer", "close") is None
        rig.wait(25.0)
        assert rig["diverter.closed"] == 1.0
        assert "only way" in (rig.do("set", "port_overboard", "close") or "")
        rig.set("starboard_overboard", "open")
        rig.wait(10.0)
        assert rig.do("set", "port_overboard", "close") is None
        assert rig.lost() < 1e-9

    @pytest.mark.parametrize(("side", "wind"), [("starboard", 1.0), ("port", 2.0)])
    def test_the_divert_button_opens_the_chosen_side_first(self, rig: Hands, side: str, wind: float) -> None:
        """Heading 300, wind from 250 degrees: port looks to 210 and is upwind, starboard to 30 and is downwind."""
        rig.set("diverter.side", side, "driller")
        assert "enable" in (rig.do("push", "diverter.divert", None, "driller") or "")
        rig.do("push", "driller.enable", None, "driller")
        assert rig.do("push", "diverter.divert", None, "driller") is None
        rig.until(lambda: rig["diverter_packer.valve"] > 1.5)
        assert rig[f"{side}_overboard.x"] < 0.1
        rig.wait(30.0)
        assert rig["diverter.closed"] == 1.0
        assert rig["diverter_flowline.closed"] == 1.0
        assert rig["diverter.path"] == (2.0 if side == "port" else 3.0)
        assert rig["diverter.wind"] == wind

    def test_with_the_interlock_defeated_the_packer_closes_on_nothing(self, rig: Hands) -> None:
        rig.machine.set_fault("diverter.interlock_defeated", 1.0)
        rig.set("diverter_packer", "close")
        rig.set("diverter_flowline", "close")
        rig.wait(30.0)
        assert rig["diverter.closed"] == 1.0
        assert rig["diverter.path"] == 0.0
