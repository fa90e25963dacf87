"""The picture of the unit: every part of a plant stands in it, nothing overlaps, and what a hand can do is in reach.

Measured without a browser: places and targets in centimeters of the picture, for both plants and for rigs with other
numbers of banks, pumps and functions.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import combinations, groupby
from xml.etree import ElementTree

import pytest

from tests.drawing.conftest import Rig, rig
from tests.drawing.fitted import fitted
from trainer.console.bindings import bindings
from trainer.drawing.cards import card_of
from trainer.drawing.context import DrawingContext
from trainer.drawing.picture.fit import NEAR_TALL, NEAR_WIDE, Sheet, laid_out, tiles_of
from trainer.drawing.picture.ink import Box
from trainer.drawing.picture.place import FAR_TEXT, LEAST, LETTER, Piece, Tile
from trainer.drawing.picture.silhouettes import SILHOUETTES
from trainer.drawing.picture.view import TARGET, picture
from trainer.drawing.rig_view import RigView
from trainer.hydraulics.catalogue import Signal
from trainer.plant.base import Component

#: What the console leaves the picture at 1280 by 800, CSS pixels: measured on the page.
ROOM = (1268, 600)


def _like(parts: tuple[Component, ...], count: int) -> tuple[Component, ...]:
    """So many parts: those there are, then more like the last of them."""
    last = parts[-1]
    more = [
        last.model_copy(update={"id": f"{last.id}_{n}", "title": f"{last.name} {n}"}) for n in range(len(parts), count)
    ]
    return (*parts, *more)[:count]


def other(name: str, banks: int, pumps: int, functions: int) -> DrawingContext:
    """A desk like that of a shipped plant with other numbers of parts; more of them read like those that there are."""
    known = rig(name).desk
    view = known.rig
    parts = {
        "bank": (*_like(view.surface_banks, banks), *view.pilot_banks, *view.stack_banks),
        "pump": _like(view.pumps, pumps),
        "function": _like(view.functions, functions),
    }
    made = RigView(view.plant.model_copy(update=parts))
    signals: dict[str, Signal] = dict(known.signals)
    for part in (*made.banks, *made.pumps, *made.functions):
        first = part.id.rsplit("_", 1)[0]
        if f"{first}.title" not in signals and part.id not in {
            p.id for p in (*view.banks, *view.pumps, *view.functions)
        }:
            for tag, signal in known.signals.items():
                if tag.startswith(f"{first}."):
                    signals[tag.replace(first, part.id, 1)] = replace(signal, tag=tag.replace(first, part.id, 1))
    return replace(known, rig=made, signals=signals)


def faults(tile: Tile) -> Iterator[str]:
    """What overlaps in a tile or reaches out of it."""
    for piece in tile.pieces:
        letters = piece.lettering
        for what, room in (("", piece.place), ("label of ", letters)):
            if room is not None and (room.left < -0.5 or room.right > tile.wide + 0.5 or room.bottom > 4.0):
                yield f"{what}{piece.id} reaches out of its tile"
        for other_piece in tile.pieces:
            if (
                letters is not None
                and other_piece.id not in (piece.id, piece.on)
                and letters.meets(other_piece.place, 0.5)
            ):
                yield f"label of {piece.id} over {other_piece.id}"
    for one, two in combinations(tile.pieces, 2):
        if one.on == two.id or two.on == one.id:
            inner, outer = (one, two) if one.on == two.id else (two, one)
            if not outer.place.holds(inner.place):
                yield f"{inner.id} is not on {outer.id}"
        elif one.place.meets(two.place, 0.5):
            yield f"{one.id} over {two.id}"
        if one.lettering and two.lettering and one.lettering.meets(two.lettering, 0.5):
            yield f"label of {one.id} over label of {two.id}"


def untouchable(piece: Piece) -> Iterator[str]:
    """Targets of a hand that are too small or lie over each other; a valve's two positions share one place."""
    for hand in piece.hands:
        if min(hand.room.wide, hand.room.tall) < LEAST:
            yield f"{hand.name} is small"
    for one, two in combinations(piece.hands, 2):
        if not (one.turns and two.turns and one.room == two.room) and one.room.meets(two.room, 0.1):
            yield f"{one.name} over {two.name}"


def titles(laid: Sheet) -> Iterator[tuple[str, Box]]:
    """The lettering below the decks, each line with the box that it takes on the whole picture."""
    for (y, title), same in groupby(laid.placed, key=lambda placed: (placed.y, placed.tile.title)):
        members = [*same]
        middle = (members[0].x + members[-1].x + members[-1].tile.wide) / 2
        for n, line in enumerate(title):
            half, top = len(line) * FAR_TEXT * LETTER / 2, y + 12.0 + 1.12 * FAR_TEXT * n
            yield line, Box(middle - half, top, middle + half, top + FAR_TEXT)


def sheet(desk: DrawingContext) -> Sheet:
    return laid_out(tiles_of(desk.seen()))


