"""Feed by pilots: lines down the umbilical, pilot-operated valves in all pods, and shuttles that pick the pod.

The surface valve puts pilot pressure on a function's close or open line of *every* bundle; in each pod a valve shifts
when that pressure has come down; the pod that has power fluid then fills the piston's chamber through a shuttle valve
while the other chamber vents to sea. A third pod comes in by a second shuttle valve behind the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.constants import ATMOSPHERE, SCAN
from trainer.hydraulics.laws import laminar, opened
from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import Line
from trainer.plant.base import PSI
from trainer.plant.function_faults import COUNT, Row, at_rest
from trainer.plant.function_laws import (
    attend_piloted,
    leak_out,
    piloted_awake,
    pilots_awake,
    pilots_awake_too,
    pod_valve,
    pulse,
    pulse_too,
    second_shuttle,
    shuttle_valve,
    vented,
)
from trainer.plant.functions import HOLDS, LEAK_K

if TYPE_CHECKING:
    from trainer.plant.functions import Function
    from trainer.plant.pods import Pod
    from trainer.plant.umbilical import Umbilical

PILOT_LEAK_K = 1.2e-7
PILOT_START = 3000.0 * PSI + ATMOSPHERE
OLD = 60.0
"""Age of a change of pilot pressure, s, beyond which it is no longer counted."""
PLACES = ("stack", "riser_package", "pod")


@dataclass(frozen=True)
class Piloted:
    """What piloted functions hang on: pods, umbilical figures and the columns of fluid and sea (Pa)."""

    valves: tuple[Pod, ...]
    line: Umbilical
    density: float
    viscosity: float
    modulus: float
    head: float
    outside: float
    held: dict[str, float]
    outside_node: str = "sea"
    lost_to: str = "to sea"

    @property
    def pods(self) -> tuple[str, ...]:
        """Ids of the pods."""
        return tuple(pod.id for pod in self.valves)

    @property
    def pilot_delay(self) -> float:
        """Time that a change takes down a pilot line, s."""
        return self.line.pilot_delay(self.density)

    @property
    def fault_kinds(self) -> tuple[Row, ...]:
        """Faults of the way through the pods, for each pod that has parts of its own."""
        change = "Change to the other pod and compare."
        count = ("totaliser.flow", "totaliser.count")
        found: list[Row] = [
            (
                "shuttle_leak",
                "shuttle valve of the closing side leaks by to sea",
                COUNT,
                "Count runs on with the function closed and stops in block; change pod and compare.",
            )
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

    def supplies(self, function: Function) -> list[str]:
        """The lines of the pods that feed the function."""
        return [f"pod_{pod}.{function.supply}" for pod in self.pods]

    def joined(self, function: Function, pod: str) -> str | float:
        """Variable that is 1 while the pod's stab is in the part that the function stands on."""
        return 1.0 if function.place == "pod" else f"pod_{pod}.joined_{function.place}"

    def start(self, function: Function, way: str) -> float:
        """Pressure of a chamber at the start, Pa."""
        return self.held[function.supply] if way == function.starts else self.outside

    def attend(self, net: Network, function: Function) -> None:
        """One cheap test a scan decides whether the function's own logic runs at all."""
        i = function.id
        a, b = _two(self.supplies(function))
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
        half, modulus, way_k = self.line.pilot_volume() / 2.0, self.line.pilot_modulus, self.line.pilot_capacity
        conductance = self.line.pilot_g(self.viscosity)
        for way in ("open", "close"):
            was = net.var(f"{i}.{way}.was", 1.0 if way == function.starts else 0.0)
            age = net.var(f"{i}.{way}.age", OLD)
            net.block(wave, [f"{i}.{way}_way", was, age, SCAN], [age, was], gate=f"{i}.attend")
        for way in ("open", "close"):
            live = way == function.starts
            start = PILOT_START if live else ATMOSPHERE
            for valve in self.valves:
                pod = valve.id
                near, far = f"{i}.{way}.{pod}.near", f"{i}.{way}.{pod}.far"
                net.node(near, Line(half, modulus, start), group)
                net.node(far, Line(half, modulus, start + self.head), group)
                net.edge(f"{near}.supply", "pilot", near, opened, way_k, f"{i}.{way}_way", group=group)
                net.edge(f"{near}.vent", near, "tank", vented, way_k, f"{i}.{way}_way", group=group)
                # The second lump is filled through the whole line: it comes to 40, 63 and 90 % of a step in 0.26,
                # 0.50 and 1.15 R C; the line itself, by its series, in 0.31, 0.50 and 1.03 (tests/outside).
                net.edge(f"{near}.down", near, far, laminar, conductance, head=self.head, group=group)
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
                        net.tick / valve.travel,
                        valve.shift_on,
                        valve.shift_off,
                        slow,
                        stuck,
                        f"{i}.{way}.age",
                        self.pilot_delay,
                    ],
                    [x],
                    rate="tick",
                    group=group,
                )
        net.var(f"{i}.pilot.due")
        # Two pods a step; a third has one of its own, which adds to what the first found.
        for n, pods in enumerate((_two(self.pods), self.pods[2:] * 2)):
            if not pods:
                continue
            ends = [f"{i}.{way}.{pod}.{end}" for way in ("open", "close") for pod in pods for end in ("far.p", "x")]
            leaks = [function.fault(f"pilot_leak_{pod}") for pod in pods]
            inputs: list[str | float] = [
                f"{i}.pilot.awake", "pilot.p", self.head, ATMOSPHERE + 5.0e3, f"{i}.open_way", f"{i}.close_way", *ends,
                *leaks, "functions.stir", f"{i}.open.age", f"{i}.close.age", self.pilot_delay + 1.0, net.wake,
                net.settled,
            ]  # fmt: skip
            law = pilots_awake if n == 0 else pilots_awake_too
            known = [f"{i}.pilot.due"] * n
            net.block(law, [*known, *inputs], [f"{i}.pilot.awake", f"{i}.pilot.due"], gate=f"{i}.attend")

    def chamber(self, net: Network, function: Function, way: str, k: float) -> None:
        """A chamber, its shuttle valve, feeds from both pods and the vent to sea."""
        i, group = function.id, f"{function.id}.power"
        live = way == function.starts
        node = net.node(f"{i}.{way}", function.chamber_line(0.0, self.start(function, way), self.modulus), group)
        shuttle = net.var(f"{node}.shuttle", 0.0)
        ways = [net.var(f"{node}.from_a", 1.0 if live else 0.0), net.var(f"{node}.from_b", 0.0)]
        both = [*self.pods, self.pods[0]][:2]
        vent = net.var(f"{node}.vent", 0.0 if live else 1.0)
        lines = self.supplies(function)
        joined = [self.joined(function, pod) for pod in self.pods]
        # One pod alone: the second's place is taken by a stab that is out.
        net.block(
            shuttle_valve,
            [shuttle, *(f"{node}.{pod}.x" for pod in both), *(f"{s}.p" for s in _two(lines)), self.outside,
             *[*joined, 0.0][:2]],
            [shuttle, *ways, vent],
            rate="tick",
            group=group,
        )  # fmt: skip
        if len(self.pods) > 2:
            second, third = net.var(f"{node}.shuttle_2", 0.0), net.var(f"{node}.from_c", 0.0)
            net.block(
                second_shuttle,
                [second, *ways, vent, *(f"{s}.p" for s in lines), f"{node}.{self.pods[2]}.x", self.outside, joined[2]],
                [second, *ways, third, vent],
                rate="tick",
                group=group,
            )
            ways.append(third)
        for pod, line, opening in zip(self.pods, lines, ways, strict=False):
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
        a, b = _two(self.supplies(function))
        net.block(
            piloted_awake,
            [f"{i}.power.awake", f"{i}.pilot.due", "pods.stir", f"{i}.close.p", f"{i}.open.p", f"{a}.p", f"{b}.p",
             self.outside, f"{i}.close.from_a", f"{i}.close.from_b", f"{i}.open.from_a", f"{i}.open.from_b",
             function.ratio, f"{i}.against", function.friction, f"{i}.x", f"{i}.limit", f"{i}.held",
             *(function.fault(kind) for kind in ("leak_close", "leak_open", "piston_bypass", "shuttle_leak")),
             *(f"{i}.{way}.{pod}.x" for way in ("close", "open") for pod in _two(self.pods)),
             *[*(self.joined(function, pod) for pod in self.pods), 0.0][:2], net.wake, net.settled],
            [f"{i}.power.awake"],
            gate=f"{i}.attend",
        )  # fmt: skip

    def switches(self, net: Network, function: Function) -> tuple[str, str]:
        """Pressure switches on the first pod's pilot lines, where they leave the unit."""
        i, pod = function.id, self.pods[0]
        return f"{i}.open.{pod}.near.p", f"{i}.close.{pod}.near.p"


