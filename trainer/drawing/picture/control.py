"""The control side of the unit: headers, accumulators, the manifold's bays, junction boxes, electricity."""

from __future__ import annotations

from typing import Final

from trainer import naming
from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import position_word
from trainer.drawing.markup import Markup, command, join
from trainer.drawing.picture.ink import Box, box, spots
from trainer.drawing.picture.place import (
    FAR_TEXT,
    LETTER,
    NEAR_TEXT,
    Hand,
    Piece,
    Pipe,
    Tile,
    Words,
    job,
    positions,
    square,
    turns,
    work,
)
from trainer.drawing.picture.power import HEADER_A, HEADER_B, SUCTION, dialled, lock, relief, shares, valve
from trainer.drawing.regulator_rows import short_title
from trainer.drawing.sheet import of
from trainer.plant.accumulators import Bank
from trainer.plant.alarms import by_priority
from trainer.plant.attachment import Attachment
from trainer.plant.functions import Function
from trainer.plant.names import ALARM_WORDS
from trainer.plant.regulators import Regulator

MOST_ACROSS: Final = 8
"""So many bottles of a rack stand in its front row at most."""
ROWS: Final = 3
LEVER_WIDE: Final = 52.0
LEVER_TALL: Final = 84.0
SIDE_BAY: Final = 112.0
PLATE: Final = 286.0
"""Height of the manifold's bays, cm."""
GAUGES: Final = (
    ("accumulator.pressure", "Accumulator gauge", "Accumulator"),
    ("pilot.pressure", "Pilot gauge", "Pilot"),
    ("supply.pressure", "Pump discharge gauge", "Pumps"),
    ("unit.accumulator_gauge", "Accumulator gauge, direct", "Acc. direct"),
    ("unit.pilot_gauge", "Pilot gauge, direct", "Pilot direct"),
)


def headers(desk: DrawingContext) -> list[Tile]:
    """The isolation valves of the two headers and the cross-over between them; nothing with a single header."""
    if not desk.has("header.crossover"):
        return []
    header = of(desk, "accumulator.pressure")
    wide, cross = 168.0, 104.0
    pieces = [
        *valve(
            desk,
            "header_a.isolation",
            "Header A: isolation valve",
            "Header A isolation",
            34.0,
            HEADER_A,
            words=("Header A",),
            label_at=(18.0, 25.0, "start"),
        ),
        *lock(desk, "header_a.isolation_lock", 34.0, HEADER_A + 27.0),
        *valve(
            desk,
            "header_b.isolation",
            "Header B: isolation valve",
            "Header B isolation",
            34.0,
            HEADER_B,
            words=("Header B",),
            label_at=(18.0, -29.0, "start"),
        ),
        *lock(desk, "header_b.isolation_lock", 34.0, HEADER_B - 32.0),
        *valve(
            desk,
            "header.crossover",
            "Header cross-over valve",
            "Header cross-over",
            cross,
            (HEADER_A + HEADER_B) / 2,
            turn=270,
            words=("Cross-over",),
            label_at=(18.0, -43.0, "start"),
        ),
        *lock(desk, "header.crossover_lock", cross, HEADER_B - 32.0),
    ]
    pipes = (
        Pipe(((0.0, HEADER_A), (34.0, HEADER_A)), header),
        Pipe(((8.0, HEADER_A), (8.0, HEADER_B), (34.0, HEADER_B)), header),
        Pipe(((34.0, HEADER_A), (wide, HEADER_A)), header),
        Pipe(((34.0, HEADER_B), (wide, HEADER_B)), header),
        Pipe(((cross, HEADER_A), (cross, HEADER_B)), header),
    )
    return [Tile("Filters and header", ("Headers",), wide, tuple(pieces), pipes)]


