"""The left of the schematic: water, stores and mixing, tank, pumps with their fittings, relief, discharge filters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from trainer.drawing import symbols as sym
from trainer.drawing.attached_view import beyond
from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Child, Markup, el, join
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import Point, cut_off, knot, pipe, stream
from trainer.drawing.sheet import DISCHARGE, FILTERED, MAIN, SUCTION, of, rows, runs
from trainer.drawing.symbols import at
from trainer.plant.pumps import Pump

FURTHER = (446.0, 490.0)
"""Where the boxes of further panels stand, between the key and the read-backs: left edge and room, px."""
WIDEST = 118.0
"""The widest box of a further panel, px."""
LETTER = 7.0
"""What a small letter takes, px."""


def services(desk: DrawingContext) -> Markup:
    """What the system needs besides fluid: rig air and electricity, as boxes with their readings."""
    boxes = (
        ("air", "Rig air", "air.pressure"),
        ("power", "AC supply", "power.ac"),
        ("battery", "Battery", "battery.volts"),
        ("panel_power", "Panels", "panel.power"),
        ("eds", "Disconnect", "eds.state"),
    )
    panels = []
    for panel in desk.rig.plant.further.values():
        panels.append((panel.id, panel.name, f"{panel.id}.power"))
        if panel.supply == "own_battery":
            panels.append((panel.id, "Own battery", f"{panel.id}.volts"))
    left, room = FURTHER
    if desk.rig.attached:
        # What hangs on the unit stands at the foot of the sheet, too.
        left, room = beyond(desk), left + room - beyond(desk)
    wide = min(WIDEST, (room + 6.0) / max(1, len(panels)) - 6.0)
    letters = int(wide / LETTER)
    panels = [(card, name if len(name) <= letters else f"{name[: letters - 1]}…", tag) for card, name, tag in panels]
    return el("g", {"class": "services"}, _boxes(desk, boxes, 16.0, 16.0), _boxes(desk, panels, left, 780.0, wide))


def _boxes(
    desk: DrawingContext, boxes: Iterable[tuple[str, str, str]], left: float, top: float, wide: float = 106.0
) -> list[Child]:
    """Boxes side by side from a corner, each with its title and its reading."""
    drawn: list[Child] = []
    for i, (card, title, tag) in enumerate(b for b in boxes if desk.has(b[2])):
        box = part(desk, card, title, tag, el("rect", {"class": "service", "width": wide, "height": 46, "rx": 5}))
        x = left + i * (wide + 6.0)
        drawn += [at(x, top, box), label(x + wide / 2, top + 19, title, "middle small")]
        drawn.append(value(desk, x + wide / 2, top + 38, tag, "middle"))
    return drawn


def _water(desk: DrawingContext) -> Markup:
    """Potable water from the top: gate valve, strainer, regulator, air-operated valve, rate-set valve, indicator."""
    flow = of(desk, "tank.mixing_flow", "water.flow")
    gate, valve = of(desk, "water.gate"), of(desk, "water.valve")
    fittings: list[tuple[float, str, str, str | None, Markup]] = [
        (112.0, "water_supply", "Water gate valve", gate, sym.shut_off(gate)),
        (148.0, "water_supply", "Water strainer", None, sym.filter_element()),
        (186.0, "water_supply", "Water pressure regulator", of(desk, "water.pressure"), sym.regulator()),
        (224.0, "water_supply", "Water on/off valve, worked by air", valve, sym.air_valve(valve)),
        (258.0, "water_supply", "Water rate-set valve", of(desk, "water.rate_set"), sym.throttle()),
        (292.0, "water_supply", "Water flow indicator", of(desk, "water.flow"), sym.flow_meter()),
    ]
    x = 30.0
    return join(
        pipe([(x, 94), (x, 322), (50, 322), (50, 350)], flow=flow, css="pipe-suction"),
        [at(x, y, part(desk, card, name, tag, drawn), turn=90, scale=0.62) for y, card, name, tag, drawn in fittings],
        label(12, 86, "Water in"),
    )


def tank(desk: DrawingContext) -> Markup:
    """Mixed-fluid tank with its level, the stores above it and the dosing pumps between."""
    tag = desk.rig.tank
    level = of(desk, f"{tag}.level")
    shown: list[Child] = [
        at(30, 350, part(desk, tag, "Mixed-fluid tank", f"{tag}.level", sym.tank(124, 190, level))),
        label(92, 374, "Mixed fluid", "middle"),
        label(92, 431, "Tank level", "middle name-on-fluid"),
        value(desk, 92, 453, f"{tag}.level", "middle"),
        value(desk, 92, 474, f"{tag}.volume", "middle"),
        _water(desk),
    ]
    drain = of(desk, f"{tag}.drain")
    if drain:
        valve = part(
            desk, drain, "Mixed-fluid tank: drain valve", drain, sym.shut_off(drain), at(24, 0, sym.vent(), turn=-90)
        )
        shown.append(at(54, 556, valve, turn=90, scale=0.6))
    stores = [("concentrate", "Concentrate"), ("glycol", "Glycol")]
    for i, (name, title) in enumerate(stores):
        y = 120.0 + i * 104.0
        x = 82.0 + i * 34.0
        bound = f"{tag}.{name}"
        line = 96.0 + i * 40.0
        pump = f"{name}_pump"
        strokes = of(desk, f"{pump}.strokes")
        shown += [
            pipe([(line, y + 34), (line, 350)], css="pipe-store", thin=True),
            at(x - 14, y, part(desk, f"{name}_tank", f"{title} tank", bound, sym.tank(84, 34, of(desk, bound)))),
            label(x + 28, y - 12, title, "middle small"),
        ]
        if strokes:
            dosing = part(desk, pump, f"{title} dosing pump", strokes, sym.pump("air"))
            shown.append(at(line, y + 58, dosing, turn=90, scale=0.5))
    return join(shown)


def _pump(desk: DrawingContext, pump: Pump, y: float, tight: bool) -> Markup:
    drive = pump.drive
    flow = of(desk, f"{pump.id}.flow")
    suction_valve = of(desk, f"{pump.id}.suction")
    suction: list[Point] = [(SUCTION, y), (266, y)]
    strainer = part(desk, f"{pump.id}_strainer", f"{pump.name}: suction strainer", None, sym.filter_element())
    check = part(desk, f"{pump.id}_check", f"{pump.name}: discharge check valve", None, sym.check_valve())
    drawn: list[Child] = [
        cut_off(suction_valve, pipe(suction, flow=flow, css="pipe-suction")),
        pipe([(314, y), (DISCHARGE, y)], of(desk, "supply.pressure"), flow),
        at(244 if suction_valve else 230, y, strainer, scale=0.7),
        at(290, y, part(desk, pump.id, pump.name, flow, sym.pump(drive, of(desk, f"{pump.id}.running")))),
        at(350, y, check),
        label(300, y + 38, pump.name, "end small") if tight else label(290, y + 38, pump.name, "middle"),
        value(desk, 306, y + 38, f"{pump.id}.mode", "small state")
        if tight
        else value(desk, 290, y + 57, f"{pump.id}.mode", "middle small state"),
    ]
    if suction_valve:
        valve = part(desk, suction_valve, f"{pump.name}: suction valve", suction_valve, sym.shut_off(suction_valve))
        drawn.append(at(214, y, valve, scale=0.55))
    return join(drawn)


def pumps(desk: DrawingContext) -> Markup:
    """Suction header, every pump, discharge header, and the relief valve back to the tank."""
    found = desk.rig.pumps
    heights = rows(len(found), 128.0, 560.0)
    bottom = 730.0
    supply = of(desk, "supply.pressure")
    return join(
        pipe([(154, 520), (SUCTION, 520)], css="pipe-suction"),
        pipe([(SUCTION, min([520.0, *heights])), (SUCTION, max([520.0, *heights]))], css="pipe-suction"),
        pipe([(DISCHARGE, heights[0]), (DISCHARGE, bottom)], supply),
        stream([(154, 520), (SUCTION, 520)], runs(desk, *(f"{p.id}.flow" for p in found))),
        [stream(way[::-1], key) for way, key in _gathered(desk, SUCTION, 520.0, heights)],
        [stream(way, key) for way, key in _gathered(desk, DISCHARGE, MAIN, heights)],
        [_pump(desk, p, y, len(found) > 5) for p, y in zip(found, heights, strict=True)],
        [knot(DISCHARGE, y) for y in (*heights[1:], MAIN)],
        pipe([(DISCHARGE, bottom), (324, bottom)], supply),
        at(300, bottom, part(desk, "relief", "System relief valve", supply, sym.relief_valve()), turn=180),
        pipe([(276, bottom), (92, bottom), (92, 540)], css="pipe-return", flow=of(desk, "relief.flow")),
        label(300, bottom + 38, "System relief", "middle"),
        label(184, bottom - 8, "return to tank", "middle small"),
    )


def _gathered(
    desk: DrawingContext, x: float, to: float, heights: Sequence[float]
) -> Iterator[tuple[list[Point], str | None]]:
    """The stretches of the upright at ``x`` between the pumps and ``to``, each with what runs in it."""
    tags = [f"{pump.id}.flow" for pump in desk.rig.pumps]
    for side in (1.0, -1.0):
        placed = zip(heights, tags, strict=True)
        beyond = sorted(((y, tag) for y, tag in placed if (to - y) * side > 0.0), reverse=side < 0)
        ends = [*(y for y, _ in beyond[1:]), to]
        for n, ((start, _), end) in enumerate(zip(beyond, ends, strict=False), 1):
            yield [(x, start), (x, end)], runs(desk, *(tag for _, tag in beyond[:n]))


def filters(desk: DrawingContext) -> Markup:
    """The discharge filters side by side, each between its valves."""
    found = desk.rig.main_filters
    supply, header = of(desk, "supply.pressure"), of(desk, "accumulator.pressure")
    if not found:
        return pipe([(DISCHARGE, MAIN), (FILTERED, MAIN)], supply)
    heights = rows(len(found), 104.0, 420.0)
    inlet = DISCHARGE + 30.0
    drawn: list[Child] = []
    for item, y in zip(found, heights, strict=True):
        before = of(desk, f"{item.id}.upstream", f"{item.id}.isolation")
        after = of(desk, f"{item.id}.downstream", f"{item.id}.isolation")
        first = part(desk, f"{item.id}.isolation", f"{item.name}: valve before", before, sym.shut_off(before))
        second = part(desk, f"{item.id}.isolation", f"{item.name}: valve after", after, sym.shut_off(after))
        drawn += [
            pipe([(inlet, y), (445, y)], supply),
            cut_off(before, pipe([(445, y), (487, y)], supply)),
            cut_off(after, pipe([(487, y), (529, y)], header)),
            pipe([(529, y), (FILTERED, y)], header),
            at(445, y, first, scale=0.75),
            at(487, y, part(desk, item.id, item.name, f"{item.id}.dp", sym.filter_element())),
            at(529, y, second, scale=0.75),
            label(487, y - 24, item.name, "middle small"),
            value(desk, 487, y + 36, f"{item.id}.dp", "middle small"),
            stream([(inlet, MAIN), (inlet, y), (FILTERED, y), (FILTERED, MAIN)], runs(desk, f"{item.id}.dp")),
        ]
    return join(
        pipe([(DISCHARGE, MAIN), (inlet, MAIN)], supply),
        stream([(DISCHARGE, MAIN), (inlet, MAIN)], runs(desk, *(f"{item.id}.dp" for item in found))),
        pipe([(inlet, heights[0]), (inlet, heights[-1])], supply),
        pipe([(FILTERED, heights[0]), (FILTERED, heights[-1])], header),
        drawn,
    )
