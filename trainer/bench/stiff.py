"""The compiled plant beside SciPy's stiff integrators, through a busy sequence: how far apart, and at what cost.

The plant is quillback with four functions left on it, which keeps every kind of part (pumps, banks, regulators, both
pods, lines, an annular, a ram, two line valves) and lets the integrator come to an end. The integrator's side has its
laws at a tick of ``FINE`` to the scan, so that the ends of strokes and valve travel, which the plant's laws let no
tick overrun, are as sharp as in the equations.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import prod
from types import SimpleNamespace

from trainer.bench.checks import Check
from trainer.bench.reference import Reference, reference
from trainer.hydraulics.compile import Numbers
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.network import Network
from trainer.plant.rig import load_plant
from trainer.units import from_unit, to_unit

KEPT = ("upper_annular", "upper_pipe_ram", "upper_inner_choke", "upper_outer_choke")
NODE_RANGE = from_unit(5000.0, "psi")
TIGHT = 1.0e-9
FINE = 100
LOOSE = (1.0e-3, 5.0e-4, 2.0e-4, 1.0e-4, 5.0e-5, 1.0e-5)
LOOSE_METHOD = "BDF"
SOURCE = "SciPy 1.x, LSODA (Hindmarsh, ODEPACK), relative tolerance 1e-9, on the same flow laws"
# One round of orders (s, target, value); a long run goes round and round.
ROUND = (
    (1, "upper_annular", "close"),
    (4, "upper_pipe_ram", "close"),
    (20, "upper_inner_choke", "open"),
    (22, "upper_outer_choke", "open"),
    (40, "pod_selector", "blue"),
    (50, "upper_pipe_ram", "open"),
    (70, "upper_annular", "open"),
    (100, "upper_inner_choke", "close"),
    (102, "upper_outer_choke", "close"),
    (130, "pod_selector", "yellow"),
)
ROUND_TIME = 150


@dataclass
class Apart:
    """Differences so far: shares of range for pressures, gallons for totals.

    The well is worked out once a scan on both sides, so its gauges (``well_worst``) know no time within a scan: each
    is held against the integrator's side in the same scan and its two neighbours.
    """

    seconds: float = 0.0
    gauge_worst: float = 0.0
    well_worst: float = 0.0
    gauge_mean: float = 0.0
    node_mean: float = 0.0
    count: float = 0.0


def machine(ticks: int = 5, sleeps: bool = True) -> Machine:
    """The reduced plant, with the physics' step a scan divided by ``ticks``; ``sleeps`` False: hardly a part rests."""
    plant, _ = load_plant("quillback")
    few = tuple(f for f in plant.function if f.id in KEPT)
    net = Network(ticks) if sleeps else Network(ticks, 70.0, 14.0)
    net = plant.model_copy(update={"function": few, "disconnect": None, "diverter": None}).network(net)
    return Machine(net)


def order(second: int, *machines: Machine) -> None:
    """Give the machines the orders of this second of the sequence. RuntimeError where one refuses."""
    for at, target, value in ROUND:
        if second % ROUND_TIME == at:
            for each in machines:
                refused = each.apply(SimpleNamespace(do="set", target=target, value=value, from_="unit"))
                if refused is not None:
                    raise RuntimeError(f"{target}: {refused}")


def compare(seconds: int, rtol: float = TIGHT) -> Iterator[Apart]:
    """Run both through ``seconds`` of the sequence; gives the differences so far after each second."""
    compiled, other = machine(), machine(FINE)
    integrated: Reference = reference(other.net)
    gauges = [t for t, s in compiled.signals.items() if s.unit == "psi" and s.station and not t.endswith(".dp")]
    far = [g for g in gauges if g.startswith("well.")]
    gauges = [g for g in gauges if g not in far]
    spans = [from_unit(compiled.signals[t].high, "psi") for t in gauges]
    found = Apart()
    gauge_sum = node_sum = 0.0
    rows = 0
    wells: list[tuple[list[float], list[float]]] = []
    for second in range(seconds):
        order(second, compiled, other)
        for _ in range(10):
            compiled.scan()
            integrated.scan(other.state, rtol)
            gaps = [abs(compiled.read(t) - other.read(t)) / span for t, span in zip(gauges, spans, strict=True)]
            found.gauge_worst = max(found.gauge_worst, *gaps)
            gauge_sum += sum(gaps) / len(gaps)
            shares = [
                [side.read(g) / from_unit(side.signals[g].high, "psi") for g in far] for side in (compiled, other)
            ]
            wells = [*wells[-2:], (shares[0], shares[1])]
            found.well_worst = max(found.well_worst, _beyond(wells))
            nodes = compiled.pressures()
            node_sum += sum(abs(p - other.read(f"{n}.p")) for n, p in nodes.items()) / NODE_RANGE / len(nodes)
            rows += 1
            gap = abs(compiled.read("totaliser.true") - other.read("totaliser.true"))
            found.count = max(found.count, to_unit(gap, "gal"))
        found.seconds = second + 1.0
        found.gauge_mean, found.node_mean = gauge_sum / rows, node_sum / rows
        yield found


