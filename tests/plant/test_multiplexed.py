"""Orders as messages: what they take, what is answered, what a coil wired backward does, and what a lost link hides."""

from __future__ import annotations

from itertools import product

import pytest

from tests.plant.hands import GALLON, PSI, Hands, file_of
from trainer import resources, toml
from trainer.plant.conduits import Conduits
from trainer.plant.multiplexed import ANSWERS, PULL_IN, pull
from trainer.plant.rig import Plant, PlantError, load_plant, plant_of
from trainer.units import from_unit

RAM, VALVE = "upper_pipe_ram", "upper_inner_kill"


@pytest.fixture
def hands() -> Hands:
    return Hands("wentletrap", settle=3.0)


def order(hands: Hands, function: str, way: str) -> None:
    hands.set(function, way, "driller")


def answer(hands: Hands, function: str) -> str:
    return ANSWERS[int(hands[f"{function}.answer"])]


@pytest.mark.parametrize(("energized", "polarities"), list(product(("A", "B", "AB"), product((1, -1), (1, -1)))))
def test_two_coils_on_one_core_add_or_cancel(energized: str, polarities: tuple[int, int]) -> None:
    """|pA IA + pB IB| >= 0.7 A, each coil 1.0 A: one coil always shifts it, both do unless wired against each other."""
    amps = [1.0 if side in energized else 0.0 for side in "AB"]
    expected = abs(polarities[0] * amps[0] + polarities[1] * amps[1])
    found = pull(amps[0], amps[1], 0.0, 1.0 if polarities[0] != polarities[1] else 0.0)
    assert found == expected
    assert (found >= PULL_IN) is (energized != "AB" or polarities[0] == polarities[1])


def test_an_order_takes_its_way_and_so_does_the_answer(hands: Hands) -> None:
    """0.7 s to the coil, 0.4 s for the pod's valve, 0.5 s back; and the ram within 45 s (30 CFR 250.731, 45 s)."""
    order(hands, RAM, "close")
    assert hands.until(lambda: hands[f"{RAM}.x"] > 0.001) == pytest.approx(0.9, abs=0.25)
    assert answer(hands, RAM) == "waiting" and hands[f"{RAM}.lamp_close"] == 0.0
    hands.wait(1.2)
    assert answer(hands, RAM) == "answered" and hands[f"{RAM}.lamp_close"] == 1.0
    assert hands[f"{RAM}.closed"] == 0.0, "the answer is the valve's in the pod, not the ram's"
    assert hands.until(lambda: hands[f"{RAM}.closed"] > 0.5) < 45.0
    hands.wait(2.0)
    assert hands["totaliser.count"] / GALLON > 10.0
    assert hands.lost() < 1e-9


def test_a_pods_meter_counts_what_its_functions_take_since_the_order(hands: Hands) -> None:
    """18 gal to close and what the lines take; the count at the surface follows by what the bottles give and take."""
    order(hands, RAM, "close")
    hands.wait(20.0)
    count = hands["pod_yellow.count"] / GALLON
    assert count == pytest.approx(18.0, abs=1.0) and hands["pod_yellow.flow"] == 0.0
    hands.wait(30.0)
    assert hands["pod_yellow.count"] / GALLON == pytest.approx(count, abs=0.05)
    assert hands["totaliser.count"] / GALLON < count - 2.0, "the bottles on the stack gave the rest"
    assert hands["pod_blue.count"] == 0.0
    order(hands, RAM, "open")
    hands.wait(0.1)
    assert hands["pod_yellow.count"] < 1.0 * GALLON < hands["pod_yellow.total"]
    hands.wait(15.0)
    assert hands["pod_yellow.count"] / GALLON == pytest.approx(17.0, abs=1.0)


