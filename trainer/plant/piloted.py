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
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.storage import Line
from trainer.plant.base import PSI
from trainer.plant.function_laws import (
    attend,
    leak_out,
    piloted_awake,
    pilots_awake,
    pod_valve,
    pulse,
    second_shuttle,
    shuttle_valve,
    vented,
)
from trainer.plant.functions import COUNT, HOLDS, LEAK_K, Row, at_rest
from trainer.units import Number, Seconds

if TYPE_CHECKING:
    from trainer.plant.functions import Function
    from trainer.plant.pods import Pod
    from trainer.plant.umbilical import Umbilical

PILOT_LEAK_K = 1.2e-7
"""m3/(s sqrt(Pa)) of the worst leak of a pilot line, 0.16 Cv. Invented."""
PILOT_START = 3000.0 * PSI + ATMOSPHERE
"""Pa in a pilot line that stands under pressure at the start: the usual 3,000 psi."""
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
        seen = [net.var(f"{i}.seen_{name}", 0.0, "Pa") for name in ("pilot", "a", "b")]
        net.block(
            attend,
            inputs=dict(
                **under(i, "valve", "open_way", "close_way", "x"),
                holds=1.0 if function.kind in HOLDS else 0.0,
                awake=[f"{i}.pilot.awake", f"{i}.power.awake"],
                pulses=["lamps.stir", "pods.stir"],
                timers=["functions.stir"],
                supplies=["pilot.p", f"{a}.p", f"{b}.p"],
                settled=net.settled,
                ails=at_rest(net, function),
            ),
            states=dict(was=f"{i}.attend", seen=seen),
        )

    def lines(self, net: Network, function: Function) -> None:
        """Pilot lines of both ways to both pods, in two lumps each, and the valves that they shift."""
        i = function.id
        group = net.group(f"{i}.pilot", f"{i}.attend")
        half, modulus, way_k = self.line.pilot_volume() / 2.0, self.line.pilot_modulus, self.line.pilot_capacity
        conductance = self.line.pilot_g(self.viscosity)
        for way in ("open", "close"):
            was = net.var(f"{i}.{way}.was", 1.0 if way == function.starts else 0.0)
            age = net.var(f"{i}.{way}.age", OLD, "s")
            net.block(
                wave, inputs=dict(way=f"{i}.{way}_way", scan=SCAN), states=dict(age=age, was=was), gate=f"{i}.attend"
            )
        for way in ("open", "close"):
            live = way == function.starts
            start = PILOT_START if live else ATMOSPHERE
            for valve in self.valves:
                pod = valve.id
                near, far = f"{i}.{way}.{pod}.near", f"{i}.{way}.{pod}.far"
                net.node(near, Line(half, modulus, start), group)
                net.node(far, Line(half, modulus, start + self.head), group)
                net.edge(f"{near}.supply", "pilot", near, opened, dict(k=way_k, x=f"{i}.{way}_way"), group=group)
                net.edge(f"{near}.vent", near, "tank", vented, dict(k=way_k, way=f"{i}.{way}_way"), group=group)
                # The second lump is filled through the whole line: it comes to 40, 63 and 90 % of a step in 0.26,
                # 0.50 and 1.15 R C; the line itself, by its series, in 0.31, 0.50 and 1.03 (tests/outside).
                net.edge(f"{near}.down", near, far, laminar, dict(g=conductance), head=self.head, group=group)
                if way == "close":
                    kind = f"pilot_leak_{pod}"
                    net.edge(
                        f"{far}.leak",
                        far,
                        "sea",
                        leak_out,
                        dict(k=PILOT_LEAK_K, severity=function.fault(kind)),
                        group=group,
                        fault=f"{i}.{kind}",
                    )
                x = net.var(f"{i}.{way}.{pod}.x", 1.0 if live else 0.0)
                slow, stuck = (function.fault(f"pod_valve_{kind}_{pod}") for kind in ("slow", "stuck"))
                net.block(
                    pod_valve,
                    inputs=dict(
                        pilot=f"{far}.p",
                        sea=self.outside,
                        step=net.tick / valve.travel,
                        on=valve.shift_on,
                        off=valve.shift_off,
                        slow=slow,
                        stuck=stuck,
                        age=f"{i}.{way}.age",
                        delay=self.pilot_delay,
                    ),
                    states=dict(x=x),
                    rate="tick",
                    group=group,
                )
        net.var(f"{i}.pilot.due")
        net.block(
            pilots_awake,
            inputs=dict(
                **under(i, "open_way", "close_way"),
                open_ends=[f"{i}.open.{pod}.far.p" for pod in self.pods],
                close_ends=[f"{i}.close.{pod}.far.p" for pod in self.pods],
                open_shifted=[f"{i}.open.{pod}.x" for pod in self.pods],
                close_shifted=[f"{i}.close.{pod}.x" for pod in self.pods],
                leaks=[function.fault(f"pilot_leak_{pod}") for pod in self.pods],
                pilot="pilot.p",
                head=self.head,
                vent=ATMOSPHERE + 5.0e3,
                stir="functions.stir",
                open_age=f"{i}.open.age",
                close_age=f"{i}.close.age",
                young=self.pilot_delay + 1.0,
                wake=net.wake,
                settled=net.settled,
            ),
            states=dict(awake=f"{i}.pilot.awake"),
            outputs=dict(due=f"{i}.pilot.due"),
            gate=f"{i}.attend",
        )

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
        p = [f"{line}.p" for line in _two(lines)]
        # One pod alone: the second's place is taken by a stab that is out.
        net.block(
            shuttle_valve,
            inputs=dict(
                xa=f"{node}.{both[0]}.x",
                xb=f"{node}.{both[1]}.x",
                pa=p[0],
                pb=p[1],
                sea=self.outside,
                joined_a=joined[0],
                joined_b=[*joined, 0.0][1],
            ),
            states=dict(shuttle=shuttle),
            outputs=dict(from_a=ways[0], from_b=ways[1], vent=vent),
            rate="tick",
            group=group,
        )
        if len(self.pods) > 2:
            second, third = net.var(f"{node}.shuttle_2", 0.0), net.var(f"{node}.from_c", 0.0)
            net.block(
                second_shuttle,
                inputs=dict(
                    pa=p[0],
                    pb=p[1],
                    pc=f"{lines[2]}.p",
                    xc=f"{node}.{self.pods[2]}.x",
                    sea=self.outside,
                    joined_c=joined[2],
                ),
                states=dict(shuttle=second, from_a=ways[0], from_b=ways[1], vent=vent),
                outputs=dict(from_c=third),
                rate="tick",
                group=group,
            )
            ways.append(third)
        for pod, line, opening in zip(self.pods, lines, ways, strict=False):
            net.edge(f"{node}.{pod}.feed", line, node, opened, dict(k=k, x=opening), group=group)
        net.edge(f"{node}.to_sea", node, "sea", opened, dict(k=1.6 * k, x=vent), group=group)
        if way == "close":
            net.edge(
                f"{i}.shuttle_leak",
                node,
                "sea",
                leak_out,
                dict(k=LEAK_K, severity=function.fault("shuttle_leak")),
                group=group,
                fault=f"{i}.shuttle_leak",
            )

    def wake(self, net: Network, function: Function) -> None:
        """Whether the chambers' equations run."""
        i = function.id
        # The third pod wakes what it feeds by ``pods.stir``.
        pods = self.pods[:2]
        net.block(
            piloted_awake,
            inputs=dict(
                **under(i, "against", "x", "limit"),
                pilots=f"{i}.pilot.due",
                pods_stir="pods.stir",
                pc=f"{i}.close.p",
                po=f"{i}.open.p",
                supplies=[f"{line}.p" for line in self.supplies(function)[:2]],
                sea=self.outside,
                close_from=[f"{i}.close.from_{n}" for n in "ab"[: len(pods)]],
                open_from=[f"{i}.open.from_{n}" for n in "ab"[: len(pods)]],
                close_shifted=[f"{i}.close.{pod}.x" for pod in pods],
                open_shifted=[f"{i}.open.{pod}.x" for pod in pods],
                joined=[self.joined(function, pod) for pod in pods],
                ratio=function.ratio,
                friction=function.friction,
                locked=f"{i}.held",
                leaks=[function.fault(k) for k in ("leak_close", "leak_open", "piston_bypass", "shuttle_leak")],
                wake=net.wake,
                settled=net.settled,
            ),
            states=dict(awake=f"{i}.power.awake"),
            gate=f"{i}.attend",
        )

    def switches(self, net: Network, function: Function) -> tuple[str, str]:
        """Pressure switches on the first pod's pilot lines, where they leave the unit."""
        i, pod = function.id, self.pods[0]
        return f"{i}.open.{pod}.near.p", f"{i}.close.{pod}.near.p"


