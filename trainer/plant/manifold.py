"""The hydraulic control manifold: supply, dual header, pilot supply, pod selector and flow totaliser.

Power fluid leaves the unit through the pod selector; the totaliser counts every gallon that goes subsea, whatever it
does there. That count, with the read-back pressure, is what tells that a function moved.
"""

from __future__ import annotations

from trainer.hydraulics.laws import check, opened_check, relief
from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import ATMOSPHERE, Line
from trainer.plant.base import PSI, Part, button, choice, component_fault, gauge, reading, state_reading
from trainer.units import Pressure

LITRE = 1.0e-3
STEEL_AND_FLUID = 1.3e9
RELIEF_K = 2.0e-6
PILOT_K = 4.0e-7
SELECTOR_K = 6.0e-6
VENT_K = 1.0e-6
POSITIONS = ("block", "yellow", "blue")


class Supply(Part):
    """Pressures of the supply: working pressure of the accumulators and the system relief valve, gauge."""

    relief_pressure: Pressure
    working_pressure: Pressure

    def build(self, net: Network, start: float) -> None:
        """Add supply line, header and pilot manifold at ``start`` (Pa absolute), relief and check valves, gauges."""
        net.node("supply", Line(20 * LITRE, STEEL_AND_FLUID, start))
        net.node("header", Line(60 * LITRE, STEEL_AND_FLUID, start))
        net.node("pilot", Line(10 * LITRE, STEEL_AND_FLUID, start))
        early = component_fault(
            net,
            "relief",
            "lifts_early",
            "System relief valve lifts early",
            ("accumulator.pressure", "tank.level"),
            "Isolate, reset or change the relief valve; watch the pumps' hours.",
        )
        net.edge("relief.flow", "supply", "tank", early_relief, RELIEF_K, self.relief_pressure, early)
        back = component_fault(
            net,
            "pilot_check",
            "leaks_back",
            "Pilot supply check valve leaks back",
            ("pilot.pressure", "accumulator.pressure"),
            "Restore the mains; change the check valve.",
        )
        net.edge("pilot_check.flow", "header", "pilot", leaking_check, PILOT_K, back)
        net.var("accumulator.true", start - ATMOSPHERE)
        net.block(true_gauge, ["header.p"], ["accumulator.true"])
        everywhere = ("unit", "driller")
        gauge(
            net,
            "supply.pressure",
            "supply.p",
            5000,
            "Pump discharge pressure, before the filters.",
            ("unit",),
        )
        gauge(
            net,
            "accumulator.pressure",
            "header.p",
            5000,
            "Accumulator header: what is stored and ready.",
            everywhere,
            (2550, 3050),
        )
        gauge(
            net,
            "pilot.pressure",
            "pilot.p",
            5000,
            "Pilot manifold: what shifts the valves subsea.",
            everywhere,
            (2400, 3050),
        )


