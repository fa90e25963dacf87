"""Deadman and autoshear: what fires them, what they close in which time, and what each of their faults shows.

Pressures of the bank are those of its bottles worked out with nitrogen of Span et al. (2000) by CoolProp 8.0.0.
"""

from __future__ import annotations

from itertools import product

import pytest

from tests.plant.hands import PSI, Hands, file_of
from trainer.planning import fit_page
from trainer.plant.emergency import STATES, all_lost, battery_law, deadman_solenoid, loaded, no_load
from trainer.plant.rig import PlantError, plant_of

BSR, CSR, LOCKS = "blind_shear_ram", "casing_shear_ram", "ram_locks"
NEEDED = 2417.0
"""psi over the sea's with which the blind shear cuts with gas up to the stack: 1,900 + 6,204 / 12."""


def rig(bottles: int = 14, shear: float = 1900.0) -> Hands:
    data = file_of("wentletrap")
    data["emergency"]["bottles"] = bottles
    for function in data["function"]:
        if function["id"] == BSR:
            function["shear_pressure"] = f"{shear:g} psi"
    return Hands(plant_of(data, "wentletrap.toml"), settle=1.0)


def lose(hands: Hands, *what: str) -> None:
    for fault in what or ("cable_cut", "conduit_parted"):
        for pod in ("yellow", "blue"):
            hands.machine.set_fault(f"pod_{pod}.{fault}", 1.0)


def over_sea(hands: Hands) -> float:
    return (hands["deadman.bank.p"] - hands.plant.sea) / PSI


def test_of_sixteen_losses_one_fires() -> None:
    """Both conduits and both pods' power and signal: anything that is left keeps the deadman quiet."""
    fires = [
        loss for loss in product((0, 1), repeat=4)
        if all_lost([0.0 if gone else 9.0 for gone in loss[:2]], [0.0 if gone else 1.0 for gone in loss[2:]], 5.0)
    ]  # fmt: skip
    assert fires == [(1, 1, 1, 1)]


def test_a_weak_battery_looks_full_until_it_is_loaded() -> None:
    """V = E - I R: 24 V without load and 17 V under 2.0 A at a tenth of its charge, of 18 V that the coils need."""
    assert no_load(0.1) == pytest.approx(24.0) and loaded(0.1) == pytest.approx(17.0)
    assert loaded(1.0) > 25.0
    *_, weak = battery_law(0.1, 0.0, 24.0, 0.0, 0.0, 1.0, 0.1)
    *_, full = battery_law(1.0, 0.0, 26.0, 0.0, 0.0, 1.0, 0.1)
    assert (weak, full) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("a", "b", "polarity", "pulls"),
    [(1, 1, 0, 1), (1, 0, 0, 1), (0, 1, 0, 1), (0, 0, 0, 0), (1, 1, 1, 0), (1, 0, 1, 1), (0, 1, 1, 1), (0, 0, 1, 0)],
)
def test_a_coil_wired_backward_pulls_alone_and_not_with_the_other(a: int, b: int, polarity: int, pulls: int) -> None:
    assert deadman_solenoid(float(a), float(b), float(polarity)) == pulls


def test_both_shears_and_the_locks_close_on_the_bank_alone() -> None:
    """6 + 42 + 3 s from the loss until locked (at most 90 s: 30 CFR 250.734 as remembered), and the bank ends between
    no exchange of heat and all of it: 2,951 to 3,720 psi over the sea's."""
    hands = rig()
    lose(hands)
    hands.wait(5.8)
    assert hands["deadman.fired"] == 0.0
    assert STATES[int(hands["deadman.state"])] == "stale"
    cut = 5.8 + hands.until(lambda: hands[f"{CSR}.closed"] > 0.5)
    assert over_sea(hands) > 3743.0 * 0.995 and cut < 20.0
    assert hands[f"{BSR}.x"] == 0.0
    cut += hands.until(lambda: hands[f"{BSR}.closed"] > 0.5)
    assert 2951.0 < over_sea(hands) < 3720.0
    hands.wait(0.5)
    assert hands[f"{BSR}.cut"] == 1.0 and hands[f"{BSR}.sealing"] == 1.0
    # Power that comes back does not stop what has begun.
    hands.machine.set_fault("pod_blue.cable_cut", 0.0)
    locked = 0.5 + cut + hands.until(lambda: hands[f"{BSR}.locked"] > 0.5)
    assert locked == pytest.approx(51.0, abs=1.0)
    assert STATES[int(hands["deadman.state"])] == "fired"
    assert hands.lost() < 1e-9


