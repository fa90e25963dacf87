"""Pod selector and flow totaliser.

Power fluid leaves the unit through the pod selector; the totaliser counts every gallon that goes subsea, whatever it
does there. That count, with the read-back pressure, is what tells that a function moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from trainer.constants import ATMOSPHERE, SCAN
from trainer.hydraulics.catalogue import Variables
from trainer.hydraulics.laws import opened_check
from trainer.hydraulics.lists import added, largest
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import Part, button, choice, component_fault, reading, state_reading
from trainer.plant.manifold import return_line
from trainer.units import Coefficient, Flow, Number, Pressure, Seconds, Volume, between

LEAK_BY = 0.02
"""Share of its opening that a worn selector valve passes when shut. Invented."""


class Selector(Part):
    """The pod selector: its flow coefficient each way, that of its vent to tank, and the time of its travel."""

    capacity: Annotated[Coefficient, between("0.5 Cv", "200 Cv")] = 6.0e-6
    vent_capacity: Annotated[Coefficient, between("0.05 Cv", "50 Cv")] = 1.0e-6
    travel: Annotated[Seconds, between("0.1 s", "20 s")] = 0.5

    def build(self, net: Network, pods: Sequence[str]) -> None:
        """Add the selector between ``header`` and the supply lines of ``pods``, on the first one, and the totaliser."""
        everywhere = ("unit", "driller", "remote")
        positions = ("block", *pods)
        state_reading(net, "pod_selector.position", positions, "Which pod gets power fluid.", everywhere, 1.0)
        words = ", ".join(f"to the {pod} pod" for pod in pods)
        meaning = f"Pod selector: power fluid blocked, {words}."
        choice(net, "pod_selector", positions, meaning, everywhere, "pod_selector.position")
        stuck = component_fault(
            net,
            "pod_selector",
            "stuck",
            "Pod selector valve does not shift",
            ("totaliser.count", "manifold_regulator.readback"),
            "Read-back and count do not follow the change of pod: operate the selector's lever at the unit, free it.",
        )
        leaks = component_fault(
            net,
            "pod_selector",
            "leaks_by",
            "Pod selector leaks by into another pod's line",
            ("totaliser.count", "accumulator.pressure", "totaliser.flow"),
            "A count that runs on with nothing moving, in block too: replace the selector's seals.",
        )
        step = SCAN / self.travel
        for number, pod in enumerate(pods, 1):
            way = net.var(f"pod_selector.{pod}", 1.0 if number == 1 else 0.0)
            net.block(
                select,
                inputs=dict(position="pod_selector.position", mine=float(number), step=step, stuck=stuck),
                states=dict(way=way),
            )
        for pod in pods:
            mine, line = f"pod_selector.{pod}", f"line_{pod}"
            net.edge(f"pod_selector.to_{pod}", "header", line, leaking_way, dict(k=self.capacity, x=mine, leaks=leaks))
            vented = net.var(f"pod_selector.vent_of_{pod}", 1.0 if mine != f"pod_selector.{pods[0]}" else 0.0)
            others = [f"pod_selector.{other}" for other in pods if other != pod]
            net.block(widest, inputs=dict(ways=others), outputs=dict(widest=vented))
            group = net.group(f"pod_selector.venting_{pod}", awake=0.0)
            vent = f"pod_selector.vent_{pod}"
            net.edge(vent, line, "tank", return_line, dict(k=self.vent_capacity, x=vented), group=group)
            net.block(vents, inputs=dict(x=vented, p=f"{line}.p"), outputs=dict(awake=f"{group}.awake"))
        _totaliser(net, [f"pod_selector.to_{pod}.q" for pod in pods])


def _totaliser(net: Network, flows: Sequence[str]) -> None:
    shown = ("unit", "driller")
    reading(net, "totaliser.true", "gal", 0, 1e6, "Fluid sent subsea since the start.", ())
    reading(net, "totaliser.count", "gal", 0, 9999, "Fluid sent subsea since the last reset.", shown)
    reading(net, "totaliser.flow", "gpm", 0, 300, "Flow going subsea now.", shown, (0, 1))
    net.var("totaliser.at_reset", 0.0, "m3")
    net.var("totaliser.lost", 0.0, "m3")
    net.var("totaliser.seen", 0.0, "m3")
    dead = component_fault(
        net,
        "totaliser",
        "not_counting",
        "Flow totaliser does not count",
        ("totaliser.count", "totaliser.flow"),
        "Judge by read-back and accumulator pressure; clean or replace the meter's sensor.",
    )
    net.block(count, inputs=dict(flows=flows, tick=net.tick), states=dict(total="totaliser.true"), rate="after")
    net.block(
        show_count,
        inputs=dict(flows=flows, total="totaliser.true", at_reset="totaliser.at_reset", dead=dead),
        states=under("totaliser", "lost", "seen"),
        outputs=under("totaliser", "count", "flow"),
        rate="observe",
    )

    def reset(machine: Variables) -> None:
        machine.put("totaliser.at_reset", machine.read("totaliser.true"))
        machine.put("totaliser.lost", 0.0)
        machine.put("totaliser.count", 0.0)

    button(net, "totaliser.reset", "Set the flow count back to zero.", shown, reset)


@gives("way")
def select(position: Number, way: Number, mine: Number, step: Number, stuck: Number) -> Number:
    """Opening of an outlet of the pod selector as its cylinder moves by ``step``; it opens at the position ``mine``."""
    most = 0.0 if stuck > 0.0 else step
    want = 1.0 if abs(position - mine) < 0.5 else 0.0
    return way + min(max(want - way, -most), most)


@gives("widest")
def widest(ways: list[Number]) -> Number:
    """The widest of several openings, each from 0 (shut) to 1 (open): by it a line is open to the tank."""
    return largest(ways)


@gives("awake")
def vents(x: Number, p: Pressure) -> Number:
    """1 while a line that is open to the tank (``x`` over 0) holds pressure, ``p`` in Pa absolute; else 0."""
    return 1.0 if x > 0.0 and p > ATMOSPHERE + 1.0e3 else 0.0


def leaking_way(pu: Pressure, pd: Pressure, k: Coefficient, x: Number, leaks: Number) -> tuple[float, float, float]:
    """One outlet of the pod selector, ``x`` open (0 to 1) or leaking by: flow in m3/s and its slopes."""
    q, gu, gd = opened_check(pu, pd, k, max(x, LEAK_BY * leaks), 0.0)
    return q, gu, gd


@gives("total")
def count(total: Volume, flows: list[Flow], tick: Seconds) -> Volume:
    """Fluid gone subsea, m3, after a tick of ``tick`` s with these flows (m3/s): the meter turns one way only."""
    return total + tick * max(0.0, added(flows))


@gives("lost", "seen", "count", "flow")
def show_count(
    total: Volume, at_reset: Volume, lost: Volume, seen: Volume, dead: Number, flows: list[Flow]
) -> tuple[Volume, Volume, Volume, Flow]:
    """What the meter missed, what it has seen go by, its count since reset (m3) and its rate (m3/s).

    A faulty meter misses the share ``dead`` of what passes.
    """
    missed = lost + dead * (total - seen)
    return missed, total, total - at_reset - missed, (1.0 - dead) * max(0.0, added(flows))
