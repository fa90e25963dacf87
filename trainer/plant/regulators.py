"""Regulators: set at the surface by air, read back from below through a line of their own.

Raise or lower at a panel moves the surface *pilot* pressure; the regulator in the pod follows after the pilot line has
filled; the *read-back* comes up its own line later still. A crew that looks only at the pilot gauge has not seen the
regulator answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from pydantic import Field

from trainer.hydraulics.network import SCAN, Network
from trainer.hydraulics.storage import ATMOSPHERE
from trainer.plant.base import (
    PSI,
    Component,
    amount,
    choice,
    component_fault,
    gauge,
    reading,
    state_reading,
    wrong_station,
)
from trainer.plant.catalogue import Operable
from trainer.units import Pressure, Seconds

AUTHORITY = ("unit", "remote")
RATE = 75.0 * PSI
HUNT = 150.0 * PSI


class Regulator(Component):
    """A regulator; ``serves`` names the manifold that it feeds. Pressures are gauge.

    ``place`` tells where it stands: in both pods, or at the unit (direct hydraulics, diverter).
    """

    serves: str = Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=20)
    place: Literal["pods", "unit"] = "pods"
    set: Pressure
    high: Pressure
    low: Pressure = 0.0
    pilot_lag: Seconds = 1.5
    readback_lag: Seconds = 2.0

    def build(self, net: Network, head: float, nodes: Sequence[str]) -> None:
        """Add the surface side; ``head`` (Pa) is the fluid column down to ``nodes``, the reduced lines of the two pods
        (the pod selector tells which is read back), or the one at the unit.
        """
        i = self.id
        top = round(self.high / PSI)
        net.var(f"{i}.set", self.set)
        net.var(f"{i}.nudge", 0.0)
        net.var(f"{i}.subsea", self.set + ATMOSPHERE + head)
        net.var(f"{i}.wave", 0.0)
        net.var(f"{i}.wave_up", 1.0)
        net.var(f"{i}.readback_true", self.set + ATMOSPHERE)
        places = ("unit", "driller")
        state_reading(
            net,
            f"{i}.authority",
            AUTHORITY,
            f"{self.name}: set from the unit or from the panels.",
            ("unit", "driller"),
            1.0,
        )
        choice(net, f"{i}.authority", AUTHORITY, f"{self.name}: unit / remote selector.", ("unit",))
        reading(
            net,
            f"{i}.pilot",
            "psi",
            0,
            top,
            f"{self.name}: pilot pressure at the surface.",
            places,
            None,
            self.set,
        )
        gauge(net, f"{i}.readback", f"{i}.readback_true", top, f"{self.name}: read-back from the pod.", places)
        shows = (f"{i}.readback", f"{i}.pilot")
        stuck = component_fault(
            net,
            i,
            "stuck",
            f"{self.name}: does not answer raise and lower",
            shows,
            "Work it from the unit by hand; change the pilot regulator.",
        )
        creep = component_fault(
            net,
            i,
            "creep",
            f"{self.name}: creeps above its setting",
            shows,
            "Lower and watch; change pod; have the seat of the regulator renewed.",
        )
        hunt = component_fault(
            net,
            i,
            "hunting",
            f"{self.name}: hunts",
            shows,
            "Vent air from the pilot line; damp or change the regulator.",
        )
        net.block(
            step_setting,
            [f"{i}.set", f"{i}.nudge", self.low, self.high, RATE * SCAN, SCAN, stuck],
            [f"{i}.set", f"{i}.nudge"],
        )
        net.block(wave, [f"{i}.wave", f"{i}.wave_up", SCAN / 0.8], [f"{i}.wave", f"{i}.wave_up"])
        net.block(
            follow,
            [f"{i}.subsea", f"{i}.set", ATMOSPHERE + head, SCAN / self.pilot_lag, creep, hunt, f"{i}.wave"],
            [f"{i}.subsea"],
        )
        net.block(show_pilot, [f"{i}.set"], [f"{i}.pilot"], rate="observe")
        net.block(
            read_back,
            [
                f"{i}.readback_true",
                f"{nodes[0]}.p",
                f"{nodes[-1]}.p",
                "pod_selector.position" if len(nodes) > 1 else 0.0,
                head,
                SCAN / self.readback_lag,
            ],
            [f"{i}.readback_true"],
        )
        for do, sign, word in (("raise", 1.0, "Raise"), ("lower", -1.0, "Lower")):
            self._nudge(net, do, sign, word)
        amount(
            net,
            i,
            round(self.low / PSI),
            top,
            "psi",
            f"{self.name}: set by its hand knob.",
            ("unit",),
            f"{i}.set",
            guard=self._guard,
        )

    def _guard(self, machine: Any, command: Any) -> str | None:
        wanted = "unit" if command.from_ == "unit" else "remote"
        held = AUTHORITY[int(machine.read(f"{self.id}.authority"))]
        if held != wanted:
            return f"{self.name} is set from '{held}': turn its unit / remote selector at the control unit first."
        if wanted == "remote" and machine.read("panel.power") < 0.5:
            return "The panels have no power: work the regulator at the control unit."
        return None

    def _nudge(self, net: Network, do: str, sign: float, word: str) -> None:
        operable = Operable(
            do,
            self.id,
            (0.1, 30.0),
            "s",
            ("unit", "driller", "remote"),
            f"{word} the {self.name.lower()}: seconds held.",
        )

        def effect(machine: Any, command: Any) -> str | None:
            refusal = wrong_station(operable, command) or self._guard(machine, command)
            if refusal:
                return refusal
            held = 1.0 if command.value is None else float(command.value)
            if not 0.1 <= held <= 30.0:
                return f"'{do} {self.id}' takes 0.1 to 30 seconds."
            machine.put(f"{self.id}.nudge", sign * held)
            return None

        net.operable(operable, effect)


def step_setting(
    setting: float, nudge: float, low: float, high: float, step: float, scan: float, stuck: float
) -> tuple[float, float]:
    """Surface pilot pressure after a scan of raise (nudge > 0 seconds left) or lower (nudge < 0)."""
    way = 1.0 if nudge > 0.0 else (-1.0 if nudge < 0.0 else 0.0)
    moved = setting + (way * step if stuck < 0.5 else 0.0)
    left = max(abs(nudge) - scan, 0.0)
    rest = left if left > 1.0e-6 else 0.0
    return min(max(moved, low), high), way * rest


def wave(value: float, up: float, step: float) -> tuple[float, float]:
    """A triangle wave between -1 and 1, for a regulator that hunts."""
    moved = value + step * (up + up - 1.0)
    turned = 0.0 if moved >= 1.0 else (1.0 if moved <= -1.0 else up)
    return moved, turned


def follow(subsea: float, setting: float, base: float, share: float, creep: float, hunt: float, phase: float) -> float:
    """Setting of the regulator below (Pa absolute there): follows the pilot line with its filling time."""
    target = setting + base + creep * 3.0e6 + hunt * HUNT * phase
    return subsea + share * (target - subsea)


def show_pilot(setting: float) -> float:
    """The surface pilot gauge."""
    return setting


def read_back(shown: float, first: float, second: float, position: float, head: float, share: float) -> float:
    """Read-back at the surface (Pa absolute there) of the pod in use, less the fluid column, with its line's lag."""
    below = second if position > 1.5 else first
    return shown + share * (max(below - head, 0.0) - shown)
