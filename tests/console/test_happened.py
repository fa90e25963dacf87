"""The flow count of each operation, and alarms as they come and go."""

from __future__ import annotations

import pytest

from trainer import units
from trainer.console.happened import Happened
from trainer.console.trends import History
from trainer.hydraulics.catalogue import Signal

GAL = units.from_unit(1.0, "gal")
PSI = units.from_unit(1.0, "psi")
WAYS = ("block", "open", "close")
ALARM = ("normal", "unacknowledged", "acknowledged", "returned")


def signal(tag: str, unit: str, states: tuple[str, ...] = ()) -> Signal:
    return Signal(tag=tag, unit=unit, low=0.0, high=4.0, meaning=f"{tag}.", station=("unit",), states=states)


class Plant:
    """Two functions, one alarm, and a meter or none."""

    def __init__(self, meter: bool = True) -> None:
        states = {"annular.valve": WAYS, "ram.valve": WAYS, "alarm.low_air": ALARM, "water.valve": ("shut", "open")}
        self.signals = {tag: signal(tag, "state", words) for tag, words in states.items()}
        self.signals["accumulator.pressure"] = signal("accumulator.pressure", "psi")
        if meter:
            self.signals["totaliser.count"] = signal("totaliser.count", "gal")
        self.values = dict.fromkeys(self.signals, 0.0)

    def read(self, tag: str) -> float:
        return self.values[tag]


def test_each_operation_has_its_own_count_even_over_a_reset() -> None:
    plant, seen = Plant(), Happened()

    def at(t: float, **now: float) -> None:
        plant.values.update({tag.replace("__", "."): value for tag, value in now.items()})
        seen.look(t, plant)

    at(0.0, totaliser__count=5 * GAL)
    at(1.0, annular__valve=2.0)
    at(2.0, totaliser__count=25 * GAL)
    at(3.0, totaliser__count=1 * GAL)  # reset on the way, one gallon since
    at(4.0, ram__valve=2.0, water__valve=1.0)
    at(5.0, totaliser__count=9 * GAL)
    took = [(o.t, o.function, o.position, o.took / GAL) for o in seen.operations]
    assert took == [(1.0, "annular", "close", pytest.approx(21.0)), (4.0, "ram", "close", pytest.approx(8.0))]
    assert seen.texts("field")["page.spent"] == {"text": "8.0 gal"}
    assert seen.texts("metric")["page.spent"] == {"text": "30.3 L"}
    assert "Annular close" in str(seen.texts("field")["page.operations"]["html"])
    # The ram began while the annular still moved: no count is held against one of them alone.
    assert [o.shared for o in seen.operations] == [True, True]
    seen.operations[-1].wanted = 4 * GAL
    assert seen.beside(seen.operations[-1], "field") == "with another operation"
    assert "only the sum" in str(seen._listed("field"))
    at(2.5)  # taken back to an earlier moment: what had not happened yet is forgotten
    assert [o.function for o in seen.operations] == ["annular"]


def test_what_a_pod_takes_is_its_own_and_not_the_last_functions() -> None:
    plant, seen = Plant(), Happened()
    plant.signals["pod_selector.position"] = signal("pod_selector.position", "state", ("yellow", "block", "blue"))
    plant.values["pod_selector.position"] = 0.0
    for t, count, valve, pod in (
        (0, 0, 0, 0),
        (1, 0, 1, 0),
        (9, 16, 1, 0),
        (20, 16, 1, 0),
        (21, 16, 1, 2),
        (25, 21, 1, 2),
    ):
        plant.values |= {"totaliser.count": count * GAL, "ram.valve": valve, "pod_selector.position": pod}
        seen.look(t, plant)
    took = [(o.function, o.position, round(o.took / GAL), o.shared) for o in seen.operations]
    assert took == [("ram", "open", 16, False), ("pod_selector", "blue", 5, False)]
    assert seen.texts("field")["page.spent_of"] == {"text": "pod selector to blue"}
    seen.operations[0].wanted, seen._told = 12 * GAL, None
    del seen.operations[1]
    assert seen.texts("field")["page.spent_of"] == {"text": "expected 12.0 gal: high"}


def test_without_a_meter_the_header_tells() -> None:
    plant, seen = Plant(meter=False), Happened()
    for t, pressure, valve in ((0.0, 3000, 0.0), (1.0, 3000, 2.0), (2.0, 2850, 2.0), (9.0, 2990, 2.0)):
        plant.values.update({"accumulator.pressure": pressure * PSI, "annular.valve": valve})
        seen.look(t, plant)
    assert seen.texts("field")["page.spent"] == {"text": "150 psi"}


def test_alarms_are_logged_and_new_ones_marked_on_the_trends() -> None:
    plant, history = Plant(), History()
    for t, state in ((0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.0, 0.0), (4.0, 1.0), (5.0, 3.0)):
        plant.values["alarm.low_air"] = state
        history.look(t, plant)
    states = ["unacknowledged", "acknowledged", "normal", "unacknowledged", "returned"]
    assert [state for _, _, state in history.happened.alarms] == states
    assert history.marks == [(1.0, "Alarm: Rig air low"), (4.0, "Alarm: Rig air low")]
