"""Exercises with the picture of the unit only: name it, find it, what stands beside it, what is wrong here; and the
daily round, in which the whole unit is looked over for what is wrong.

Every question has one right answer, taken from the picture of this very plant. A scene is the unit at rest with one
thing that is not as it should be, drawn like all the rest by the readings that it would give.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.picture.fit import laid_out, tiles_of, window_of
from trainer.drawing.picture.place import Piece
from trainer.learn.alike import APART, Lookalikes
from trainer.learn.questions import CHOICES, FEWEST, Question, in_a_row
from trainer.learn.what_is import what_is

KINDS: Final = {
    "look": "Name it by sight",
    "find": "Find it by sight",
    "beside": "What stands beside it",
    "wrong": "What is wrong here",
    "round": "Daily inspection by sight",
}
BETWEEN: Final = 7
"""So many parts further a part that was named is to be found, then what stands beside it, and so on."""
NEXT_TO: Final = 70.0
"""A neighbor stands no farther off than this, cm of the picture."""
#: What a hand valve left in the wrong position means: the end of its reading's name, the wrong position, the sentence.
_VALVES: Final = (
    (".suction", "shut", "The suction valve is closed: the pump cannot draw fluid."),
    (".air", "shut", "The air valve is closed: the pump has no air."),
    (".bypass", "open", "The by-pass is open: the pressure switch no longer stops the pump."),
    (".upstream", "shut", "The valve before the filter is closed: no fluid passes."),
    (".downstream", "shut", "The valve after the filter is closed: no fluid passes."),
    (".bleed", "open", "The bleed valve is open: the bottles drain to the tank."),
    (".drain", "open", "The drain valve is open: the tank empties."),
    ("air.supply", "shut", "The rig air supply valve is closed: no air reaches the unit."),
    ("water.gate", "shut", "The water gate valve is closed: the unit cannot mix fluid."),
    ("header.crossover", "open", "The cross-over is open: the two headers are no longer separate."),
    ("header_a.isolation", "shut", "Header A is isolated: its banks cannot supply the manifold."),
    ("header_b.isolation", "shut", "Header B is isolated: its banks cannot supply the manifold."),
    (".isolation", "shut", "The isolation valve is closed: these bottles cannot supply the header."),
)


@dataclass(frozen=True, slots=True)
class Scene:
    """What is not as it should be: readings that differ from those at rest (field units, or a state's word), or a dead
    gauge, and the sentence that says what it means."""

    why: str
    changed: Mapping[str, float | str] = field(default_factory=dict)
    dead: bool = False


class SightQuestions:
    """All exercises that the picture of a plant gives. ``keys`` names them, ``make`` makes one."""

    def __init__(self, desk: DrawingContext) -> None:
        self.desk = desk.seen()
        self.sheet = laid_out(tiles_of(self.desk))
        self.pieces: dict[str, Piece] = {p.id: p for placed in self.sheet.placed for p in placed.tile.pieces}
        self.scenes: dict[str, Scene] = {
            p.id: scene for p in self.pieces.values() if (scene := self._scene(p)) is not None
        }
        self._boxes = {
            p.id: p.place.moved(placed.x, placed.y) for placed in self.sheet.placed for p in placed.tile.pieces
        }
        self._windows = {
            p.id: window
            for placed in self.sheet.placed
            if placed.tile.pieces
            for window in [window_of(self.sheet, placed.tile.pieces[0].id)]
            for p in placed.tile.pieces
        }
        names = [*self.pieces]
        random.Random(self.desk.rig.id).shuffle(names)
        self.alike = Lookalikes({name: self.pieces[name] for name in names}, self._boxes, self._windows)
        self._next_to: dict[str, tuple[str, str]] = dict(self._neighbors())
        self.keys = self._keys()

    def title(self, name: str) -> str:
        """The name of a part of the picture as its label tells it; KeyError for one that is not in it."""
        return self.pieces[name].name

    def _keys(self) -> tuple[str, ...]:
        """All exercises in the order in which new ones come: a part of each kind first, the large before the small that
        stand about them, twins when one of them was met; each part is named, then found, and so on, some apart."""
        levels = self.alike.levels
        ranked: list[tuple[int, int, str]] = []
        for place, name in enumerate(sorted(levels, key=lambda name: levels[name])):
            kinds = ["look", "find"]
            kinds += ["beside"] if name in self._next_to else []
            kinds += ["wrong"] if name in self.scenes else []
            kinds += ["round"] if name in self.scenes and levels[name] < APART else []
            ranked += [(place + BETWEEN * at, at, f"{kind} {name}") for at, kind in enumerate(kinds)]
        return tuple(key for _, _, key in sorted(ranked))

    def make(self, key: str, lot: random.Random) -> Question:
        """The exercise ``key``; ``lot`` draws its wrong choices and their order. KeyError for an unknown key."""
        kind, _, name = key.partition(" ")
        piece = self.pieces[name]
        if kind == "find":
            ask = in_a_row(f"Find: {piece.name}.", self.alike.hint(piece))
            return Question(key, name, ask, nameless=True, why=self._says(piece))
        if kind == "wrong":
            ask = "One thing in this picture is not as it should be. Point to it."
            return Question(key, name, ask, nameless=True, why=self.scenes[name].why)
        if kind == "round":
            ask = (
                "Daily inspection: one thing on this unit is not as it should be. Look over each subsystem and point "
                "to it."
            )
            return Question(key, name, ask, nameless=True, why=f"{piece.name}: {self.scenes[name].why}")
        if kind == "beside":
            other, way = self._next_to[name]
            far = [p for p in self.pieces.values() if p.id not in (name, other) and not self._near(name, p.id)]
            wrong = self.alike.wrong(other, far, lot, self.alike.levels[other] >= APART)
            choices, right = _mixed(self.title(other), wrong, lot)
            ask = f"Which part stands beside the marked one, on its {way}?"
            why = in_a_row(f"The marked part: {piece.name}.", f"Beside it: {self.title(other)}.")
            return Question(key, other, ask, choices, right, nameless=True, lit=(name,), why=why)
        if kind != "look":
            raise KeyError(key)
        others = [p for p in self.pieces.values() if p.name != piece.name]
        apart = self.alike.levels[name] >= APART
        choices, right = _mixed(piece.name, self.alike.wrong(name, others, lot, apart), lot)
        ask = in_a_row("Which part is marked?", self.alike.hint(piece) if apart else "")
        return Question(key, name, ask, choices, right, nameless=True, lit=(name,), why=self._says(piece))

    def around(self, question: Question) -> str:
        """The part whose subsystem the picture shows for a question; nothing for the whole unit."""
        return "" if question.kind in ("find", "round") else question.key.partition(" ")[2]

    def _says(self, piece: Piece) -> str:
        """What a part is, in a sentence of its own, and how it is told from those that look like it."""
        return in_a_row(f"{piece.name}.", what_is(self.desk.rig, piece), self.alike.place(piece))

    # What stands beside what

    def _near(self, one: str, two: str) -> bool:
        a, b = self._boxes[one], self._boxes[two]
        across = max(a.left, b.left) - min(a.right, b.right)
        return across < NEXT_TO and max(a.top, b.top) - min(a.bottom, b.bottom) < NEXT_TO

    def _neighbors(self) -> Iterator[tuple[str, tuple[str, str]]]:
        for name in self.pieces:
            for way in ("right", "left"):
                other = self._beside(name, way)
                if other is not None:
                    yield name, (other, way)
                    break

    def _beside(self, name: str, way: str) -> str | None:
        """The one part at a side of another, level with it and within the same window; None when none is sure."""
        box, window, on = self._boxes[name], self._windows[name], self.pieces[name].on
        found: list[tuple[float, str]] = []
        for other, place in self._boxes.items():
            if other in (name, on) or self._windows[other] is not window or self.pieces[other].on == name:
                continue
            gap = place.left - box.right if way == "right" else box.left - place.right
            level = min(box.bottom, place.bottom) - max(box.top, place.top)
            if -1.0 <= gap <= NEXT_TO and level >= 0.5 * min(box.tall, place.tall):
                found.append((gap, other))
        found.sort()
        # Two at nearly the same distance: the question would have two answers.
        if not found or (len(found) > 1 and found[1][0] - found[0][0] < 8.0):
            return None
        return found[0][1]

    # What can be wrong

    def _scene(self, piece: Piece) -> Scene | None:
        makers = {
            "ball_valve": self._valve,
            "gate_valve": self._valve,
            "gauge": _gauge,
            "lever": self._lever,
            "starter": _starter,
            "regulator": self._regulator,
            "tank": self._tank,
            "filter": self._filter,
            "air_service": _air_service,
            "breaker": _breaker,
            "charger": _charger,
            "pod_selector": _selector,
            "relief": _relief,
            "lock": _lock,
            "motor": _motor,
        }
        maker = makers.get(piece.kind)
        return maker(piece) if maker is not None else None

    def _valve(self, piece: Piece) -> Scene | None:
        tag = piece.state or ""
        spare = {f.id for f in self.desk.rig.filters if not f.in_use}
        if tag.rpartition(".")[0] in spare:
            return None
        if tag.removesuffix(".bleed") in {f.id for f in self.desk.rig.filters}:
            return Scene(
                "The bleed valve of the housing is open: fluid under pressure drains to the tank.", {tag: "open"}
            )
        found = next(((wrong, why) for end, wrong, why in _VALVES if tag.endswith(end)), None)
        return None if found is None else Scene(found[1], {tag: found[0]})

    def _lever(self, piece: Piece) -> Scene:
        return Scene(
            "The lever is in BLOCK: the function does not move, and the panel lamps are not reliable.",
            {str(piece.state): "block"},
        )

    def _regulator(self, piece: Piece) -> Scene | None:
        tag = piece.facts.get("authority")
        why = "The selector is at UNIT: the panels cannot set this regulator."
        return Scene(why, {tag: "unit"}) if tag else None

    def _tank(self, piece: Piece) -> Scene:
        tag = str(piece.facts["level"])
        signal = self.desk.signals[tag]
        low = signal.low + 0.12 * (signal.high - signal.low)
        changed: dict[str, float | str] = {tag: low}
        if self.desk.has(f"{self.desk.rig.tank}.low") and piece.id == self.desk.rig.tank:
            changed[f"{self.desk.rig.tank}.low"] = "yes"
        return Scene("The sight glass shows a low level: fill the tank and find out why it is low.", changed)

    def _filter(self, piece: Piece) -> Scene | None:
        tag = f"{piece.id}.dp"
        if not self.desk.has(tag) or any(f.id == piece.id and not f.in_use for f in self.desk.rig.filters):
            return None
        return Scene(
            "The pressure drop is above the band: the element is clogged.", {tag: 0.8 * self.desk.signals[tag].high}
        )


def _gauge(piece: Piece) -> Scene | None:
    if piece.id.endswith(".amps"):
        return None  # a motor at rest draws nothing
    return Scene("The gauge shows zero while its line is under pressure: the gauge is dead.", dead=True)


def _starter(piece: Piece) -> Scene:
    return Scene(
        "The selector is at OFF: nothing starts by itself when the pressure or the level falls.",
        {str(piece.state): "off"},
    )


def _air_service(piece: Piece) -> Scene:
    return Scene(
        "The separator's bowl is full of water: drain it before the air lines freeze.",
        {str(piece.facts["level"]): 92.0},
    )


def _breaker(piece: Piece) -> Scene:
    changed: dict[str, float | str] = {"power.main": "off", "power.ac": "off"}
    return Scene("The main switch is off: the battery supplies the panels until it is empty.", changed)


def _charger(piece: Piece) -> Scene:
    return Scene("The charger is off: the battery supplies the panels until it is empty.", {"power.charger": "off"})


def _relief(piece: Piece) -> Scene | None:
    why = "The relief valve leaks at a normal pressure: stored fluid goes back to the tank."
    return Scene(why, {piece.state: "passing"}) if piece.state else None


def _motor(piece: Piece) -> Scene | None:
    why = "Hot air rises from the motor: it is too hot to touch. It has run too long, or against too high a pressure."
    return Scene(why, {piece.state: "hot"}) if piece.state else None


def _lock(piece: Piece) -> Scene:
    return Scene("A lock and tag were left hanging after the work: nothing there can be turned.", {piece.id: "hung"})


def _selector(piece: Piece) -> Scene:
    return Scene("The pod selector is in BLOCK: no pod has power fluid.", {str(piece.state): "block"})


def _mixed(right: str, wrong: list[str], lot: random.Random) -> tuple[tuple[str, ...], int]:
    others = [text for text in dict.fromkeys(wrong) if text != right]
    choices = [right, *others[: CHOICES - 1]]
    assert len(choices) >= FEWEST
    lot.shuffle(choices)
    return tuple(choices), choices.index(right)