def _beyond(three: list[tuple[list[float], list[float]]]) -> float:
    """How far the middle scan's own readings lie beyond the other side's in three scans."""
    if len(three) < 3:
        return 0.0
    beyond = 0.0
    for at, mine in enumerate(three[1][0]):
        near = [other[at] for _, other in three]
        beyond = max(beyond, mine - max(near), min(near) - mine)
    return beyond


def checks(seconds: int) -> Iterator[Check]:
    """How near the compiled plant stays, over ``seconds`` of the sequence (600 in the long form)."""
    *_, found = compare(seconds)
    rows = (
        ("any gauge of the control system at its worst instant, share of range", found.gauge_worst, 0.005, "1"),
        ("gauges of the well, the instant free by a scan, share of range", found.well_worst, 0.005, "1"),
        ("gauges of the control system, mean over the sequence, share of range", found.gauge_mean, 0.005, "1"),
        ("every node, mean over the sequence, share of 5,000 psi", found.node_mean, 0.005, "1"),
        ("flow count, largest difference", found.count, 0.1, "gal"),
    )
    for name, computed, tolerance, unit in rows:
        yield Check(f"{seconds} s beside the stiff integrator: {name}", SOURCE, 0.0, computed, tolerance, unit)
    truth = integrated_course(HALVED, TIGHT).pressures
    errors = [apart(course(machine(ticks, sleeps=False), HALVED).pressures, truth) for ticks in (5, 10, 20, 40)]
    order_one = "implicit Euler is of first order: Hairer & Wanner, Solving ODEs II (from memory)"
    shares = [finer / coarser for coarser, finer in pairwise(errors)]
    for name, share in zip(("20 to 10", "10 to 5", "5 to 2.5"), shares, strict=True):
        # A piston meets its stop within a tick; where in it, is luck: one step may show a little more or less.
        told = f"error of the node pressures beside the stiff integrator, tick halved from {name} ms, over that before"
        yield Check(told, order_one, 0.0, share, 0.5, "1")
    told = "the same error, a halving of the tick from 20 to 2.5 ms on average, over that before"
    yield Check(told, order_one, 0.0, prod(shares) ** (1 / len(shares)), 0.5, "1")


HALVED = 40
"""Seconds of the sequence over which the tick is halved."""


@dataclass
class Course:
    """Node pressures (Pa) of each scan, and the processor seconds that they took."""

    pressures: list[list[float]]
    took: float


def course(plant: Machine, seconds: int, step: Callable[[Numbers], None] | None = None) -> Course:
    """``plant`` through ``seconds`` of the sequence, by its own step or by ``step``."""
    places = [plant.index[f"{n}.p"] for n in plant.pressures()]
    rows = []
    took = 0.0
    for second in range(seconds):
        order(second, plant)
        for _ in range(10):
            began = time.process_time()
            if step is None:
                plant.scan()
            else:
                step(plant.state)
            took += time.process_time() - began
            rows.append([plant.state[i] for i in places])
    return Course(rows, took)


def integrated_course(
    seconds: int, rtol: float, method: str = "LSODA", ticks: int = FINE, given: bool = True
) -> Course:
    """The same by an integrator of SciPy's, with the slopes ``given`` or left to find them."""
    plant = machine(ticks)
    integrated = reference(plant.net)
    return course(plant, seconds, lambda state: integrated.scan(state, rtol, method, given))


def apart(rows: list[list[float]], truth: list[list[float]]) -> float:
    """Mean difference of two courses' node pressures, Pa, over all rows and nodes of equal shape."""
    gaps = [abs(a - b) for row, best in zip(rows, truth, strict=True) for a, b in zip(row, best, strict=True)]
    return sum(gaps) / len(gaps)


def at_equal_error(seconds: int = ROUND_TIME) -> tuple[float, float, float]:
    """Simulated seconds a processor second: of the compiled plant; of SciPy as near as it; and of SciPy given slopes.

    Of its three stiff integrators, LSODA, Radau and BDF, the last takes least time here at a loose tolerance. Given the
    slopes by colours it takes about half the time that it takes when it has to find them.
    """
    truth = integrated_course(seconds, TIGHT).pressures
    runs = [course(machine(), seconds) for _ in range(3)]
    error = apart(runs[0].pressures, truth)
    for rtol in LOOSE:
        loose = integrated_course(seconds, rtol, LOOSE_METHOD, ticks=5)
        if apart(loose.pressures, truth) <= error:
            break
    alone = integrated_course(seconds, rtol, LOOSE_METHOD, ticks=5, given=False)
    return seconds / min(run.took for run in runs), seconds / alone.took, seconds / loose.took