def test_a_meter_that_fails_and_a_lost_link_show_what_they_show(hands: Hands) -> None:
    hands.machine.set_fault("pod_yellow.meter_double", 1.0)
    order(hands, RAM, "close")
    hands.wait(20.0)
    assert hands["pod_yellow.count"] / GALLON == pytest.approx(36.0, abs=2.0)
    hands.machine.set_fault("pod_yellow.cable_cut", 1.0)
    hands.wait(0.5)
    shown = hands["pod_yellow.count"]
    hands.machine.set_fault("pod_yellow.meter_double", 0.0)
    hands.machine.set_fault("pod_yellow.meter_dead", 1.0)
    order(hands, VALVE, "open")
    hands.wait(5.0)
    assert hands["pod_yellow.count"] == shown
    hands.machine.set_fault("pod_yellow.cable_cut", 0.0)
    order(hands, VALVE, "close")
    hands.wait(5.0)
    assert hands["pod_yellow.count"] == 0.0


def test_the_newest_order_wins(hands: Hands) -> None:
    order(hands, VALVE, "open")
    hands.wait(0.3)
    order(hands, VALVE, "close")
    hands.wait(4.0)
    assert hands[f"{VALVE}.position"] == 1.0 and answer(hands, VALVE) == "answered"


@pytest.mark.parametrize("side", ["A", "B", "both"])
def test_a_reversed_coil_answers_on_either_side_alone_and_not_on_both(hands: Hands, side: str) -> None:
    hands.machine.set_fault(f"{RAM}.coil_reversed_yellow", 1.0)
    for letter in "ab":
        hands.set(f"pod_yellow.side_{letter}", "on" if side in (letter.upper(), "both") else "off", "driller")
    order(hands, RAM, "close")
    hands.wait(5.0)
    works = side != "both"
    assert answer(hands, RAM) == ("answered" if works else "no answer")
    assert (hands[f"{RAM}.x"] > 0.1) is works
    # The other pod's coils are sound.
    hands.set("pod_selector", "blue", "driller")
    hands.wait(14.0)
    assert hands[f"{RAM}.closed"] == 1.0


def test_a_lost_link_leaves_readings_stale_and_the_other_pod_works(hands: Hands) -> None:
    hands.machine.set_fault("pod_yellow.cable_cut", 1.0)
    hands.wait(0.3)
    assert hands["link_yellow.up"] == 0.0 and hands["link_blue.up"] == 1.0
    assert answer(hands, RAM) == "stale"
    order(hands, RAM, "close")
    hands.wait(5.0)
    assert hands[f"{RAM}.x"] < 0.01 and hands[f"{RAM}.lamp_open"] == 1.0
    # The yellow pod keeps its last order, open, until its line has bled down.
    hands.set("pod_selector", "blue", "driller")
    assert 10.0 < hands.until(lambda: hands[f"{RAM}.closed"] > 0.5) < 90.0
    assert answer(hands, RAM) == "answered"


def test_frozen_screens_show_the_old_and_raise_no_alarm(hands: Hands) -> None:
    hands.machine.set_fault("telemetry.frozen", 1.0)
    hands.wait(0.2)
    clock = hands["telemetry.clock"]
    order(hands, VALVE, "open")
    hands.wait(5.0)
    assert hands["telemetry.clock"] == clock and hands["alarms.horn"] == 0.0
    assert hands[f"{VALVE}.position"] < 0.1, "it opened"
    assert hands[f"{VALVE}.lamp_close"] == 1.0 and answer(hands, VALVE) == "answered"
    hands.machine.set_fault("telemetry.frozen", 0.0)
    hands.wait(1.0)
    assert hands[f"{VALVE}.lamp_open"] == 1.0


def test_one_controller_is_enough_and_a_noisy_slip_ring_is_slow(hands: Hands) -> None:
    assert hands.do("push", "telemetry.takeover", station="driller") is None
    hands.wait(0.1)
    assert hands["telemetry.leads"] == 2.0
    hands.machine.set_fault("telemetry.b_dead", 1.0)
    hands.wait(0.2)
    assert hands["telemetry.leads"] == 1.0
    assert "no other" in str(hands.do("push", "telemetry.takeover", station="driller"))
    hands.machine.set_fault("pod_yellow.slip_ring_noisy", 1.0)
    hands.wait(0.2)
    order(hands, VALVE, "open")
    assert hands.until(lambda: hands[f"{VALVE}.position"] < 0.99) == pytest.approx(1.5, abs=0.3)
    assert hands["link_yellow.retries"] > 5.0 and hands["link_blue.retries"] == 0.0
    hands.machine.set_fault("telemetry.a_dead", 1.0)
    hands.wait(0.3)
    assert hands["telemetry.leads"] == 0.0 and answer(hands, VALVE) == "stale"


