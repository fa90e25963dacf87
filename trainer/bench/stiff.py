"""The compiled plant beside SciPy's stiff integrator, through a busy sequence: how far apart, and at what cost.

The plant is quillback with four functions left on it, which keeps every kind of part (pumps, banks, regulators, both
pods, lines, an annular, a ram, two line valves) and lets the integrator, which is a thousand times slower, come to an
end. Readings are compared at each scan. A reading that jumps when a piston lands or a valve shifts is far off for the
one scan in which only one of the two has got there, so the largest difference is told twice: at equal instants, and
with the instant free by one scan (0.1 s, the time between two readings).
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from types import SimpleNamespace

from trainer.bench.checks import Check
from trainer.bench.reference import Reference, reference
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.network import Network
from trainer.plant.rig import load_plant
from trainer.units import from_unit, to_unit

KEPT = ("upper_annular", "upper_pipe_ram", "upper_inner_choke", "upper_outer_choke")
NODE_RANGE = from_unit(5000.0, "psi")
TIGHT = 1.0e-9
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
    """Differences so far: shares of range for pressures, gallons for totals; processor seconds of either."""

    seconds: float = 0.0
    gauge_worst: float = 0.0
    gauge_shifted: float = 0.0
    gauge_mean: float = 0.0
    node_mean: float = 0.0
    count: float = 0.0
    compiled_time: float = 0.0
    reference_time: float = 0.0
    rows: int = 0
    _window: list[list[float]] = field(default_factory=list)
    _own: list[list[float]] = field(default_factory=list)

    def shifted(self, own: list[float], other: list[float]) -> None:
        """Take one scan's readings; judge the scan before against its three neighbours of the reference."""
        self._window, self._own = [*self._window[-2:], other], [*self._own[-2:], own]
        if len(self._window) < 3:
            return
        for mine, three in zip(self._own[1], zip(*self._window, strict=True), strict=True):
            self.gauge_shifted = max(self.gauge_shifted, mine - max(three), min(three) - mine)


def machine(ticks: int = 5) -> Machine:
    """The reduced plant, with the physics' step a scan divided by ``ticks``."""
    plant, _ = load_plant("quillback")
    few = tuple(f for f in plant.function if f.id in KEPT)
    return Machine(
        plant.model_copy(update={"function": few, "disconnect": None, "diverter": None}).network(Network(ticks=ticks))
    )


def order(second: int, *machines: Machine) -> None:
    """Give the orders of a second of the sequence."""
    for at, target, value in ROUND:
        if second % ROUND_TIME == at:
            for each in machines:
                refused = each.apply(SimpleNamespace(do="set", target=target, value=value, from_="unit"))
                if refused is not None:
                    raise RuntimeError(f"{target}: {refused}")


def compare(seconds: int, rtol: float = TIGHT, ticks: int = 5) -> Iterator[Apart]:
    """Run both through ``seconds`` of the sequence; gives the differences so far after each second."""
    compiled, other = machine(ticks), machine()
    integrated: Reference = reference(other.net)
    gauges = [t for t, s in compiled.signals.items() if s.unit == "psi" and s.station and not t.endswith(".dp")]
    spans = [from_unit(compiled.signals[t].high, "psi") for t in gauges]
    found = Apart()
    gauge_sum = node_sum = 0.0
    for second in range(seconds):
        order(second, compiled, other)
        for _ in range(10):
            began = time.process_time()
            compiled.scan()
            between = time.process_time()
            integrated.scan(other.state, rtol)
            found.reference_time += time.process_time() - between
            found.compiled_time += between - began
            own = [compiled.read(t) / span for t, span in zip(gauges, spans, strict=True)]
            their = [other.read(t) / span for t, span in zip(gauges, spans, strict=True)]
            gaps = [abs(a - b) for a, b in zip(own, their, strict=True)]
            found.gauge_worst = max(found.gauge_worst, *gaps)
            found.shifted(own, their)
            gauge_sum += sum(gaps) / len(gaps)
            nodes = compiled.pressures()
            node_sum += sum(abs(p - other.read(f"{n}.p")) for n, p in nodes.items()) / NODE_RANGE / len(nodes)
            found.rows += 1
            gap = abs(compiled.read("totaliser.true") - other.read("totaliser.true"))
            found.count = max(found.count, to_unit(gap, "gal"))
        found.seconds = second + 1.0
        found.gauge_mean, found.node_mean = gauge_sum / found.rows, node_sum / found.rows
        yield found


def checks(seconds: int) -> Iterator[Check]:
    """How near the compiled plant stays, over ``seconds`` of the sequence (600 in the long form)."""
    *_, found = compare(seconds)
    rows = (
        ("gauges, mean over the sequence, share of range", found.gauge_mean, 0.005, "1"),
        ("every node, mean over the sequence, share of 5,000 psi", found.node_mean, 0.005, "1"),
        ("any gauge at its worst instant, the instant free by a scan, share of range", found.gauge_shifted, 0.005, "1"),
        ("any gauge at its worst instant, share of range", found.gauge_worst, 0.02, "1"),
        ("flow count, largest difference", found.count, 0.1, "gal"),
    )
    for name, computed, tolerance, unit in rows:
        yield Check(f"beside the stiff integrator: {name}", SOURCE, 0.0, computed, tolerance, unit)
    errors = [coarse(ticks) for ticks in (5, 10)]
    yield Check(
        "error of the node pressures with the tick halved, over that with the usual tick",
        "implicit Euler is of first order: Hairer & Wanner, Solving ODEs II (from memory)",
        0.0,
        errors[1] / errors[0],
        0.55,
        "1",
    )


def coarse(ticks: int, seconds: int = 6, fine: int = 80) -> float:
    """Mean error of the node pressures (Pa) with ``ticks`` a scan, beside the same plant with ``fine`` ticks."""
    own, best = machine(ticks), machine(fine)
    total, rows = 0.0, 0
    for second in range(seconds):
        order(second, own, best)
        for _ in range(10):
            own.scan()
            best.scan()
            nodes = own.pressures()
            total += sum(abs(p - best.read(f"{n}.p")) for n, p in nodes.items()) / len(nodes)
            rows += 1
    return total / rows
