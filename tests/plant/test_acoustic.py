"""The acoustic back-up: times, noise at both ends, keys, its bank and its faults; and what else the stack shows."""

from __future__ import annotations

import pytest

from tests.plant.hands import GALLON, PSI, Hands, file_of
from trainer.plant.rig import PlantError, load_plant, plant_of

BOAT = "boat"
BSR = "blind_shear_ram"
ANSWERED, FIRED, NOT_FIRED, NO_REPLY = 2.0, 3.0, 4.0, 5.0


def alone(hangs: str = "shallow", **faults: float) -> Hands:
    """A stack that no pod works any more, with the transducer in the water and both keys on."""
    data = file_of("wentletrap")
    data["acoustic"]["lower"] = "5 s"
    hands = Hands(plant_of(data, "wentletrap.toml"), settle=1.0)
    hands.machine.set_fault("deadman.not_armed", 1.0)
    for pod in ("yellow", "blue"):
        hands.machine.set_fault(f"pod_{pod}.cable_cut", 1.0)
        hands.machine.set_fault(f"pod_{pod}.conduit_parted", 1.0)
    for fault, severity in faults.items():
        hands.machine.set_fault(f"acoustic.{fault}", severity)
    hands.set("acoustic.transducer", hangs, BOAT)
    for key in (1, 2):
        hands.set(f"acoustic.key_{key}", "on", BOAT)
    hands.wait(11.0)
    return hands


def send(hands: Hands, order: str) -> float:
    """Send an order and wait for its outcome; the seconds that it took."""
    assert hands.do("push", f"acoustic.{order}", None, BOAT) is None
    return hands.until(lambda: hands["acoustic.reply"] > 1.5, 60.0)


def over_sea(hands: Hands) -> float:
    """What the bank has over the sea, psi."""
    return (hands["deadman.bank.p"] - hands["sea.p"]) / PSI


def test_a_code_of_5_s_goes_down_and_its_answer_comes_up() -> None:
    """5 s and twice 7,400 ft at 1,484 m/s: 8.04 s, so 8.1 by a clock of tenths."""
    hands = alone()
    assert send(hands, "status") == pytest.approx(5.0 + 2.0 * 1.52, abs=0.1)
    assert hands["acoustic.reply"] == ANSWERED and hands["acoustic.bank"] / PSI == pytest.approx(
        over_sea(hands), abs=1.0
    )
    assert send(hands, BSR) == pytest.approx(8.1, abs=0.1) and hands["acoustic.reply"] == FIRED
    assert hands.until(lambda: hands[f"{BSR}.closed"] > 0.5 and hands[f"{BSR}.sealing"] == 1.0, 30.0) < 30.0
    send(hands, "ram_locks")
    assert hands.until(lambda: hands[f"{BSR}.locked"] > 0.5, 20.0) < 20.0
    assert hands.lost() < 1e-9


def test_every_order_moves_its_function_and_takes_its_volume_from_the_bank() -> None:
    hands = alone()
    for function in hands.plant.function:
        if function.id not in hands.plant.acoustic.command or function.kind == "lock":  # type: ignore[union-attr]
            continue
        before = hands["deadman.fluid"]
        assert send(hands, function.id) < 10.0
        hands.wait(30.0)
        assert hands[f"{function.id}.closed"] > 0.5
        assert before - hands["deadman.fluid"] == pytest.approx(function.close_volume, abs=0.6 * GALLON)


@pytest.mark.parametrize(
    ("hangs", "fault", "reply", "moves"),
    [
        ("shallow", "", FIRED, True),
        ("shallow", "thruster_noise", NO_REPLY, True),  # carried out, and its answer drowns
        ("deep", "thruster_noise", FIRED, True),
        ("deep", "gas_noise", NO_REPLY, False),
        ("deep", "arm_folded", NO_REPLY, False),
        ("deep", "battery_weak", NOT_FIRED, False),
    ],
)
def test_what_each_fault_shows_and_what_it_stops(hangs: str, fault: str, reply: float, moves: bool) -> None:
    hands = alone(hangs, **({fault: 1.0} if fault else {}))
    loud = hands["acoustic.noise"] > hands["acoustic.most"]
    assert loud is (fault == "thruster_noise" and hangs == "shallow")
    send(hands, "lower_pipe_ram")
    hands.wait(30.0)
    assert hands["acoustic.reply"] == reply and (hands["lower_pipe_ram.x"] > 0.95) is moves
    if reply == NO_REPLY:
        assert hands["acoustic.tries"] == 3.0
    if fault == "battery_weak":
        assert hands["acoustic.volts"] < 18.0
        assert send(hands, "status") < 10.0 and hands["acoustic.volts"] > 23.0, "without load it hides"


