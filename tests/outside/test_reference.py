"""The compiled plant against a general stiff integrator on the same equations.

Source: SciPy's LSODA (Hindmarsh's ODEPACK), relative tolerance 1e-9, on the flow laws of the same network with no
linearisation and nothing asleep: ``trainer.bench.reference``.
"""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from tests.outside.sources import held_against
from trainer.bench.reference import reference
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import load_plant
from trainer.units import to_unit

KEPT = {"upper_annular", "upper_pipe_ram"}
SCRIPT = {1: ("upper_annular", "close"), 4: ("upper_pipe_ram", "close")}
SECONDS = 8


@pytest.fixture(scope="module")
def worst() -> dict[str, float]:
    """Largest and mean differences over a busy stretch: pressures in psi, the flow count in gallons."""
    plant, _ = load_plant("quillback")
    few = tuple(f for f in plant.function if f.id in KEPT)
    plant = plant.model_copy(update={"function": few, "disconnect": None, "diverter": None})
    compiled, other = Machine(plant.network()), Machine(plant.network())
    integrated = reference(other.net)
    gauges = [t for t, s in compiled.signals.items() if s.unit == "psi" and s.station and not t.endswith(".dp")]
    found = {"gauge": 0.0, "gauge_mean": 0.0, "node_mean": 0.0, "count": 0.0}
    gauge_sum = node_sum = 0.0
    rows = 0
    for second in range(SECONDS):
        if second in SCRIPT:
            function, way = SCRIPT[second]
            for machine in (compiled, other):
                assert machine.apply(SimpleNamespace(do="set", target=function, value=way, from_="unit")) is None
        for _ in range(10):
            compiled.scan()
            integrated.scan(other.state)
            rows += 1
            for tag in gauges:
                share = abs(to_unit(compiled.read(tag) - other.read(tag), "psi")) / compiled.signals[tag].high
                found["gauge"] = max(found["gauge"], share)
                gauge_sum += share / len(gauges)
            nodes = compiled.pressures()
            for node, pressure in nodes.items():
                node_sum += abs(to_unit(pressure - other.read(f"{node}.p"), "psi")) / 5000.0 / len(nodes)
            gap = abs(compiled.read("totaliser.true") - other.read("totaliser.true"))
            found["count"] = max(found["count"], to_unit(gap, "gal"))
    found["gauge_mean"], found["node_mean"] = gauge_sum / rows, node_sum / rows
    return found


@held_against("solution of the network", "SciPy LSODA on the same laws: flow count", "verification")
def test_flow_count_within_a_tenth_of_a_gallon(worst: dict[str, float]) -> None:
    assert worst["count"] < 0.1


@held_against("solution of the network", "SciPy LSODA on the same laws: pressures", "verification")
def test_pressures_within_half_a_per_cent_of_range(worst: dict[str, float]) -> None:
    """Every gauge at every scan; every node, seen or not, on average over the stretch."""
    assert worst["gauge"] < 0.005
    assert worst["gauge_mean"] < 0.0005
    assert worst["node_mean"] < 0.0005
