"""Feed through pods: what hangs on a function's valves in the pods, however those are told to shift.

The pod that has power fluid fills the piston's chamber through a shuttle valve while the other chamber vents to sea. A
third pod comes in by a second shuttle valve behind the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.hydraulics.laws import opened
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.function_laws import (
    leak_out,
    piloted_awake,
    pulse,
    second_shuttle,
    shuttle_valve,
)
from trainer.plant.functions import COUNT, LEAK_K, Row
from trainer.units import Number

if TYPE_CHECKING:
    from trainer.plant.functions import Function
    from trainer.plant.pods import Pod


SHUTTLE_LEAK: Row = (
    "shuttle_leak",
    "shuttle valve of the closing side leaks by to sea",
    COUNT,
    "Count runs on with the function closed and stops in block; change pod and compare.",
)
"""The fault of the valve between the pods, which every function that they feed has."""


@dataclass(frozen=True, kw_only=True)
class PodFed:
    """What functions fed through pods hang on: the pods, fluid and walls as a modulus (Pa), the sea's pressure (Pa)
    and what each supply holds at the start (Pa)."""

    valves: tuple[Pod, ...]
    modulus: float
    outside: float
    held: dict[str, float]
    outside_node: str = "sea"
    lost_to: str = "to sea"

    @property
    def pods(self) -> tuple[str, ...]:
        """Ids of the pods, in the order of the plant's file: the first is the one selected at the start."""
        return tuple(pod.id for pod in self.valves)

    def supplies(self, function: Function) -> list[str]:
        """Names of the lines that feed the function, one in each pod, in the order of the pods."""
        return [f"pod_{pod}.{function.supply}" for pod in self.pods]

    def joined(self, function: Function, pod: str) -> str | float:
        """Variable that is 1 while the pod's stab is in the part that the function stands on."""
        return 1.0 if function.place == "pod" else f"pod_{pod}.joined_{function.place}"

    def start(self, function: Function, way: str) -> float:
        """Pressure of a chamber at the start, Pa absolute: its supply's where the valve stands so, else the sea's."""
        return self.held[function.supply] if way == function.starts else self.outside

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
        p = [f"{line}.p" for line in two(lines)]
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
        """Add what says whether the equations of the chambers run: 1 while something stirs, else 0."""
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


def two(of_pods: Sequence[str]) -> list[str]:
    """What belongs to the first two pods; of one pod alone, twice."""
    return [*of_pods, of_pods[0]][:2]


def build_joints(net: Network, pods: tuple[str, ...], connectors: dict[str, str], stingers: bool = False) -> None:
    """Add what tells whether each pod's stab is in the riser package and in the stack, and ``pods.stir`` on a change.

    ``connectors`` gives the function that latches each pod; with ``stingers`` it moves the pod's stinger, and the pod
    itself stays in the riser package.
    """
    net.var("pods.stir")
    for pod in pods:
        for place in ("riser_package", "stack"):
            net.var(f"pod_{pod}.joined_{place}", 1.0)
    # Where a pod stands, both flags in one number: 0 out, 1 in the riser package only, 2 in both.
    sums = [net.var(f"pod_{pod}.joined", 2.0) for pod in pods]
    now, seen = two(sums), [net.var(f"pods.seen_{n}") for n in ("a", "b")]
    for number, pod in enumerate(pods[2:]):
        # Functions watch the supplies of two pods; the third's change wakes them all.
        now += [sums[2 + number], f"pod_selector.{pod}"]
        seen += [net.var(f"pods.seen_{n}_{number}") for n in ("stab", "way")]
    net.block(pulse, inputs=dict(now=now), states=dict(seen=seen), outputs=dict(stirs="pods.stir"))
    for pod, total in zip(pods, sums, strict=True):
        latch = f"{connectors[pod]}.x" if pod in connectors else 1.0
        joined = f"pod_{pod}.joined"
        net.block(
            stung if stingers else stabs,
            inputs=dict(latch=latch, parted="bore.parted"),
            outputs=dict(in_riser_package=f"{joined}_riser_package", in_stack=f"{joined}_stack", joined=total),
        )


@gives("in_riser_package", "in_stack", "joined")
def stabs(latch: Number, parted: Number) -> tuple[Number, Number, Number]:
    """1 while a pod's stab is in the riser package, 1 while in the stack, and their sum; ``latch`` 1 is locked."""
    there = 1.0 if latch > 0.5 else 0.0
    below = there if parted < 0.5 else 0.0
    return there, below, there + below


@gives("in_riser_package", "in_stack", "joined")
def stung(latch: Number, parted: Number) -> tuple[Number, Number, Number]:
    """As ``stabs``, for a pod that stays in the riser package; ``latch`` 1: its stinger is in the stack."""
    below = 1.0 if latch > 0.5 and parted < 0.5 else 0.0
    return 1.0, below, 1.0 + below
