"""Feed by pilots: lines down the umbilical, pilot-operated valves in both pods, and shuttles that pick the pod.

The surface valve puts pilot pressure on a function's close or open line of *both* bundles; in each pod a valve shifts
when that pressure has come down; the pod that has power fluid then fills the piston's chamber through a shuttle valve
while the other chamber vents to sea.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.hydraulics.laws import laminar, opened
from trainer.hydraulics.network import SCAN, Network
from trainer.hydraulics.storage import ATMOSPHERE, Line
from trainer.plant.base import PSI
from trainer.plant.function_faults import COUNT, Row, at_rest
from trainer.plant.function_laws import (
    attend_piloted,
    leak_out,
    piloted_awake,
    pilots_awake,
    pod_valve,
    pulse,
    shuttle_valve,
    vented,
)
from trainer.plant.functions import HOLDS, LEAK_K, POD_VALVE_TRAVEL

if TYPE_CHECKING:
    from trainer.plant.functions import Function

WAY_K = 3.0e-7
PILOT_LEAK_K = 1.2e-7
PILOT_START = 3000.0 * PSI + ATMOSPHERE
OLD = 60.0
"""Age of a change of pilot pressure, s, beyond which it is no longer counted."""
PLACES = ("stack", "riser_package", "pod")


@dataclass(frozen=True)
class Piloted:
    """What piloted functions hang on: pods, umbilical figures and the columns of fluid and sea (Pa)."""

    pods: tuple[str, str]
    pilot_volume: float
    pilot_modulus: float
    pilot_g: float
    pilot_delay: float
    head: float
    outside: float
    held: dict[str, float]
    outside_node: str = "sea"
    lost_to: str = "to sea"

    @property
    def fault_kinds(self) -> tuple[Row, ...]:
        """Faults of the way through the pods, for each pod that has parts of its own."""
        change = "Change to the other pod and compare."
        count = ("totaliser.flow", "totaliser.count")
        found: list[Row] = [
            ("shuttle_leak", "shuttle valve leaks by to sea", COUNT, "Put it to block; change pod and compare.")
        ]
        for pod in self.pods:
            for kind, title, shows in (
                (f"pod_valve_slow_{pod}", f"valve in the {pod} pod slow to shift", count),
                (f"pod_valve_stuck_{pod}", f"valve in the {pod} pod does not shift", count),
                (
                    f"pilot_leak_{pod}",
                    f"closing pilot line to the {pod} pod leaks",
                    ("tank.level", "accumulator.pressure", "pilot.pressure", "totaliser.count"),
                ),
            ):
                found.append((kind, title, shows, change))
        return tuple(found)

    def supplies(self, function: Function) -> tuple[str, str]:
        """The lines of the two pods that feed the function."""
        a, b = self.pods
        return f"pod_{a}.{function.supply}", f"pod_{b}.{function.supply}"

    def joined(self, function: Function, pod: str) -> str | float:
        """Variable that is 1 while the pod's stab is in the part that the function stands on."""
        return 1.0 if function.place == "pod" else f"pod_{pod}.joined_{function.place}"

    def start(self, function: Function, way: str) -> float:
        """Pressure of a chamber at the start, Pa."""
        return self.held[function.supply] if way == function.starts else self.outside

    def attend(self, net: Network, function: Function) -> None:
        """One cheap test a scan decides whether the function's own logic runs at all."""
        i = function.id
        a, b = self.supplies(function)
        seen = [net.var(f"{i}.seen_{n}") for n in ("pilot", "a", "b")]
        state = [f"{i}.{n}" for n in ("attend", "valve", "open_way", "close_way", "pilot.awake", "power.awake", "x")]
        net.block(
            attend_piloted,
            [*state, 1.0 if function.kind in HOLDS else 0.0, "lamps.stir", "pods.stir", "functions.stir", "pilot.p",
             f"{a}.p", f"{b}.p", *seen, net.settled, *at_rest(net, function)],
            [f"{i}.attend", *seen],
        )  # fmt: skip

    def lines(self, net: Network, function: Function) -> None:
        """Pilot lines of both ways to both pods, in two lumps each, and the valves that they shift."""
        i = function.id
        group = net.group(f"{i}.pilot", f"{i}.attend")
        half = self.pilot_volume / 2.0
        for way in ("open", "close"):
            was = net.var(f"{i}.{way}.was", 1.0 if way == function.starts else 0.0)
            age = net.var(f"{i}.{way}.age", OLD)
            net.block(wave, [f"{i}.{way}_way", was, age, SCAN], [age, was], gate=f"{i}.attend")
        for way in ("open", "close"):
            live = way == function.starts
            start = PILOT_START if live else ATMOSPHERE
            for pod in self.pods:
                near, far = f"{i}.{way}.{pod}.near", f"{i}.{way}.{pod}.far"
                net.node(near, Line(half, self.pilot_modulus, start), group)
                net.node(far, Line(half, self.pilot_modulus, start + self.head), group)
                net.edge(f"{near}.supply", "pilot", near, opened, WAY_K, f"{i}.{way}_way", group=group)
                net.edge(f"{near}.vent", near, "tank", vented, WAY_K, f"{i}.{way}_way", group=group)
                # The first lump is filled through the valve, the second through half the line.
                net.edge(f"{near}.down", near, far, laminar, 2.0 * self.pilot_g, head=self.head, group=group)
                if way == "close":
                    kind = f"pilot_leak_{pod}"
                    net.edge(
                        f"{far}.leak", far, "sea", leak_out, PILOT_LEAK_K, function.fault(kind), group=group,
                        fault=f"{i}.{kind}",
                    )  # fmt: skip
                x = net.var(f"{i}.{way}.{pod}.x", 1.0 if live else 0.0)
                slow, stuck = (function.fault(f"pod_valve_{kind}_{pod}") for kind in ("slow", "stuck"))
                net.block(
                    pod_valve,
                    [
                        f"{far}.p",
                        x,
                        self.outside,
                        net.tick / POD_VALVE_TRAVEL,
                        slow,
                        stuck,
                        f"{i}.{way}.age",
                        self.pilot_delay,
                    ],
                    [x],
                    rate="tick",
                    group=group,
                )
        ends = [f"{i}.{way}.{pod}.{end}" for way in ("open", "close") for pod in self.pods for end in ("far.p", "x")]
        leaks = [function.fault(f"pilot_leak_{pod}") for pod in self.pods]
        net.block(
            pilots_awake,
            [f"{i}.pilot.awake", "pilot.p", self.head, ATMOSPHERE + 5.0e3, f"{i}.open_way", f"{i}.close_way", *ends,
             *leaks, "functions.stir", f"{i}.open.age", f"{i}.close.age", self.pilot_delay + 1.0, net.wake,
             net.settled],
            [f"{i}.pilot.awake", net.var(f"{i}.pilot.due")],
            gate=f"{i}.attend",
        )  # fmt: skip

    def chamber(self, net: Network, function: Function, way: str, k: float) -> None:
        """A chamber, its shuttle valve, feeds from both pods and the vent to sea."""
        i, group = function.id, f"{function.id}.power"
        live = way == function.starts
        node = net.node(f"{i}.{way}", function.chamber_line(0.0, self.start(function, way)), group)
        shuttle = net.var(f"{node}.shuttle", 0.0)
        ways = [net.var(f"{node}.from_a", 1.0 if live else 0.0), net.var(f"{node}.from_b", 0.0)]
        vent = net.var(f"{node}.vent", 0.0 if live else 1.0)
        lines = self.supplies(function)
        joined = [self.joined(function, pod) for pod in self.pods]
        net.block(
            shuttle_valve,
            [shuttle, *(f"{node}.{pod}.x" for pod in self.pods), *(f"{s}.p" for s in lines), self.outside, *joined],
            [shuttle, *ways, vent],
            rate="tick",
            group=group,
        )
        for pod, line, opening in zip(self.pods, lines, ways, strict=True):
            net.edge(f"{node}.{pod}.feed", line, node, opened, k, opening, group=group)
        net.edge(f"{node}.to_sea", node, "sea", opened, 1.6 * k, vent, group=group)
        if way == "close":
            net.edge(
                f"{i}.shuttle_leak", node, "sea", leak_out, LEAK_K, function.fault("shuttle_leak"), group=group,
                fault=f"{i}.shuttle_leak",
            )  # fmt: skip

    def wake(self, net: Network, function: Function) -> None:
        """Whether the chambers' equations run."""
        i = function.id
        a, b = self.supplies(function)
        net.block(
            piloted_awake,
            [f"{i}.power.awake", f"{i}.pilot.due", "pods.stir", f"{i}.close.p", f"{i}.open.p", f"{a}.p", f"{b}.p",
             self.outside, f"{i}.close.from_a", f"{i}.close.from_b", f"{i}.open.from_a", f"{i}.open.from_b",
             function.ratio, f"{i}.against", function.friction, f"{i}.x", f"{i}.limit", f"{i}.held",
             *(function.fault(kind) for kind in ("leak_close", "leak_open", "piston_bypass", "shuttle_leak")),
             *(f"{i}.{way}.{pod}.x" for way in ("close", "open") for pod in self.pods),
             *(self.joined(function, pod) for pod in self.pods), net.wake, net.settled],
            [f"{i}.power.awake"],
            gate=f"{i}.attend",
        )  # fmt: skip

    def switches(self, net: Network, function: Function) -> tuple[str, str]:
        """Pressure switches on the first pod's pilot lines, where they leave the unit."""
        i, pod = function.id, self.pods[0]
        return f"{i}.open.{pod}.near.p", f"{i}.close.{pod}.near.p"


