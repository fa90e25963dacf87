"""The reserve sequence at the pace of the equipment: gas cools as it is drawn, and its bottle warms it meanwhile.

Between the two bounds of the sheet: nothing taken up from the bottle (adiabatic), and all the time in the world
(isothermal). Published rules say what is done and what must be left, not how fast; a function that is worked as soon
as the one before it has moved is the fastest that a crew can do.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.constants import ATMOSPHERE
from trainer.fluids.gas import density
from trainer.hydraulics.storage import bottle_heat, bottle_step
from trainer.planning.work import mains, setting
from trainer.plant.rig import Plant

STEP = 0.25


class _Bank:
    """A bank's gas under the header."""

    def __init__(self, shell: float, precharge: float, high: float, temperature: float, head: float, relax: float):
        self.shell, self.wall, self.head, self.relax = shell, temperature, head, relax
        self.mass = shell * density(precharge + ATMOSPHERE, temperature)
        charged = density(max(high + head, precharge) + ATMOSPHERE, temperature)
        self.fluid = self.full = shell - self.mass / charged
        self.t, self.rho = temperature, charged
        self.step(0.0)

    def step(self, drawn: float) -> None:
        """Give ``drawn`` m3 in ``STEP`` seconds."""
        self.fluid = max(self.fluid - drawn, 0.0)
        warm, heat = bottle_heat(self.rho, self.t)
        p, self.c, self.t, self.rho = bottle_step(
            self.fluid, self.t, self.rho, warm, heat, self.shell, self.mass, self.wall, STEP / self.relax
        )
        self.p = p - ATMOSPHERE - self.head


def pressures(plant: Plant, steps: Sequence[tuple[float, float]]) -> list[float]:
    """Header pressure (gauge Pa) after each of ``steps`` (fluid drawn in m3, seconds it takes), pumps off.

    0 once the bottles are empty. The banks share one header: what each gives follows from its compliance.
    """
    high = plant.supply.working_pressure
    banks = []
    for bank in mains(plant):
        head, temperature = setting(plant, bank)
        shell = bank.bottles * bank.bottle_volume
        banks.append(_Bank(shell, bank.precharge, high, temperature, head, bank.relaxation))
    left = []
    for volume, seconds in steps:
        count = max(round(seconds / STEP), 1)
        for _ in range(count):
            live = [b for b in banks if b.fluid > 1.0e-3 * b.shell]
            stiff = 0.0
            held = 0.0
            for b in live:
                stiff += b.c
                held += b.c * b.p
            header = (held - volume / count) / stiff if live else 0.0
            for b in banks:
                b.step(b.c * (b.p - header) if b in live else 0.0)
        left.append(max((b.p for b in banks if b.fluid > 1.0e-3 * b.shell), default=0.0))
    return left
