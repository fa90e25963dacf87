"""Regulators: set at the surface by air, read back from below through a line of their own.

Raise or lower at a panel works a solenoid that lets rig air to or from the *pilot* regulator; the regulator in the pod
follows after the pilot line has filled; the *read-back* comes up its own line later still. A crew that looks only at
the pilot gauge has not seen the regulator answer. Without air or power the hand knob at the unit still works.

The surface pilot regulator stands at the unit itself, between the pilot bottles and the pilot manifold.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import Field

from trainer.constants import ATMOSPHERE, SCAN
from trainer.hydraulics.catalogue import Operable, Order, Variables
from trainer.hydraulics.laws import regulator, venting
from trainer.hydraulics.lists import chosen
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import (
    PSI,
    Component,
    amount,
    choice,
    component_fault,
    gauge,
    reading,
    state_reading,
    worked,
)
from trainer.units import Coefficient, Number, Pressure, Seconds, between

AUTHORITY = ("unit", "remote")
RATE = 75.0 * PSI
"""Pa/s at which an air motor or hand moves a setting. Invented."""
HUNT = 150.0 * PSI
"""Pa to either side by which a hunting regulator swings. Invented."""
CREEP = 3.0e6
"""Pa (435 psi) over its setting to which the worst seat lets the pressure creep. Invented."""
AIR_NEEDED = 50.0 * PSI
"""Pa without which the panel cannot move a setting: common practice for pilot air."""
SURFACE_PILOT = "pilot"
CAPACITY, PILOT_CAPACITY = 8.0e-6, 4.0e-6
"""m3/(s sqrt(Pa)) fully open, 10.5 and 5.3 Cv: manufacturers' 1.5 and 1 in sizes, roughly (from memory)."""
DROOP, PILOT_DROOP = 120.0 * PSI, 60.0 * PSI
"""Pa that the outlet falls until the valve is fully open: common practice, 4 to 8 % of the setting."""
RELIEVES, PILOT_RELIEVES = 100.0 * PSI, 40.0 * PSI
"""Pa over its setting at which a relieving regulator vents. Invented."""
VENT_SHARE = 0.2
"""Flow coefficient of a regulator's relieving side over that of its supply side. Invented."""

FAULTS = (
    ("stuck", "does not respond to raise and lower", "Set it by hand at the unit; replace the pilot regulator."),
    ("creep", "creeps above its setting", "Lower and watch; change pod; have the seat of the regulator replaced."),
    ("hunting", "hunts", "Vent air from the pilot line; damp or change the regulator."),
    ("raise_dead", "raise solenoid dead", "Set it from the unit and use the hand knob; replace the solenoid."),
    ("lower_dead", "lower solenoid dead", "Set it from the unit and use the hand knob; replace the solenoid."),
    (
        "readback_blocked",
        "read-back line blocked",
        "Pilot moves, count and function answer, read-back does not: flush the line or change pod.",
    ),
)

ELECTRIC_FAULTS = (
    ("stuck", "does not respond to raise and lower", "Change pod and compare; have the regulator replaced."),
    ("creep", "creeps above its setting", "Lower and watch; change pod; have the seat of the regulator replaced."),
    ("hunting", "hunts", "Change pod and compare; have its pilot stage replaced with the pod."),
    ("raise_dead", "raise solenoid dead", "Change pod and compare: it lowers and does not raise."),
    ("lower_dead", "lower solenoid dead", "Change pod and compare: it raises and does not lower."),
    (
        "readback_blocked",
        "transducer stuck at its last value",
        "The setting, the count and the function change, the read-back does not: change pod and compare.",
    ),
)
"""The same for one that is set by solenoids in the pod and read by a transducer there."""
UNMOVED_BY_AIR = 1.0e9
"""Pa that stands for the air of a regulator that needs none."""


