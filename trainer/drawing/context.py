"""The drawing context: a rig, its signal catalogue and the unit system in which scales are printed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from trainer.drawing.rig_view import RigView
from trainer.hydraulics.catalogue import Signal
from trainer.units import System, display_unit, from_unit, symbol, to_unit


@dataclass(frozen=True, slots=True)
class Scale:
    """The scale of one instrument in the shown unit: its ends, and its normal band where it has one."""

    low: float
    high: float
    unit: str
    normal: tuple[float, float] | None
    ticks: tuple[float, ...]
    minor: tuple[float, ...]

    def fraction(self, value: float) -> float:
        """Where ``value`` lies between low (0) and high (1), kept inside."""
        span = self.high - self.low
        return min(1.0, max(0.0, (value - self.low) / span)) if span > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class DrawingContext:
    """What every drawing function takes: the parts, the catalogue, and field or metric."""

    rig: RigView
    signals: Mapping[str, Signal]
    system: System = "field"

    def has(self, *tags: str) -> bool:
        """Whether the plant has all these readings; True for none, since nothing is then missing."""
        return all(tag in self.signals for tag in tags)

    def seen(self) -> DrawingContext:
        """The same desk with instruments only: no reading that just the engine knows."""
        return replace(self, signals={tag: s for tag, s in self.signals.items() if s.station})

    def scale(self, tag: str) -> Scale:
        """The instrument scale of ``tag``: the catalogue's range in the shown unit with round ticks."""
        signal = self.signals[tag]
        shown = display_unit(signal.unit, self.system)

        def turn(value: float) -> float:
            return value if signal.unit == shown else to_unit(from_unit(value, signal.unit), shown)

        low, high = turn(signal.low), turn(signal.high)
        normal = (turn(signal.normal[0]), turn(signal.normal[1])) if signal.normal else None
        step = round_step((high - low) / 5.0)
        return Scale(low, high, symbol(shown), normal, _ticks(low, high, step), _ticks(low, high, step / 2.0))


def round_step(rough: float) -> float:
    """The 1-2-5 number next above ``rough``; 1 for nothing or less."""
    if rough <= 0.0:
        return 1.0
    power = 1.0
    while power > rough:
        power /= 10.0
    while power * 10.0 <= rough:
        power *= 10.0
    for multiple in (1.0, 2.0, 5.0, 10.0):
        if multiple * power >= rough * 0.999999:
            return multiple * power
    return 10.0 * power


def _ticks(low: float, high: float, step: float) -> tuple[float, ...]:
    first = -(-(low - 1e-9 * step) // step)
    found: list[float] = []
    while (first + len(found)) * step <= high + 1e-6 * step:
        found.append((first + len(found)) * step)
    return tuple(found)