def test_no_lever_on_deck_moves_what_telemetry_works(hands: Hands) -> None:
    for function in hands.plant.function:
        stations = hands.machine.operables["set", function.id].station
        assert ("unit" in stations) is (function.place == "diverter"), function.id
    refusal = hands.do("set", RAM, "close", "unit")
    assert refusal is not None and "driller" in refusal
    assert ("set", "manifold_regulator") not in hands.machine.operables
    assert hands.do("raise", "manifold_regulator", 4.0, "driller") is None
    hands.wait(8.0)
    assert hands["manifold_regulator.readback"] / PSI == pytest.approx(1800.0, abs=30.0)


@pytest.mark.parametrize(
    ("sequence", "done", "shears"),
    [("pipe", 50, True), ("casing", 66, True), ("empty", 36, True), ("secured", 14, False)],
)
def test_a_chosen_sequence_lets_go_when_it_says(hands: Hands, sequence: str, done: float, shears: bool) -> None:
    """Shears, locks, stingers and connector by message, within 90 s; the connector itself within 45 s of its order."""
    assert hands.do("set", "eds.sequence", sequence, "driller") is None
    assert "enable first" in str(hands.do("push", "eds.arm", station="driller"))
    hands.do("push", "driller.enable", station="driller")
    assert "Arm the emergency disconnect first" in str(hands.do("push", "eds.start", station="driller"))
    assert hands.do("push", "eds.arm", station="driller") is None
    assert "safe again" in str(hands.do("set", "eds.sequence", "pipe", "driller"))
    assert hands.do("push", "eds.start", station="remote") is None
    hands.wait(1.0)
    assert "locked out" in str(hands.do("set", RAM, "close", "driller"))
    took = hands.until(lambda: hands["riser_connector.opened"] > 0.5)
    assert took + 1.0 == pytest.approx(done, abs=1.5) and took < 90.0
    assert hands["bore.disconnected"] > 0.5
    assert (hands["blind_shear_ram.closed"] > 0.5) is shears and (hands["ram_locks.closed"] > 0.5) is shears
    assert hands["yellow_pod_connector.opened"] > 0.5 and hands["pod_yellow.joined_stack"] == 0.0
    hands.wait(2.0)
    assert "cannot be undone" in str(hands.do("set", "eds.sequence", "pipe", "driller"))


def test_a_sequence_does_nothing_in_a_pod_that_hears_nothing(hands: Hands) -> None:
    for pod in ("yellow", "blue"):
        hands.machine.set_fault(f"pod_{pod}.cable_cut", 1.0)
    hands.wait(0.3)
    for button in ("driller.enable", "eds.arm", "eds.start"):
        assert hands.do("push", button, station="driller") is None
    hands.wait(60.0)
    assert hands["bore.disconnected"] < 0.5 and hands["casing_shear_ram.x"] < 0.01
    assert answer(hands, "riser_connector") == "stale"


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('done = "50 s"', 'done = "40 s"'), "not after its last step"),
        (('id = "casing"', 'id = "pipe"'), "two sequences"),
        (('at = "0 s", function = "blind', 'at = "30 s", function = "blind'), "shears come before it"),
        (('connector = "riser_connector"', 'connector = "moon"'), "which is no function"),
    ],
)
def test_a_sequence_that_contradicts_itself_is_refused(change: tuple[str, str], told: str) -> None:
    text = (resources.plants() / "wentletrap.toml").read_text(encoding="utf-8")
    assert change[0] in text
    with pytest.raises(PlantError, match=told):
        plant_of(toml.loads(text.replace(*change)), "wentletrap.toml")


def with_panel(supply: str) -> Plant:
    """Wentletrap with a third panel on that supply, for a ram, a connector and a function on hoses."""
    data = file_of("wentletrap")
    carried = [RAM, "riser_connector", "diverter_flowline"]
    data["panel"] = [{"id": "bridge", "supply": supply, "functions": carried, "length": "300 ft"}]
    return plant_of(data, "with-panel.toml")