class Regulator(Component):
    """A regulator; ``serves`` names the manifold that it feeds. Pressures are gauge.

    ``place`` tells where it stands: in both pods, or at the unit (surface pilot, direct hydraulics, diverter).
    """

    serves: str = Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=20)
    place: Literal["pods", "unit"] = "pods"
    set: Annotated[Pressure, between("0 psi", "10000 psi")]
    high: Annotated[Pressure, between("100 psi", "10000 psi")]
    low: Annotated[Pressure, between("0 psi", "9000 psi")] = 0.0
    pilot_lag: Annotated[Seconds, between("0.02 s", "60 s")] = 1.5
    readback_lag: Annotated[Seconds, between("0.02 s", "60 s")] = 2.0
    capacity: Annotated[Coefficient, between("0.02 Cv", "200 Cv")] | None = None
    """Flow coefficient wide open; none: 10.5 Cv, half of it for the surface pilot regulator."""
    droop: Annotated[Pressure, between("5 psi", "1000 psi")] | None = None
    """How far below its setting it stands wide open; none: 120 psi, 60 psi for the surface pilot regulator."""
    relieves: Annotated[Pressure, between("5 psi", "1000 psi")] | None = None
    """How far above its setting it begins to relieve; none: 100 psi, 40 psi for the surface pilot regulator."""

    @property
    def card(self) -> str:
        """The entry of ``assets/text`` that describes it: one of its own for annular, pilot and diverter regulators."""
        return f"{self.serves}_regulator" if self.serves in ("annular", "pilot", "diverter") else "regulator"

    @property
    def in_pod(self) -> bool:
        """Whether it stands in the pods, one in each, and feeds a manifold there; else it stands at the unit."""
        return self.place == "pods"

    @property
    def k(self) -> float:
        """Flow coefficient wide open, m3/(s sqrt(Pa)): the file's, or what one of its service usually has."""
        return self.capacity or (PILOT_CAPACITY if self.serves == SURFACE_PILOT else CAPACITY)

    @property
    def band(self) -> float:
        """Droop, Pa: how far below its setting it stands wide open. The file's, or the usual one of its service."""
        return self.droop or (PILOT_DROOP if self.serves == SURFACE_PILOT else DROOP)

    @property
    def margin(self) -> float:
        """How far above its setting it relieves, Pa: the file's figure, or the usual one of its service."""
        return self.relieves or (PILOT_RELIEVES if self.serves == SURFACE_PILOT else RELIEVES)

    def feed(self, net: Network, edge: str, vent: str, upstream: str, line: str, outlet: str) -> None:
        """Add the valve itself between the nodes ``upstream`` and ``line``, and its relieving side to ``outlet``."""
        setting = f"{self.id}.subsea"
        net.edge(edge, upstream, line, regulator, dict(k=self.k, setting=setting, band=self.band))
        group = net.group(f"{line}.relieving", awake=0.0)
        net.edge(
            vent, line, outlet, venting, dict(k=VENT_SHARE * self.k, setting=setting, band=self.margin), group=group
        )
        net.block(
            relieves,
            inputs=dict(p=f"{line}.p", setting=setting, over=0.5 * self.margin),
            outputs=dict(awake=f"{group}.awake"),
        )

    def build(self, net: Network, head: float, nodes: Sequence[str], heard: str = "") -> None:
        """Add the surface side; ``head`` (Pa) is the fluid column down to ``nodes``, the reduced lines of the pods
        (the pod selector tells which is read back), or the one at the unit.

        ``heard`` is the flag that the pods hear the panels, for one set by solenoids in the pods: it has no hand knob.
        """
        i = self.id
        base = ATMOSPHERE + head
        net.var(f"{i}.nudge", 0.0, "s")
        net.var(f"{i}.by_hand", 0.0)
        net.var(f"{i}.subsea", self.set + base, "Pa")
        net.var(f"{i}.wave", 0.0)
        net.var(f"{i}.wave_up", 1.0)
        net.var(f"{i}.readback_true", self.set + ATMOSPHERE, "Pa")
        self._readings(net, bool(heard))
        for kind, title, remedy in ELECTRIC_FAULTS if heard else FAULTS:
            shows = (f"{i}.readback", f"{i}.pilot")
            component_fault(net, i, kind, f"{self.name}: {title}", shows, remedy)
        net.block(
            step_setting,
            inputs=dict(
                **under(f"fault.{i}", "stuck", "raise_dead", "lower_dead"),
                by_hand=f"{i}.by_hand",
                low=self.low,
                high=self.high,
                air=UNMOVED_BY_AIR if heard else "boxes.air",
                solenoids=heard or "solenoids.live",
            ),
            states=dict(setting=f"{i}.pilot", nudge=f"{i}.nudge"),
            gate=f"{i}.nudge",
        )
        hunting = f"fault.{i}.hunting"
        net.block(wave, states=dict(value=f"{i}.wave", up=f"{i}.wave_up"), gate=hunting)
        net.block(
            follow,
            inputs=dict(
                setting=f"{i}.pilot",
                base=base,
                share=SCAN / self.pilot_lag,
                creep=f"fault.{i}.creep",
                hunt=hunting,
                phase=f"{i}.wave",
            ),
            states=dict(subsea=f"{i}.subsea"),
        )
        self._read_back(net, head, nodes)
        self._commands(net, bool(heard))

    def _readings(self, net: Network, electric: bool) -> None:
        i, top = self.id, round(self.high / PSI)
        if electric:
            ordered = f"{self.name}: the setting that was ordered."
            reading(net, f"{i}.pilot", "psi", 0, top, ordered, ("driller",), None, self.set)
            below = f"{self.name}: transducer in the pod."
            gauge(net, f"{i}.readback", f"{i}.readback_true", top, below, ("driller",), against=f"{i}.pilot")
            return
        places = ("unit", "driller")
        where = f"{self.name}: set from the unit or from the panels."
        state_reading(net, f"{i}.authority", AUTHORITY, where, places, 1.0)
        choice(net, f"{i}.authority", AUTHORITY, f"{self.name}: unit / remote selector.", ("unit",))
        pilot = f"{self.name}: pilot pressure at the surface."
        reading(net, f"{i}.pilot", "psi", 0, top, pilot, places, None, self.set)
        back = "pressure that it gives." if self.place == "unit" else "read-back from the pod."
        gauge(net, f"{i}.readback", f"{i}.readback_true", top, f"{self.name}: {back}", places, against=f"{i}.pilot")

    def _read_back(self, net: Network, head: float, nodes: Sequence[str]) -> None:
        i, shown = self.id, f"{self.id}.readback_true"
        if self.serves == SURFACE_PILOT:
            self.feed(net, "pilot.regulating", "pilot.venting", "pilot_supply", "pilot", "tank")
        net.block(
            read_back,
            inputs=dict(
                ends=[f"{node}.p" for node in nodes],
                position="pod_selector.position" if len(nodes) > 1 else 0.0,
                head=head,
                share=SCAN / self.readback_lag,
                blocked=f"fault.{i}.readback_blocked",
            ),
            states=dict(shown=shown),
        )

    def _commands(self, net: Network, electric: bool) -> None:
        stations = ("driller", "remote") if electric else ("unit", "driller", "remote")
        for do, sign, word in (("raise", 1.0, "Raise"), ("lower", -1.0, "Lower")):
            self._nudge(net, do, sign, word, stations)
        if electric:
            return
        amount(
            net,
            self.id,
            round(self.low / PSI),
            round(self.high / PSI),
            "psi",
            f"{self.name}: set by its hand knob.",
            ("unit",),
            f"{self.id}.pilot",
            guard=self._guard,
        )

    def _guard(self, machine: Variables, command: Order) -> Refusal | None:
        refusal = self.set_elsewhere(machine, command)
        if refusal is None and command.from_ != "unit" and machine.read("panel.power") < 0.5:
            if f"{self.id}.authority" in machine.index:
                return Refusal("no_power", "The panels have no power: set the regulator at the control unit.")
            return Refusal("no_power", "The panels have no power: the regulator in the pod keeps its setting.")
        return refusal

    def set_elsewhere(self, machine: Variables, command: Order) -> Refusal | None:
        """Why it cannot be set from the command's station as its unit / remote selector stands; None when it can."""
        if f"{self.id}.authority" not in machine.index:
            return None
        wanted = "unit" if command.from_ == "unit" else "remote"
        held = AUTHORITY[int(machine.read(f"{self.id}.authority"))]
        if held == wanted:
            return None
        return Refusal(
            "no_authority",
            f"{self.name} is set from '{held}': turn its unit / remote selector at the control unit first.",
        )

    def _nudge(self, net: Network, do: str, sign: float, word: str, stations: tuple[str, ...]) -> None:
        operable = Operable(
            do,
            self.id,
            (0.1, 30.0),
            "s",
            stations,
            f"{word} the {self.name.lower()}: seconds held.",
        )
        worked(net, operable, lambda machine, command: self.nudge(machine, command, sign), self._guard)

    def nudge(self, machine: Variables, command: Order, sign: float) -> Refusal | None:
        """Raise (``sign`` 1) or lower (-1) it for the seconds of the command; refuses too short or long a time."""
        held = 1.0 if command.value is None else float(command.value)
        if not 0.1 <= held <= 30.0:
            return Refusal("out_of_range", f"'{command.do} {self.id}' takes 0.1 to 30 seconds.")
        machine.put(f"{self.id}.nudge", sign * held)
        machine.put(f"{self.id}.by_hand", 1.0 if command.from_ == "unit" else 0.0)
        return None