@pytest.mark.parametrize("bottles", [10, 7])
def test_a_short_bank_has_no_reserve_or_does_not_cut(bottles: int) -> None:
    """With 10 bottles less is left at the end of the stroke than gas at the stack asks for; with 7 the blades stop."""
    # The well stands 100 psi (1,195 / 12) against the ram here: the rest of what gas at the stack asks for is added.
    hands = rig(bottles, NEEDED - 100.0)
    lose(hands)
    hands.wait(34.0)
    assert over_sea(hands) < NEEDED
    assert hands[f"{BSR}.cut"] == (1.0 if bottles == 10 else 0.0)
    assert (hands[f"{BSR}.x"] > 0.98) is (bottles == 10)


def test_ten_bottles_cut_since_the_pipe_is_met_before_the_end_of_the_stroke() -> None:
    """The rule asks for the pressure after all 28 gal, and 10 bottles have less (2,356 psi without exchange of heat).

    The blades meet the pipe at 62 % of the stroke, with 17 gal drawn: there the bank has some 300 psi more, and cut
    pipe resists no longer. So the ram closes, and what the rule asks for as reserve is missing.
    """
    hands = rig(10, NEEDED - 100.0)
    lose(hands)
    assert hands.until(lambda: hands[f"{BSR}.cut"] > 0.5, 60.0) < 60.0
    assert 0.6 < hands[f"{BSR}.x"] < 0.66 and 2650.0 < over_sea(hands) < 2750.0
    assert hands.until(lambda: hands[f"{BSR}.closed"] > 0.5, 20.0) < 20.0
    assert 2356.0 < over_sea(hands) < NEEDED


@pytest.mark.parametrize(
    ("faults", "fires"),
    [
        ((), True),
        (("deadman.not_armed",), False),
        (("deadman.battery_weak_yellow_a", "deadman.battery_weak_yellow_b", "deadman.coil_reversed_blue"), False),
        # A weak battery beside a coil wired backward: what fails in a test of both fires when it counts.
        (("deadman.battery_weak_yellow_a", "deadman.coil_reversed_yellow", "deadman.coil_reversed_blue"), True),
    ],
)
def test_one_pod_that_pulls_is_enough(faults: tuple[str, ...], fires: bool) -> None:
    hands = rig()
    for fault in faults:
        hands.machine.set_fault(fault, 1.0)
    hands.wait(0.3)
    assert (STATES[int(hands["deadman.state"])] == "disarmed") is ("deadman.not_armed" in faults)
    lose(hands)
    hands.wait(7.0)
    assert (hands["deadman.fired"] == 1.0) is fires


def test_a_lost_conduit_or_a_lost_cable_alone_fires_nothing_and_a_shut_bank_shows_its_pressure() -> None:
    hands = rig()
    hands.machine.set_fault("deadman.isolation_shut", 1.0)
    lose(hands, "conduit_parted")
    hands.wait(8.0)
    assert hands["deadman.fired"] == 0.0
    lose(hands, "cable_cut")
    hands.wait(12.0)
    assert hands["deadman.fired"] == 1.0
    assert hands[f"{CSR}.x"] < 0.02 and over_sea(hands) > 4850.0


@pytest.mark.parametrize("fault", ["", "autoshear.plunger_stuck", "deadman.wrong_arming"])
def test_the_autoshear_fires_as_the_riser_package_lifts(fault: str) -> None:
    hands = rig()
    if fault:
        hands.machine.set_fault(fault, 1.0)
    hands.do("push", "driller.enable", station="driller")
    hands.set("deadman.arm", "disarmed", "driller")
    hands.wait(0.3)
    armed = [STATES[int(hands[f"{what}.state"])] for what in ("deadman", "autoshear")]
    assert armed == (["armed", "disarmed"] if "arming" in fault else ["disarmed", "armed"])
    hands.do("push", "driller.enable", station="driller")
    hands.set("riser_connector", "open", "driller")
    assert hands.until(lambda: hands["bore.parted"] > 0.5, 40.0) < 40.0
    hands.wait(14.0)
    assert (hands[f"{CSR}.x"] > 0.9) is (not fault)


PODS = {
    "one pod": [["remove", "pod", "blue"], ["remove", "function", "blue_pod_connector"]],
    "three pods": [["add", "pod", "white", ""]],
}


