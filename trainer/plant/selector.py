"""Pod selector and flow totaliser.

Power fluid leaves the unit through the pod selector; the totaliser counts every gallon that goes subsea, whatever it
does there. That count, with the read-back pressure, is what tells that a function moved.
"""

from __future__ import annotations

from trainer.hydraulics.laws import opened_check
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import ATMOSPHERE
from trainer.plant.base import button, choice, component_fault, reading, state_reading
from trainer.plant.manifold import return_line

SELECTOR_K = 6.0e-6
VENT_K = 1.0e-6
LEAK_BY = 0.02
STROKE = 0.2
POSITIONS = ("block", "yellow", "blue")


def build_selector(net: Network) -> None:
    """Add the pod selector between ``header`` and the pods' supply lines, and the totaliser."""
    everywhere = ("unit", "driller", "remote")
    state_reading(net, "pod_selector.position", POSITIONS, "Which pod gets power fluid.", everywhere, 1.0)
    net.var("pod_selector.yellow", 1.0)
    net.var("pod_selector.blue", 0.0)
    choice(
        net,
        "pod_selector",
        POSITIONS,
        "Pod selector: power fluid to the yellow pod, blocked, or to the blue pod.",
        everywhere,
        "pod_selector.position",
    )
    stuck = component_fault(
        net,
        "pod_selector",
        "stuck",
        "Pod selector valve does not shift",
        ("totaliser.count", "manifold_regulator.readback"),
        "Read-back and count do not answer the change of pod: work the selector's lever at the unit, free the valve.",
    )
    leaks = component_fault(
        net,
        "pod_selector",
        "leaks_by",
        "Pod selector leaks by into the other pod's line",
        ("totaliser.count", "accumulator.pressure", "totaliser.flow"),
        "A count that runs on with nothing moving, in block too: renew the selector's seals.",
    )
    net.block(
        select,
        ["pod_selector.position", "pod_selector.yellow", "pod_selector.blue", stuck],
        ["pod_selector.yellow", "pod_selector.blue"],
    )
    for pod, other in (("yellow", "blue"), ("blue", "yellow")):
        mine, theirs = f"pod_selector.{pod}", f"pod_selector.{other}"
        net.edge(f"pod_selector.to_{pod}", "header", f"line_{pod}", leaking_way, SELECTOR_K, mine, leaks)
        group = net.group(f"pod_selector.venting_{pod}", awake=0.0)
        net.edge(f"pod_selector.vent_{pod}", f"line_{pod}", "tank", return_line, VENT_K, theirs, group=group)
        net.block(vents, [theirs, f"line_{pod}.p"], [f"{group}.awake"])
    _totaliser(net)


def _totaliser(net: Network) -> None:
    shown = ("unit", "driller")
    reading(net, "totaliser.true", "gal", 0, 1e6, "Fluid sent subsea since the start.", ())
    reading(net, "totaliser.count", "gal", 0, 9999, "Fluid sent subsea since the last reset.", shown)
    reading(net, "totaliser.flow", "gpm", 0, 300, "Flow going subsea now.", shown, (0, 1))
    net.var("totaliser.at_reset", 0.0)
    net.var("totaliser.lost", 0.0)
    net.var("totaliser.seen", 0.0)
    dead = component_fault(
        net,
        "totaliser",
        "not_counting",
        "Flow totaliser does not count",
        ("totaliser.count", "totaliser.flow"),
        "Judge by read-back and accumulator pressure; clean or change the meter's sensor.",
    )
    ways = ["pod_selector.to_yellow.q", "pod_selector.to_blue.q"]
    net.block(count, ["totaliser.true", *ways, net.tick], ["totaliser.true"], rate="after")
    net.block(
        show_count,
        ["totaliser.true", "totaliser.at_reset", "totaliser.lost", "totaliser.seen", dead, *ways],
        ["totaliser.lost", "totaliser.seen", "totaliser.count", "totaliser.flow"],
        rate="observe",
    )

    def reset(machine: Machine) -> None:
        machine.put("totaliser.at_reset", machine.read("totaliser.true"))
        machine.put("totaliser.lost", 0.0)
        machine.put("totaliser.count", 0.0)

    button(net, "totaliser.reset", "Set the flow count back to zero.", shown, reset)


def select(position: float, yellow: float, blue: float, stuck: float) -> tuple[float, float]:
    """Opening of the two outlets of the pod selector as its cylinder moves (half a second from stop to stop)."""
    step = 0.0 if stuck > 0.0 else STROKE
    want_yellow = 1.0 if position > 0.5 and position < 1.5 else 0.0
    want_blue = 1.0 if position > 1.5 else 0.0
    to_yellow = yellow + min(max(want_yellow - yellow, -step), step)
    to_blue = blue + min(max(want_blue - blue, -step), step)
    return to_yellow, to_blue


def vents(x: float, p: float) -> float:
    """1 while a line that is open to the tank holds pressure."""
    return 1.0 if x > 0.0 and p > ATMOSPHERE + 1.0e3 else 0.0


def leaking_way(pu: float, pd: float, k: float, x: float, leaks: float) -> tuple[float, float, float]:
    """One outlet of the pod selector, ``x`` open or leaking by."""
    q, gu, gd = opened_check(pu, pd, k, max(x, LEAK_BY * leaks), 0.0)
    return q, gu, gd


def count(total: float, yellow: float, blue: float, tick: float) -> float:
    """Fluid gone subsea, m3; the meter turns one way only."""
    return total + tick * max(yellow + blue, 0.0)


def show_count(
    total: float, at_reset: float, lost: float, seen: float, dead: float, yellow: float, blue: float
) -> tuple[float, float, float, float]:
    """What the meter missed, what it has seen go by, its count since reset (m3) and its rate (m3/s).

    A faulty meter misses the share ``dead`` of what passes.
    """
    missed = lost + dead * (total - seen)
    return missed, total, total - at_reset - missed, (1.0 - dead) * max(yellow + blue, 0.0)
