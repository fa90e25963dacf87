"""The picture as markup: the sheet with its decks, pipes, pieces and hands, and the board that it stands on.

On the whole picture a click brings a part near; enlarged, the hands in it work and a click on a part opens its card.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby
from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.frame import deck
from trainer.drawing.gauges import readout
from trainer.drawing.markup import Child, Markup, el, join, shorten
from trainer.drawing.path_view import path_style, runs_of
from trainer.drawing.picture.fit import NEAR_TALL, NEAR_WIDE, Placed, Sheet, laid_out, side_of, tiles_of, window_of
from trainer.drawing.picture.ink import Box, around, box, move, path
from trainer.drawing.picture.place import LEAST, NEAR_TEXT, Hand, Piece, Pipe
from trainer.drawing.picture.silhouettes import SILHOUETTES
from trainer.drawing.pipes import cut_off, run
from trainer.drawing.unit_care import setter

_TITLES: Final = re.compile("<title>.*?</title>")
MARGIN: Final = 4.0
WRITTEN: Final = 8.6 / NEAR_TEXT
"""So much larger than in the picture of the unit is the lettering of an exercise (``learn.css``)."""
TARGET: Final = 44.0
NEAR: Final = 0.68 * TARGET / LEAST
"""From so many pixels a centimeter on hands work: at 1280 by 800 a window gives more, on a tablet at least this."""
_METALS: Final = {"s": "steel", "m": "mach", "b": "bot", "y": "brass"}
DRY: Final = ("annunciator", "junction_box", "air_service", "battery", "charger", "breaker")
"""Kinds of parts through which no control fluid goes."""
FIGURED: Final = ("filter", "regulator")
"""Kinds of parts whose drawing has the figures of its dials in it."""
_STOPS: Final = ((0, 2), (0.3, 1), (0.65, 2), (1, 3))


def _metals() -> Markup:
    """The shading of round bodies, upright and lying."""
    made = [
        el(
            "linearGradient",
            {"id": f"pic-{letter}{way}", "x2": int(way == "v"), "y2": int(way == "h")},
            [el("stop", {"offset": at, "class": f"stop-{letter}{tone}"}) for at, tone in _STOPS],
        )
        for letter in _METALS
        for way in "vh"
    ]
    return el("defs", {}, made)


def _fluid(drawn: Pipe) -> Markup:
    """The fluid in a pipe as the reading tells."""
    d = run([(x, -up) for x, up in drawn.points])
    css = (" pipe-thin" if drawn.thin else "") + (f" pipe-{drawn.css}" if drawn.css else "")
    fluid = el("path", {"class": f"pipe{css}", "d": d, "data-pressure": drawn.pressure})
    if drawn.runs:
        fluid = join(fluid, el("path", {"class": "running", "d": d, "data-state": drawn.runs}))
    return cut_off(drawn.behind, fluid)


def lettering(x: float, y: float, lines: tuple[str, ...], css: str, anchor: str, note: str | None = None) -> Markup:
    """Lines of text below each other, and under them a live number."""
    spans: list[Child] = [
        el("tspan", {"x": x, "dy": None if n == 0 else "1.12em"}, line) for n, line in enumerate(lines)
    ]
    if note:
        spans.append(el("tspan", {"class": "note", "x": x, "dy": "1.12em" if lines else None, "data-text": note}, "–"))
    return el("text", {"class": f"{css} {anchor}", "x": x, "y": y}, spans)


def _hand(hand: Hand) -> Markup:
    """Where to press; its title names it to who hears and to who points at it."""
    room = hand.room
    css = "hand" + (" act" if hand.plate else "") + (f" hand-turn hand-{hand.when}" if hand.turns else "")
    pressed = hand.state is not None and not hand.turns
    drawn = el(
        "rect",
        {
            "class": css,
            "role": "button",
            "tabindex": 0,
            "data-send": hand.send,
            "data-hold": "" if hand.held else None,
            "data-state": hand.state if pressed else None,
            "data-when": hand.when if pressed else None,
            "aria-pressed": "false" if pressed else None,
            "x": room.left,
            "y": room.top,
            "width": room.wide,
            "height": room.tall,
            "rx": 3,
        },
        el("title", {}, hand.name),
    )
    if not hand.plate:
        return drawn
    x, y = (room.left + room.right) / 2.0, (room.top + room.bottom) / 2.0
    first = y + NEAR_TEXT * (0.36 - 0.56 * (len(hand.plate) - 1))
    return join(
        drawn, el("g", {"class": "act-word", "aria-hidden": "true"}, lettering(x, first, hand.plate, "near", "middle"))
    )


def _lift(made: Piece) -> Markup | None:
    """What lies over the hands of a piece: its cover, or, over work that cannot be taken back, the choice of the part.

    A press takes it off, and it is there again when a hand goes elsewhere.
    """
    given = {"class": "hand lift", "role": "button", "tabindex": 0, "data-lift": ""}
    jobs = [hand for hand in made.hands if hand.plate]
    guard = None
    if made.cover:
        # A lever's own cover is a part of its drawing; another's lies over what a hand would turn.
        room = made.room if made.kind == "lever" else around(hand.room for hand in made.hands)
        guard = None if made.kind == "lever" else _guard(room)
        title = el("title", {}, f"{made.cover}: Lift cover")
    elif jobs:
        room, title = around(hand.room for hand in jobs), el("title", {}, f"{made.name}: choose it to work on it")
    else:
        return None
    place = {"x": room.left, "y": room.top, "width": room.wide, "height": room.tall, "rx": 3}
    return join(guard, el("rect", {**given, **place}, title))


def _guard(room: Box) -> Markup:
    """A clear cover with its hinge, over what would do harm by one stray press."""
    return el(
        "g",
        {"class": "guard"},
        box(room.left, room.top, room.wide, room.tall, "cover", 3),
        path(f"M{room.left:g} {room.bottom:g}L{room.right:g} {room.top:g}", "cover-line"),
        box(room.left, room.top, room.wide, 3.0, "dark", 1),
    )


def piece(desk: DrawingContext, made: Piece, quiz: bool = False) -> Markup:
    """A piece in its tile: the part that opens its card, then its hands. For a ``quiz`` without tips and hands."""
    drawn = SILHOUETTES[made.kind].draw(made.facts)
    if quiz:
        drawn = Markup(_TITLES.sub("", drawn))
    if made.turn:
        drawn = el("g", {"transform": f"rotate({made.turn})"}, drawn)
    room = made.room
    hit = box(room.left, room.top, room.wide, room.tall, "hit", 3)
    title = made.reading if made.reading and desk.has(made.reading) else None
    runs = () if quiz or made.kind in DRY else runs_of(desk, made.id)
    body = el(
        "g",
        {
            "class": "part",
            "role": "button",
            "tabindex": 0,
            "data-open-card": made.id if quiz else made.card or made.id,
            "data-component": made.id,
            "aria-label": made.name,
            "data-title": None if quiz else title,
            "data-tag": title if not quiz and (title == made.note or made.kind in FIGURED) else None,
            "data-named": made.name if title and not quiz else None,
            "data-runs": " ".join(runs) or None,
        },
        None if quiz else el("title", {}, made.name),
        hit,
        drawn,
        None if quiz else _label(made),
    )
    hands = None
    if made.hands and not quiz:
        hands = el("g", {"class": "hands"}, _lift(made), [_hand(hand) for hand in made.hands])
    state = made.state if made.state and desk.has(made.state) else None
    return el(
        "g",
        {
            "class": f"piece piece-{made.kind.replace('_', '-')}",
            "transform": f"translate({shorten(made.x)} {shorten(-made.up)})",
            "data-state": state,
        },
        body,
        hands,
    )


def _label(made: Piece) -> Markup | None:
    dx, rise, anchor = made.label_at
    return lettering(dx, -rise, made.label, "near", anchor, made.note) if made.label or made.note else None


def _frames(made: Piece) -> list[Markup]:
    """What marks a piece in an exercise: a frame round its drawing, and a wider one while its words are seen."""
    words = made.lettering
    rooms = {"frame frame-near": made.place}
    if words is not None:
        more = 0.5 * (WRITTEN - 1.0) * words.wide
        wider = Box(words.left - more, words.top - 1.0, words.right + more, words.bottom + 1.0)
        rooms["frame frame-wide"] = around([made.place, wider])
    rooms.setdefault("frame frame-wide", made.place)
    return [
        el(
            "rect",
            {
                "class": css,
                "data-of": made.id,
                "x": shorten(room.left - MARGIN),
                "y": shorten(room.top - MARGIN),
                "width": shorten(room.wide + 2 * MARGIN),
                "height": shorten(room.tall + 2 * MARGIN),
                "rx": 4,
            },
        )
        for css, room in rooms.items()
    ]


def _named(made: Piece) -> Markup | None:
    """The words of a piece of an exercise, which lie over all frames."""
    if (label := _label(made)) is None:
        return None
    own = el("g", {"class": "part", "data-component": made.id, "data-open-card": made.id}, label)
    place = f"translate({shorten(made.x)} {shorten(-made.up)})"
    return el("g", {"class": f"piece piece-{made.kind.replace('_', '-')} named", "transform": place}, own)


def _tile(desk: DrawingContext, placed: Placed, quiz: bool) -> Markup:
    tile = placed.tile
    order = [p for p in tile.pieces if not p.on] + [p for p in tile.pieces if p.on]
    words = [lettering(w.x, -w.up, (w.text,), "far" if w.far else "near", w.anchor) for w in tile.words]
    over = [[frame for p in order for frame in _frames(p)], [_named(p) for p in order]] if quiz else None
    return move(placed.x, placed.y, tile.behind, [piece(desk, p, quiz) for p in order], over, words)


def _titles(sheet: Sheet) -> Iterator[Markup]:
    """The names below the decks; neighbors that share one have it once."""
    for (_, title), same in groupby(sheet.placed, key=lambda placed: (placed.y, placed.tile.title)):
        members = [*same]
        middle = (members[0].x + members[-1].x + members[-1].tile.wide) / 2
        if title:
            yield lettering(middle, members[0].y + 30, title, "far title", "middle")


def _pipes(sheet: Sheet) -> Iterator[Markup]:
    """All pipes in three layers, so that they join: their walls, their bores, and the fluid in them.

    The walls are one path, and the bores: where two ended in one another, each with its soft edge, a seam would show.
    """
    runs = {
        thin: " ".join(
            run([(p.x + x, p.y - up) for x, up in one.points])
            for p in sheet.placed
            for one in p.tile.pipes
            if one.thin is thin
        )
        for thin in (True, False)
    }
    for layer in ("wall", "bore"):
        yield from (path(d, layer + (" pipe-thin" if thin else "")) for thin, d in runs.items() if d)
    for p in sheet.placed:
        if p.tile.pipes:
            yield move(p.x, p.y, [_fluid(one) for one in sorted(p.tile.pipes, key=lambda one: one.css != "cable")])


def _decks(sheet: Sheet) -> Iterator[Markup]:
    for y in sheet.decks:
        ends = [p.x + p.tile.wide for p in sheet.placed if p.y == y]
        yield box(4, y, max(ends), 4, "steelh", 0)
        yield box(4, y + 4, max(ends), 6, "dark", 0)


def exercise(desk: DrawingContext, near: str = "", dead: str = "") -> Markup:
    """The picture for an exercise: of the subsystem in which the part ``near`` stands, or of the whole unit.

    The gauge ``dead`` shows zero whatever its line does. KeyError for a part that is not in the picture.
    """
    desk = desk.seen()
    tiles = tiles_of(desk)
    if dead:
        tiles = [replace(tile, pieces=tuple(_killed(p) if p.id == dead else p for p in tile.pieces)) for tile in tiles]
    sheet = laid_out(tiles)
    if not near:
        return el("div", {"class": "sight-whole"}, _windows(sheet), _sheet(desk, sheet, None, True))
    window = window_of(sheet, near)
    inside = tuple(
        p
        for p in sheet.placed
        if window.left < p.x + p.tile.wide / 2.0 < window.right and window.top < p.y < window.bottom
    )
    # All of what stands below the deck too: a title can have two lines.
    window = Box(window.left, window.top, window.right, inside[0].room.bottom)
    decks = tuple(y for y in sheet.decks if any(p.y == y for p in inside))
    return _sheet(desk, replace(sheet, placed=inside, decks=decks), window, True)


def _killed(gauge: Piece) -> Piece:
    return replace(gauge, facts={**gauge.facts, "gauge": None}, note=None)


def _sheet(desk: DrawingContext, sheet: Sheet, window: Box | None, quiz: bool) -> Markup:
    near = (
        {"data-near": ""}
        if window
        else {"data-near-from": f"{NEAR:.2f}", "data-near-box": f"{NEAR_WIDE:g} {NEAR_TALL:g}"}
    )
    return el(
        "svg",
        {
            "class": "schematic picture",
            "viewBox": _view(window or Box(0.0, 0.0, sheet.wide, sheet.tall)),
            **near,
            "xmlns": "http://www.w3.org/2000/svg",
            "role": "group",
            "aria-label": f"Picture of the control unit of {desk.rig.title}",
        },
        None if quiz else path_style(desk, _runs(desk, sheet)),
        _metals(),
        list(_decks(sheet)),
        _pipes(sheet),
        [_tile(desk, placed, quiz) for placed in sheet.placed],
        list(_titles(sheet)),
    )


def _runs(desk: DrawingContext, sheet: Sheet) -> set[str]:
    """The pressures of all lines that feed a part of the picture."""
    wet = [piece for placed in sheet.placed for piece in placed.tile.pieces if piece.kind not in DRY]
    return {run for piece in wet for run in runs_of(desk, piece.id)}


def _view(room: Box) -> str:
    """A window as an SVG's viewBox."""
    return " ".join(f"{round(n, 1):g}" for n in (room.left, room.top, room.wide, room.tall))