def build_selector(net: Network) -> None:
    """Add the pod selector between ``header`` and the pods' supply lines, and the totaliser."""
    state_reading(
        net,
        "pod_selector.position",
        POSITIONS,
        "Which pod gets power fluid.",
        ("unit", "driller", "remote"),
        1.0,
    )
    net.var("pod_selector.yellow", 1.0)
    net.var("pod_selector.blue", 0.0)
    choice(
        net,
        "pod_selector",
        POSITIONS,
        "Pod selector: power fluid to the yellow pod, blocked, or to the blue pod.",
        ("unit", "driller", "remote"),
        "pod_selector.position",
    )
    net.block(
        select,
        ["pod_selector.position", "pod_selector.yellow", "pod_selector.blue", 0.2],
        ["pod_selector.yellow", "pod_selector.blue"],
    )
    for pod, other in (("yellow", "blue"), ("blue", "yellow")):
        mine, theirs = f"pod_selector.{pod}", f"pod_selector.{other}"
        net.edge(f"pod_selector.to_{pod}", "header", f"line_{pod}", opened_check, SELECTOR_K, mine, 0.0)
        net.edge(f"pod_selector.vent_{pod}", f"line_{pod}", "tank", return_line, VENT_K, theirs)
    reading(net, "totaliser.true", "gal", 0, 1e6, "Fluid sent subsea since the start.", ())
    reading(net, "totaliser.count", "gal", 0, 9999, "Fluid sent subsea since the last reset.", ("unit", "driller"))
    reading(net, "totaliser.flow", "gpm", 0, 300, "Flow going subsea now.", ("unit", "driller"), (0, 1))
    net.var("totaliser.at_reset", 0.0)
    net.var("totaliser.lost", 0.0)
    dead = component_fault(
        net,
        "totaliser",
        "not_counting",
        "Flow totaliser does not count",
        ("totaliser.count", "accumulator.pressure"),
        "Judge by read-back and accumulator pressure; clean or change the meter's sensor.",
    )
    net.block(
        count,
        ["totaliser.true", "pod_selector.to_yellow.q", "pod_selector.to_blue.q", net.tick],
        ["totaliser.true"],
        rate="after",
    )
    net.block(
        show_count,
        [
            "totaliser.true",
            "totaliser.at_reset",
            "totaliser.lost",
            dead,
            "totaliser.count",
            "pod_selector.to_yellow.q",
            "pod_selector.to_blue.q",
        ],
        ["totaliser.lost", "totaliser.count", "totaliser.flow"],
        rate="observe",
    )

    def reset(machine: object) -> None:
        put, read = machine.put, machine.read  # type: ignore[attr-defined]
        put("totaliser.at_reset", read("totaliser.true"))
        put("totaliser.lost", 0.0)
        put("totaliser.count", 0.0)

    button(net, "totaliser.reset", "Set the flow count back to zero.", ("unit", "driller"), reset)


def true_gauge(pressure: float) -> float:
    """Pressure above atmosphere, Pa."""
    return pressure - ATMOSPHERE


def early_relief(pu: float, pd: float, k: float, opens: float, early: float) -> tuple[float, float, float]:
    """System relief valve; at full severity of its fault it lifts at 60 % of its setting."""
    q, gu, gd = relief(pu, pd, k, opens * (1.0 - 0.4 * early), 0.05 * opens)
    return q, gu, gd


def leaking_check(pu: float, pd: float, k: float, severity: float) -> tuple[float, float, float]:
    """Check valve into the pilot supply; at full severity a tenth of its flow passes back."""
    q, gu, gd = check(pu, pd, k, 0.0, 0.1 * k * severity)
    return q, gu, gd


def return_line(pu: float, pd: float, k: float, x: float) -> tuple[float, float, float]:
    """A vented line back to the tank: flows only that way."""
    q, gu, gd = check(pu, pd, k * x, 0.0, 0.0)
    return q, gu, gd


def select(position: float, yellow: float, blue: float, step: float) -> tuple[float, float]:
    """Opening of the two outlets of the pod selector as its cylinder moves (half a second from stop to stop)."""
    want_yellow = 1.0 if position > 0.5 and position < 1.5 else 0.0
    want_blue = 1.0 if position > 1.5 else 0.0
    to_yellow = yellow + min(max(want_yellow - yellow, -step), step)
    to_blue = blue + min(max(want_blue - blue, -step), step)
    return to_yellow, to_blue


def count(total: float, yellow: float, blue: float, tick: float) -> float:
    """Fluid gone subsea, m3; the meter turns one way only."""
    return total + tick * max(yellow + blue, 0.0)


def show_count(
    total: float, at_reset: float, lost: float, dead: float, shown: float, yellow: float, blue: float
) -> tuple[float, float, float]:
    """What the totaliser missed while faulty, its count since reset (m3) and its rate (m3/s)."""
    missed = total - at_reset - shown if dead > 0.0 else lost
    counted = total - at_reset - missed
    return missed, counted, (0.0 if dead > 0.0 else max(yellow + blue, 0.0))


__all__ = ["PSI", "Supply", "build_selector"]