def attached(desk: DrawingContext, part: Attachment) -> Tile:
    """A part whose kind is whole in one module: from the header down through its valve, and back to the tank."""
    tag, header, x = part.id, of(desk, "accumulator.pressure"), 32.0
    lines = tuple(part.name.split(" ", 1))
    wide = max(92.0, FAR_TEXT * LETTER * max(map(len, lines)) + 12.0)
    shown, valve_tag = f"{tag}.{part.shows}", f"{tag}.{part.valve}" if part.valve else ""
    hands = tuple(
        work(f"{tag}.{end}", f"{part.name}: {word} {on}", square(30.0)) for end, (word, on) in part.jobs.items()
    )
    pieces = [
        *valve(
            desk,
            valve_tag,
            f"{part.name}: hand valve",
            f"{part.name} hand valve",
            x,
            168.0,
            turn=270,
            words=("Valve",),
            label_at=(17.0, -2.0, "start"),
        ),
        Piece(tag, type(part).__name__.lower(), part.name, x, 92.0, {}, None, shown, hands, turn=90, note=shown,
              label=lines, label_at=(20.0, 2.0, "start")),
    ]  # fmt: skip
    pipes = (
        Pipe(((0.0, HEADER_A), (wide, HEADER_A)), header),
        Pipe(((x, HEADER_A), (x, 168.0)), header, thin=True),
        Pipe(((x, 168.0), (x, 92.0)), header, behind=valve_tag or None, thin=True),
        Pipe(((x, 92.0), (x, SUCTION), (0.0, SUCTION)), css="return", thin=True),
    )
    return Tile("Filters and header", lines, wide, tuple(pieces), pipes)


