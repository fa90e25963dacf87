"""The pen of the picture: shapes from short words, in centimeters, y downward about a part's own origin."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import cos, radians, sin
from typing import Final

from trainer.drawing.markup import Child, Markup, el, join, shorten

_SHAPE: Final = re.compile(r"([a-z][\w -]*?) ([M\d-].*)")
FROM, TO = -135.0, 135.0
"""Where a dial's needle stands at the ends of its scale, degrees from straight up."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in centimeters of the unit, y downward; left is less than right, top less than bottom."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def wide(self) -> float:
        """The width in centimeters: how far the right edge lies from the left one."""
        return self.right - self.left

    @property
    def tall(self) -> float:
        """The height in centimeters: how far the bottom edge lies under the top one."""
        return self.bottom - self.top

    def moved(self, x: float, y: float) -> Box:
        """The same rectangle elsewhere, ``x`` cm to the right and ``y`` cm down; this one stays."""
        return Box(self.left + x, self.top + y, self.right + x, self.bottom + y)

    def meets(self, other: Box, slack: float = 0.0) -> bool:
        """Whether both share more than ``slack`` cm in each direction; edges that only touch do not."""
        across = min(self.right, other.right) - max(self.left, other.left)
        return across > slack and min(self.bottom, other.bottom) - max(self.top, other.top) > slack

    def holds(self, other: Box, slack: float = 0.5) -> bool:
        """Whether the other lies within this one, but for ``slack`` cm on each side."""
        return (
            other.left >= self.left - slack
            and other.right <= self.right + slack
            and other.top >= self.top - slack
            and other.bottom <= self.bottom + slack
        )


def around(boxes: Iterable[Box]) -> Box:
    """The smallest rectangle about all of them; ValueError without any."""
    found = [*boxes]
    if not found:
        raise ValueError("there is nothing to draw a box around")
    return Box(
        min(b.left for b in found),
        min(b.top for b in found),
        max(b.right for b in found),
        max(b.bottom for b in found),
    )


def box(x: float, y: float, w: float, h: float, css: str, corner: float = 1.5) -> Markup:
    """A rectangle by its top left corner, its sides and the radius of its corners, all in cm."""
    return el("rect", {"class": css, "x": x, "y": y, "width": w, "height": h, "rx": corner or None})


def dot(x: float, y: float, r: float, css: str) -> Markup:
    """A circle about (x, y) with the radius ``r``, all in cm; a zero is left to the browser."""
    return el("circle", {"class": css, "cx": x or None, "cy": y or None, "r": r})


def path(d: str, css: str) -> Markup:
    """A path by its commands, in the letters of SVG's path data, with its class of style."""
    return el("path", {"class": css, "d": d})


@lru_cache(maxsize=512)
def sketch(words: str) -> Markup:
    """Several shapes, parted by semicolons: a class, then x y r (circle), x y width height [corner], or a path."""
    drawn = []
    for shape in words.split("; "):
        found = _SHAPE.fullmatch(shape.strip())
        if found is None:
            raise ValueError(f"{shape!r} is no shape: write a class, then numbers or the commands of a path")
        css, rest = found.groups()
        if rest.startswith("M"):
            drawn.append(path(rest, css))
            continue
        given = [float(number) for number in rest.split()]
        if len(given) == 3:
            drawn.append(dot(given[0], given[1], given[2], css))
        else:
            x, y, wide, tall, *corner = given
            drawn.append(box(x, y, wide, tall, css, *corner))
    return join(drawn)


def move(x: float, y: float, *drawn: Child, turn: float = 0.0, scale: float = 1.0) -> Markup:
    """Shapes elsewhere: turned clockwise in degrees, scaled, then put at (x, y), in cm."""
    turned = (f"rotate({turn:g})" if turn else "") + (f"scale({scale:g})" if scale != 1.0 else "")
    return el("g", {"transform": f"translate({shorten(x)} {shorten(y)}){turned}"}, *drawn)


def spots(*places: tuple[float, float], r: float = 1.2) -> Markup:
    """Bolt heads about these places, each of radius ``r`` cm, in one path, so that they cost one element."""
    d = "".join(
        f"M{shorten(x - r)} {shorten(y)}a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0"
        for x, y in places
    )
    return path(d, "spot")


def turned(r: float, degrees: float) -> str:
    """A point at a distance from the origin, in degrees clockwise from straight up."""
    return f"{shorten(r * sin(radians(degrees)))} {shorten(-r * cos(radians(degrees)))}"


def dial(r: float, tag: str | None, band: tuple[float, float] | None = None) -> Markup:
    """A round gauge about the origin: the needle follows ``tag``, ``band`` is the normal range in shares."""

    def at(share: float) -> float:
        return FROM + (TO - FROM) * share

    ticks = "".join(
        f"M{turned(r - 2.5, at(n / 10))}L{turned(r - (6.0 if n % 5 == 0 else 4.2), at(n / 10))}" for n in range(11)
    )
    normal = None
    if band is not None:
        start, end = at(band[0]), max(at(band[1]), at(band[0]) + 3.0)
        far = int(end - start > 180.0)
        normal = path(f"M{turned(r - 3, start)}A{r - 3:g} {r - 3:g} 0 {far} 1 {turned(r - 3, end)}", "band")
    bound = {"data-needle": tag, "data-sweep-from": FROM, "data-sweep-to": TO} if tag else {}
    needle = el(
        "g",
        {**bound, "transform": f"rotate({FROM:g})"},
        path(f"M-1.6 {shorten(r * 0.25)}L0 {shorten(-r * 0.76)}L1.6 {shorten(r * 0.25)}Z", "needle"),
    )
    return join(
        dot(0, 0, r, "rim"),
        dot(0, 0, r - 2, "paper"),
        path(ticks, "tick") if r > 9.5 else None,
        normal,
        needle,
        dot(0, 0, max(1.4, r * 0.12), "rim"),
    )


def handle(length: float, css: str = "arm-of") -> Markup:
    """A lever's handle about its hub, pointing up; the style turns it by the state of the part."""
    return join(
        el("g", {"class": css}, path(f"M0 0V{-length:g}", "arm"), dot(0, -length, 4.2, "grip")), dot(0, 0, 3.4, "grip")
    )
