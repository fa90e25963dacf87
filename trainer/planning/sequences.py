"""What is left in the bottles after each function of a sequence, pumps off, several banks feeding together."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from trainer.constants import ATMOSPHERE
from trainer.fluids.gas import bottle_temperature, density, nitrogen_pressure

POINTS = 600


def _falling(point: tuple[float, float]) -> float:
    return -point[0]


@dataclass(frozen=True)
class Bottles:
    """A bank: gas space with no fluid in (m3), precharge at the bottle and charged pressure at the header (gauge Pa),
    temperature (K), and the head (Pa) by which the bottle stands below the header."""

    volume: float
    precharge: float
    high: float
    temperature: float
    head: float = 0.0
    fast: bool = field(default=True, kw_only=True)

    @cached_property
    def _path(self) -> list[tuple[float, float]]:
        """Header pressure (gauge Pa, falling) and fluid given (m3) on the way from charged to empty."""
        rho0 = density(self.precharge + ATMOSPHERE, self.temperature)
        rho = density(self.high + self.head + ATMOSPHERE, self.temperature)
        if rho <= rho0:
            return [(self.high, 0.0)]
        mass, start, heat = rho0 * self.volume, rho, self.temperature
        path = [(self.high, 0.0)]
        for n in range(1, POINTS + 1):
            following = start + (rho0 - start) * n / POINTS
            if self.fast:
                heat = bottle_temperature(heat, rho, following, heat, 0.0)
            rho = following
            path.append((nitrogen_pressure(rho, heat)[0] - ATMOSPHERE - self.head, mass / rho - mass / start))
        return path

    def given(self, pressure: float) -> float:
        """Fluid (m3) that has left the bank when the header stands at ``pressure`` (gauge Pa)."""
        path = self._path
        if pressure >= path[0][0]:
            return 0.0
        at = bisect_left(path, -pressure, key=_falling)
        if at == len(path):
            return path[-1][1]
        (p1, v1), (p2, v2) = path[at - 1], path[at]
        return v1 + (v2 - v1) * (p1 - pressure) / (p1 - p2)


@dataclass(frozen=True, slots=True)
class Draw:
    """One step of a sequence: volume drawn, pressure left, pressure needed, and whether it was met."""

    name: str
    volume: float
    pressure_left: float
    needed: float
    ok: bool


def pressure_after(banks: Sequence[Bottles], volume: float) -> float:
    """Header pressure (gauge Pa) after ``volume`` (m3) was drawn from the banks together; 0 when they ran dry."""
    high = max(bank.high for bank in banks)
    low = 0.0

    def given(pressure: float) -> float:
        total = 0.0
        for bank in banks:
            total += bank.given(pressure)
        return total

    if given(low) < volume:
        return 0.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        if given(middle) < volume:
            high = middle
        else:
            low = middle
    return low


def draw_sequence(banks: Sequence[Bottles], steps: Sequence[tuple[str, float, float]]) -> tuple[Draw, ...]:
    """Pressure left at the header after each function of a sequence.

    ``steps`` are (name, volume m3, least header pressure that the function needs, gauge Pa). Each function is judged
    when it has moved, not only the last: a later and easier one may hide an earlier one that came up short (Fatigati
    et al., *Energy Science & Engineering* 2018, doi 10.1002/ese3.203). Real nitrogen; a ``fast`` bank takes no heat.
    """
    rows = []
    drawn = 0.0
    for name, volume, needed in steps:
        drawn += volume
        left = pressure_after(banks, drawn)
        rows.append(Draw(name, volume, left, needed, left >= needed))
    return tuple(rows)
