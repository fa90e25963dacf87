"""A plant with an operator's hands, for the tests of the stack."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

from trainer import resources, toml
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import Plant, build_machine, load_plant

PSI = 6894.757293168
GALLON = 0.003785411784


def file_of(plant: str) -> dict[str, Any]:
    """What the file of a shipped plant says, to be changed before it is read."""
    return toml.loads((resources.plants() / f"{plant}.toml").read_text(encoding="utf-8"))


class Hands:
    """A running plant: commands, waiting, readings."""

    def __init__(self, plant: str | Plant = "quillback", settle: float = 10.0) -> None:
        declared = load_plant(plant)[0] if isinstance(plant, str) else plant
        self.plant = declared
        self.machine: Machine = build_machine(declared)
        self.first = self.machine.fluid()
        self.wait(settle)

    def __getitem__(self, tag: str) -> float:
        return self.machine.read(tag)

    def psi(self, tag: str) -> float:
        """A pressure in psi."""
        return self.machine.read(tag) / PSI

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        for _ in range(round(seconds * 10.0)):
            self.machine.scan()

    def do(self, verb: str, target: str, value: Any = None, station: str = "unit") -> str | None:
        """Give a command; returns the refusal."""
        return self.machine.apply(SimpleNamespace(do=verb, target=target, value=value, from_=station))

    def set(self, target: str, value: Any, station: str = "unit") -> None:
        """Give a command that must be accepted."""
        refusal = self.do("set", target, value, station)
        assert refusal is None, refusal

    def until(self, done: Callable[[], bool], most: float = 120.0) -> float:
        """Seconds until ``done``, or infinity."""
        for scan in range(round(most * 10.0)):
            self.machine.scan()
            if done():
                return (scan + 1) / 10.0
        return float("inf")

    def seconds_to(self, function: str, way: str, most: float = 120.0) -> float:
        """Seconds from the command until a function is fully closed or open, or infinity."""
        self.set(function, way)
        end = f"{function}.{'closed' if way == 'close' else 'opened'}"
        return self.until(lambda: self[end] > 0.5, most)

    def start(self, name: str) -> None:
        """Put the well in one of its named starts."""
        for variable, value in self.machine.starts[name].items():
            self.machine.put(variable, value)

    def pumps_off(self) -> None:
        """All charging pumps off."""
        for pump in self.plant.pump:
            self.set(f"{pump.id}.mode", "off")

    def lost(self) -> float:
        """Share of the fluid that the books do not account for."""
        return abs(self.machine.fluid() - self.first) / self.first