def _two(of_pods: Sequence[str]) -> list[str]:
    """What belongs to the first two pods; of one pod alone, twice."""
    return [*of_pods, of_pods[0]][:2]


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
    for pod in pods:
        for place in ("riser_package", "stack"):
            net.var(f"pod_{pod}.joined_{place}", 1.0)
    # Where a pod stands, both flags in one number: 0 out, 1 in the riser package only, 2 in both.
    sums = [net.var(f"pod_{pod}.joined", 2.0) for pod in pods]
    seen = [net.var(f"pods.seen_{n}") for n in ("a", "b")]
    net.block(pulse, [sums[0], seen[0], sums[min(1, len(sums) - 1)], seen[1]], ["pods.stir", *seen])
    for number, pod in enumerate(pods[2:]):
        # Functions watch the supplies of two pods; the third's change wakes them all.
        told = [net.var(f"pods.seen_{n}_{number}") for n in ("stab", "way")]
        inputs = ["pods.stir", sums[2 + number], told[0], f"pod_selector.{pod}", told[1]]
        net.block(pulse_too, inputs, ["pods.stir", *told])
    for pod, total in zip(pods, sums, strict=True):
        latch = f"{connectors[pod]}.x" if pod in connectors else 1.0
        outputs = [f"pod_{pod}.joined_riser_package", f"pod_{pod}.joined_stack", total]
        net.block(stabs, [latch, "bore.parted"], outputs)


def stabs(latch: float, parted: float) -> tuple[float, float, float]:
    """1 while a pod's stab is in the riser package, 1 while in the stack, and their sum; ``latch`` 1 is locked."""
    there = 1.0 if latch > 0.5 else 0.0
    below = there if parted < 0.5 else 0.0
    return there, below, there + below