def _windows(sheet: Sheet, *more: Markup | None) -> Markup:
    """The buttons beside the picture: the whole, each subsystem, nearer and farther."""

    def look(words: str, view: str, pressed: bool, side: str = "xMidYMid") -> Markup:
        return el(
            "button",
            {
                "class": "option",
                "type": "button",
                "aria-label": f"Show {words.lower()}",
                "data-window": view,
                "data-side": side,
                "aria-pressed": pressed,
            },
            el("span", {"class": "option-word"}, words),
        )

    def zoom(words: str, sign: str, factor: float) -> Markup:
        return el("button", {"class": "option", "type": "button", "aria-label": words, "data-zoom": factor}, sign)

    return el(
        "div",
        {"class": "windows windows-row", "role": "group", "aria-label": "View of the picture"},
        look("Whole", _view(Box(0.0, 0.0, sheet.wide, sheet.tall)), True),
        [look(name, _view(room), False, side_of(sheet, room)) for name, room in sheet.windows],
        zoom("Zoom in", "+", 0.8),
        zoom("Zoom out", "−", 1.25),
        *more,
    )


SETTINGS: Final = (
    ("water.regulator", "Water pressure"),
    ("water.rate_set", "Water rate"),
    ("concentrate_pump.rate", "Conc. strokes"),
    ("glycol_pump.rate", "Glycol strokes"),
)
SAMPLE: Final = (
    ("mix.concentrate", "Concentrate"),
    ("mix.glycol", "Glycol"),
    ("mix.freezing_point", "Freezes at"),
    ("mix.finding", "Finding"),
)
"""What a sample of the mixed fluid tells."""