def wave(way: float, was: float, age: float, scan: float) -> tuple[float, float]:
    """Seconds since a surface valve last began to move, up to ``OLD``, and where it stands (0 or 1, or between)."""
    rested = was <= 0.0 or was >= 1.0
    begun = rested and way != was
    return (0.0 if begun else min(age + scan, OLD)), way


def build_joints(net: Network, pods: tuple[str, ...], connectors: dict[str, str]) -> None:
    """Add what tells whether each pod's stab is in the riser package and in the stack, and ``pods.stir`` on a change.

    ``connectors`` gives the function that latches each pod.
    """
    net.var("pods.stir")
    seen = [net.var(f"pods.seen_{n}") for n in ("a", "b")]
    for pod in pods:
        for place in ("riser_package", "stack"):
            net.var(f"pod_{pod}.joined_{place}", 1.0)
    # Where a pod stands, both flags in one number: 0 out, 1 in the riser package only, 2 in both.
    sums = [net.var(f"pod_{pod}.joined", 2.0) for pod in pods]
    net.block(pulse, [sums[0], seen[0], sums[1], seen[1]], ["pods.stir", *seen])
    for pod, total in zip(pods, sums, strict=True):
        latch = f"{connectors[pod]}.x" if pod in connectors else 1.0
        outputs = [f"pod_{pod}.joined_riser_package", f"pod_{pod}.joined_stack", total]
        net.block(stabs, [latch, "bore.parted"], outputs)


def stabs(latch: float, parted: float) -> tuple[float, float, float]:
    """1 while a pod's stab is in the riser package, 1 while in the stack, and their sum; ``latch`` 1 is locked."""
    there = 1.0 if latch > 0.5 else 0.0
    below = there if parted < 0.5 else 0.0
    return there, below, there + below