@pytest.mark.parametrize(("used", "cuts"), [(0.3, True), (0.62, False)])
def test_a_bank_that_was_used_before_is_told_and_does_not_cut(used: float, cuts: bool) -> None:
    hands = alone(bank_used=used)
    hands.wait(120.0)
    send(hands, "status")
    assert hands["acoustic.bank"] / PSI == pytest.approx(4929 - used * 4629, abs=60.0)
    send(hands, BSR)
    hands.wait(60.0)
    assert (hands[f"{BSR}.sealing"] > 0.5) is cuts


def test_nothing_is_sent_without_both_keys_or_from_a_stowed_transducer() -> None:
    hands = alone()
    hands.set("acoustic.key_2", "off", BOAT)
    assert "Both keys" in str(hands.do("push", f"acoustic.{BSR}", None, BOAT))
    hands.set("acoustic.key_2", "on", BOAT)
    assert hands.do("push", f"acoustic.{BSR}", None, BOAT) is None
    assert "on its way" in str(hands.do("push", "acoustic.status", None, BOAT))
    hands.wait(3.0)
    hands.set("acoustic.key_1", "off", BOAT)
    hands.wait(30.0)
    assert hands["acoustic.reply"] == 0.0 and hands[f"{BSR}.x"] < 0.02, "turned back before the code was out"
    hands.set("acoustic.transducer", "stowed", BOAT)
    hands.wait(1.0)
    assert "lower it" in str(hands.do("push", "acoustic.status", None, BOAT))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"command": ["diverter_packer"]}, "no function of the stack"),
        ({"command": ["ram_locks", "ram_locks"]}, "twice"),
    ],
)
def test_an_acoustic_back_up_that_fits_no_stack_is_refused(change: dict[str, object], told: str) -> None:
    data = file_of("wentletrap")
    data["acoustic"] |= change
    with pytest.raises(PlantError, match=told):
        plant_of(data, "wentletrap.toml")
    data = file_of("wentletrap")
    del data["emergency"]
    with pytest.raises(PlantError, match="draws on the bank"):
        plant_of(data, "wentletrap.toml")


# -- the second piston of the riser connector, the pull, and what the vehicle sees


def unlatch(hands: Hands, function: str, way: str) -> None:
    assert hands.do("push", "driller.enable", None, "driller") is None
    hands.set(function, way, "driller")
    hands.wait(20.0)


def test_a_stuck_connector_is_driven_open_by_its_second_piston() -> None:
    hands = Hands("wentletrap", settle=1.0)
    hands.machine.set_fault("riser_connector.stuck", 1.0)
    unlatch(hands, "riser_connector", "open")
    assert hands["bore.parted"] == 0.0 and hands["pod_yellow.count"] / GALLON < 0.5
    unlatch(hands, "secondary_unlatch", "close")
    assert hands["pod_yellow.total"] / GALLON == pytest.approx(12.4, abs=0.8)
    assert hands["riser_connector.x"] > 0.99 and hands["riser_connector.ring"] < 0.02 and hands["bore.parted"] == 1.0


def test_an_unlatched_package_comes_off_only_when_it_is_pulled_and_the_vehicle_sees_the_ring() -> None:
    hands = Hands("wentletrap", settle=1.0)
    hands.set("position.pull", 1500.0, "driller")
    hands.wait(15.0)
    assert hands["position.spare"] < 0.0
    unlatch(hands, "riser_connector", "open")
    assert hands["bore.parted"] == 0.0
    hands.set("rov.look", "riser_connector", "vehicle")
    hands.wait(1.0)
    assert hands["rov.picture"] == 0.0, "it is on its way there"
    hands.wait(30.0)
    assert hands["rov.picture"] == 1.0
    hands.set("position.pull", 1640.0, "driller")
    hands.wait(15.0)
    assert hands["bore.parted"] == 1.0


def test_the_vehicle_does_not_look_while_it_holds_its_stab() -> None:
    hands = Hands("wentletrap", settle=1.0)
    hands.set("rov.port", "port 1", "vehicle")
    hands.wait(1.0)
    assert "pull it" in str(hands.do("set", "rov.look", "ram_locks", "vehicle"))
    hands.set("rov.port", "none", "vehicle")
    hands.set("rov.look", BSR, "vehicle")
    hands.wait(31.0)
    assert hands["rov.picture"] == 1.0
    hands.set("rov.port", "port 1", "vehicle")
    hands.wait(1.0)
    assert hands["rov.picture"] == 0.0


def test_a_second_piston_releases_a_connector() -> None:
    data = file_of("wentletrap")
    next(f for f in data["function"] if f["id"] == "secondary_unlatch")["releases"] = "ram_locks"
    with pytest.raises(PlantError, match="no connector"):
        plant_of(data, "wentletrap.toml")


def test_a_rig_may_be_without_it() -> None:
    data = file_of("wentletrap")
    del data["acoustic"]
    assert plant_of(data, "wentletrap.toml").acoustic is None and load_plant("wentletrap")[0].acoustic is not None