@gives("setting", "nudge")
def step_setting(
    setting: Pressure,
    nudge: Seconds,
    by_hand: Number,
    low: Pressure,
    high: Pressure,
    air: Pressure,
    solenoids: Number,
    stuck: Number,
    raise_dead: Number,
    lower_dead: Number,
) -> tuple[Pressure, Seconds]:
    """Surface pilot pressure after a scan of raise (nudge > 0 seconds left) or lower (nudge < 0).

    From a panel it takes air and a solenoid; by hand it takes neither.
    """
    way = 1.0 if nudge > 0.0 else (-1.0 if nudge < 0.0 else 0.0)
    dead = raise_dead if way > 0.0 else lower_dead
    answers = by_hand > 0.5 or (air > AIR_NEEDED and solenoids > 0.5 and dead <= 0.0 and stuck <= 0.0)
    moved = setting + (way * RATE * SCAN if answers else 0.0)
    left = max(abs(nudge) - SCAN, 0.0)
    rest = left if left > 1.0e-6 else 0.0
    return min(max(moved, low), high), way * rest


@gives("value", "up")
def wave(value: Number, up: Number) -> tuple[Number, Number]:
    """A triangle wave between -1 and 1, for a regulator that hunts."""
    moved = value + (SCAN / 0.8) * (up + up - 1.0)
    turned = 0.0 if moved >= 1.0 else (1.0 if moved <= -1.0 else up)
    return moved, turned


@gives("subsea")
def follow(
    subsea: Pressure, setting: Pressure, base: Pressure, share: Number, creep: Number, hunt: Number, phase: Number
) -> Pressure:
    """Setting of the regulator below (Pa absolute there): follows the pilot line with its filling time."""
    target = setting + base + creep * CREEP + hunt * HUNT * phase
    return subsea + share * (target - subsea)


def follow_line(shown: float, p: float, head: float, share: float, blocked: float) -> float:
    """Pressure at the upper end of a read-back line (Pa absolute) whose lower end stands at ``p``, with its lag."""
    return shown + share * (1.0 - blocked) * (max(p - head, 0.0) - shown)


@gives("shown")
def read_back(
    shown: Pressure,
    ends: list[Pressure],
    position: Number,
    head: Pressure,
    share: Number,
    blocked: Number,
) -> Pressure:
    """Read-back at the surface (Pa absolute there) of the pod in use, less the fluid column, with its line's lag."""
    return follow_line(shown, chosen(ends, position), head, share, blocked)


@gives("awake")
def relieves(p: Pressure, setting: Pressure, over: Pressure) -> Number:
    """1 while the relieving side of a regulator may pass: ``over`` Pa above its setting."""
    return 1.0 if p > setting + over else 0.0
