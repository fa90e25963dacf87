"""What stands in the picture: pieces with their places in a tile, pipes, and what a hand can do to them.

A tile is one upright slice of the unit, its origin at its left end on the deck: ``x`` runs along it, ``up`` from the
deck, both in centimeters. Within a tile a kind of assembly always looks the same; where tiles stand is ``fit``'s rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

from trainer.drawing.markup import Child, command
from trainer.drawing.picture.ink import Box
from trainer.drawing.picture.silhouettes import SILHOUETTES

LEAST: Final = 24.0
"""No target of a hand is smaller than this, cm."""
NEAR_TEXT: Final = 7.5
FAR_TEXT: Final = 22.0
"""Sizes of lettering, cm: that of the enlarged picture, and that of the whole."""
LETTER: Final = 0.56
"""Width of a letter as a share of its size, on average, in the boards' font."""


@dataclass(frozen=True, slots=True)
class Hand:
    """One thing that a hand can do to a piece: the command, its name, and where to press, about the piece's origin.

    With ``state`` it is pressed while that reading is ``when``; a ``turns`` hand shows only while the reading is
    something else, so that a valve is turned to its other position wherever it stands. A ``held`` hand repeats.

    ``plate`` is what is printed on the button of a job that cannot be taken back: it comes in the part's place once the
    part has been chosen by a press of its own.
    """

    name: str
    send: Mapping[str, object]
    room: Box
    state: str | None = None
    when: str | None = None
    turns: bool = False
    held: bool = False
    plate: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Piece:
    """One part in the picture.

    ``state`` binds the reading that the drawing follows, ``reading`` the one that its name tells. ``note`` is a live
    number below the label. ``on`` names the piece that this one is mounted on, ``turn`` is in quarter turns, degrees.
    """

    id: str
    kind: str
    name: str
    x: float
    up: float
    facts: Mapping[str, Any] = field(default_factory=dict)
    state: str | None = None
    reading: str | None = None
    hands: tuple[Hand, ...] = ()
    label: tuple[str, ...] = ()
    label_at: tuple[float, float, str] = (0.0, -18.0, "middle")
    note: str | None = None
    turn: int = 0
    on: str = ""
    card: str = ""
    cover: str = ""
    """What is under the cover that has to be lifted before a hand can work it; none: it lies open."""

    @property
    def room(self) -> Box:
        """The box that the drawing fills about its origin, y downward."""
        found = SILHOUETTES[self.kind].room(self.facts)
        for _ in range(self.turn // 90 % 4):
            found = Box(-found.bottom, found.left, -found.top, found.right)
        return found

    @property
    def place(self) -> Box:
        """The box that it covers in its tile, in cm: its room, put where it stands over the deck."""
        return self.room.moved(self.x, -self.up)

    @property
    def lettering(self) -> Box | None:
        """The box in the tile that its label and note take in the enlarged picture."""
        lines = [*self.label, *(["3,000 psi"] if self.note else [])]
        if not lines:
            return None
        dx, rise, anchor = self.label_at
        wide = max(len(line) for line in lines) * NEAR_TEXT * LETTER
        left = self.x + dx - {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor]
        top = -(self.up + rise) - NEAR_TEXT * 0.8
        return Box(left, top, left + wide, top + NEAR_TEXT * (1.12 * (len(lines) - 1) + 1.0))


@dataclass(frozen=True, slots=True)
class Pipe:
    """A run of pipe through points of its tile (x, up); the fluid in it follows the reading ``pressure``.

    ``css`` names what flows where no gauge shows it: suction, store, water, return. ``behind`` cuts it off.
    ``runs`` is a state reading: fluid moves in it while that is yes or open.
    """

    points: tuple[tuple[float, float], ...]
    pressure: str | None = None
    css: str = ""
    behind: str | None = None
    runs: str | None = None
    thin: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """Lettering that belongs to no piece: read on the whole picture (``far``) or only enlarged."""

    x: float
    up: float
    text: str
    anchor: str = "middle"
    far: bool = False


@dataclass(frozen=True)
class Tile:
    """One assembly: what it is called, its width, its pieces and pipes, and what stands behind them.

    Neighbors with the same ``group`` are one subsystem. ``title`` stands below the deck, with a live number under it.
    It reaches ``least`` centimeters high whatever stands in it.
    """

    group: str
    title: tuple[str, ...]
    wide: float
    pieces: tuple[Piece, ...]
    pipes: tuple[Pipe, ...] = ()
    words: tuple[Words, ...] = ()
    behind: tuple[Child, ...] = ()
    note: str | None = None
    least: float = 0.0

    @cached_property
    def tall(self) -> float:
        """How high it reaches over the deck, cm, with its lettering and its pipes."""
        tops = [-p.place.top for p in self.pieces]
        tops += [-box.top for p in self.pieces if (box := p.lettering) is not None]
        return max([self.least, *tops, *(up + 4.0 for pipe in self.pipes for _, up in pipe.points)])


def square(size: float = 26.0, x: float = 0.0, y: float = 0.0) -> Box:
    """Where to press: a square of the side ``size`` cm about the point (x, y), large enough for a finger."""
    return Box(x - size / 2, y - size / 2, x + size / 2, y + size / 2)


def turns(
    tag: str,
    name: str,
    room: Box | None = None,
    words: tuple[tuple[str, str], ...] = (("open", "Open"), ("shut", "Shut")),
) -> tuple[Hand, ...]:
    """The hands that turn a two-position valve or switch to whichever position it does not stand in."""
    where = room or square()
    return tuple(
        Hand(f"{name}: {word}", command("set", tag, value), where, tag, value, turns=True) for value, word in words
    )


def positions(
    target: str,
    tag: str,
    name: str,
    values: tuple[tuple[str, str], ...],
    y: float,
    wide: float = 27.0,
    tall: float = 26.0,
) -> tuple[Hand, ...]:
    """A selector's positions side by side, centered on the piece; ``y`` is the middle of the row."""
    left = -wide * len(values) / 2.0
    return tuple(
        Hand(
            f"{name}: {word}",
            command("set", target, value),
            Box(left + wide * n, y - tall / 2, left + wide * (n + 1), y + tall / 2),
            tag,
            value,
        )
        for n, (value, word) in enumerate(values)
    )


def job(target: str, name: str, room: Box | None = None) -> Hand:
    """A button that is pressed: what it does is nothing to be sorry for."""
    return Hand(name, command("push", target), room or square())


def work(target: str, name: str, room: Box | None = None, plate: tuple[str, ...] = ()) -> Hand:
    """A job on a part, which cannot be taken back: the part is chosen first, then its ``plate`` is pressed.

    The plate is as wide as its words; without any it bears those of the name behind the part's own.
    """
    where = room or square()
    words = plate or tuple(name.rpartition(": ")[2].split(" ", 1))
    wide = max(where.wide, max(map(len, words)) * NEAR_TEXT * LETTER + 8.0)
    middle = (where.left + where.right) / 2.0
    return Hand(
        name, command("push", target), Box(middle - wide / 2, where.top, middle + wide / 2, where.bottom), plate=words
    )
