"""The power side of the unit: water and mixing, the tank, the pumps, rig air, the filters."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.picture.ink import Box
from trainer.drawing.picture.place import Hand, Piece, Pipe, Tile, Words, positions, square, turns, work
from trainer.drawing.sheet import of
from trainer.drawing.unit_care import LOCK, OPENS, lockable
from trainer.plant.filters import Filter
from trainer.plant.pumps import Pump

SUCTION: Final = 8.0
DISCHARGE: Final = 136.0
AIR: Final = 276.0
WATER: Final = 216.0
HEADER_A: Final = 244.0
HEADER_B: Final = 216.0
"""Heights of the pipes that run from tile to tile, cm over the deck."""
_MODES: Final = (("off", "Off"), ("auto", "Auto"), ("manual", "Man."))
_STORES: Final = (("concentrate", "Concentrate"), ("glycol", "Glycol"))


def shares(desk: DrawingContext, tag: str) -> tuple[float, float] | None:
    """The normal band of a gauge as shares of its scale, 0 to 1; None where it has no band."""
    if not desk.has(tag) or desk.signals[tag].normal is None:
        return None
    scale = desk.scale(tag)
    assert scale.normal is not None
    return scale.fraction(scale.normal[0]), scale.fraction(scale.normal[1])


def dialled(desk: DrawingContext, tag: str) -> dict[str, object]:
    """What a dial on a silhouette needs: the reading and its normal band, nothing without the instrument."""
    return {"gauge": tag, "band": shares(desk, tag)} if desk.has(tag) else {}


def valve(
    desk: DrawingContext,
    tag: str,
    name: str,
    short: str,
    x: float,
    up: float,
    *,
    words: tuple[str, ...] = (),
    label_at: tuple[float, float, str] = (16.0, -2.0, "start"),
    turn: int = 0,
    kind: str = "ball_valve",
    on: str = "",
    id: str = "",
    cover: str = "",
) -> list[Piece]:
    """A hand valve with its hand; nothing when the plant lacks it. ``short`` is what the hand is called."""
    if not desk.has(tag):
        return []
    room = square() if kind != "gate_valve" else Box(-13, -40, 13, 9)
    return [
        Piece(
            id or tag,
            kind,
            name,
            x,
            up,
            {},
            tag,
            tag,
            turns(tag, short, room),
            words,
            label_at,
            turn=turn,
            on=on,
            cover=cover,
        )
    ]


def lock(desk: DrawingContext, tag: str, x: float, up: float, on: str = "") -> list[Piece]:
    """A place for a lock and tag with its hand; nothing when the plant lacks it."""
    if not desk.has(tag):
        return []
    name = lockable(desk)[tag]
    ways = turns(tag, f"{name}: lock", square(24.0), LOCK)
    return [Piece(tag, "lock", f"{name}: lock and tag", x, up, {}, tag, tag, ways, on=on, card="lockout")]


def relief(
    desk: DrawingContext,
    component: str,
    name: str,
    x: float,
    up: float,
    passing: str,
    words: str = "Relief",
    label_at: tuple[float, float, str] = (0.0, 48.0, "middle"),
    turn: int = 0,
) -> Piece:
    """A relief valve; the reading ``passing`` tells whether it passes."""
    shown = of(desk, passing)
    return Piece(component, "relief", name, x, up, {}, shown, shown, (), (words,), label_at, turn=turn)


def mixing(desk: DrawingContext) -> Tile:
    """Stores with their dosing pumps, and the water line above them."""
    tank = desk.rig.tank
    pieces: list[Piece] = []
    pipes: list[Pipe] = []
    stores = [(name, title) for name, title in _STORES if desk.has(f"{tank}.{name}")]
    running = of(desk, "mixing.running")
    x = 6.0
    for name, title in stores:
        pump = f"{name}_pump"
        pieces.append(
            Piece(
                f"{name}_tank",
                "tank",
                f"{title} tank",
                x,
                0.0,
                {"wide": 92.0, "tall": 84.0, "level": f"{tank}.{name}"},
                None,
                f"{tank}.{name}",
                (work(f"{name}_tank.fill", f"{title} tank: Fill {name}", Box(4, -62, 64, -34)),),
                (title,),
                (32.0, 26.0, "middle"),
                f"{tank}.{name}",
            )
        )
        if desk.has(f"{pump}.strokes"):
            pieces.append(
                Piece(
                    pump,
                    "dosing_pump",
                    f"{title} pump, driven by air",
                    x + 26,
                    97.0,
                    {},
                    None,
                    f"{pump}.strokes",
                    (work(f"{pump}.prime", f"{title} pump: Prime {name} pump", Box(-14, -37, 20, 0)),),
                    (f"{title} pump" if len(title) < 8 else "Conc. pump",),
                    (24.0, 14.0, "start"),
                    f"{pump}.strokes",
                )
            )
            pipes.append(Pipe(((x + 26, 130), (x + 26, 174)), css="store", runs=running))
        x += 104.0
    wide = max(x + 4.0, 232.0)
    if pipes:
        pipes.append(Pipe(((32.0, 174), (wide, 174)), css="store", runs=running))
    pipes.append(Pipe(((-6.0, WATER), (wide, WATER)), css="water", runs=of(desk, "water.valve")))
    at = [40.0 + (wide - 62.0) / 5.0 * n for n in range(6)]
    fittings: list[tuple[str, str, str, str | None, str, float, tuple[Hand, ...]]] = [
        (
            "water_supply.strainer",
            "strainer",
            "Water strainer",
            None,
            "Strainer",
            -28.0,
            (work("water.clean_strainer", "Water: Clean strainer", Box(-14, -9, 15, 18)),)
            if desk.has("water.gate")
            else (),
        ),
        (
            "water_supply.regulator",
            "water_regulator",
            "Water pressure regulator",
            of(desk, "water.pressure"),
            "Regulator",
            50.0,
            (),
        ),
        (
            "water_supply.valve",
            "air_valve",
            "Water on-off valve, worked by air",
            of(desk, "water.valve"),
            "Air valve",
            -19.0,
            (),
        ),
        ("water_supply.rate", "rate_valve", "Water rate-set valve", of(desk, "water.rate_set"), "Rate valve", 50.0, ()),
        ("water_supply.flow", "flow_indicator", "Water flow indicator", of(desk, "water.flow"), "Flow", -25.0, ()),
    ]
    pieces += valve(
        desk,
        "water.gate",
        "Water gate valve",
        "Water gate valve",
        at[0],
        WATER,
        kind="gate_valve",
        id="water_supply.gate",
        words=("Gate",),
        label_at=(0.0, 44.0, "middle"),
    )
    for place, (name, kind, title, tag, word, rise, hands) in zip(at[1:], fittings, strict=True):
        facts = {"flow": tag} if kind == "flow_indicator" and tag else {}
        note = tag if kind in ("water_regulator", "flow_indicator") else None
        at_label = (0.0, rise, "middle")
        pieces.append(Piece(name, kind, title, place, WATER, facts, None, tag, hands, (word,), at_label, note))
    words = (Words(2.0, WATER + 8, "Water", "start"),)
    return Tile("Mixing", ("Water and", "mixing"), wide, tuple(pieces), tuple(pipes), words)


def tank(desk: DrawingContext) -> Tile:
    """The mixed-fluid tank with its float switches, drain, mixing selector and the relief valve that returns to it."""
    tank, wide, tall = desk.rig.tank, 236.0, 150.0
    level = of(desk, f"{tank}.level")
    pieces = [
        Piece(
            tank,
            "tank",
            "Mixed-fluid tank",
            4.0,
            0.0,
            {"wide": wide, "tall": tall, "level": level},
            None,
            level,
            (),
            ("Mixed fluid",),
            (150.0, 96.0, "middle"),
            level,
        )
    ]
    low = of(desk, f"{tank}.low")
    for name, title, words, up in (
        ("upper_float", "Upper float switch, starts and stops mixing", ("Upper float",), 124.0),
        ("lower_float", "Lower float switch, low-level alarm", ("Lower float",), 70.0),
    ):
        state = low if name == "lower_float" else None
        pieces.append(
            Piece(
                f"{tank}.{name}",
                "float_switch",
                title,
                26.0,
                up,
                {},
                state,
                state,
                (),
                words,
                (46.0, -2.0, "start"),
                on=tank,
            )
        )
    pieces += valve(
        desk,
        f"{tank}.drain",
        "Mixed-fluid tank: drain valve",
        "Mixed-fluid tank drain valve",
        26.0,
        22.0,
        words=("Drain",),
        on=tank,
        cover="Mixed-fluid tank drain valve",
    )
    if desk.has("mixing.mode"):
        pieces.append(
            Piece(
                "mixing",
                "starter",
                "Mixing selector",
                98.0,
                176.0,
                {"words": ("off", "auto", "man"), "lit": of(desk, "mixing.running")},
                "mixing.mode",
                "mixing.mode",
                positions("mixing.mode", "mixing.mode", "Mixing", _MODES, -16.0, tall=30.0),
                ("Mixing",),
                (0.0, 72.0, "middle"),
            )
        )
    supply = of(desk, "supply.pressure")
    pieces.append(
        relief(
            desk,
            "relief",
            "System relief valve, returns to the tank",
            214.0,
            184.0,
            "relief.passing",
            "System relief",
        )
    )
    mixing = of(desk, "mixing.running")
    pipes = [
        Pipe(((0.0, WATER), (24.0, WATER), (24.0, 158.0)), css="water", runs=of(desk, "water.valve")),
        Pipe(((0.0, 174.0), (12.0, 174.0), (12.0, 158.0)), css="store", runs=mixing),
        Pipe(((240.0, SUCTION), (252.0, SUCTION)), css="suction"),
        Pipe(((214.0, 184.0), (246.0, 184.0), (246.0, DISCHARGE), (252.0, DISCHARGE)), supply),
        Pipe(((208.0, 196.0), (178.0, 196.0), (178.0, 158.0)), css="return"),
        Pipe(((14.0, 22.0), (8.0, 22.0), (8.0, 4.0)), css="return", behind=of(desk, f"{tank}.drain")),
    ]
    return Tile("Mixing", ("Mixed-fluid tank",), 252.0, tuple(pieces), tuple(pipes), (), (), level)


def _lanes(wide: float, supply: str | None, last: bool, air: bool) -> list[Pipe]:
    found = [Pipe(((0.0, DISCHARGE), (wide, DISCHARGE)), supply)]
    if not last:
        found.append(Pipe(((0.0, SUCTION), (wide, SUCTION)), css="suction"))
    if air:
        found.append(Pipe(((0.0, AIR), (wide, AIR)), "air.pressure", "air", thin=True))
    return found


def _mode(desk: DrawingContext, pump: Pump, x: float, up: float) -> list[Piece]:
    tag = f"{pump.id}.mode"
    if not desk.has(tag):
        return []
    hands = positions(tag, tag, f"{pump.name} selector", _MODES, -16.0, tall=30.0)
    facts = {"words": ("off", "auto", "man"), "lit": of(desk, f"{pump.id}.running")}
    word = "Starter" if pump.drive != "air" else "Selector"
    name = f"{pump.name}: {'motor starter' if word == 'Starter' else 'selector'}"
    return [
        Piece(tag, "starter", name, x, up, facts, tag, tag, hands, (word,), (0.0, 72.0, "middle")),
        *lock(desk, f"{tag}_lock", x + 22.0, up + 50.0, tag),
    ]


def _strainer(desk: DrawingContext, pump: Pump, x: float, up: float) -> Piece:
    hands = (
        (work(f"{pump.id}.clean_strainer", f"{pump.name}: Clean strainer", Box(-14, -9, 15, 18)),)
        if desk.has(f"{pump.id}.suction")
        else ()
    )
    label = (-2.0, 12.0, "middle")
    return Piece(
        f"{pump.id}_strainer",
        "strainer",
        f"{pump.name}: suction strainer",
        x,
        up,
        {},
        None,
        None,
        hands,
        ("Strainer",),
        label,
    )


def _suction(desk: DrawingContext, pump: Pump, strainer: float) -> list[Piece]:
    """Suction valve and strainer, which every pump has in the same place."""
    return [
        *valve(
            desk,
            f"{pump.id}.suction",
            f"{pump.name}: suction valve",
            f"{pump.name} suction valve",
            18.0,
            30.0,
            turn=270,
            words=("Suction",),
            label_at=(16.0, -15.0, "start"),
        ),
        *lock(desk, f"{pump.id}.suction_lock", 18.0, 80.0),
        _strainer(desk, pump, strainer, 47.0),
    ]


def triplex(desk: DrawingContext, pump: Pump, last: bool, air: bool) -> Tile:
    """A triplex pump on its frame, with suction valve, strainer, check and relief valve, and its motor starter."""
    tag, wide, supply = pump.id, 252.0, of(desk, "supply.pressure")
    running = of(desk, f"{tag}.running")
    pieces = [
        Piece(
            tag,
            "triplex_pump",
            pump.name,
            90.0,
            0.0,
            {},
            running,
            running,
        ),
        Piece(
            f"{tag}.motor",
            "motor",
            f"{pump.name}: motor",
            209.0,
            60.0,
            {},
            of(desk, f"{tag}.motor"),
            of(desk, f"{tag}.motor"),
            on=tag,
        ),
        *_suction(desk, pump, 48.0),
        Piece(
            f"{tag}_check",
            "check_valve",
            f"{pump.name}: discharge check valve",
            72.0,
            98.0,
            {},
            None,
            None,
            (),
            ("Check", "valve"),
            (-14.0, -3.0, "end"),
            turn=270,
        ),
        relief(desk, f"{tag}.relief", f"{pump.name}: relief valve", 72.0, 164.0, f"{tag}.relief_passing"),
        *_mode(desk, pump, 194.0, 158.0),
    ]
    if desk.has(f"{tag}.amps"):
        pieces.append(
            Piece(
                f"{tag}.amps",
                "gauge",
                f"{pump.name}: motor current",
                120.0,
                184.0,
                {"r": 13.0, **dialled(desk, f"{tag}.amps")},
                None,
                f"{tag}.amps",
                (),
                ("Motor",),
                (0.0, -30.0, "middle"),
                f"{tag}.amps",
            )
        )
    sucked = of(desk, f"{tag}.suction")
    pipes = [
        *_lanes(wide, supply, last, air),
        Pipe(((18.0, SUCTION), (18.0, 18.0)), css="suction"),
        Pipe(((18.0, 42.0), (18.0, 47.0), (88.0, 47.0)), css="suction", behind=sucked, runs=running),
        Pipe(((88.0, 60.0), (72.0, 60.0), (72.0, DISCHARGE)), supply, runs=running),
        Pipe(((72.0, DISCHARGE), (72.0, 160.0)), supply),
        Pipe(((213.0, 158.0), (213.0, 92.0)), css="cable", thin=True),
        Pipe(((133.0, 184.0), (152.0, 184.0)), css="cable", thin=True),
    ]
    if last:
        pipes.append(Pipe(((0.0, SUCTION), (18.0, SUCTION)), css="suction"))
    return Tile(
        "Pumps",
        (pump.name,),
        wide,
        tuple(pieces),
        tuple(pipes),
        note=f"{tag}.mode" if desk.has(f"{tag}.mode") else None,
    )


def air_pump(desk: DrawingContext, pump: Pump, last: bool) -> Tile:
    """An air-driven pump with its suction, check valve, air valve, air set, selector and by-pass of the switch."""
    tag, wide, supply = pump.id, 170.0, of(desk, "supply.pressure")
    running = of(desk, f"{tag}.running")
    pieces = [
        Piece(tag, "air_pump", pump.name, 92.0, 0.0, {}, running, running),
        *_suction(desk, pump, 46.0),
        Piece(
            f"{tag}_check",
            "check_valve",
            f"{pump.name}: discharge check valve",
            136.0,
            96.0,
            {},
            None,
            None,
            (),
            ("Check", "valve"),
            (12.0, -3.0, "start"),
            turn=270,
        ),
        *valve(
            desk,
            f"{tag}.air",
            f"{pump.name}: air valve",
            f"{pump.name} air valve",
            26.0,
            244.0,
            turn=270,
            words=("Air valve",),
            label_at=(17.0, -2.0, "start"),
        ),
        *valve(
            desk,
            f"{tag}.bypass",
            f"{pump.name}: by-pass of the pressure switch",
            f"{pump.name} switch by-pass",
            124.0,
            244.0,
            turn=180,
            words=("By-pass",),
            label_at=(0.0, 20.5, "middle"),
        ),
        *_mode(desk, pump, 118.0, 152.0),
    ]
    if desk.has(f"{tag}.air"):
        pieces.append(
            Piece(
                f"{tag}.air_set",
                "air_set",
                f"{pump.name}: air filter, lubricator and gauge",
                26.0,
                188.0,
                dialled(desk, f"{tag}.air_pressure"),
                None,
                of(desk, f"{tag}.air_pressure"),
                (work(f"{tag}.service_air", f"{pump.name}: Service air set", Box(-21, -8, 31, 30)),),
                ("Air set",),
                (0.0, -42.0, "middle"),
            )
        )
    sucked, aired = of(desk, f"{tag}.suction"), of(desk, f"{tag}.air")
    pipes = [
        *_lanes(wide, supply, last, True),
        Pipe(((18.0, SUCTION), (18.0, 18.0)), css="suction"),
        Pipe(((18.0, 42.0), (18.0, 47.0), (88.0, 47.0)), css="suction", behind=sucked, runs=running),
        Pipe(((98.0, 64.0), (136.0, 64.0), (136.0, DISCHARGE)), supply, runs=running),
        Pipe(((26.0, AIR), (26.0, 256.0)), "air.pressure", "air", thin=True),
        Pipe(
            ((26.0, 232.0), (26.0, 190.0), (64.0, 190.0), (64.0, 96.0), (70.0, 96.0)),
            of(desk, f"{tag}.air_pressure") or "air.pressure",
            "air",
            behind=aired,
            thin=True,
        ),
        Pipe(
            ((64.0, 226.0), (98.0, 226.0), (98.0, 244.0), (150.0, 244.0), (150.0, 222.0)),
            of(desk, f"{tag}.air_pressure") or "air.pressure",
            "air",
            thin=True,
        ),
        Pipe(((64.0, 190.0), (64.0, 226.0)), of(desk, f"{tag}.air_pressure") or "air.pressure", "air", thin=True),
    ]
    if last:
        pipes.append(Pipe(((0.0, SUCTION), (18.0, SUCTION)), css="suction"))
    return Tile(
        "Pumps",
        (pump.name,),
        wide,
        tuple(pieces),
        tuple(pipes),
        note=f"{tag}.mode" if desk.has(f"{tag}.mode") else None,
    )


def rig_air(desk: DrawingContext, air: bool) -> Tile:
    """The air receiver with its supply valve and gauge; the pumps' discharge passes over it."""
    wide, supply = 126.0, of(desk, "supply.pressure")
    pieces = [
        Piece(
            "air",
            "air",
            "Rig air receiver",
            40.0,
            0.0,
            {},
            None,
            of(desk, "air.pressure"),
            (),
            ("Rig air",),
            (0.0, 59.0, "middle"),
        ),
        *valve(
            desk,
            "air.supply",
            "Rig air supply valve",
            "Rig air supply valve",
            86.0,
            214.0,
            turn=270,
            words=("Supply",),
            label_at=(-16.0, -12.0, "end"),
        ),
        *lock(desk, "air.supply_lock", 112.0, 214.0),
    ]
    if desk.has("air.pressure"):
        pieces.append(
            Piece(
                "air.pressure",
                "gauge",
                "Rig air gauge",
                30.0,
                244.0,
                {"r": 15.0, **dialled(desk, "air.pressure")},
                None,
                "air.pressure",
                (),
                (),
                (0.0, -30.0, "middle"),
                "air.pressure",
            )
        )
    pipes = [
        Pipe(((0.0, DISCHARGE), (wide, DISCHARGE)), supply),
        Pipe(((86.0, 10.0), (86.0, 202.0)), css="service-air", thin=True),
        Pipe(((68.0, 40.0), (86.0, 40.0)), css="service-air", thin=True),
        Pipe(((86.0, 226.0), (86.0, AIR if air else 244.0)), "air.pressure", "air", thin=True),
        Pipe(((45.0, 244.0), (86.0, 244.0)), "air.pressure", "air", thin=True),
    ]
    if air:
        pipes.append(Pipe(((0.0, AIR), (86.0, AIR)), "air.pressure", "air", thin=True))
    return Tile("Pumps", ("Rig air",), wide, tuple(pieces), tuple(pipes), note=of(desk, "air.pressure"))


