"""Feed by pilots: lines down the umbilical, pilot-operated valves in all pods, and shuttles that pick the pod.

The surface valve puts pilot pressure on a function's close or open line of *every* bundle; in each pod a valve shifts
when that pressure has come down; the pod that has power fluid then fills the piston's chamber through a shuttle valve
while the other chamber vents to sea. A third pod comes in by a second shuttle valve behind the first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.constants import ATMOSPHERE, SCAN
from trainer.hydraulics.laws import laminar, opened
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.storage import Line
from trainer.plant.base import PSI
from trainer.plant.feeds import wake_by
from trainer.plant.function_laws import (
    leak_out,
    pilots_awake,
    pod_valve,
    vented,
)
from trainer.plant.functions import Row
from trainer.plant.pod_fed import SHUTTLE_LEAK, PodFed, two
from trainer.plant.surface_valve import SurfaceValve
from trainer.units import Number, Seconds

if TYPE_CHECKING:
    from trainer.plant.functions import Function
    from trainer.plant.umbilical import Umbilical

PILOT_LEAK_K = 1.2e-7
"""m3/(s sqrt(Pa)) of the worst leak of a pilot line, 0.16 Cv. Invented."""
PILOT_START = 3000.0 * PSI + ATMOSPHERE
"""Pa in a pilot line that stands under pressure at the start: the usual 3,000 psi."""
OLD = 60.0
"""Age of a change of pilot pressure, s, beyond which it is no longer counted."""


@dataclass(frozen=True, kw_only=True)
class Piloted(PodFed, SurfaceValve):
    """What piloted functions hang on: pods, umbilical figures and the column of fluid (Pa)."""

    line: Umbilical
    density: float
    viscosity: float
    head: float

    @property
    def pilot_delay(self) -> float:
        """Time that a change of pressure takes down a pilot line, s, at the speed of sound in fluid and hose."""
        return self.line.pilot_delay(self.density)

    @property
    def fault_kinds(self) -> tuple[Row, ...]:
        """Faults of the way through the pods, for each pod that has parts of its own."""
        change = "Change to the other pod and compare."
        count = ("totaliser.flow", "totaliser.count")
        found: list[Row] = [SHUTTLE_LEAK]
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

    def attend(self, net: Network, function: Function) -> None:
        """Add what decides whether the function's own logic runs: its supplies, and what may stir it."""
        a, b = two(self.supplies(function))
        wake_by(net, function, {"seen_pilot": "pilot", "seen_a": a, "seen_b": b}, ["lamps.stir", "pods.stir"])

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

    def switches(self, net: Network, function: Function) -> tuple[str, str]:
        """Pressure switches on the first pod's pilot lines, where they leave the unit."""
        i, pod = function.id, self.pods[0]
        return f"{i}.open.{pod}.near.p", f"{i}.close.{pod}.near.p"


@gives("age", "was")
def wave(way: Number, was: Number, age: Seconds, scan: Seconds) -> tuple[Seconds, Number]:
    """Seconds since a surface valve last began to move, up to ``OLD``, and where it stands (0 or 1, or between)."""
    rested = was <= 0.0 or was >= 1.0
    begun = rested and way != was
    return (0.0 if begun else min(age + scan, OLD)), way
