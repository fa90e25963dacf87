"""Functions of the stack: each a four-way valve at the surface, pilot lines, valves in both pods, and a piston.

From left to right: the surface valve (lever or air cylinder) puts pilot pressure on its close or open line; in each pod
a pilot-operated valve shifts when that pressure has come down; the pod with power fluid then fills the piston's chamber
through a shuttle valve while the other chamber vents to sea. The panel's lamp is a pressure switch on the pilot line at
the *surface*: it tells that a pilot was sent, not that anything below moved.

A function with settled lines sleeps (see ``trainer.hydraulics.network``): it wakes when its valve, its supply, the well
or a fault disturbs it by more than the network's ``wake``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from pydantic import Field

from trainer.hydraulics.laws import laminar, opened
from trainer.hydraulics.network import SCAN, Network
from trainer.hydraulics.storage import ATMOSPHERE, Line
from trainer.plant import mechanics
from trainer.plant.base import PSI, Component, choice, component_fault, reading, run_down, state_reading
from trainer.plant.function_laws import (
    attend,
    joint_at,
    lamps,
    net_closing,
    pilots_awake,
    pod_valve,
    power_awake,
    shuttle_valve,
    stroke,
    travel,
    truth,
    vented,
    worn_piston,
)
from trainer.plant.pods import leak_to_sea
from trainer.units import Pressure, Seconds, Volume

WAYS = ("block", "open", "close")
YES = ("no", "yes")
SURFACE_TRAVEL = 0.3
POD_VALVE_TRAVEL = 0.5
WAY_K = 3.0e-7
CHAMBER_MODULUS = 9.0e8
LEAK_K = 1.5e-7
AIR_NEEDED = 50.0 * PSI

Kind = Literal["annular", "pipe_ram", "shear_ram", "failsafe_valve", "connector", "lock", "valve"]

# A valve moves for 0.3 s; resting pilot lines answer a neighbour's for a little longer.
STIR = 0.5

STROKE: dict[str, float] = {
    "annular": 14.0,
    "pipe_ram": 9.0,
    "shear_ram": 12.0,
    "failsafe_valve": 1.5,
    "connector": 8.0,
    "lock": 6.0,
    "valve": 2.0,
}


@dataclass(frozen=True)
class Surroundings:
    """What a function hangs on: pods, umbilical figures and the columns of fluid and sea."""

    pods: tuple[str, str]
    pilot_volume: float
    pilot_modulus: float
    pilot_g: float
    head: float
    sea: float
    held: dict[str, float]


class Function(Component):
    """One function. Volumes are of the piston, to close and to open; ``closing_ratio`` is against wellbore pressure."""

    kind: Kind
    supply: Literal["manifold", "annular", "failsafe"]
    close_volume: Volume
    open_volume: Volume
    closing_ratio: float = Field(default=8.0, gt=1.0, le=60.0)
    critical: bool = False
    seals: bool = True
    line: Literal["", "choke", "kill"] = ""
    stroke: Seconds = 0.0
    shear_pressure: Pressure = Field(default=1900.0 * PSI)
    friction: Pressure = Field(default=60.0 * PSI)
    starts: Literal["open", "close"] = "open"

    @property
    def ratio(self) -> float:
        """Opening area over closing area."""
        return self.open_volume / self.close_volume

    def build(self, net: Network, around: Surroundings) -> None:
        """Add the function with its pilots, pod valves, chambers, readings, commands and faults."""
        self._attend(net, around)
        self._surface(net)
        for way in ("open", "close"):
            self._pilots(net, around, way)
        self._wake_pilots(net, around)
        self._power(net, around)
        self._faults(net)
        self._truth(net, around)
        self._lamps(net, around)

    def _attend(self, net: Network, around: Surroundings) -> None:
        """One cheap test a scan decides whether the function's own logic runs at all."""
        i, (a, b) = self.id, around.pods
        net.var(f"{i}.attend", 1.0)
        seen = [net.var(f"{i}.seen_{n}") for n in ("pilot", "a", "b")]
        holds = 1.0 if self.kind in ("annular", "pipe_ram", "shear_ram") else 0.0
        net.block(
            attend,
            [
                f"{i}.valve",
                f"{i}.open_way",
                f"{i}.close_way",
                f"{i}.pilot.awake",
                f"{i}.power.awake",
                f"{i}.x",
                holds,
                "pilot.p",
                f"pod_{a}.{self.supply}.p",
                f"pod_{b}.{self.supply}.p",
                *seen,
                f"fault.{i}.leak_close",
                f"fault.{i}.leak_open",
                f"fault.{i}.shuttle_leak",
                "functions.stir",
                net.settled,
            ],
            [f"{i}.attend", *seen],
        )

    def _surface(self, net: Network) -> None:
        i = self.id
        at_start = 2.0 if self.starts == "close" else 1.0
        state_reading(net, f"{i}.valve", WAYS, f"{self.name}: where its surface valve stands.", ("unit",), at_start)
        net.var(f"{i}.open_way", 1.0 if at_start == 1.0 else 0.0)
        net.var(f"{i}.close_way", 1.0 if at_start == 2.0 else 0.0)
        net.group(f"{i}.pilot", f"{i}.attend", smooth=True)
        net.group(f"{i}.power", f"{i}.attend")
        net.block(
            travel,
            [f"{i}.valve", f"{i}.open_way", f"{i}.close_way", SCAN / SURFACE_TRAVEL],
            [f"{i}.open_way", f"{i}.close_way"],
            gate=f"{i}.attend",
        )
        choice(
            net,
            i,
            WAYS,
            f"{self.name}: open, block or close.",
            ("unit", "driller", "remote"),
            f"{i}.wanted",
            guard=self._guard,
            critical=self.critical,
            then=self._shift,
        )
        net.var(f"{i}.wanted", at_start)

    def _guard(self, machine: Any, command: Any) -> str | None:
        if command.from_ == "unit":
            return None
        if machine.read("panel.power") < 0.5:
            return f"The panels have no power: work {self.name.lower()} by its lever at the control unit."
        if self.critical and machine.read("driller.enable") <= 0.0 and command.value != "block":
            return f"{self.name} is a critical function: press enable first, then the button within five seconds."
        return None

    def _shift(self, machine: Any, command: Any, way: int) -> None:
        # A dead solenoid, a stuck valve or too little air leaves the lever where it was, without a word from the panel.
        stuck = machine.read(f"fault.{self.id}.valve_stuck") > 0.0
        if command.from_ != "unit":
            dead = machine.read(f"fault.{self.id}.solenoid_dead") > 0.0
            stuck = stuck or dead or machine.read("boxes.air") < AIR_NEEDED or machine.read("solenoids.live") < 0.5
            machine.put("air.puffs", machine.read("air.puffs") + 1.0)
        if not stuck:
            machine.put(f"{self.id}.valve", float(way))
            machine.put("functions.stir", STIR)

    def _pilots(self, net: Network, around: Surroundings, way: str) -> None:
        i, group = self.id, f"{self.id}.pilot"
        half = around.pilot_volume / 2.0
        start_way = "close" if self.starts == "close" else "open"
        for pod in around.pods:
            near, far = f"{i}.{way}.{pod}.near", f"{i}.{way}.{pod}.far"
            live = way == start_way
            start = PILOT_START if live else ATMOSPHERE
            net.node(near, Line(half, around.pilot_modulus, start), group)
            net.node(far, Line(half, around.pilot_modulus, start + around.head), group)
            net.edge(f"{near}.supply", "pilot", near, opened, WAY_K, f"{i}.{way}_way", group=group)
            net.edge(f"{near}.vent", near, "tank", vented, WAY_K, f"{i}.{way}_way", group=group)
            # Two lumps: the first is filled through the valve, the second through half the line.
            net.edge(f"{near}.down", near, far, laminar, 2.0 * around.pilot_g, head=around.head, group=group)
            x = net.var(f"{i}.{way}.{pod}.x", 1.0 if live else 0.0)
            net.block(
                pod_valve,
                [f"{far}.p", x, around.sea, net.tick / POD_VALVE_TRAVEL, f"fault.{i}.pod_valve_slow"],
                [x],
                rate="tick",
                group=group,
            )

    def _wake_pilots(self, net: Network, around: Surroundings) -> None:
        i = self.id
        ends: list[str | float] = []
        for way in ("open", "close"):
            for pod in around.pods:
                ends += [f"{i}.{way}.{pod}.far.p", f"{i}.{way}.{pod}.x"]
        net.block(
            pilots_awake,
            [
                f"{i}.pilot.awake",
                "pilot.p",
                around.head,
                ATMOSPHERE + 5.0e3,
                f"{i}.open_way",
                f"{i}.close_way",
                *ends,
                "functions.stir",
                net.wake,
                net.settled,
            ],
            [f"{i}.pilot.awake", net.var(f"{i}.pilot.due")],
            gate=f"{i}.attend",
        )

    def _power(self, net: Network, around: Surroundings) -> None:
        i, group = self.id, f"{self.id}.power"
        a, b = around.pods
        closed = 1.0 if self.starts == "close" else 0.0
        nominal = self.close_volume / (self.stroke or STROKE[self.kind])
        k = nominal / (450.0 * PSI) ** 0.5
        for way in ("open", "close"):
            dead = 0.1 * self.close_volume + 1.0e-3
            live = way == self.starts
            start = around.held[self.supply] if live else around.sea
            net.node(f"{i}.{way}", Line(dead, CHAMBER_MODULUS, start), group)
            shuttle = net.var(f"{i}.{way}.shuttle", 0.0)
            from_a = net.var(f"{i}.{way}.from_a", 1.0 if live else 0.0)
            from_b = net.var(f"{i}.{way}.from_b", 0.0)
            vent = net.var(f"{i}.{way}.vent", 0.0 if live else 1.0)
            supply_a, supply_b = f"pod_{a}.{self.supply}", f"pod_{b}.{self.supply}"
            net.block(
                shuttle_valve,
                [shuttle, f"{i}.{way}.{a}.x", f"{i}.{way}.{b}.x", f"{supply_a}.p", f"{supply_b}.p", around.sea],
                [shuttle, from_a, from_b, vent],
                rate="tick",
                group=group,
            )
            net.edge(f"{i}.{way}.{a}.feed", supply_a, f"{i}.{way}", opened, k, from_a, group=group)
            net.edge(f"{i}.{way}.{b}.feed", supply_b, f"{i}.{way}", opened, k, from_b, group=group)
            net.edge(f"{i}.{way}.to_sea", f"{i}.{way}", "sea", opened, 1.6 * k, vent, group=group)
            net.edge(
                f"{i}.{way}.leak",
                f"{i}.{way}",
                "sea",
                leak_to_sea,
                LEAK_K,
                f"fault.{i}.leak_{way}",
                group=group,
                fault=f"{i}.leak_{way}",
            )
        net.edge(
            f"{i}.shuttle_leak",
            f"{i}.close",
            "sea",
            leak_to_sea,
            LEAK_K,
            f"fault.{i}.shuttle_leak",
            group=group,
            fault=f"{i}.shuttle_leak",
        )
        net.var(f"{i}.x", closed)
        net.var(f"{i}.against", around.sea * (1.0 - self.ratio))
        net.var(f"{i}.limit", 1.0)
        room = self.close_volume / net.tick
        g = nominal / (60.0 * PSI)
        net.edge(
            f"{i}.piston",
            f"{i}.close",
            f"{i}.open",
            worn_piston,
            g,
            self.ratio,
            f"{i}.against",
            self.friction,
            f"{i}.x",
            f"{i}.limit",
            0.01,
            room,
            f"fault.{i}.stuck",
            ratio=self.ratio,
            group=group,
        )
        net.block(
            stroke,
            [f"{i}.x", f"{i}.piston.q", net.tick / self.close_volume],
            [f"{i}.x"],
            rate="after",
            group=group,
        )
        net.stroke(f"{i}.x", self.close_volume, self.open_volume)
        self._mechanics(net, around)
        net.block(
            power_awake,
            [
                f"{i}.power.awake",
                f"{i}.pilot.due",
                f"{i}.close.p",
                f"{i}.open.p",
                f"pod_{a}.{self.supply}.p",
                f"pod_{b}.{self.supply}.p",
                around.sea,
                f"{i}.close.from_a",
                f"{i}.close.from_b",
                f"{i}.open.from_a",
                f"{i}.open.from_b",
                self.ratio,
                f"{i}.against",
                self.friction,
                f"{i}.x",
                f"{i}.limit",
                f"fault.{i}.leak_close",
                f"fault.{i}.leak_open",
                f"fault.{i}.shuttle_leak",
                net.wake,
                net.settled,
            ],
            [f"{i}.power.awake"],
            gate=f"{i}.attend",
        )

    def _mechanics(self, net: Network, around: Surroundings) -> None:
        i, sea, ratio, gate = self.id, around.sea, self.ratio, f"{self.id}.attend"
        state_reading(net, f"{i}.sealing", YES, f"{self.name} holds the well.", ())
        if self.kind in ("pipe_ram", "shear_ram"):
            cut = net.var(f"{i}.cut", 0.0)
            shears = self.kind == "shear_ram"
            inverse = 1.0 / self.closing_ratio
            closing = net.var(f"{i}.closing", 0.0)
            net.block(net_closing, [f"{i}.close.p", f"{i}.open.p", ratio, f"{i}.against"], [closing], gate=gate)
            joint = net.var(f"{i}.joint", 0.0)
            net.block(joint_at, ["floor.tool_joint", "bore.pipe"], [joint], gate=gate)
            net.block(
                mechanics.ram,
                [
                    "well.stack_pressure",
                    sea,
                    ratio,
                    inverse,
                    f"{i}.x",
                    "bore.pipe",
                    joint,
                    closing,
                    self.shear_pressure if shears else 0.0,
                    cut,
                ],
                [f"{i}.against", f"{i}.limit", cut],
                gate=gate,
            )
            net.block(
                mechanics.ram_seals,
                [
                    f"{i}.x",
                    "bore.pipe",
                    joint,
                    cut,
                    1.0 if shears else 0.0,
                    1.0 if shears else 0.0,
                    1.0 if self.seals else 0.0,
                ],
                [f"{i}.sealing"],
                gate=gate,
            )
        elif self.kind == "annular":
            closing = net.var(f"{i}.closing", 0.0)
            net.var(f"{i}.leaks", 0.0)
            net.block(net_closing, [f"{i}.close.p", f"{i}.open.p", ratio, f"{i}.against"], [closing], gate=gate)
            net.block(
                mechanics.annular,
                ["well.stack_pressure", sea, ratio, 250.0 * PSI, 0.05, f"{i}.x", "bore.pipe", 0.62],
                [f"{i}.against", f"{i}.limit"],
                gate=gate,
            )
            net.block(
                mechanics.annular_seals,
                [f"{i}.x", f"{i}.limit", closing, "well.stack_pressure", sea, 200.0 * PSI],
                [f"{i}.sealing", f"{i}.leaks"],
                gate=gate,
            )
        elif self.kind in ("failsafe_valve",):
            net.block(mechanics.sprung, [sea, ratio, 350.0 * PSI], [f"{i}.against"], gate=gate)

    def _faults(self, net: Network) -> None:
        i, n = self.id, self.name
        flow = ("totaliser.count", "totaliser.flow")
        lamp = (f"{i}.lamp_close", f"{i}.lamp_open")
        for kind, title, shows, remedy in (
            (
                "leak_close",
                f"{n}: closing chamber leaks to sea",
                flow,
                "Put the function to block; change pod; plan to pull.",
            ),
            (
                "leak_open",
                f"{n}: opening chamber leaks to sea",
                flow,
                "Put the function to block; change pod; plan to pull.",
            ),
            (
                "shuttle_leak",
                f"{n}: shuttle valve leaks by",
                flow,
                "Change pod and compare the count; block the function.",
            ),
            (
                "stuck",
                f"{n}: piston does not move",
                flow,
                "Count and read-back show no movement: use another preventer.",
            ),
            (
                "valve_stuck",
                f"{n}: surface valve stuck",
                lamp,
                "Try the lever at the unit; use another function.",
            ),
            ("solenoid_dead", f"{n}: solenoid valve does not shift", lamp, "Work the lever at the unit."),
            ("pod_valve_slow", f"{n}: pod valve slow to shift", flow, "Change pod and compare the time."),
            ("lamp_burnt", f"{n}: lamp burnt out", lamp, "Lamp test; change the bulb."),
            (
                "switch_stuck",
                f"{n}: pressure switch stuck, lamp says closed",
                (*lamp, *flow),
                "Trust count and read-back.",
            ),
        ):
            component_fault(net, i, kind, title, shows, remedy)

    def _truth(self, net: Network, around: Surroundings) -> None:
        i = self.id
        start = 100.0 if self.starts == "close" else 0.0
        reading(net, f"{i}.position", "%", 0, 100, f"{self.name}: how far closed.", (), None, start / 100.0)
        state_reading(net, f"{i}.closed", YES, f"{self.name} is fully closed.", ())
        state_reading(net, f"{i}.opened", YES, f"{self.name} is fully open.", ())
        for way in ("close", "open"):
            reading(
                net,
                f"{i}.{way}_pressure",
                "psi",
                -1000,
                6000,
                f"{self.name}: {way} chamber above the sea's pressure.",
                (),
            )
        net.block(
            truth,
            [f"{i}.x", f"{i}.limit", f"{i}.close.p", f"{i}.open.p", around.sea],
            [f"{i}.position", f"{i}.closed", f"{i}.opened", f"{i}.close_pressure", f"{i}.open_pressure"],
            rate="observe",
            gate=f"{i}.attend",
        )

    def _lamps(self, net: Network, around: Surroundings) -> None:
        i, pod = self.id, around.pods[0]
        for way in ("open", "block", "close"):
            state_reading(
                net,
                f"{i}.lamp_{way}",
                ("off", "on"),
                f"{self.name}: {way} lamp, by pilot pressure switch.",
                ("driller", "remote"),
            )
        net.block(
            lamps,
            [
                f"{i}.open.{pod}.near.p",
                f"{i}.close.{pod}.near.p",
                "panel.power",
                "driller.lamp_test",
                f"fault.{i}.lamp_burnt",
                f"fault.{i}.switch_stuck",
            ],
            [f"{i}.lamp_open", f"{i}.lamp_block", f"{i}.lamp_close"],
            rate="observe",
        )


PILOT_START = 3000.0 * PSI + ATMOSPHERE


def build_stir(net: Network) -> None:
    """Add the timer that runs while any function's valve moves; it comes before the functions."""
    net.var("functions.stir", STIR)
    net.block(run_down, ["functions.stir", SCAN], ["functions.stir"])
