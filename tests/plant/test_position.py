"""The vessel adrift, the riser's slip joint, watch circles that belong to a sequence, and a reference that jumps.

Figures of the drift without drag are worked by hand: x = F t^2 / (2 m), and sqrt(D^2 + x^2) - D for the slip joint.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.plant.hands import Hands, file_of
from trainer.plant.position import ALERTS, Position
from trainer.plant.rig import PlantError, load_plant, plant_of

DEPTH = 7400.0 * 0.3048


def test_circles_are_those_worked_by_hand() -> None:
    """166 m (7.36 %) at 192 s; less sequence and 10 s: 78 m (3.48 %) at 132 s for drill pipe, 61 m for casing."""
    plant = load_plant("wentletrap")[0]
    own = plant.position
    assert isinstance(own, Position) and plant.disconnect is not None
    assert own.limit(DEPTH) == pytest.approx(165.9, abs=0.2)
    done = {one.id: one.done for one in plant.disconnect.sequence}
    assert own.red(DEPTH, done["pipe"]) == pytest.approx(78.4, abs=0.3)
    assert own.red(DEPTH, done["casing"]) == pytest.approx(60.6, abs=0.3)
    reds = sorted(done, key=lambda one: own.red(DEPTH, done[one]))
    assert all(done[a] > done[b] for a, b in pairwise(reds)), "the longer the sequence, the nearer its circle"


def test_a_drift_without_drag_takes_the_times_worked_by_hand() -> None:
    """45.1, 78.4 and 165.9 m at 100.1, 132.0 and 192.0 s: yellow, red, and the end of the slip joint."""
    data = file_of("wentletrap")
    data["position"]["drag_area"] = "0 m2"
    hands = Hands(plant_of(data, "wentletrap.toml"), settle=0.5)
    hands.machine.set_fault("position.blackout", 1.0)
    passed = 0.0
    for alert, at, far in (("yellow", 100.1, 45.1), ("red", 132.0, 78.4)):
        passed += hands.until(lambda alert=alert: ALERTS[int(hands["position.alert"])] == alert, 200.0)  # type: ignore[misc]
        assert passed == pytest.approx(at, abs=0.5)
        assert hands["position.x"] == pytest.approx(far, abs=0.4)
    passed += hands.until(lambda: hands["position.broken"] > 0.5, 200.0)
    assert passed == pytest.approx(192.0, abs=0.5) and hands["position.stroke"] == 0.0
    assert hands["position.angle"] == pytest.approx(0.0734, abs=0.001)


def test_circles_set_for_casing_bring_the_red_alert_sooner() -> None:
    found = {}
    for circles in ("pipe", "casing"):
        hands = Hands("wentletrap", settle=0.5)
        hands.set("position.circles", circles, "bridge")
        hands.machine.set_fault("position.blackout", 1.0)
        found[circles] = hands.until(lambda hands=hands: hands["position.alert"] > 1.5, 300.0)  # type: ignore[misc]
    # With drag it takes longer than the drift that the circles are reckoned by.
    assert 115.0 < found["casing"] < found["pipe"] - 10.0
    assert 132.0 < found["pipe"] < 150.0


def test_a_reference_that_jumps_gives_an_alert_and_nothing_else_moves() -> None:
    hands = Hands("wentletrap", settle=0.5)
    hands.machine.set_fault("position.jump_a", 1.0)
    hands.wait(40.0)
    assert ALERTS[int(hands["position.alert"])] == "red"
    assert hands["position.reference_a"] > 0.035 and abs(hands["position.reference_b"]) < 1e-6
    assert abs(hands["position.angle"]) < 1e-6 and hands["position.stroke"] == pytest.approx(6.096, abs=0.01)


def test_yellow_lies_inside_red() -> None:
    data = file_of("wentletrap")
    data["position"]["yellow"] = "3 %"
    with pytest.raises(PlantError, match="outside the red one of sequence 'casing'"):
        plant_of(data, "wentletrap.toml")
