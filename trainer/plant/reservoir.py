"""The fluid reservoir: mixed-fluid tank with its level, alarm float and pump suction."""

from __future__ import annotations

from typing import Literal

from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import ATMOSPHERE, Fixed
from trainer.plant.base import Part, component_fault, reading, state_reading
from trainer.units import Flow, Fraction, Volume

SUCTION_HEAD = 5.0e3
DEAD = 0.02


class Reservoir(Part):
    """Tanks of the unit. Levels are shares of the mixed-fluid tank."""

    id: Literal["tank"] = "tank"
    mixed_volume: Volume
    mixed_fill: Fraction
    low_level: Fraction
    concentrate_volume: Volume
    glycol_volume: Volume
    mix_start: Fraction
    mix_stop: Fraction
    water_rate: Flow

    def build(self, net: Network) -> None:
        """Add the tank: node ``tank``, its level, float switch and how well the suction is covered."""
        net.node("tank", Fixed(ATMOSPHERE + SUCTION_HEAD, self.mixed_volume * self.mixed_fill))
        net.var("tank.wet", 1.0)
        net.var("tank.low_switch", 0.0)
        reading(
            net,
            "tank.level",
            "%",
            0,
            100,
            "Level in the mixed-fluid tank, by its sight glass.",
            ("unit",),
            (60, 95),
            self.mixed_fill,
        )
        reading(net, "tank.volume", "gal", 0, 1000, "Mixed fluid in the tank.", (), None, self.mixed_volume)
        state_reading(net, "tank.low", ("no", "yes"), "Lower float switch: the tank is low.", ("unit",))
        stuck = component_fault(
            net,
            "tank",
            "float_stuck",
            "Lower float switch stuck up",
            ("tank.level", "tank.low"),
            "Free or replace the float; read the sight glass meanwhile.",
        )
        leak = component_fault(
            net,
            "tank",
            "leak",
            "Mixed-fluid tank leaks",
            ("tank.level", "tank.volume"),
            "Find and stop the leak; top up with correctly mixed fluid.",
        )
        net.node("ground", Fixed(ATMOSPHERE))
        net.edge("tank.leak", "tank", "ground", tank_leak, leak, "tank.v", fault="tank.leak")
        net.block(suction, ["tank.v", DEAD * self.mixed_volume], ["tank.wet"])
        net.block(
            level,
            ["tank.v", self.mixed_volume, self.low_level, stuck, "tank.low"],
            ["tank.level", "tank.volume", "tank.low"],
            rate="observe",
        )


def suction(volume: float, dead: float) -> float:
    """How well the pump suction is covered, 0 to 1: it draws air over the last ``dead`` m3."""
    return min(max((volume - dead) / dead, 0.0), 1.0)


def level(volume: float, full: float, low: float, stuck: float, was: float) -> tuple[float, float, float]:
    """Level share, volume (m3) and low float (with 2 % hysteresis; a stuck float keeps what it said)."""
    share = volume / full
    floats = 1.0 if share < low else (0.0 if share > low + 0.02 else was)
    return share, volume, (was if stuck > 0.0 else floats)


def tank_leak(pu: float, pd: float, severity: float, volume: float) -> tuple[float, float, float]:
    """A hole in the tank: up to 5 gpm, while there is fluid."""
    q = 3.2e-4 * severity * min(volume / 0.1, 1.0) + 0.0 * (pu - pd)
    return q, 0.0, 0.0
