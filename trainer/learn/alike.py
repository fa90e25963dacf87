"""Which parts of a picture look alike: what is taken for a part, how it is told from its twins, which is asked first.

Twins are parts of the same kind that do the same at another assembly, or that look the same within one window.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping
from functools import cached_property
from typing import Final

from trainer.drawing.picture.ink import Box
from trainer.drawing.picture.place import Piece
from trainer.learn.questions import in_a_row

FAMILIES: Final = (
    frozenset(("ball_valve", "gate_valve", "check_valve", "relief", "rate_valve", "air_valve", "water_regulator")),
    frozenset(("line_valve", "stack_valve", "overboard", "preventer", "locks", "pod_connector")),
    frozenset(("gauge", "flow_indicator", "totaliser", "charging_set", "float_switch")),
    frozenset(("tank", "air", "bank", "pod", "umbilical", "telemetry", "position", "rov", "acoustic")),
    frozenset(("triplex_pump", "air_pump", "dosing_pump", "motor")),
    frozenset(("filter", "strainer", "air_set", "air_service")),
    frozenset(("starter", "breaker", "charger", "battery", "junction_box", "annunciator", "regulator", "position")),
    frozenset(("pod_selector", "side_selector", "starter", "regulator", "lever")),
)
"""Kinds that a glance takes for each other."""
LEVEL: Final = 14.0
"""Parts alike stand in one row when their feet differ by less than this in height, cm."""
APART: Final = 2
"""From this level on a part is told from its twins; below it, from what looks otherwise."""
_OF_TWO: Final = {
    "left": ("the one on the left", "the one on the right"),
    "top": ("the upper one", "the lower one"),
}

Role = tuple[object, ...]


class Lookalikes:
    """The parts of a picture by their looks. ``boxes`` are their places on the sheet, ``windows`` their windows."""

    def __init__(self, pieces: Mapping[str, Piece], boxes: Mapping[str, Box], windows: Mapping[str, Box]) -> None:
        self._pieces = pieces
        self._boxes = boxes
        self._windows = windows
        self._tails = Counter((p.kind, _tail(p)) for p in pieces.values() if _tail(p))

    def _look(self, piece: Piece) -> Role:
        return piece.kind, piece.facts.get("shape"), round(piece.room.wide), round(piece.room.tall)

    def _fitted(self, piece: Piece) -> bool:
        """Whether the name after the colon says what the part is at its assembly, as it does at others."""
        return self._tails[(piece.kind, _tail(piece))] > 1

    def _role(self, piece: Piece) -> Role:
        if self._fitted(piece):
            return piece.kind, _tail(piece)
        return (*self._look(piece), id(self._windows[piece.id]))

    def _here(self, piece: Piece) -> list[Piece]:
        """The parts in the window of a part, itself among them."""
        return [p for p in self._pieces.values() if self._windows[p.id] is self._windows[piece.id]]

    def owner(self, piece: Piece) -> Piece | None:
        """The assembly in the same window that a part belongs to by its name."""
        found = (p for p in self._here(piece) if piece.name.startswith(f"{p.name}: "))
        return next((p for p in found if p.kind != piece.kind), None)

    def _early(self, name: str) -> tuple[bool, bool, float]:
        """For sorting: without twins first, then whole assemblies before their parts, then the larger first."""
        piece = self._pieces[name]
        twins = sum(self._role(p) == self._role(piece) for p in self._pieces.values())
        return twins > 1, self.owner(piece) is not None or self._fitted(piece), -piece.room.wide * piece.room.tall

    @cached_property
    def levels(self) -> Mapping[str, int]:
        """How late a part is to be asked: 0 the first of its kind, 1 the first of its twins, then twin by twin.

        In the order in which parts of one level are to be met; else in that in which they were given.
        """
        kinds: set[str] = set()
        met: Counter[Role] = Counter()
        found: dict[str, int] = {}
        for name in sorted(self._pieces, key=self._early):
            piece = self._pieces[name]
            role = self._role(piece)
            found[name] = met[role] + 1 if met[role] else int(piece.kind in kinds)
            kinds.add(piece.kind)
            met[role] += 1
        return found

    # Wrong answers

    def wrong(self, name: str, others: list[Piece], lot: random.Random, apart: bool) -> list[str]:
        """Names of other parts, first those for which the part is most easily taken.

        apart: its twins are first, the nearest before others; otherwise nothing that looks the same is named. Then come
        parts of its own assembly, what looks related in the same window, the rest of the window, and what looks related
        elsewhere, so that neither a word nor the place gives the answer away.
        """
        piece, owner = self._pieces[name], self.owner(self._pieces[name])
        family = {kind for kinds in FAMILIES if piece.kind in kinds for kind in kinds} | {piece.kind}
        here = {p.id for p in self._here(piece)}

        def rank(one: Piece) -> float:
            near, kin = one.id in here, one.kind in family
            fits = self.owner(one) is owner and (owner is not None or self._fitted(one) == self._fitted(piece))
            if self._look(one) == self._look(piece):
                twins = self._role(one) == self._role(piece)
                return 0.0 if near and twins else 1.0 if near and fits else 2.8 if near else 4.8
            if near and fits and one.name.split()[0] == piece.name.split()[0]:
                return 2.0
            if owner is not None:
                return 2.0 if near and fits else 3.0 if near and kin else 4.0 if near else 5.0 if kin else 6.0
            return (
                2.0
                if near and kin and fits
                else 3.0
                if near and fits
                else 4.0
                if kin and fits
                else 5.5 - kin + (not near)
            )

        fair = [p for p in others if apart or self._look(p) != self._look(piece)]
        ranked = [(rank(p), self._far(name, p.id) if rank(p) < 1.0 else lot.random(), p.name) for p in fair]
        return [text for _, _, text in sorted(ranked)]

    def _far(self, one: str, two: str) -> float:
        (x, y), (u, v) = self._middle(one), self._middle(two)
        return abs(x - u) + abs(y - v)

    # Where it stands among those alike

    def place(self, piece: Piece) -> str:
        """How a part is told from those that look like it in its window, in sentences; nothing for a single one."""
        alike, owner, belongs = self._like(piece), self.owner(piece), ""
        if owner is not None:
            alike = [p for p in alike if p.name.startswith(f"{owner.name}: ")]
            of = self._among(owner, self._like(owner))
            belongs = f"It belongs to {owner.name}, {of}." if of else ""
        among = self._among(piece, alike)
        return in_a_row(belongs, f"Of {len(alike)} parts here that look like this, it is {among}." if among else "")

    def _like(self, piece: Piece) -> list[Piece]:
        return [p for p in self._here(piece) if self._look(p) == self._look(piece)]

    def hint(self, piece: Piece) -> str:
        """A twin beside the part, or beside the assembly that it belongs to, as a sentence; nothing where none is."""
        subject = self.owner(piece) or piece
        alike = [p for p in self._here(piece) if p is not subject and self._role(p) == self._role(subject)]
        if not alike and subject is not piece:
            subject = piece
            alike = [p for p in self._here(piece) if p is not subject and self._role(p) == self._role(subject)]
        if not alike:
            return ""
        x, y = self._middle(subject.id)
        row = [p for p in alike if abs(self._middle(p.id)[1] - y) < LEVEL]
        other = min(row or alike, key=lambda p: self._far(subject.id, p.id))
        before = self._middle(other.id) < (x, y) if row else self._middle(other.id)[1] < y
        if row:
            return f"To its left stands: {other.name}." if before else f"To its right stands: {other.name}."
        return f"Above it stands: {other.name}." if before else f"Below it stands: {other.name}."

    def _among(self, piece: Piece, alike: list[Piece]) -> str:
        """The place of a part among those alike, counted from the left and from the top; nothing for a single one."""
        if len(alike) < 2:
            return ""
        rows: list[list[str]] = []
        for one in sorted(alike, key=lambda p: self._middle(p.id)[1]):
            level = self._middle(one.id)[1]
            if not rows or level - self._middle(rows[-1][0])[1] > LEVEL:
                rows.append([])
            rows[-1].append(one.id)
        row = next(row for row in rows if piece.id in row)
        row.sort(key=lambda name: self._middle(name)[0])
        across, at, many = _counted(row.index(piece.id), len(row), "left"), rows.index(row), len(rows)
        if many == 1:
            return across
        if len(row) == 1:
            return _counted(at, many, "top")
        return (
            f"{across} in the {('upper', 'lower')[at]} row" if many == 2 else f"{across} in row {at + 1} from the top"
        )

    def _middle(self, name: str) -> tuple[float, float]:
        """Where a part stands: its middle across, and its foot."""
        box = self._boxes[name]
        return (box.left + box.right) / 2.0, box.bottom


def _tail(piece: Piece) -> str:
    """What a part is at its assembly, as its name tells it after the colon."""
    return piece.name.rpartition(": ")[2] if ": " in piece.name else ""


def _counted(at: int, many: int, side: str) -> str:
    """A place in a row or column: its number from a side, or which one of two."""
    if many == 2:
        return _OF_TWO[side][at]
    return f"number {at + 1} from the {side}"