def _settings(desk: DrawingContext) -> tuple[Markup, Markup] | None:
    """The button that opens what is set as a number, and the fields; nothing where the plant has none."""
    forms = [form for tag, name in SETTINGS if (form := setter(desk, tag, name)) is not None]
    if not forms:
        return None
    opens = {"class": "option", "type": "button", "popovertarget": "picture-settings"}
    closes = {"class": "push", "type": "button", "popovertarget": "picture-settings"}
    where = {"class": "settings", "id": "picture-settings", "popover": "auto", "role": "dialog", "aria-label": "Rates"}
    title = el("h2", {"class": "area-title"}, "Mixing: pressure and rates")
    sample = el("div", {"class": "row"}, [readout(tag, name) for tag, name in SAMPLE if desk.has(tag)])
    return el("button", opens, "Set rates"), el("div", where, title, forms, sample, el("button", closes, "Hide"))


def picture(desk: DrawingContext) -> Markup:
    """The picture as a board: the sheet of the unit, its windows, and what is set beside it."""
    seen = desk.seen()
    sheet = laid_out(tiles_of(seen))
    opens, fields = _settings(desk) or (None, None)
    beside = el(
        "button", {"class": "option split-switch", "type": "button", "data-split-switch": ""}, "Schematic beside"
    )
    sound = el(
        "button", {"class": "option", "type": "button", "data-sound-switch": "", "aria-pressed": "false"}, "Sound"
    )
    lists = el("button", {"class": "option", "type": "button", "data-form": "list"}, "Lists")
    row = _windows(sheet, opens, beside, sound, lists)
    return deck("picture", "unit", 600, row, _sheet(seen, sheet, None, False), fields)