def _two(of_pods: Sequence[str]) -> list[str]:
    """What belongs to the first two pods; of one pod alone, twice."""
    return [*of_pods, of_pods[0]][:2]


@gives("age", "was")
def wave(way: Number, was: Number, age: Seconds, scan: Seconds) -> tuple[Seconds, Number]:
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
    now, seen = _two(sums), [net.var(f"pods.seen_{n}") for n in ("a", "b")]
    for number, pod in enumerate(pods[2:]):
        # Functions watch the supplies of two pods; the third's change wakes them all.
        now += [sums[2 + number], f"pod_selector.{pod}"]
        seen += [net.var(f"pods.seen_{n}_{number}") for n in ("stab", "way")]
    net.block(pulse, inputs=dict(now=now), states=dict(seen=seen), outputs=dict(stirs="pods.stir"))
    for pod, total in zip(pods, sums, strict=True):
        latch = f"{connectors[pod]}.x" if pod in connectors else 1.0
        joined = f"pod_{pod}.joined"
        net.block(
            stabs,
            inputs=dict(latch=latch, parted="bore.parted"),
            outputs=dict(in_riser_package=f"{joined}_riser_package", in_stack=f"{joined}_stack", joined=total),
        )


@gives("in_riser_package", "in_stack", "joined")
def stabs(latch: Number, parted: Number) -> tuple[Number, Number, Number]:
    """1 while a pod's stab is in the riser package, 1 while in the stack, and their sum; ``latch`` 1 is locked."""
    there = 1.0 if latch > 0.5 else 0.0
    below = there if parted < 0.5 else 0.0
    return there, below, there + below
