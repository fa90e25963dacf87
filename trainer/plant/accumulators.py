"""Accumulator banks: gas-loaded bottles with isolation and bleed valves, on the header, the pilot supply or the stack.

The gas is real nitrogen, squeezed along its adiabat and drawn towards the wall's temperature with a relaxation time,
so a fast discharge is nearly adiabatic and a slow recharge nearly isothermal out of one model. The relaxation time
of a bottle of this size, one to two minutes, is common practice; the equation of state is in ``trainer.fluids.gas``.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from trainer.fluids.gas import density
from trainer.hydraulics.laws import bottle_port, drain
from trainer.hydraulics.network import SCAN, Network
from trainer.hydraulics.storage import ATMOSPHERE, Gas
from trainer.plant.base import PSI, Component, choice, component_fault, gauge, reading, state_reading
from trainer.units import Pressure, Seconds, Volume

SHUT = ("shut", "open")
PORT = 1.2e-6
BLEED = 4.0e-7
LAST = 0.01
RELAX = 90.0


class Bank(Component):
    """A group of like bottles. ``bottle_volume`` is gas space with no fluid in; ``precharge`` is gauge, at the surface
    temperature; ``charged`` is the gauge pressure it starts at."""

    bottles: int = Field(ge=1, le=400)
    bottle_volume: Volume
    precharge: Pressure
    place: Literal["surface", "pilot", "stack"]
    relaxation: Seconds = RELAX
    charged: Pressure = Field(default=3000.0 * PSI)

    def build(self, net: Network, header: str, wall: str, wall_kelvin: float, start: float) -> None:
        """Add the bank to the node ``header``, charged to ``start`` (Pa absolute) at the wall's temperature."""
        i = self.id
        shell = self.bottles * self.bottle_volume
        mass = shell * density(self.precharge + ATMOSPHERE, wall_kelvin)
        fluid = max(shell - mass / density(max(start, self.precharge + ATMOSPHERE), wall_kelvin), 0.0)
        net.var(f"{i}.gas", mass)
        net.node(i, Gas(shell, f"{i}.gas", wall, self.relaxation, fluid, wall_kelvin))
        state_reading(net, f"{i}.isolation", SHUT, f"{self.name}: isolation valve.", ("unit",), 1.0)
        state_reading(net, f"{i}.bleed", SHUT, f"{self.name}: bleed valve to tank.", ("unit",), 0.0)
        places = () if self.place == "stack" else ("unit",)
        gauge(
            net,
            f"{i}.pressure",
            f"{i}.p",
            6000,
            f"{self.name}: pressure at the bottles.",
            places,
            (2500, 3050),
        )
        reading(net, f"{i}.gas_temperature", "degF", -150, 300, f"{self.name}: gas temperature.", ())
        reading(net, f"{i}.fluid", "gal", 0, 2000, f"{self.name}: fluid in the bottles.", ())
        lost = component_fault(
            net,
            i,
            "precharge_lost",
            f"{self.name}: nitrogen leaks from a bottle",
            (f"{i}.pressure", "totaliser.count"),
            "Isolate and bleed the bank, check each bottle's precharge, recharge with nitrogen only.",
        )
        k = PORT * self.bottles**0.5
        net.edge(f"{i}.port", header, i, isolated_port, k, f"{i}.isolation", f"{i}.v", LAST * shell)
        if self.place != "stack":
            choice(net, f"{i}.isolation", SHUT, f"{self.name}: isolation valve.", ("unit",))
            choice(net, f"{i}.bleed", SHUT, f"{self.name}: bleed valve to tank.", ("unit",))
            net.edge(f"{i}.bleeding", i, "tank", bled, BLEED, f"{i}.bleed", f"{i}.v", LAST * shell)
        net.block(gas_left, [f"{i}.gas", 0.25 * mass, lost, SCAN / 20.0], [f"{i}.gas"])
        net.block(bank_truth, [f"{i}.t", f"{i}.v"], [f"{i}.gas_temperature", f"{i}.fluid"], rate="observe")


def isolated_port(
    pu: float, pd: float, k: float, isolation: float, fluid: float, last: float
) -> tuple[float, float, float]:
    """The bottles' common port behind the bank's isolation valve."""
    q, gu, gd = bottle_port(pu, pd, k * isolation, fluid, last)
    return q, gu, gd


def bled(pu: float, pd: float, k: float, bleed: float, fluid: float, last: float) -> tuple[float, float, float]:
    """The bank's bleed valve back to the tank."""
    q, gu, gd = drain(pu, pd, k * bleed, fluid, last)
    return q, gu, gd


def gas_left(mass: float, least: float, severity: float, rate: float) -> float:
    """Nitrogen in the bank as it leaks: at full severity with a time constant of 20 s / rate down to ``least`` kg."""
    return mass - max(mass - least, 0.0) * severity * rate


def bank_truth(temperature: float, fluid: float) -> tuple[float, float]:
    """Gas temperature (K) and fluid (m3) for debrief."""
    return temperature, fluid
