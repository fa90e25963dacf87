"""Rigid conduits down the riser: the power-fluid line of each pod, where no pilot lines run beside it.

dp = f (L/d) rho v^2 / 2 (Darcy-Weisbach) with one f for the whole line (White, *Fluid Mechanics*, ch. 6; from memory).
"""

from __future__ import annotations

from math import sqrt
from typing import Annotated

from pydantic import Field

from trainer.plant.base import Part
from trainer.plant.umbilical import PI
from trainer.units import Length, Pressure, between

FRICTION = 0.02
"""Darcy friction factor of a rigid steel line of some inches. Common practice."""


class Conduits(Part):
    """One rigid line to each pod, all alike, from the unit down the riser to the stack."""

    length: Annotated[Length, between("20 ft", "20000 ft")]
    supply_bore: Annotated[Length, between("0.5 in", "6 in")]
    supply_modulus: Annotated[Pressure, between("50 MPa", "3000 MPa")]
    friction: float = Field(default=FRICTION, ge=0.005, le=0.1)
    """Darcy friction factor."""

    def supply_volume(self) -> float:
        """Volume of one conduit from the unit to the stack, m3, unstressed."""
        return PI / 4.0 * self.supply_bore * self.supply_bore * self.length

    def supply_k(self, density: float, viscosity: float) -> float:
        """Flow coefficient of one whole conduit, m3/(s sqrt(Pa)); the friction factor stands for the viscosity."""
        area = PI / 4.0 * self.supply_bore * self.supply_bore
        return area * sqrt(2.0 * self.supply_bore / (self.friction * self.length * density))
