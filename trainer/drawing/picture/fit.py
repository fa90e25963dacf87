"""Where the tiles stand: broken into skids one above the other, so that the whole is as large as the window allows.

No place is written down for a rig. Tiles keep the order of the fluid; a skid is broken only between tiles. The number
of skids is the one that makes the drawing largest in a window of ``SHAPE``.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, takewhile
from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.picture import control, power, seabed
from trainer.drawing.picture.ink import Box
from trainer.drawing.picture.place import Tile

SHAPE: Final = 2.1
"""Width over height of the window that the picture is made for."""
TITLES: Final = 64.0
"""Room below a deck for the tiles' titles, cm."""
OVER: Final = 14.0
SIDE: Final = 12.0
TORN: Final = 0.15
"""A subsystem broken between two skids is worth so much of the size."""
MOST_SKIDS: Final = 5
NEAR_WIDE: Final = 690.0
NEAR_TALL: Final = 330.0
"""So much of the picture a window on a subsystem shows at most: every target in it is 44 px at 1280 by 800."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A tile and where its origin stands on the sheet, y downward."""

    tile: Tile
    x: float
    y: float

    @property
    def room(self) -> Box:
        """What the tile covers on the sheet, with its title below: a box in cm, y downward."""
        return Box(self.x, self.y - self.tile.tall, self.x + self.tile.wide, self.y + TITLES)


@dataclass(frozen=True, slots=True)
class Sheet:
    """The whole picture: its size, its decks (y), its tiles, and its windows by name."""

    wide: float
    tall: float
    decks: tuple[float, ...]
    placed: tuple[Placed, ...]
    windows: tuple[tuple[str, Box], ...]


def tiles_of(desk: DrawingContext) -> list[Tile]:
    """Every assembly of a plant in the order of the fluid: pumps, bottles, control, and what lies subsea."""
    rig = desk.rig
    pumps = [*(p for p in rig.pumps if p.drive != "air"), *(p for p in rig.pumps if p.drive == "air")]
    first_air = next((n for n, p in enumerate(pumps) if p.drive == "air"), len(pumps))
    made = [
        power.air_pump(desk, p, n == len(pumps) - 1)
        if n >= first_air
        else power.triplex(desk, p, n == len(pumps) - 1, False)
        for n, p in enumerate(pumps)
    ]
    return [
        power.mixing(desk),
        power.tank(desk),
        *made,
        power.rig_air(desk, first_air < len(pumps)),
        power.filters(desk),
        *(control.attached(desk, part) for part in rig.attached),
        *control.headers(desk),
        *(control.bank(desk, b, "Banks") for b in rig.surface_banks),
        *power.pilot_filters(desk),
        *(control.bank(desk, b, "Pilot") for b in rig.pilot_banks),
        control.instruments(desk),
        *control.side_bays(desk),
        *control.lever_bays(desk),
        control.boxes(desk),
        *control.feeds(desk),
        *seabed.pods(desk),
        seabed.stack(desk),
    ]


def wrapped(tiles: list[Tile], wide: float, whole: bool = False) -> list[list[Tile]]:
    """The tiles on skids no longer than ``wide`` (or than the widest tile), in their order.

    ``whole`` breaks before a subsystem that does not fit on the rest of a skid, rather than within it.
    """
    skids: list[list[Tile]] = [[]]
    for n, tile in enumerate(tiles):
        used = sum(t.wide for t in skids[-1])
        begins = whole and (n == 0 or tiles[n - 1].group != tile.group)
        run = takewhile(lambda t: t.group == tile.group, tiles[n:])  # noqa: B023
        needs = sum(t.wide for t in run) if begins else tile.wide
        if skids[-1] and used + (needs if needs <= wide else tile.wide) > wide:
            skids.append([])
        skids[-1].append(tile)
    return skids


def _torn(skids: list[list[Tile]]) -> int:
    """How many subsystems are broken between two skids."""
    return sum(before[-1].group == after[0].group for before, after in pairwise(skids))


def _size(skids: list[list[Tile]]) -> tuple[float, float]:
    wide = max(sum(t.wide for t in skid) for skid in skids) + 2 * SIDE
    return wide, sum(max(t.tall for t in skid) + OVER + TITLES for skid in skids)


def laid_out(tiles: list[Tile]) -> Sheet:
    """The tiles in their places on skids of about one width. ValueError without any tile."""
    if not tiles:
        raise ValueError("a picture needs tiles")
    least = sum(t.wide for t in tiles) / MOST_SKIDS
    runs = (tiles[i:j] for i in range(len(tiles)) for j in range(i + 1, len(tiles) + 1))
    ends = {wide for run in runs if (wide := sum(t.wide for t in run)) >= least}
    tries = [wrapped(tiles, wide, whole) for wide in sorted(ends) for whole in (True, False)]
    skids = min(tries, key=lambda s: max(_size(s)[0] / SHAPE, _size(s)[1]) * (1.0 + TORN * _torn(s)))
    wide, tall = _size(skids)
    placed: list[Placed] = []
    decks: list[float] = []
    y = 0.0
    for skid in skids:
        y += OVER + max(t.tall for t in skid)
        decks.append(y)
        x = SIDE
        for tile in skid:
            placed.append(Placed(tile, x, y))
            x += tile.wide
        y += TITLES
    return Sheet(wide, tall, tuple(decks), tuple(placed), _windows(placed))


def _windows(placed: list[Placed]) -> tuple[tuple[str, Box], ...]:
    """Windows on the subsystems: neighbors of one group on one deck, as many as fit a window together."""
    found: list[tuple[str, list[Placed]]] = []
    for one in placed:
        last = found[-1] if found else None
        joins = last is not None and last[0] == one.tile.group and last[1][-1].y == one.y
        if joins and last is not None and one.x + one.tile.wide - last[1][0].x <= NEAR_WIDE:
            last[1].append(one)
        else:
            found.append((one.tile.group, [one]))
    names = [name for name, _ in found]
    windows = []
    for n, (name, members) in enumerate(found):
        shown = name if names.count(name) == 1 else f"{name} {names[: n + 1].count(name)}"
        rooms = [m.room for m in members]
        windows.append(
            (
                shown,
                Box(
                    rooms[0].left - 4.0, min(r.top for r in rooms) - 6.0, rooms[-1].right + 4.0, rooms[0].bottom - 34.0
                ),
            )
        )
    return tuple(windows)


def side_of(sheet: Sheet, window: Box) -> str:
    """Where a window stands in a wider view, so that as much as may be is seen beside it: an SVG's word for it."""
    y = next(p.y for p in sheet.placed if window.left < p.x < window.right and window.top < p.y < window.bottom)
    deck = [p for p in sheet.placed if p.y == y]
    half = (SHAPE * window.tall - window.wide) / 2.0
    before, after = window.left - deck[0].x, deck[-1].x + deck[-1].tile.wide - window.right
    if half <= 0.0 or (before < half and after < half):
        return "xMidYMid"
    return "xMaxYMid" if after < half else "xMinYMid" if before < half else "xMidYMid"


def window_of(sheet: Sheet, name: str) -> Box:
    """The window on the subsystem in which a piece stands; KeyError when it is not in the picture."""
    for placed in sheet.placed:
        if any(piece.id == name for piece in placed.tile.pieces):
            inside = placed.room
            return next(
                w
                for _, w in sheet.windows
                if w.left <= inside.left and w.right >= inside.right and w.top <= inside.top <= w.bottom
            )
    raise KeyError(name)