def check(desk: DrawingContext) -> None:
    laid = sheet(desk)
    pieces = [p for placed in laid.placed for p in placed.tile.pieces]
    assert [k for k, n in Counter(p.id for p in pieces).items() if n > 1] == []
    assert [fault for placed in laid.placed for fault in faults(placed.tile)] == []
    assert [fault for piece in pieces for fault in untouchable(piece)] == []
    for one, two in combinations(laid.placed, 2):
        assert not one.room.meets(two.room, 0.5), f"{one.tile.title} over {two.tile.title}"
    captions = [*titles(laid)]
    assert [f"{one} over {two}" for (one, a), (two, b) in combinations(captions, 2) if a.meets(b, 0.5)] == []
    for placed in laid.placed:
        room = placed.room
        assert room.left >= 0.0 and room.right <= laid.wide and room.top >= 0.0 and room.bottom <= laid.tall + 0.1
        assert any(w.left <= room.left and w.right >= room.right and w.top <= room.top for _, w in laid.windows)
    for name, window in laid.windows:
        scale = min(ROOM[0] / window.wide, ROOM[1] / window.tall)
        assert scale * LEAST >= TARGET, f"targets in {name} measure {scale * LEAST:.1f} px at 1280 by 800"
    assert max(w.wide for _, w in laid.windows) <= NEAR_WIDE + 8.0 and max(w.tall for _, w in laid.windows) <= NEAR_TALL


@pytest.mark.parametrize("name", ["quillback", "sandpiper"])
@pytest.mark.parametrize(
    ("banks", "pumps", "functions"), [(2, 1, 4), (3, 2, 7), (4, 3, 10), (5, 4, 13), (2, 5, 16), (5, 6, 10), (3, 6, 16)]
)
def test_nothing_overlaps_on_other_rigs(name: str, banks: int, pumps: int, functions: int) -> None:
    check(other(name, banks, pumps, functions))


def test_nothing_overlaps_on_the_shipped_rigs(each: Rig) -> None:
    check(each.desk)


@pytest.mark.parametrize("base", ["quillback", "sandpiper"])
def test_further_panels_stand_in_the_picture_with_what_feeds_them(base: str) -> None:
    made = fitted(base, panels=3)
    check(made.desk)
    test_every_part_of_the_plant_stands_in_the_picture(made)
    test_what_is_done_at_the_unit_can_be_done_in_the_picture(made)
    test_what_a_hand_turns_is_what_the_drawing_follows(made)


def _stands(desk: DrawingContext) -> dict[str, Piece]:
    return {p.id: p for placed in sheet(desk).placed for p in placed.tile.pieces}


def test_every_part_of_the_plant_stands_in_the_picture(each: Rig) -> None:
    desk, view = each.desk, each.desk.rig
    stands = _stands(desk)
    declared = [view.tank, *each.plant.parts, *(f"{f.id}.lever" for f in view.levers)]
    assert [name for name in declared if name not in stands] == []
    assert [p.kind for p in stands.values() if p.kind not in SILHOUETTES] == []
    assert [p.id for p in stands.values() if card_of(view, p.card or p.id) is None] == []
    names = Counter(p.name for p in stands.values())
    assert [name for name, n in names.items() if n > 1] == []


def _sent(markup: str) -> Iterator[Mapping[str, object]]:
    for element in ElementTree.fromstring(markup).iter():
        if element.get("data-send"):
            yield json.loads(str(element.get("data-send")))


def test_what_is_done_at_the_unit_can_be_done_in_the_picture(each: Rig) -> None:
    """But for a regulator's pressure typed as a number, and a filter's two valves at once."""
    given = {(c["do"], c["target"], c.get("value")) for c in _sent(picture(each.desk))}
    operables = [o for o in each.machine.operables.values() if "unit" in o.station]
    raised = {o.target for o in operables if o.do == "raise"}
    both = {f"{f.id}.isolation" for f in each.desk.rig.filters if f"{f.id}.upstream" in each.machine.signals}
    wanted: set[tuple[str, str, object]] = set()
    for operable in operables:
        words = [v for v in operable.values or () if isinstance(v, str)]
        if operable.target in both or (operable.do == "set" and not words and operable.target in raised):
            continue
        wanted |= {(operable.do, operable.target, value) for value in words or [None]}
    assert wanted - given == set()
    assert given - wanted == set()


def test_the_picture_shows_only_what_is_seen_at_the_unit(each: Rig) -> None:
    tags = [tag for tag in bindings(picture(each.desk)) if not tag.startswith("page.")]
    assert [tag for tag in tags if not each.machine.signals[tag].station] == []
    assert f"{each.desk.rig.tank}.level" in tags and "accumulator.pressure" in tags


def test_every_part_and_hand_has_a_name_of_its_own(each: Rig) -> None:
    root = ElementTree.fromstring(picture(each.desk))
    acting = [e for e in root.iter() if e.get("role") == "button" or e.tag == "button"]
    names = Counter(str(e.get("aria-label") or "".join(e.itertext())).strip() for e in acting)
    assert [name for name, n in names.items() if n > 1 or not name] == []
    parts = [e for e in root.iter() if e.get("data-component")]
    assert all(e.get("tabindex") == "0" for e in parts) and len(parts) > 90
    # Nothing that can be pressed lies within something else that can.
    assert not any(inner is not e and inner.get("role") == "button" for e in acting for inner in e.iter())


def test_what_a_hand_turns_is_what_the_drawing_follows(each: Rig) -> None:
    """A handle, a lever or a knob stands as the reading says that the hand's own command changes."""
    turned = [p for p in _stands(each.desk).values() if p.state and any(h.state for h in p.hands)]
    assert len(turned) > 30
    for piece in turned:
        assert {hand.state for hand in piece.hands if hand.state} == {piece.state}, piece.id
        words = set(each.machine.signals[str(piece.state)].states)
        assert {hand.when for hand in piece.hands if hand.state} == words, piece.id