def rack(bank: Bank) -> tuple[int, int]:
    """How many bottles stand side by side in front, and how many rows deep the rack is."""
    bottles = bank.bottles
    deep = -(-bottles // MOST_ACROSS)
    return -(-bottles // deep), deep


def bank(desk: DrawingContext, part: Bank, group: str) -> Tile:
    """A rack of bottles with its riser: relief valve, gauge, charging set, isolation and bleed valves."""
    tag = part.id
    across, deep = rack(part)
    own = of(desk, f"{tag}.pressure") or of(desk, "accumulator.pressure")
    pilot = part.place == "pilot"
    second = not pilot and part.header == "b" and desk.has("header.crossover")
    lane = 150.0 if pilot else HEADER_B if second else HEADER_A
    header = of(desk, "pilot.pressure", "accumulator.pressure") if pilot else of(desk, "accumulator.pressure")
    x = 8.0 + 23.0 * across
    riser, wide = x + 22.0, x + 86.0
    tall = 128.0 if pilot else 178.0
    drawn_in = f"{part.bottles} bottles" + (f", {deep} deep" if deep > 1 else "")
    pieces = [
        Piece(tag, "bank", part.name, 4.0, 10.0, {"across": across, "deep": deep, "tall": tall}, None, own, (), ()),
        *valve(
            desk,
            f"{tag}.isolation",
            f"{part.name}: isolation valve",
            f"{part.name} shut-off",
            riser,
            58.0,
            turn=270,
            words=("Isolation",),
            label_at=(21.0, -2.5, "start"),
        ),
        *lock(desk, f"{tag}.isolation_lock", riser, 84.0),
        *valve(
            desk,
            f"{tag}.bleed",
            f"{part.name}: bleed valve",
            f"{part.name} bleed",
            riser + 30.0,
            33.0,
            words=("Bleed",),
            label_at=(0.0, -25.0, "middle"),
        ),
        relief(
            desk,
            f"{tag}.relief",
            f"{part.name}: relief valve",
            riser - 2.0,
            178.0,
            f"{tag}.relief_passing",
            label_at=(20.0, 9.0, "start"),
            turn=90,
        )
        if not pilot
        else None,
    ]
    if desk.has(f"{tag}.pressure"):
        pieces.append(
            Piece(
                f"{tag}.gauge",
                "gauge",
                f"{part.name}: gauge",
                riser + 34.0,
                97.0,
                {"r": 15.0, **dialled(desk, f"{tag}.pressure")},
                None,
                f"{tag}.pressure",
                (),
                (),
                (0.0, -30.0, "middle"),
                f"{tag}.pressure",
            )
        )
    if desk.has(f"{tag}.precharge"):
        pieces.append(
            Piece(
                f"{tag}.precharge",
                "charging_set",
                f"{part.name}: charging set, nitrogen",
                riser + 34.0,
                146.0,
                {},
                None,
                f"{tag}.precharge",
                (work(f"{tag}.charge_nitrogen", f"{part.name}: Charge nitrogen"),),
                ("Nitrogen",),
                (-12.0, -22.0, "start"),
                f"{tag}.precharge",
            )
        )
    pipes = [
        Pipe(((riser, 58.0), (riser, 33.0)), own),
        Pipe(((riser, lane), (riser, 70.0)), header),
        Pipe(((16.0, 6.0), (riser, 6.0), (riser, 33.0)), own),
        Pipe(((riser, 97.0), (riser + 18.0, 97.0)), own, thin=True),
        Pipe(((riser, 33.0), (riser + 20.0, 33.0)), own, thin=True),
        Pipe(
            ((riser + 40.0, 33.0), (riser + 50.0, 33.0), (riser + 50.0, 2.0)),
            css="return",
            behind=of(desk, f"{tag}.bleed"),
        ),
    ]
    if pilot:
        pipes.append(Pipe(((0.0, lane), (riser, lane)), of(desk, "pilot.pressure")))
        pipes.append(Pipe(((0.0, HEADER_A), (wide, HEADER_A)), of(desk, "accumulator.pressure")))
    else:
        pipes.append(Pipe(((0.0, HEADER_A), (wide, HEADER_A)), header))
        if desk.has("header.crossover"):
            pipes.append(Pipe(((0.0, HEADER_B), (wide, HEADER_B)), header))
    found = tuple(p for p in pieces if p is not None)
    return Tile(
        group,
        (part.name.replace("Accumulator bank", "Bank"), drawn_in),
        wide,
        found,
        tuple(pipes),
        note=of(desk, f"{tag}.pressure"),
    )


# The manifold's bays


def plate(wide: float) -> Markup:
    """The cabinet of a bay, ``wide`` cm, standing on the deck: its walls, its face and its bolts."""
    corners = spots(*((x, -y) for x in (9.0, wide - 9.0) for y in (9.0, PLATE - 7.0)))
    return join(
        box(1, -PLATE, wide - 2, PLATE - 2, "flat", 4), box(5, 4 - PLATE, wide - 10, PLATE - 10, "face", 3), corners
    )


def instruments(desk: DrawingContext) -> Tile:
    """The bay with the gauges above and the regulators below, each with pilot and read-back."""
    gauges = [row for row in GAUGES if desk.has(row[0])]
    found = [r for r in desk.rig.regulators if desk.has(f"{r.id}.authority")]
    columns = max(1, -(-len(found) // 2))
    wide = max(83.0 * columns, 50.0 * len(gauges)) + 16.0
    pieces: list[Piece] = []
    step = (wide - 16.0) / max(1, len(gauges))
    for n, (tag, title, word) in enumerate(gauges):
        pieces.append(
            Piece(
                tag,
                "gauge",
                title,
                8.0 + step * (n + 0.5),
                262.0,
                {"r": 18.0, **dialled(desk, tag)},
                None,
                tag,
                (),
                (word,),
                (0.0, -29.0, "middle"),
                tag,
            )
        )
    pitch = (wide - 16.0) / columns
    for n, regulator in enumerate(found):
        pieces.append(_regulator(desk, regulator, 8.0 + pitch * (n % columns + 0.5), (138.0, 31.0)[n // columns]))
    return Tile("Manifold", ("Gauges and", "regulators"), wide, tuple(pieces), behind=(plate(wide),), least=PLATE)


def _regulator(desk: DrawingContext, part: Regulator, x: float, up: float) -> Piece:
    tag, authority = part.id, f"{part.id}.authority"
    shown = desk.has(authority)
    held = tuple(
        Hand(f"{part.name}: {word}", command(do, tag), square(26.0, side * 27.0, -14.0), held=True)
        for word, do, side in (("Lower", "lower", -1), ("Raise", "raise", 1))
    )
    chosen: tuple[Hand, ...] = ()
    if shown:
        rooms = {"unit": Box(-28, 0, 0, 24), "remote": Box(0, 0, 28, 24)}
        chosen = tuple(
            Hand(
                f"{part.name} set from: {value.capitalize()}",
                command("set", authority, value),
                rooms[value],
                authority,
                value,
            )
            for value in ("unit", "remote")
        )
    facts = {
        "pilot": f"{tag}.pilot" if desk.has(f"{tag}.pilot") else None,
        "readback": f"{tag}.readback",
        "band": shares(desk, f"{tag}.readback"),
        "authority": authority if shown else None,
        "words": ("unit", "remote") if shown else (),
    }
    return Piece(
        tag,
        "regulator",
        part.name,
        x,
        up,
        facts,
        None,
        f"{tag}.readback",
        (*held, *chosen),
        (short_title(part),),
        (0.0, 77.0, "middle"),
    )


def side_bays(desk: DrawingContext) -> list[Tile]:
    """The bay of the selectors and that of the alarms; one for both where the alarms leave the selectors room."""
    selectors, alarms, wide = _selectors(desk, SIDE_BAY), _alarms(desk), SIDE_BAY
    apart = [(("Selectors",), selectors), (("Alarms",), [alarms])]
    tops = [-(piece.lettering or piece.place).top for piece in selectors]
    if not selectors or max(tops) < -alarms.place.bottom:
        apart = [(("Alarms",), [*selectors, alarms])]
    return [Tile("Manifold", title, wide, tuple(found), behind=(plate(wide),), least=PLATE) for title, found in apart]


def _selectors(desk: DrawingContext, wide: float) -> list[Piece]:
    """The flow meter and the selectors that the plant has."""
    rig = desk.rig
    pieces: list[Piece] = []
    if desk.has("totaliser.count"):
        pieces.append(
            Piece(
                "totaliser",
                "totaliser",
                "Flow meter to the stack",
                wide / 2,
                206.0,
                {"count": "totaliser.count"},
                None,
                "totaliser.count",
                (job("totaliser.reset", "Flow count: Reset", Box(-14, -36, 14, -10)),),
                ("Flow meter",),
                (0.0, 56.0, "middle"),
            )
        )
    if rig.pods and desk.has("pod_selector.position"):
        names = [p.id for p in rig.pods]
        order = (names[0], "block", *names[1:])
        pieces.append(
            Piece(
                "pod_selector",
                "pod_selector",
                "Pod selector",
                wide / 2,
                122.0,
                {"positions": order},
                "pod_selector.position",
                "pod_selector.position",
                positions(
                    "pod_selector",
                    "pod_selector.position",
                    "Pod selector",
                    tuple((n, n.capitalize()) for n in order),
                    -22.0,
                    min(32.0, 96.0 / len(order)),
                    40.0,
                ),
                ("Pod selector",),
                (0.0, 46.0, "middle"),
            )
        )
    if desk.has("diverter.side"):
        pieces.append(
            Piece(
                "diverter.side",
                "side_selector",
                "Divert to: overboard side",
                wide / 2,
                40.0,
                {"words": ("port", "starbd")},
                "diverter.side",
                "diverter.side",
                positions(
                    "diverter.side",
                    "diverter.side",
                    "Divert to",
                    (("port", "Port"), ("starboard", "Starbd")),
                    -11.0,
                    30.0,
                    38.0,
                ),
                ("Divert to",),
                (0.0, 36.0, "middle"),
                card="diverter_packer",
            )
        )
    return pieces


def _alarms(desk: DrawingContext) -> Piece:
    """The unit's alarm windows and the keys that acknowledge and silence."""
    shown = tuple(
        (tag, ALARM_WORDS.get(tag, naming.title(tag.removeprefix("alarm."))))
        for tag in by_priority(desk.signals)
        if "remote" in desk.signals[tag].station
    )
    low = 24.0 * len(shown) + 20.0
    hands = (
        job("alarms.acknowledge", "Acknowledge", Box(-46, low - 14, -2, low + 14)),
        job("alarms.silence", "Silence", Box(2, low - 14, 46, low + 14)),
    )
    return Piece(
        "alarms",
        "annunciator",
        "Alarm windows",
        SIDE_BAY / 2,
        262.0,
        {"alarms": shown},
        hands=hands,
        card="alarm_windows",
        label=("Alarms",),
        label_at=(0.0, 8.0, "middle"),
    )


def lever(desk: DrawingContext, function: Function, x: float, up: float) -> Piece:
    """The lever of a function's control valve; each position is a place to press."""
    state = f"{function.id}.valve"
    rooms = {"open": Box(-24, -26, 0, 2), "block": Box(-14, -52, 14, -26), "close": Box(0, -26, 24, 2)}
    hands = tuple(
        Hand(f"{function.name}: {position_word(function, p)}", command("set", function.id, p), rooms[p], state, p)
        for p in rooms
    )
    facts = {"critical": function.critical}
    return Piece(
        f"{function.id}.lever",
        "lever",
        f"{function.name}: control valve lever",
        x,
        up,
        facts,
        state,
        state,
        hands,
        wrapped(function.name),
        (0.0, -16.0, "middle"),
        cover=function.name if function.critical else "",
    )


def wrapped(title: str, most: int = 12) -> tuple[str, ...]:
    """A title in lines of at most ``most`` letters where its words allow it."""
    lines: list[str] = []
    for word in title.split():
        if lines and len(lines[-1]) + 1 + len(word) <= most:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return tuple(lines)


def lever_bays(desk: DrawingContext) -> list[Tile]:
    """The bays of levers by what they work: preventers, connectors and locks, kill and choke lines, diverter."""
    rig = desk.rig
    column = list(rig.column())
    lines = [*rig.line_valves("kill"), *rig.line_valves("choke")]
    diverter = list(rig.diverter())
    placed = {f.id for f in (*column, *lines, *diverter)}
    rest = [f for f in (*rig.others(), *rig.aside()) if f.id not in placed]
    bays = (("Preventers", column), ("Stack services", rest), ("Kill and choke", lines), ("Diverter", diverter))
    found = []
    for title, functions in bays:
        functions = [f for f in functions if f in rig.levers and desk.has(f"{f.id}.valve")]
        if not functions:
            continue
        columns = -(-len(functions) // ROWS)
        wide = max(columns * LEVER_WIDE, len(title) * NEAR_TEXT * LETTER + 12.0) + 14.0
        left = (wide - columns * LEVER_WIDE) / 2.0
        pieces = [
            lever(desk, f, left + LEVER_WIDE * (n % columns + 0.5), PLATE - 68.0 - LEVER_TALL * (n // columns))
            for n, f in enumerate(functions)
        ]
        words = [Words(wide / 2, PLATE - 13.0, title)]
        if columns > 1:
            words.append(Words(wide / 2, 9.0, "○ open  ◇ block  □ close"))
        found.append(
            Tile(
                "Levers",
                ("Levers",),
                wide,
                tuple(pieces),
                words=tuple(words),
                behind=(plate(wide),),
                least=PLATE,
            )
        )
    return found


# Boxes and electricity


def boxes(desk: DrawingContext) -> Tile:
    """Junction boxes and their air above; batteries, charger and main switch below."""
    locked = lock(desk, "power.main_lock", 304.0, 70.0)
    wide = 320.0 if locked else 296.0
    pieces = [
        Piece(
            "boxes.switches",
            "junction_box",
            "Junction box 1: pressure switches and transducers",
            14.0,
            188.0,
            {"inside": "switches"},
            None,
            None,
            (),
            ("Box 1: pressure", "switches"),
            (40.0, 76.0, "middle"),
        ),
        Piece(
            "pilot_valves" if desk.has("pilot.pressure") else "boxes.solenoids",
            "junction_box",
            "Junction box 2: solenoid air valves of the functions",
            108.0,
            188.0,
            {"inside": "solenoids"},
            None,
            None,
            (),
            ("Box 2: solenoid", "air valves"),
            (40.0, 76.0, "middle"),
            card="boxes",
        ),
    ]
    if desk.has("boxes.moisture"):
        pieces.append(
            Piece(
                "boxes.air",
                "air_service",
                "Air to the junction boxes: filter and water separator",
                200.0,
                188.0,
                {"level": "boxes.moisture", **dialled(desk, "boxes.air_pressure")},
                None,
                "boxes.moisture",
                (
                    work(
                        "boxes.change_filter",
                        "Junction boxes: Change air filter",
                        Box(4, -52, 34, 14),
                        ("Change", "filter"),
                    ),
                    work("boxes.drain", "Junction boxes: Drain separator", Box(47, -26, 77, 20)),
                    work("boxes.thaw", "Junction boxes: Thaw air line", Box(47, -58, 90, -28)),
                ),
                ("Air to the boxes",),
                (44.0, 90.0, "middle"),
                of(desk, "boxes.air_pressure"),
            )
        )
    if desk.has("battery.volts"):
        pieces.append(
            Piece(
                "battery",
                "battery",
                "Battery box: units in series",
                14.0,
                32.0,
                {"units": desk.rig.plant.electrical.battery_units},
                None,
                "battery.volts",
                (),
                ("Batteries",),
                (40.0, 76.0, "middle"),
                "battery.volts",
            )
        )
    if desk.has("power.charger"):
        pieces.append(
            Piece(
                "power.charger",
                "charger",
                "Battery charger",
                174.0,
                32.0,
                {
                    "volts": of(desk, "battery.volts"),
                    "amps": of(desk, "battery.amps"),
                    "band": shares(desk, "battery.volts"),
                    "lit": of(desk, "power.ac"),
                },
                "power.charger",
                "power.charger",
                turns("power.charger", "Battery charger", Box(24, -48, 52, -22), (("on", "On"), ("off", "Off"))),
                ("Charger",),
                (30.0, 100.0, "middle"),
                of(desk, "battery.amps"),
                card="battery",
            )
        )
    if desk.has("power.main"):
        pieces.append(
            Piece(
                "power.main",
                "breaker",
                "Main switch, AC power",
                246.0,
                32.0,
                {"lit": of(desk, "power.ac")},
                "power.main",
                "power.main",
                turns("power.main", "Main switch", Box(4, -62, 38, -18), (("on", "On"), ("off", "Off"))),
                ("Main switch",),
                (21.0, 92.0, "middle"),
                card="power",
                cover="Main switch",
            )
        )
    return Tile("Boxes and power", ("Junction boxes", "and power"), wide, (*pieces, *locked))


FEED_WIDE: Final = 92.0
"""Width of a further panel's breaker or valve with its lettering, cm."""


def feeds(desk: DrawingContext) -> list[Tile]:
    """What feeds the further panels from the unit: a breaker for each cable, a valve for each air line."""
    pieces: list[Piece] = []
    for n, panel in enumerate(desk.rig.plant.further.values()):
        middle = FEED_WIDE * (n + 0.5)
        shown = of(desk, f"{panel.id}.volts", f"{panel.id}.air")
        if panel.electric:
            name, short, kind, x, up = f"{panel.name}: breaker", f"{panel.name} breaker", "breaker", middle - 21.0, 32.0
            ways, label = turns(panel.feed, short, Box(4, -62, 38, -18), (("on", "On"), ("off", "Off"))), (21.0, 104.0)
        else:
            name, short, kind, x, up = f"{panel.name}: air valve", f"{panel.name} air valve", "ball_valve", middle, 80.0
            ways, label = turns(panel.feed, short), (0.0, 56.0)
        lit = {"lit": of(desk, f"{panel.id}.power")} if panel.electric else {}
        words = wrapped(panel.name, 14)[:2]
        pieces.append(
            Piece(panel.id, kind, name, x, up, lit, panel.feed, shown, ways, words, (*label, "middle"), shown)
        )
    wide = FEED_WIDE * len(pieces)
    return [Tile("Boxes and power", ("Further", "panels"), wide, tuple(pieces), ())] if pieces else []
