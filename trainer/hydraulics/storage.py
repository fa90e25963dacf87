"""How much fluid a node holds at what pressure: lines, gas-loaded bottles, and fixed boundaries.

A node's state is the fluid volume it holds (m3, referred to line pressure), so that fluid is conserved to rounding;
pressure follows from the volume. Laws are in the restricted subset of ``trainer.hydraulics.inline``.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.constants import ATMOSPHERE
from trainer.fluids.gas import nitrogen_pressure, nitrogen_thermal
from trainer.hydraulics.ports import gives
from trainer.units import Density, Temperature, ThermalPressure, Warming

LEAST_GAS = 1.0e-5
"""m3 (10 mL) of gas that fluid never squeezes out of a bank, so that its density stays finite. Ours."""


def line_pressure(volume: float, full: float, stiffness: float) -> tuple[float, float]:
    """Pressure (Pa) and compliance (m3/Pa) of a line holding ``volume``, full at atmospheric pressure with ``full``.

    Above full, the walls and the fluid give: ``stiffness`` Pa/m3 = effective modulus / volume. Below, the line is
    partly empty and its pressure falls towards vacuum in proportion.
    """
    over = volume - full
    p = ATMOSPHERE + over * stiffness if over > 0.0 else ATMOSPHERE * volume / full
    c = 1.0 / stiffness if over > 0.0 else full / ATMOSPHERE
    return p, c


@dataclass(frozen=True)
class Line:
    """A liquid-filled line or manifold: ``volume`` m3 and effective bulk ``modulus`` Pa of fluid and wall together."""

    volume: float
    modulus: float
    start: float = ATMOSPHERE

    @property
    def stiffness(self) -> float:
        """Pressure gained for each m3 forced into the full line, Pa/m3."""
        return self.modulus / self.volume

    @property
    def initial(self) -> float:
        """Fluid held at the start pressure, m3, referred to line pressure."""
        return self.volume + (self.start - ATMOSPHERE) / self.stiffness


@dataclass(frozen=True)
class Gas:
    """Gas-loaded bottles taken together: ``shell`` m3 of gas space when empty of fluid.

    ``mass`` and ``wall`` name variables (kg of gas; K of the surroundings); ``relax`` is the time in seconds in which
    the gas comes to the wall's temperature.
    """

    shell: float
    mass: str
    wall: str
    relax: float
    fluid: float
    temperature: float


@dataclass(frozen=True)
class Fixed:
    """A boundary at a pressure that its fluid does not change: tank, sea, atmosphere."""

    pressure: float
    initial: float = 0.0


@gives("warm", "heat")
def bottle_heat(rho: Density, temperature: Temperature) -> tuple[Warming, ThermalPressure]:
    """How the gas of a bottle answers, taken once a scan: dT/drho along the adiabat (K m3/kg), and dp/dT (Pa/K).

    dT/drho = T (dp/dT) / (rho^2 cv), a general relation for a closed gas volume.
    """
    heat, cv = nitrogen_thermal(rho, temperature)
    return temperature * heat / (rho * rho * cv), heat


def bottle_step(
    fluid: float,
    temperature: float,
    rho_was: float,
    warm: float,
    heat: float,
    shell: float,
    mass: float,
    wall: float,
    relaxed: float,
) -> tuple[float, float, float, float]:
    """Gas of a bottle after its fluid moved to ``fluid`` m3: pressure, compliance, temperature, density.

    The gas is compressed along its adiabat (``warm`` = dT/drho) and relaxes towards the wall by the share ``relaxed`` =
    dt/tau. Compliance is the adiabatic one, dV/dp = V / (rho (dp/drho)_s), since a tick is short against tau.

    Source: first law for a closed gas volume; equation of state in ``trainer.fluids.gas``.
    """
    space = max(shell - fluid, LEAST_GAS)
    rho = mass / space
    pressed = temperature + warm * (rho - rho_was)
    settled = pressed + (wall - pressed) * relaxed
    p, slope = nitrogen_pressure(rho, settled)
    c = space / (rho * (slope + warm * heat))
    return p, c, settled, rho


Storage = Line | Gas | Fixed