def test_a_further_panel_sends_messages_too() -> None:
    hands = Hands(with_panel("own_battery"), settle=3.0)
    assert hands.do("set", RAM, "close", "third") is None
    assert hands.until(lambda: hands[f"{RAM}.x"] > 0.001) == pytest.approx(0.9, abs=0.3)
    hands.wait(1.5)
    assert hands[f"bridge.{RAM}_close"] == 1.0 and answer(hands, RAM) == "answered"
    assert "third" in hands.machine.signals[f"{RAM}.answer"].station
    assert "press enable" in str(hands.do("set", "riser_connector", "open", "third"))
    assert hands.do("set", "diverter_flowline", "close", "third") is None
    hands.machine.set_fault("bridge.cable_broken", 1.0)
    hands.wait(0.5)
    assert "has no power" in str(hands.do("set", RAM, "open", "third"))


def test_rig_air_sends_no_messages() -> None:
    with pytest.raises(PlantError, match="rig air sends no messages"):
        with_panel("rig_air")


@pytest.mark.parametrize(("gpm", "psi"), [(84.0, 245.0), (116.0, 467.0)])
def test_a_conduit_costs_what_darcy_says(gpm: float, psi: float) -> None:
    """2.25 in, 7,500 ft, f 0.02, 1,003 kg/m3: dp = f (L/d) rho v^2 / 2, worked by hand."""
    line = load_plant("wentletrap")[0].conduits
    assert isinstance(line, Conduits)
    flow = from_unit(gpm, "gpm")
    assert (flow / line.supply_k(1003.0, 1.5e-3)) ** 2 / PSI == pytest.approx(psi, rel=0.015)
    assert line.supply_volume() / GALLON == pytest.approx(1530.0, rel=0.015)


@pytest.mark.parametrize(
    ("without", "told"), [("telemetry", "belong together"), ("conduits", "belong together"), ("pod", "needs tables")]
)
def test_telemetry_asks_for_what_it_needs(without: str, told: str) -> None:
    data = file_of("wentletrap")
    del data[without]
    with pytest.raises(PlantError, match=told):
        plant_of(data, "wentletrap.toml")


def test_a_lost_bus_leaves_the_pumps_of_the_other(hands: Hands) -> None:
    """Pump 1 hangs on the main bus, pump 2 on the emergency bus, pump 3 behind a transfer switch."""

    def running() -> list[bool]:
        for pump in (1, 2, 3):
            hands.set(f"triplex_{pump}.mode", "manual")
        hands.wait(3.0)
        found = [hands[f"triplex_{pump}.running"] > 0.5 for pump in (1, 2, 3)]
        for pump in (1, 2, 3):
            hands.set(f"triplex_{pump}.mode", "off")
        hands.wait(6.0)
        return found

    assert running() == [True, True, True]
    hands.machine.set_fault("power.ac_lost", 1.0)
    assert running() == [False, True, True]
    hands.machine.set_fault("power.ac_lost", 0.0)
    hands.machine.set_fault("power.emergency_lost", 1.0)
    assert running() == [True, False, True]


def coils(hands: Hands, pod: str, way: str) -> tuple[float, float]:
    """Currents of both coils of a pod's solenoid for the function chosen, mA."""
    hands.wait(0.2)
    return (hands[f"pod_{pod}.coil_{way}_a"] * 1e3, hands[f"pod_{pod}.coil_{way}_b"] * 1e3)


def test_the_workshop_tells_an_open_coil_from_one_that_is_wired_backward(hands: Hands) -> None:
    """An open coil draws nothing; one wired backward draws what a sound one does, and no answer comes."""
    hands.set("workshop.solenoid", RAM, "workshop")
    order(hands, RAM, "close")
    hands.wait(2.0)
    assert coils(hands, "yellow", "close") == pytest.approx((1000.0, 1000.0))
    assert coils(hands, "yellow", "open") == (0.0, 0.0)
    hands.machine.set_fault(f"{RAM}.coil_dead_yellow", 1.0)
    assert coils(hands, "yellow", "close") == pytest.approx((0.0, 1000.0))
    assert coils(hands, "blue", "close") == pytest.approx((1000.0, 1000.0)), "every pod hears every order"
    hands.machine.set_fault(f"{RAM}.coil_dead_yellow", 0.0)
    hands.machine.set_fault(f"{RAM}.coil_reversed_yellow", 1.0)
    order(hands, RAM, "open")
    hands.wait(5.0)
    order(hands, RAM, "close")
    hands.wait(5.0)
    assert coils(hands, "yellow", "close") == pytest.approx((1000.0, 1000.0)) and answer(hands, RAM) == "no answer"
    hands.set("pod_yellow.side_b", "off", "workshop")
    hands.wait(2.0)
    assert coils(hands, "yellow", "close") == pytest.approx((1000.0, 0.0)) and answer(hands, RAM) == "answered"
    assert hands.do("set", RAM, "open", "workshop") is not None, "no preventer is operated from the workshop"


