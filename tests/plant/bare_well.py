"""A plant that is nothing but the well and its floor; the tests play the preventers by setting the bore's variables."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import Any

from trainer.hydraulics.machine import Machine
from trainer.hydraulics.network import Network
from trainer.plant.drill_floor import DrillFloor
from trainer.plant.well import Well
from trainer.resources import assets
from trainer.units import from_unit, to_unit

PATHS = {"choke_path": "choke_line.sees_well", "kill_path": "kill_line.sees_well", "choke_up": "choke_line.sees_riser"}


BEYOND = ("air_gap", "mud_bulk_modulus", "loss_index")
"""What a handbook's example takes outside the bounds of a plant file: no air gap, mud that gives nothing, open rock."""


@dataclass
class Order:
    """A command as the plant takes it."""

    do: str
    target: str
    value: Any = None
    from_: str = "floor"


@dataclass
class BareSite:
    """A rig reduced to what the well asks of it."""

    well: Well
    floor: DrillFloor
    water_depth: float
    sea_temperature: float = 280.0


def demo_table() -> dict[str, Any]:
    """The table [well] of the demonstration rig."""
    with (assets() / "plants" / "quillback.toml").open("rb") as file:
        return dict(tomllib.load(file)["well"])


def make(floor: dict[str, Any] | None = None, water_depth: str = "1650 ft", **changes: Any) -> BareSite:
    """The demonstration well with some keys changed."""
    length = from_unit(float(water_depth.split()[0]), water_depth.split()[1])
    held = {key: given for key, given in changes.items() if key not in BEYOND}
    well = Well(**(demo_table() | held))
    beyond = {key: from_unit(*_parted(changes[key])) for key in BEYOND if key in changes}
    return BareSite(well.model_copy(update=beyond), DrillFloor(**(floor or {})), length)


def _parted(text: str) -> tuple[float, str]:
    number, unit = text.split()
    return float(number), unit


class BareWell:
    """The compiled well with an operator's hands."""

    def __init__(self, site: BareSite | None = None, start: str = "drilling") -> None:
        self.site = site or make()
        net = Network()
        net.var("bore.leak", 0.0, "m3/(s sqrt(Pa))")
        for name in ("sheared", "disconnected"):
            net.var(f"bore.{name}", 0.0)
        for line in ("choke", "kill"):
            for part in ("sees_well", "sees_riser", "closed_in"):
                net.var(f"{line}_line.{part}", 0.0, "Pa" if part == "closed_in" else "1")
        for name in ("area", "outlet"):
            net.var(f"bore.{name}", 1.0)
        self.site.floor.build(net, self.site)
        self.site.well.build(net, self.site)
        self.machine = Machine(net)
        self.first: list[float] = []
        for name, value in self.site.well.starts(self.site)[start].items():
            self.machine.put(name, value)

    def run(self, seconds: float) -> None:
        """Advance by whole scans."""
        for _ in range(round(seconds * 10.0)):
            self.machine.scan()

    def do(self, verb: str, target: str, value: Any = None) -> str | None:
        """Give a command from the floor; returns the refusal."""
        return self.machine.apply(Order(verb, target, value))

    def bore(self, **values: float) -> None:
        """Set what the preventers would."""
        for name, value in values.items():
            self.machine.put(PATHS.get(name, f"bore.{name}"), value)

    def __getitem__(self, tag: str) -> float:
        """A signal in its field unit, another variable in SI."""
        value = self.machine.read(tag)
        signal = self.machine.signals.get(tag)
        return to_unit(value, signal.unit) if signal else value

    def mud(self) -> float:
        """All mud there is, m3: constant to rounding."""
        names = ("string_mud", "annulus_mud", "line_mud", "riser_mud", "pit", "spilled", "lost", "to_sea", "fish_mud")
        total = self.machine.read("trip_tank.volume")
        for name in names:
            total += self.machine.read(f"well.{name}")
        return total
