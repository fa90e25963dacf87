"""The vehicle's panel: times by the pump, the shuttle that a small pump does not shift, labels that are wrong."""

from __future__ import annotations

import pytest

from tests.plant.hands import GALLON, PSI, Hands, file_of
from trainer.plant.rig import PlantError, plant_of

BSR = "blind_shear_ram"


def alone(pump: str = "37.3 gpm") -> Hands:
    """A stack that no pod and no deadman works any more."""
    data = file_of("wentletrap")
    data["rov"] |= {"pump": pump, "stab": "5 s"}
    hands = Hands(plant_of(data, "wentletrap.toml"), settle=1.0)
    hands.machine.set_fault("deadman.not_armed", 1.0)
    for pod in ("yellow", "blue"):
        hands.machine.set_fault(f"pod_{pod}.cable_cut", 1.0)
        hands.machine.set_fault(f"pod_{pod}.conduit_parted", 1.0)
    hands.wait(5.0)
    return hands


def pump_into(hands: Hands, port: int) -> None:
    hands.set("rov.port", f"port {port}", "vehicle")
    hands.wait(0.2)
    refusal = hands.do("set", "rov.valve", "open", "vehicle")
    assert refusal is not None and "no port" in refusal
    hands.wait(5.3)
    hands.set("rov.valve", "open", "vehicle")
    hands.set("rov.pump", "on", "vehicle")


@pytest.mark.parametrize(("pump", "seconds"), [("37.3 gpm", 45.0), ("12 gpm", 140.0)])
def test_a_ram_takes_its_volume_over_the_pump_and_is_locked(pump: str, seconds: float) -> None:
    """28 gal at 37.3 and at 12 gpm: 45 s, which 30 CFR 250.734 asks of a vehicle as remembered, and 140 s."""
    hands = alone(pump)
    pump_into(hands, 1)
    assert hands.until(lambda: hands[f"{BSR}.closed"] > 0.5, 200.0) == pytest.approx(seconds, rel=0.03)
    hands.wait(3.0)
    assert hands["rov.count"] / GALLON == pytest.approx(28.0, rel=0.03)
    assert hands["rov.pressure"] / PSI > 4400.0 and hands[f"{BSR}.sealing"] == 1.0 and hands[f"{BSR}.cut"] == 1.0
    pump_into(hands, 4)
    assert hands[f"{BSR}.x"] > 0.98, "the stab is out, and the port's check valve holds"
    assert hands.until(lambda: hands[f"{BSR}.locked"] > 0.5, 30.0) < 30.0
    assert hands.lost() < 1e-9


@pytest.mark.parametrize("fault", ["small_pump", "hose_leaks"])
def test_flow_without_pressure_moves_nothing(fault: str) -> None:
    hands = alone()
    hands.machine.set_fault(f"rov.{fault}", 1.0)
    pump_into(hands, 1)
    hands.wait(120.0)
    assert hands["rov.flow"] * 60.0 / GALLON > 1.0 and hands["rov.pressure"] / PSI < 300.0
    assert hands[f"{BSR}.x"] < (0.02 if fault == "small_pump" else 0.5)


@pytest.mark.parametrize(("built", "moved"), [(0.0, "lower_pipe_ram"), (1.0, "test_ram")])
def test_a_port_moves_what_is_built_behind_it(built: float, moved: str) -> None:
    hands = alone()
    hands.machine.put("rov.changed", built)
    pump_into(hands, 2)
    hands.wait(45.0)
    for ram in ("lower_pipe_ram", "test_ram"):
        assert (hands[f"{ram}.x"] > 0.95) is (ram == moved)


@pytest.mark.parametrize(
    ("change", "told"),
    [({"crossed": [2, 9]}, "names another"), ({"port": [{"label": "x", "function": "upper_annular"}]}, "lower stack")],
)
def test_a_panel_that_fits_no_stack_is_refused(change: dict[str, object], told: str) -> None:
    data = file_of("wentletrap")
    data["rov"] |= change
    with pytest.raises(PlantError, match=told):
        plant_of(data, "wentletrap.toml")
