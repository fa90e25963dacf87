"""A crew at the demonstration rig: gives commands and reads instruments in field units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trainer.hydraulics.machine import Machine
from trainer.plant.rig import build_machine, load_plant
from trainer.units import to_unit

PLANT, HASH = load_plant("quillback")
PUMPS = tuple(p.id for p in PLANT.pump)
ELECTRIC = tuple(p.id for p in PLANT.pump if p.drive == "electric")
AIR = tuple(p.id for p in PLANT.pump if p.drive == "air")


@dataclass(frozen=True)
class Order:
    """A command as the plant takes it."""

    do: str
    target: str
    value: Any = None
    from_: str = "unit"


class Crew:
    """The whole rig with hands on it."""

    def __init__(self, machine: Machine | None = None) -> None:
        self.machine = machine or build_machine(PLANT, HASH)

    def run(self, seconds: float) -> None:
        """Advance by whole scans."""
        for _ in range(round(seconds * 10.0)):
            self.machine.scan()

    def do(self, verb: str, target: str, value: Any = None, station: str = "unit") -> str | None:
        """Give a command; returns the refusal."""
        return self.machine.apply(Order(verb, target, value, station))

    def set(self, target: str, value: Any, station: str = "unit") -> None:
        """Set something that must not be refused."""
        refused = self.do("set", target, value, station)
        assert refused is None, refused

    def word(self, tag: str) -> str:
        """The state that a discrete reading shows."""
        return str(self.machine.signals[tag].states[int(self.machine.read(tag))])

    def __getitem__(self, tag: str) -> float:
        value = self.machine.read(tag)
        signal = self.machine.signals.get(tag)
        return to_unit(value, signal.unit) if signal and signal.unit != "state" else value
