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

from trainer.drawing.cards import Card, card_of
from trainer.drawing.context import DrawingContext
from trainer.drawing.picture.fit import laid_out, tiles_of, window_of
from trainer.drawing.picture.place import Piece
from trainer.learn.questions import CHOICES, FEWEST, Question

KINDS: Final = {
    "look": "Name it by sight",
    "find": "Find it by sight",
    "beside": "What stands beside it",
    "wrong": "What is wrong here",
    "round": "Daily inspection by sight",
}
ROUNDS: Final = 2
"""Of so many parts of a kind a round asks at most: all of them would be asked on the near picture as well."""
APART: Final = 7
"""So many parts further a part that was named is to be found, then what stands beside it, and so on."""
NEXT_TO: Final = 70.0
"""A neighbor stands no farther off than this, cm of the picture."""
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
"""Kinds that a glance takes for each other: the wrong answers to a question come from there."""
ITSELF: Final = {
    "air_set": "It cleans and oils the air to the pump, and shows its pressure.",
    "air_service": "It takes dirt and water out of the air to the boxes.",
    "air_valve": "Air opens it while fluid is mixed.",
    "ball_valve": "A hand valve: with the handle along the pipe it is open, across it shut.",
    "charger": "It keeps the batteries charged while the rig's power is on.",
    "charging_set": "With it nitrogen is filled into the bottles, and its pressure is checked.",
    "float_switch": "A float that rises and falls with the fluid works a switch.",
    "flow_indicator": "It turns while water flows.",
    "gate_valve": "A hand valve with a wheel at the inlet of the water.",
    "gauge": "A dial: its needle shows the pressure, or the current, at this place.",
    "lever": "The lever of the function's control valve at the unit: open, block and close.",
    "motor": "The electric motor that drives the pump.",
    "rate_valve": "It sets how fast the water flows.",
    "relief": "A spring-loaded valve that opens when the pressure is too high.",
    "side_selector": "It chooses whether a diverted well flows to port or to starboard.",
    "starter": "Its selector sets the pump off, to automatic or to manual.",
    "strainer": "A coarse screen that holds back dirt.",
    "water_regulator": "It lowers the pressure of the water.",
}
"""What a kind of part does, for one that has no card of its own but shares that of the assembly it belongs to."""
LEVEL: Final = 14.0
"""Parts alike stand in one row when their feet differ by less than this in height, cm."""
_NTH: Final = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
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
        self._next_to: dict[str, tuple[str, str]] = dict(self._neighbors())
        self._told: dict[str, set[str]] = {}
        for piece in self.pieces.values():
            if (card := self._card(piece)) is not None:
                self._told.setdefault(card.kind, set()).add(piece.kind)
        self.keys = self._keys()

    def title(self, name: str) -> str:
        """The name of a part of the picture as its label tells it; KeyError for one that is not in it."""
        return self.pieces[name].name

    def _keys(self) -> tuple[str, ...]:
        """All exercises in the order in which new ones come: a part of each kind first, the large before the small that
        stand about them; each part is named, then found, and so on, some questions apart."""
        names = sorted(self.pieces, key=lambda name: -self._boxes[name].wide * self._boxes[name].tall)
        kinds = [*dict.fromkeys(self.pieces[name].kind for name in names)]
        met: dict[str, int] = {}
        ranked: list[tuple[int, int, str]] = []
        for name in names:
            piece = self.pieces[name]
            turn = met[piece.kind] = met.get(piece.kind, -1) + 1
            exercises = ["look", "find"]
            exercises += ["beside"] if name in self._next_to else []
            exercises += ["wrong"] if name in self.scenes else []
            exercises += ["round"] if name in self.scenes and turn < ROUNDS else []
            place = len(kinds) * turn + kinds.index(piece.kind)
            ranked += [(place + APART * at, at, f"{kind} {name}") for at, kind in enumerate(exercises)]
        return tuple(key for _, _, key in sorted(ranked))

    def make(self, key: str, lot: random.Random) -> Question:
        """The exercise ``key``; ``lot`` draws its wrong choices and their order. KeyError for an unknown key."""
        kind, _, name = key.partition(" ")
        piece = self.pieces[name]
        if kind == "find":
            return Question(key, name, f"Find: {piece.name}.", nameless=True, why=self._says(piece))
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
            choices, right = _mixed(self.title(other), self._alike(other, far, lot), lot)
            ask = f"Which part stands beside the marked one, on its {way}?"
            why = f"The marked part: {piece.name}. Beside it: {self.title(other)}."
            return Question(key, other, ask, choices, right, nameless=True, lit=(name,), why=why)
        if kind != "look":
            raise KeyError(key)
        others = [p for p in self.pieces.values() if p.name != piece.name]
        choices, right = _mixed(piece.name, self._alike(name, others, lot), lot)
        ask = "Which part is marked?" + (" Look at what stands beside it." if self._place(piece) else "")
        return Question(key, name, ask, choices, right, nameless=True, lit=(name,), why=self._says(piece))

    def _alike(self, name: str, others: list[Piece], lot: random.Random) -> list[str]:
        """The names of other parts, in the order in which they are taken for the part ``name``: those of its own kind
        first, then those of the same family."""
        kind, shape = self.pieces[name].kind, self.pieces[name].facts.get("shape")
        family = {other for kinds in FAMILIES if kind in kinds for other in kinds}

        def rank(piece: Piece) -> int:
            """Of the bodies of a stack, those of the same shape come first."""
            return (piece.facts.get("shape") != shape) if piece.kind == kind else 2 + (piece.kind not in family)

        ranked = [(rank(p), lot.random(), p.name) for p in others]
        return [text for _, _, text in sorted(ranked)]

    def _place(self, piece: Piece) -> str:
        """How a part is told from those that look like it in the same window: by the assembly that it belongs to and
        its place among them; nothing for a part that is the only one of its kind there."""
        here = [p for p in self.pieces.values() if self._windows[p.id] is self._windows[piece.id]]
        owner = next((p for p in here if piece.name.startswith(f"{p.name}: ")), None)
        alike = [p for p in here if p.kind == piece.kind]
        if owner is not None and owner.kind != piece.kind:
            alike = [p for p in alike if p.name.startswith(f"{owner.name}: ")]
            of = self._place(owner)
            said = f"It belongs to {owner.name}" + (f", {of}" if of else "")
            among = self._among(piece, alike)
            return said + (f"; there it is {among}" if among else "")
        return self._among(piece, alike)

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
        return f"{across} in the {('upper', 'lower')[at]} row" if many == 2 else f"{across} in row {at + 1} of {many}"

    def _middle(self, name: str) -> tuple[float, float]:
        """Where a part stands: its middle across, and its foot."""
        box = self._boxes[name]
        return (box.left + box.right) / 2.0, box.bottom

    def around(self, question: Question) -> str:
        """The part whose subsystem the picture shows for a question; nothing for the whole unit."""
        return "" if question.kind in ("find", "round") else question.key.partition(" ")[2]

    def _card(self, piece: Piece) -> Card | None:
        return card_of(self.desk.rig, piece.card or piece.id)

    def _says(self, piece: Piece) -> str:
        card, itself = self._card(piece), ITSELF.get(piece.kind)
        does = card.lines[0][1] if card else itself
        if itself and card and len(self._told[card.kind]) > 1:
            does = itself
        said = f"{piece.name}: {does}" if does else f"{piece.name}."
        place = self._place(piece)
        return f"{said} {place[0].upper()}{place[1:]}." if place else said

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


def _counted(at: int, many: int, side: str) -> str:
    """A place in a row or column: the first from a side, the last, the one of two."""
    if many == 2:
        ends = {"left": ("left", "right"), "top": ("upper", "lower")}[side]
        return f"the {ends[at]} one of two"
    return (
        f"the {_NTH[at]} of {many} from the {side}" if at < len(_NTH) else f"number {at + 1} of {many} from the {side}"
    )


def _mixed(right: str, wrong: list[str], lot: random.Random) -> tuple[tuple[str, ...], int]:
    others = [text for text in dict.fromkeys(wrong) if text != right]
    choices = [right, *others[: CHOICES - 1]]
    assert len(choices) >= FEWEST
    lot.shuffle(choices)
    return tuple(choices), choices.index(right)
