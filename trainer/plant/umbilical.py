"""The umbilical: power-fluid line and pilot lines down to the pods, with what their length, bore and hose cost.

Turbulent line: dp = f (L/d) rho v^2 / 2 (Darcy-Weisbach), f taken as 0.02 (smooth hose, high Reynolds number).
Pilot line: laminar, g = pi d^4 / (128 mu L) (Hagen-Poiseuille), in two lumps, so that its filling time constant is
close to the distributed line's 0.4 R C.
"""

from __future__ import annotations

from math import sqrt
from typing import Annotated

from trainer.plant.base import Part
from trainer.units import Length, Pressure, between

FRICTION = 0.02
PI = 3.141592653589793


class Umbilical(Part):
    """Hoses of one pod's bundle; both bundles are alike."""

    length: Annotated[Length, between("20 ft", "20000 ft")]
    pilot_bore: Annotated[Length, between("0.05 in", "1 in")]
    pilot_modulus: Annotated[Pressure, between("20 MPa", "3000 MPa")]
    supply_bore: Annotated[Length, between("0.2 in", "4 in")]
    supply_modulus: Annotated[Pressure, between("50 MPa", "3000 MPa")]

    def supply_volume(self) -> float:
        """Volume of the power-fluid line, m3."""
        return PI / 4.0 * self.supply_bore * self.supply_bore * self.length

    def supply_k(self, density: float) -> float:
        """Flow coefficient of the whole power-fluid line, m3/(s sqrt(Pa))."""
        area = PI / 4.0 * self.supply_bore * self.supply_bore
        return area * sqrt(2.0 * self.supply_bore / (FRICTION * self.length * density))

    def pilot_volume(self) -> float:
        """Volume of one pilot line, m3."""
        return PI / 4.0 * self.pilot_bore * self.pilot_bore * self.length

    def pilot_delay(self, density: float) -> float:
        """Time that a change of pressure takes down a pilot line, s: its length over the speed of sound in it.

        Wave speed sqrt(K / rho) with the modulus of hose and fluid together (Newton-Laplace, Korteweg).
        """
        return self.length / sqrt(self.pilot_modulus / density)

    def pilot_g(self, viscosity: float) -> float:
        """Laminar conductance of one pilot line, m3/(s Pa)."""
        d2 = self.pilot_bore * self.pilot_bore
        return PI * d2 * d2 / (128.0 * viscosity * self.length)
