"""The cost of a scan grows in a straight line with the functions of a plant, at rest and with all of them working.

Taken by plain Python: compiled code is so quick that the processor's caches would be measured. Long form: a claim about
time.
"""

from __future__ import annotations

import time
from types import SimpleNamespace

import pytest

from trainer.hydraulics.machine import Machine
from trainer.plant.functions import Function
from trainer.plant.rig import Plant, build_machine, load_plant
from trainer.runtime import server

pytestmark = pytest.mark.long
COUNTS = (10, 20, 50, 100)
SCANS = 12
ROUNDS = 7


def plant_of(count: int) -> Plant:
    """Quillback's unit, pods and well with ``count`` like functions in place of its own."""
    plant, _ = load_plant("quillback")
    one = next(f for f in plant.function if f.id == "middle_pipe_ram")
    rams = tuple(one.model_copy(update={"id": f"ram_{n}", "title": f"Ram {n}"}) for n in range(count))
    assert all(isinstance(r, Function) for r in rams)
    return plant.model_copy(update={"function": rams, "disconnect": None, "diverter": None})


def least_time(machine: Machine) -> float:
    """Seconds a scan, the best of several rounds: what disturbs a measurement only makes it longer."""
    best = float("inf")
    for _ in range(ROUNDS):
        begun = time.process_time()
        for _ in range(SCANS):
            machine.scan()
        best = min(best, (time.process_time() - begun) / SCANS)
    return best


@pytest.fixture(scope="module")
def costs() -> dict[str, dict[int, float]]:
    found: dict[str, dict[int, float]] = {"rest": {}, "busy": {}}
    for count in COUNTS:
        with server.plain():
            machine = build_machine(plant_of(count))
        machine.scan(100)
        found["rest"][count] = least_time(machine)
        for n in range(count):
            order = SimpleNamespace(do="set", target=f"ram_{n}", value="close", from_="unit")
            assert machine.apply(order) is None
        for _ in range(20):
            machine.scan()
        awake = [n for n in range(count) if machine.read(f"ram_{n}.power.awake")]
        assert len(awake) == count
        found["busy"][count] = least_time(machine)
    return found


@pytest.mark.parametrize("state", ["rest", "busy"])
def test_cost_grows_linearly_with_functions(costs: dict[str, dict[int, float]], state: str) -> None:
    """What a function adds between 50 and 100 is at most twice what one adds between 10 and 50."""
    cost = costs[state]
    early = (cost[50] - cost[10]) / 40
    late = (cost[100] - cost[50]) / 50
    assert late < 2.0 * max(early, cost[10] / 400)


def test_a_function_at_rest_costs_little(costs: dict[str, dict[int, float]]) -> None:
    """A hundred sleeping functions, with all their faults, cost less than four times what ten do."""
    assert costs["rest"][100] < 4.0 * costs["rest"][10]
    assert costs["rest"][100] < 0.2 * costs["busy"][100]