@pytest.mark.parametrize("letter", ["a", "b"])
def test_an_earth_fault_is_on_the_side_whose_switch_brings_the_insulation_back(hands: Hands, letter: str) -> None:
    hands.wait(0.2)
    assert hands["link_yellow.insulation"] == pytest.approx(500e6) and hands["link_yellow.ground"] == 0.0
    hands.machine.set_fault(f"pod_yellow.side_{letter}_earthed", 1.0)
    hands.wait(0.2)
    assert hands["link_yellow.insulation"] < 0.1e6 and hands["link_yellow.ground"] == 1.0
    assert hands["link_blue.ground"] == 0.0 and hands["link_yellow.up"] == 1.0, "one earth fault stops nothing"
    hands.set("pod_yellow.side_" + "ba"["ab".index(letter)], "off", "workshop")
    hands.wait(0.2)
    assert hands["link_yellow.ground"] == 1.0
    hands.set(f"pod_yellow.side_{letter}", "off", "workshop")
    hands.wait(0.2)
    assert hands["link_yellow.insulation"] == pytest.approx(500e6)


def test_water_in_a_connector_leaves_the_better_part_of_an_hour(hands: Hands) -> None:
    """The monitor calls it well before the link is lost, an hour after the water came in."""
    hands.machine.set_fault("pod_yellow.connector_wet", 1.0)
    called = hands.until(lambda: hands["link_yellow.ground"] > 0.5, 3600.0)
    assert 300.0 < called < 1500.0 and hands["link_yellow.up"] == 1.0
    assert called + hands.until(lambda: hands["link_yellow.up"] < 0.5, 3600.0) == pytest.approx(3600.0, abs=5.0)
    assert hands["link_blue.up"] == 1.0


def test_damp_shows_before_the_insulation_falls(hands: Hands) -> None:
    hands.machine.set_fault("pod_blue.housing_leaks", 1.0)
    hands.wait(400.0)
    assert hands["pod_blue.humidity"] > 0.25 and hands["link_blue.ground"] == 0.0
    hands.until(lambda: hands["link_blue.ground"] > 0.5, 1800.0)
    assert 0.5 < hands["pod_blue.humidity"] < 1.0 and hands["link_blue.up"] == 1.0
    warm = hands["pod_blue.temperature"]
    hands.set("pod_blue.side_a", "off", "workshop")
    hands.wait(1800.0)
    assert hands["pod_blue.temperature"] == pytest.approx(warm - 12.0, abs=1.0)


@pytest.mark.parametrize("station", ["driller", "remote"])
def test_enable_lasts_while_it_is_held_and_a_press_of_it_five_seconds(hands: Hands, station: str) -> None:
    hands.do("push", "driller.enable", station=station)
    hands.wait(6.0)
    assert hands["driller.enabled"] == 0.0
    hands.set("driller.enable", "held", station)
    hands.wait(60.0)
    assert hands["driller.enabled"] == 1.0
    assert hands.do("set", "riser_connector", "close", station) is None
    hands.set("driller.enable", "free", station)
    hands.wait(0.2)
    assert hands["driller.enabled"] == 0.0
    assert hands.do("set", "riser_connector", "close", station) is not None
    assert hands.do("set", "driller.enable", "stuck", station) is not None


@pytest.mark.parametrize("rig", ["quillback", "sandpiper"])
def test_enable_is_held_on_no_other_rig(rig: str) -> None:
    machine = Hands(rig, settle=0.2).machine
    assert ("set", "driller.enable") not in machine.operables
