"""The well's shape: how much mud stands between the pipe and the wall, and where.

All depths are true vertical and counted from the rotary table, in m; the demonstration wells are vertical, so that
depth along the hole is the same. From the top: riser (to the preventers), casing (to the shoe), open hole; inside
it drill pipe and, above the bit, drill collars. Tool joints are left out of the volumes.

Source of the areas: capacity = pi/4 (D^2 - d^2), the handbooks' (D^2 - d^2)/1029.4 bbl/ft (Lapeyrouse, Formulas
and Calculations for Drilling, Production and Workover, ch. 1; constant checked in tests/outside/test_well.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from trainer.hydraulics.ports import gives
from trainer.units import Area, Length, Volume

# While the bit is this near the bottom, the hole below it counts as full of mud: handbooks put the string's mud
# column on the bottom of the hole, and jetting keeps gas from lying below the bit. Farther up, gas lies below it.
RATHOLE = 40.0


def circle(diameter: float) -> float:
    """Area of a circle in m2 from its diameter in m (at load only)."""
    return pi / 4.0 * diameter * diameter


@dataclass(frozen=True)
class Sizes:
    """Areas (m2) and depths (m) of one well, worked out once at load."""

    stack: float
    shoe: float
    collar_length: float
    riser: float
    cased: float
    open_hole: float
    pipe: float
    collar: float
    inside: float
    line: float

    @property
    def ram(self) -> float:
        """Depth of the upper pipe ram: the preventers count as one place for pressures and for space-out."""
        return self.stack

    @property
    def steps(self) -> tuple[float, ...]:
        """The arguments that the annulus laws share, in their order: depths and lengths in m, areas in m2."""
        return tuple(self.named.values())

    @property
    def named(self) -> dict[str, float]:
        """The same arguments by the names that the laws give them, for binding: depths in m, areas in m2."""
        return dict(
            stack=self.stack,
            shoe=self.shoe,
            collar_length=self.collar_length,
            cased=self.cased,
            open_hole=self.open_hole,
            pipe=self.pipe,
            collar=self.collar,
        )


def volume_to(
    depth: float,
    bit: float,
    stack: float,
    shoe: float,
    collar_length: float,
    cased: float,
    open_hole: float,
    pipe: float,
    collar: float,
) -> float:
    """Annular volume in m3 between the preventers and ``depth`` (m, at or below them), the bit being at ``bit``.

    >>> round(volume_to(1000.0, 0.0, 0.0, 600.0, 180.0, 0.08, 0.07, 0.01, 0.03), 6)
    76.0
    """
    collar_top = bit - collar_length
    hole = cased * (min(depth, shoe) - stack) + open_hole * max(depth - shoe, 0.0)
    piped = pipe * max(min(depth, collar_top) - stack, 0.0)
    collared = collar * max(min(depth, bit) - max(collar_top, stack), 0.0)
    return hole - piped - collared


@gives("room")
def mud_room(
    hole_depth: Length,
    first_depth: Length,
    bit: Length,
    stack: Length,
    shoe: Length,
    collar_length: Length,
    cased: Area,
    open_hole: Area,
    pipe: Area,
    collar: Area,
) -> Volume:
    """Room for mud below the preventers, m3: hole drilled since the start (``first_depth`` m) does not count, since
    the cut rock stays in the mud as cuttings.
    """
    whole = volume_to(hole_depth, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    return whole - open_hole * (hole_depth - first_depth)


def area_at(
    depth: float,
    bit: float,
    stack: float,
    shoe: float,
    collar_length: float,
    cased: float,
    open_hole: float,
    pipe: float,
    collar: float,
) -> float:
    """Annular area in m2 just above ``depth``: the slope of ``volume_to`` (``stack`` only keeps the order)."""
    hole = cased if depth <= shoe else open_hole
    steel = pipe if depth <= bit - collar_length else (collar if depth <= bit else 0.0)
    return hole - steel


def entry_depth(bit: float, hole_depth: float) -> float:
    """Where formation gas takes its place in the annulus: at the bit when that is near bottom, else at the bottom."""
    return bit if hole_depth - bit < RATHOLE else hole_depth


@gives("riser_room")
def riser_volume(bit: Length, stack: Length, collar_length: Length, riser: Area, pipe: Area, collar: Area) -> Volume:
    """Volume of the riser in m3, around whatever pipe hangs in it."""
    collar_top = min(max(bit - collar_length, 0.0), stack)
    end = min(max(bit, 0.0), stack)
    return riser * stack - pipe * collar_top - collar * (end - collar_top)
