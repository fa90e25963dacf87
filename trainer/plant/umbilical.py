"""The umbilical: power-fluid line and pilot lines down to the pods, with what their length, bore and hose cost.

Power line: dp = f (L/d) rho v^2 / 2 (Darcy-Weisbach), with f of a smooth hose (Blasius) at ``AT_SPEED`` in the mix
as cold as it is there.
Pilot line: laminar, g = pi d^4 / (128 mu L) (Hagen-Poiseuille), in two lumps; the far one fills with a time
constant of 0.5 R C, between what the distributed line's series asks for early and late in a step.
"""

from __future__ import annotations

from math import sqrt
from typing import Annotated

from trainer.plant.base import Part
from trainer.units import Coefficient, Length, Pressure, between

AT_SPEED = 4.0
"""Speed of fluid (m/s) at which a line's friction is taken: Blasius' factor changes by 16 % from half to twice it."""
WAY_K = 3.0e-7
"""m3/(s sqrt(Pa)) of a pilot valve, 0.4 Cv. Invented."""
PI = 3.141592653589793
"""The number pi."""


def friction(bore: float, density: float, viscosity: float) -> float:
    """Darcy friction factor of a smooth line of ``bore`` (m) at ``AT_SPEED``, turbulent or laminar.

    Blasius, 0.3164 / Re^(1/4), or Hagen-Poiseuille, 64 / Re, whichever is more (White, Fluid Mechanics, ch. 6; from
    memory).
    """
    reynolds = density * AT_SPEED * bore / viscosity
    return max(0.3164 / sqrt(sqrt(reynolds)), 64.0 / reynolds)


def line_k(bore: float, length: float, density: float, viscosity: float) -> float:
    """Flow coefficient of a line, m3/(s sqrt(Pa)) (Darcy-Weisbach)."""
    area = PI / 4.0 * bore * bore
    return area * sqrt(2.0 * bore / (friction(bore, density, viscosity) * length * density))


class Umbilical(Part):
    """Hoses of one pod's bundle; both bundles are alike. Lengths and bores in m, hose moduli in Pa."""

    length: Annotated[Length, between("20 ft", "20000 ft")]
    pilot_bore: Annotated[Length, between("0.05 in", "1 in")]
    pilot_modulus: Annotated[Pressure, between("20 MPa", "3000 MPa")]
    supply_bore: Annotated[Length, between("0.2 in", "4 in")]
    supply_modulus: Annotated[Pressure, between("50 MPa", "3000 MPa")]
    pilot_capacity: Annotated[Coefficient, between("0.01 Cv", "10 Cv")] = WAY_K
    """Flow coefficient of the surface pilot valve that feeds one function's lines."""

    def supply_volume(self) -> float:
        """Volume of the power-fluid line in the umbilical, m3, at no pressure: bore's area times length."""
        return PI / 4.0 * self.supply_bore * self.supply_bore * self.length

    def supply_k(self, density: float, viscosity: float) -> float:
        """Flow coefficient of the whole power-fluid line, m3/(s sqrt(Pa))."""
        return line_k(self.supply_bore, self.length, density, viscosity)

    def pilot_volume(self) -> float:
        """Volume of one pilot line in the umbilical, m3, at no pressure: bore's area times length."""
        return PI / 4.0 * self.pilot_bore * self.pilot_bore * self.length

    def pilot_delay(self, density: float) -> float:
        """Time that a change of pressure takes down a pilot line, s: its length over the speed of sound in it.

        Wave speed sqrt(K / rho) with the modulus of hose and fluid together (Newton-Laplace, Korteweg).
        """
        return self.length / sqrt(self.pilot_modulus / density)

    def pilot_g(self, viscosity: float) -> float:
        """Laminar conductance of one pilot line, m3/(s Pa): Hagen-Poiseuille."""
        d2 = self.pilot_bore * self.pilot_bore
        return PI * d2 * d2 / (128.0 * viscosity * self.length)