def filters(desk: DrawingContext) -> Tile:
    """The discharge filters, two over each other, each between its valves."""
    found = desk.rig.main_filters
    supply, header = of(desk, "supply.pressure"), of(desk, "accumulator.pressure")
    if not found:
        return Tile(
            "Filters and header",
            (),
            24.0,
            (),
            (Pipe(((0.0, DISCHARGE), (12.0, DISCHARGE), (12.0, HEADER_A), (24.0, HEADER_A)), supply),),
        )
    pieces: list[Piece] = []
    pipes: list[Pipe] = []
    columns = (len(found) + 1) // 2
    heights = [92.0] if len(found) == 1 else [202.0, 79.0]
    pitch = 152.0
    wide = columns * pitch + 16.0
    for n, item in enumerate(found):
        x, up = 12.0 + pitch * (n // 2), heights[n % 2]
        pieces += _filter(desk, item, x + 70.0, up)
        before, after = of(desk, f"{item.id}.upstream"), of(desk, f"{item.id}.downstream")
        pipes += [
            Pipe(((x, up), (x + 22.0, up)), supply),
            Pipe(((x + 46.0, up), (x + 70.0, up)), supply, behind=before),
            Pipe(((x + 70.0, up), (x + 94.0, up)), header, behind=after),
            Pipe(((x + 118.0, up), (x + 140.0, up)), header),
            *_drained(desk, item, x + 70.0, up),
        ]
    for n in range(columns):
        x = 12.0 + pitch * n
        pipes += [
            Pipe(((x, min(heights)), (x, max(*heights, DISCHARGE))), supply),
            Pipe(((x + 140.0, min(heights)), (x + 140.0, HEADER_A)), header),
        ]
    last = 12.0 + pitch * (columns - 1)
    pipes += [
        Pipe(((0.0, DISCHARGE), (last, DISCHARGE)), supply),
        Pipe(((152.0, HEADER_A), (wide, HEADER_A)), header),
    ]
    return Tile("Filters and header", ("Filters",), wide, tuple(pieces), tuple(pipes))


def _filter(desk: DrawingContext, item: Filter, x: float, up: float) -> list[Piece]:
    tag, drop = item.id, of(desk, f"{item.id}.dp")
    hands = (
        (work(f"{tag}.change_element", f"{item.name}: {OPENS}", Box(-22, -8, 22, 60), ("Open the", "housing")),)
        if desk.has(f"{tag}.upstream")
        else ()
    )
    before = "upstream" if desk.has(f"{tag}.upstream") else "isolation"
    housing = of(desk, f"{tag}.pressure")
    gauge = Piece(
        f"{tag}.pressure",
        "gauge",
        f"{item.name}: gauge on the housing",
        x - 42.0,
        up - 46.0,
        {"r": 11.0, **dialled(desk, f"{tag}.pressure")},
        None,
        housing,
        (),
        (),
        (0.0, -22.0, "middle"),
        housing,
        card=tag,
    )
    return [
        Piece(
            tag,
            "filter",
            item.name,
            x,
            up,
            {**dialled(desk, f"{tag}.dp"), "new": f"page.new.{tag}"},
            None,
            drop,
            hands,
            tuple(item.name.split(" ", 1)),
            (0.0, 43.0, "middle"),
        ),
        *valve(
            desk,
            f"{tag}.{before}",
            f"{item.name}: valve before",
            f"{item.name} valve before",
            x - 36.0,
            up,
            words=("Before",),
            label_at=(0.0, -24.0, "middle"),
        ),
        *valve(
            desk,
            f"{tag}.downstream",
            f"{item.name}: valve after",
            f"{item.name} valve after",
            x + 36.0,
            up,
            words=("After",),
            label_at=(0.0, -24.0, "middle"),
        ),
        *lock(desk, f"{tag}.upstream_lock", x - 36.0, up + 28.0),
        *lock(desk, f"{tag}.downstream_lock", x + 36.0, up + 28.0),
        *([gauge] if housing else []),
        *valve(
            desk,
            f"{tag}.bleed",
            f"{item.name}: bleed valve of the housing",
            f"{item.name} bleed",
            x + 42.0,
            up - 48.0,
            words=("Bleed",),
            label_at=(0.0, -25.0, "middle"),
        ),
    ]


def _drained(desk: DrawingContext, item: Filter, x: float, up: float) -> list[Pipe]:
    """The lines from a housing: to its gauge, and through its bleed valve to the tank."""
    tag, housing = item.id, of(desk, f"{item.id}.pressure")
    if housing is None:
        return []
    return [
        Pipe(((x - 31.0, up - 46.0), (x - 10.0, up - 46.0)), housing, thin=True),
        Pipe(((x + 10.0, up - 48.0), (x + 32.0, up - 48.0)), housing, thin=True),
        Pipe(((x + 52.0, up - 48.0), (x + 60.0, up - 48.0), (x + 60.0, 2.0)), css="return",
             behind=of(desk, f"{tag}.bleed"), thin=True),
    ]  # fmt: skip


def pilot_filters(desk: DrawingContext) -> list[Tile]:
    """The filter and the check valve of the pilot supply; nothing on a plant without pilots."""
    pilot, header = of(desk, "pilot.pressure"), of(desk, "accumulator.pressure")
    if pilot is None:
        return []
    wide, up = 176.0, 150.0
    pieces: list[Piece] = []
    drains: list[Pipe] = []
    for item in desk.rig.pilot_filters[:1]:
        pieces += _filter(desk, item, 72.0, up)
        drains += _drained(desk, item, 72.0, up)
    pieces.append(
        Piece(
            "pilot_check",
            "check_valve",
            "Pilot supply check valve",
            146.0,
            up,
            {},
            None,
            pilot,
            (),
            ("Check", "valve"),
            (0.0, 16.0, "middle"),
        )
    )
    pipes = (
        Pipe(((0.0, HEADER_A), (wide, HEADER_A)), header),
        Pipe(((14.0, HEADER_A), (14.0, up), (72.0, up)), header),
        Pipe(((72.0, up), (wide, up)), pilot),
        *drains,
    )
    return [Tile("Pilot", ("Pilot filter",), wide, tuple(pieces), pipes)]