@pytest.mark.parametrize("pods", PODS)
def test_with_one_pod_or_three_the_deadman_closes_and_each_pod_opens_again(pods: str) -> None:
    """Fluid and power of all pods off: it cuts, seals and locks. Then the last pod opens what the bank has closed."""
    hands = Hands(fit_page.drafted("wentletrap", "my_rig", "", PODS[pods]).plant(), settle=1.0)
    names = hands.plant.pods
    sides = [f"pod_{pod}.side_{letter}" for pod in names for letter in "ab"]
    hands.set("pod_selector", "block", "driller")
    hands.wait(2.0)
    hands.set("conduits.dump", "open", "driller")
    hands.wait(40.0)
    for side in sides:
        hands.set(side, "off", "driller")
    assert hands.until(lambda: hands["deadman.fired"] > 0.5, 30.0) < 12.0
    assert hands.until(lambda: hands[f"{BSR}.locked"] > 0.5, 90.0) < 60.0
    for side in sides:
        hands.set(side, "on", "driller")
    hands.wait(1.0)
    hands.set("conduits.dump", "shut", "driller")
    hands.set("pod_selector", names[-1], "driller")
    hands.wait(20.0)
    hands.do("push", "driller.enable", station="driller")
    assert hands.do("push", "deadman.reset", station="driller") is None
    hands.do("push", "driller.enable", station="driller")
    hands.set(LOCKS, "open", "driller")
    hands.set(BSR, "open", "driller")
    hands.set(CSR, "open", "driller")
    assert hands.until(lambda: hands[f"{BSR}.opened"] > 0.5, 180.0) < 180.0
    hands.do("push", "driller.enable", station="driller")
    assert hands.do("set", CSR, "close", "driller") is None
    assert hands.until(lambda: hands[f"{CSR}.closed"] > 0.5, 60.0) < 45.0, "the last pod's fluid goes past the shuttle"
    assert hands.lost() < 1e-9


def test_a_test_on_deck_is_put_back_recharged_and_armed_again() -> None:
    """Power off in both pods, fluid off: it fires; put back, opened, charged through the check valves, armed."""
    hands = rig()
    hands.set("pod_selector", "block", "driller")
    hands.wait(2.0)
    hands.set("conduits.dump", "open", "driller")
    assert hands.until(lambda: hands["pod_yellow.conduit_pressure"] / PSI < 100.0, 60.0) < 40.0
    hands.wait(7.0)
    assert hands["deadman.fired"] == 0.0, "the pods have their power"
    for side in ("yellow.side_a", "yellow.side_b", "blue.side_a", "blue.side_b"):
        hands.set(f"pod_{side}", "off", "driller")
    assert hands.until(lambda: hands["deadman.fired"] > 0.5, 60.0) == pytest.approx(6.0, abs=0.3)
    assert hands.until(lambda: hands[f"{BSR}.locked"] > 0.5, 60.0) < 50.0
    assert "No link" in str(hands.do("push", "deadman.reset", station="driller"))
    for side in ("yellow.side_a", "yellow.side_b", "blue.side_a", "blue.side_b"):
        hands.set(f"pod_{side}", "on", "driller")
    hands.wait(0.3)
    hands.set("conduits.dump", "shut", "driller")
    hands.set("pod_selector", "yellow", "driller")
    hands.wait(5.0)
    assert STATES[int(hands["deadman.state"])] == "fired"
    assert "enable" in str(hands.do("push", "deadman.reset", station="driller"))
    hands.do("push", "driller.enable", station="driller")
    assert hands.do("push", "deadman.reset", station="driller") is None
    assert hands[f"{BSR}.x"] > 0.98, "the panels ordered them open all the while, and the locks hold"
    hands.do("push", "driller.enable", station="driller")
    hands.set("ram_locks", "open", "driller")
    assert hands.until(lambda: hands[f"{BSR}.opened"] > 0.5, 120.0) < 120.0
    assert STATES[int(hands["deadman.state"])] == "disarmed"
    assert hands.until(lambda: hands["deadman.pressure"] / PSI > 4700.0, 900.0) < 900.0
    hands.do("push", "driller.enable", station="driller")
    hands.set("deadman.arm", "armed", "driller")
    hands.wait(0.3)
    assert STATES[int(hands["deadman.state"])] == "armed"
    assert hands.lost() < 1e-9


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"function": "upper_annular"}, "no function of the lower stack"),
        ({"at": "30 s"}, "out of order"),
        ({"function": BSR}, "twice"),
    ],
)
def test_a_sequence_that_fits_no_stack_is_refused(change: dict[str, str], told: str) -> None:
    data = file_of("wentletrap")
    data["emergency"]["step"][0].update(change)
    with pytest.raises(PlantError, match=told):
        plant_of(data, "wentletrap.toml")
