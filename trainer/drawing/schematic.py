"""The whole system on one sheet, drawn from the plant: water inlet at the left, sea floor and well at the right.

One continuous fluid path: tank, suction, pumps, discharge, filters, header with its banks, totaliser, pod selector,
pods with their regulators, shuttles, function valves, stack. Any number of pumps, filters, banks, regulators and
functions: rows share the height there is.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing import symbols as sym
from trainer.drawing.controls import position_word
from trainer.drawing.desk import Desk
from trainer.drawing.frame import deck
from trainer.drawing.markup import Child, Markup, el, join
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import Point, knot, pipe
from trainer.drawing.pod_view import bus_inlets, pods_and_supply
from trainer.drawing.rig_view import Part
from trainer.drawing.stack_view import WIDTH as STACK_WIDTH
from trainer.drawing.stack_view import stack_and_well
from trainer.drawing.symbols import at

W: Final = 1680.0
H: Final = 830.0
MAIN: Final = 430.0  # height of the main supply line
SUCTION: Final = 196.0
DISCHARGE: Final = 384.0
FILTERED: Final = 560.0
HEADER_END: Final = 790.0
VALVES: Final = 1240.0
STACK: Final = 1500.0
STACK_TOP: Final = 136.0
#: Subsystems that can be shown enlarged: left, top, width, height of the window on the sheet.
VIEWS: Final = {
    "whole": (0.0, 0.0, W, H),
    "supply": (0.0, 110.0, 800.0, 690.0),
    "control": (560.0, 50.0, 800.0, 690.0),
    "stack": (1130.0, 0.0, 550.0, 830.0),
}


def _rows(count: int, pitch: float, room: float) -> list[float]:
    """Heights of ``count`` rows about the main line, no farther apart than ``pitch``, within ``room``."""
    step = min(pitch, room / max(1, count))
    first = MAIN - step * (count - 1) / 2.0
    return [first + step * i for i in range(count)]


def _services(desk: Desk) -> Markup:
    """What the system needs besides fluid: rig air and electricity, as boxes with their readings."""
    rows = (
        ("air", "Rig air", "air.pressure"),
        ("power", "AC supply", "power.ac"),
        ("battery", "Battery", "battery.volts"),
        ("panel_power", "Panels", "panel.power"),
    )
    drawn: list[Child] = []
    for i, (card, title, tag) in enumerate(r for r in rows if desk.has(r[2])):
        box = part(desk, card, title, tag, el("rect", {"class": "service", "width": 106, "height": 46, "rx": 5}))
        x = 16.0 + i * 112.0
        drawn += [at(x, 16, box), label(x + 53, 35, title, "middle small"), value(desk, x + 53, 54, tag, "middle")]
    return el("g", {"class": "services"}, drawn)


def _tank(desk: Desk) -> Markup:
    tag = desk.rig.tank
    level = f"{tag}.level"
    shown: list[Child] = [
        at(30, 350, part(desk, tag, "Mixed-fluid tank", level, sym.tank(124, 190, level if desk.has(level) else None))),
        label(92, 374, "Mixed fluid", "middle"),
        value(desk, 92, 396, level, "middle"),
        value(desk, 92, 416, f"{tag}.volume", "middle"),
        pipe([(16, 318), (60, 318), (60, 350)], flow=f"{tag}.mixing_flow" if desk.has(f"{tag}.mixing_flow") else None),
        label(16, 306, "Water in"),
        at(34, 318, part(desk, "water_supply", "Potable-water supply", None, sym.shut_off()), scale=0.7),
    ]
    stores = [("concentrate", "Concentrate")] + ([("glycol", "Glycol")] if desk.rig.has_glycol else [])
    for i, (name, title) in enumerate(stores):
        x = 82.0 + i * 46.0
        y = 150.0 + i * 80.0
        bound = f"{tag}.{name}"
        shown += [
            at(x - 24, y, part(desk, f"{name}_tank", f"{title} tank", bound, sym.tank(92, 34, None))),
            label(x + 22, y - 6, title, "middle small"),
            pipe([(x + 14 - i * 8, y + 34), (x + 14 - i * 8, 350)], css="pipe-store", thin=True),
        ]
    return join(shown)


def _pump(desk: Desk, pump: Part, y: float) -> Markup:
    drive = str(pump.get("drive") or "electric")
    running, flow, mode = (f"{pump.id}.{w}" for w in ("running", "flow", "mode"))
    bound = flow if desk.has(flow) else None
    suction: list[Point] = [(SUCTION, y), (266, y)]
    delivery: list[Point] = [(314, y), (DISCHARGE, y)]
    return join(
        pipe(suction, flow=bound, css="pipe-suction"),
        pipe(delivery, "supply.pressure" if desk.has("supply.pressure") else None, bound),
        at(
            230,
            y,
            part(desk, f"{pump.id}_strainer", f"{pump.title}: suction strainer", None, sym.filter_element()),
            scale=0.8,
        ),
        at(290, y, part(desk, pump.id, pump.title, bound, sym.pump(drive, running if desk.has(running) else None))),
        at(350, y, part(desk, f"{pump.id}_check", f"{pump.title}: discharge check valve", None, sym.check_valve())),
        label(286, y + 38, pump.title, "middle"),
        value(desk, 286, y + 57, mode, "middle small state"),
    )


def _pumps(desk: Desk) -> Markup:
    pumps = desk.rig.pumps
    rows = _rows(len(pumps), 128.0, 560.0)
    bottom = 730.0
    supply = "supply.pressure" if desk.has("supply.pressure") else None
    return join(
        pipe([(154, 520), (SUCTION, 520)], css="pipe-suction"),
        pipe([(SUCTION, min([520.0, *rows])), (SUCTION, max([520.0, *rows]))], css="pipe-suction"),
        pipe([(DISCHARGE, rows[0]), (DISCHARGE, bottom)], supply),
        [_pump(desk, p, y) for p, y in zip(pumps, rows, strict=True)],
        [knot(DISCHARGE, y) for y in (*rows[1:], MAIN)],
        pipe([(DISCHARGE, bottom), (324, bottom)], supply),
        at(300, bottom, part(desk, "relief", "System relief valve", supply, sym.relief_valve()), turn=180),
        pipe(
            [(276, bottom), (92, bottom), (92, 540)],
            css="pipe-return",
            flow="relief.flow" if desk.has("relief.flow") else None,
        ),
        label(300, bottom + 38, "System relief", "middle"),
        label(184, bottom - 8, "return to tank", "middle small"),
    )


def _filters(desk: Desk) -> Markup:
    filters = desk.rig.filters
    supply = "supply.pressure" if desk.has("supply.pressure") else None
    header = "accumulator.pressure" if desk.has("accumulator.pressure") else None
    if not filters:
        return pipe([(DISCHARGE, MAIN), (FILTERED, MAIN)], supply)
    rows = _rows(len(filters), 104.0, 420.0)
    inlet = DISCHARGE + 30.0
    drawn: list[Child] = []
    for item, y in zip(filters, rows, strict=True):
        valve = f"{item.id}.isolation"
        bound = valve if desk.has(valve) else None
        drawn.append(
            join(
                pipe([(inlet, y), (487, y)], supply),
                pipe([(487, y), (FILTERED, y)], header),
                at(
                    445,
                    y,
                    part(
                        desk,
                        f"{item.id}.isolation",
                        f"{item.title}: isolation valve before",
                        bound,
                        sym.shut_off(bound),
                    ),
                    scale=0.75,
                ),
                at(487, y, part(desk, item.id, item.title, f"{item.id}.dp", sym.filter_element())),
                at(
                    529,
                    y,
                    part(
                        desk, f"{item.id}.isolation", f"{item.title}: isolation valve after", bound, sym.shut_off(bound)
                    ),
                    scale=0.75,
                ),
                label(487, y - 24, item.title, "middle small"),
                value(desk, 487, y + 36, f"{item.id}.dp", "middle small"),
            )
        )
    return join(
        pipe([(DISCHARGE, MAIN), (inlet, MAIN)], supply),
        pipe([(inlet, rows[0]), (inlet, rows[-1])], supply),
        pipe([(FILTERED, rows[0]), (FILTERED, rows[-1])], header),
        drawn,
    )


def _banks(desk: Desk) -> Markup:
    banks = desk.rig.surface_banks
    header = "accumulator.pressure" if desk.has("accumulator.pressure") else None
    step = min(112.0, (HEADER_END - FILTERED - 30.0) / max(1, len(banks)))
    size = min(1.0, step / 84.0)
    drawn: list[Child] = [pipe([(FILTERED, MAIN), (HEADER_END, MAIN)], header), knot(FILTERED, MAIN)]
    for i, bank in enumerate(banks):
        x = FILTERED + 52.0 + step * i
        own = f"{bank.id}.pressure"
        pressure = own if desk.has(own) else header
        isolation, bleed, fluid = (f"{bank.id}.{w}" for w in ("isolation", "bleed", "fluid"))
        held = isolation if desk.has(isolation) else None
        bled = bleed if desk.has(bleed) else None
        drawn += [
            knot(x, MAIN),
            pipe([(x, MAIN), (x, 480)], header),
            pipe([(x, 480), (x, 546)], pressure),
            at(
                x,
                476,
                part(desk, f"{bank.id}.isolation", f"{bank.title}: shut-off valve", held, sym.shut_off(held)),
                turn=90,
                scale=0.8,
            ),
            pipe([(x, 518), (x + 34 * size, 518)], pressure, thin=True),
            at(
                x + 34 * size,
                518,
                part(
                    desk,
                    f"{bank.id}.bleed",
                    f"{bank.title}: bleed valve",
                    bled,
                    sym.shut_off(bled),
                    at(24, 0, sym.vent()),
                ),
                scale=0.6,
            ),
            at(
                x,
                590,
                part(desk, bank.id, bank.title, own, sym.accumulator(fluid if desk.has(fluid) else None)),
                turn=180,
            ),
            label(x, 656, bank.title.replace("Accumulator bank", "Bank"), "middle"),
            label(x, 676, f"{bank.get('bottles', '')} bottles".strip(), "middle small"),
            value(desk, x, 698, own, "middle"),
        ]
    drawn += [
        pipe([(640, MAIN), (640, 372)], header, thin=True),
        at(640, 346, part(desk, "accumulator", "Accumulator header pressure", header, sym.pressure_gauge(header))),
        label(666, 340, "Header"),
        value(desk, 666, 362, "accumulator.pressure"),
    ]
    return join(drawn)


def _functions(desk: Desk) -> Markup:
    """Function valves with both lines to their elements, then choke and kill valves in a list of their own."""
    column, others = desk.rig.column(), desk.rig.others()
    valves = (*desk.rig.line_valves("kill"), *desk.rig.line_valves("choke"))
    pitch = min(52.0, (480.0 if valves else 660.0) / max(1, len(column) + len(others)))
    buses = {"annular": VALVES - 62.0, "manifold": VALVES - 46.0}
    inlets = bus_inlets(desk, MAIN)
    ends: dict[str, list[float]] = {}
    drawn: list[Child] = [
        pipe([(VALVES, STACK_TOP + 12), (VALVES, STACK_TOP - 8)], css="pipe-return", thin=True),
        at(VALVES, STACK_TOP - 6, part(desk, "vent", "Used fluid vents to sea", None, sym.vent()), turn=180),
        label(VALVES - 14, STACK_TOP - 10, "vent", "small end"),
    ]
    for i, function in enumerate((*column, *others)):
        y = STACK_TOP + pitch * (i + 0.5)
        serves = str(function.get("supply") or "manifold")
        ends.setdefault(serves, []).append(y)
        valve = f"{function.id}.valve"
        bound = valve if desk.has(valve) else None
        reach = STACK - STACK_WIDTH / 2.0 + 8.0 if i < len(column) else VALVES + 96.0
        drawn += [
            pipe([(buses.get(serves, buses["manifold"]), y), (VALVES - 30, y)], _readback(desk, serves)),
            knot(buses.get(serves, buses["manifold"]), y),
            _line_to(desk, function, "close", y - 7.0, reach),
            _line_to(desk, function, "open", y + 7.0, reach),
            at(VALVES, y, part(desk, function.id, f"{function.title}: control valve", bound, sym.four_way(bound))),
            label(VALVES + 36, y - 14, function.title),
        ]
        if i >= len(column):
            drawn += [value(desk, reach + 8, y + 5, valve, "small state")]
    y0 = STACK_TOP + pitch * (len(column) + len(others)) + 8.0
    step = min(25.0, (H - 12.0 - y0) / max(1, len(valves)))
    for i, valve_part in enumerate(valves):
        y = y0 + step * (i + 0.5)
        ends.setdefault("manifold", []).append(y)
        valve = f"{valve_part.id}.valve"
        bound = valve if desk.has(valve) else None
        drawn += [
            pipe([(buses["manifold"], y), (VALVES - 30, y)], _readback(desk, "manifold"), thin=True),
            at(
                VALVES,
                y,
                part(desk, valve_part.id, f"{valve_part.title}: control valve", bound, sym.four_way(bound, 0.8)),
            ),
            label(VALVES + 32, y + 5, valve_part.title, "small"),
            el("text", {"class": "value small state end", "x": VALVES + 205, "y": y + 5, "data-text": bound}, "")
            if bound
            else None,
        ]
    for serves, heights in ends.items():
        heights = [*heights, *inlets.get(serves, [MAIN])]
        top, bottom = min(heights), max(heights)
        drawn.insert(
            0,
            pipe(
                [(buses.get(serves, buses["manifold"]), top), (buses.get(serves, buses["manifold"]), bottom)],
                _readback(desk, serves),
            ),
        )
    return el("g", {"class": "functions"}, drawn)


def _readback(desk: Desk, serves: str) -> str | None:
    for regulator in desk.rig.regulators:
        if regulator.get("serves", regulator.id.removesuffix("_regulator")) == serves:
            tag = f"{regulator.id}.readback"
            return tag if desk.has(tag) else None
    return None


def _line_to(desk: Desk, function: Part, side: str, y: float, reach: float) -> Markup:
    tag = f"{function.id}.{side}_pressure"
    valve = f"{function.id}.valve"
    points: list[Point] = [(VALVES + 30, y), (reach, y)]
    if desk.has(tag):
        return pipe(points, tag, thin=True)
    state = el(
        "path",
        {
            "class": f"pipe pipe-thin by-valve by-{side}",
            "d": f"M{points[0][0]:g} {y:g}H{reach:g}",
            "data-state": valve if desk.has(valve) else None,
        },
    )
    return el("g", {}, el("title", {}, f"{function.title}: {position_word(function, side).lower()} line"), state)


def _legend() -> Markup:
    rows = (("dead", "no pressure"), ("low", "below normal"), ("live", "under pressure"), ("high", "above normal"))
    drawn: list[Child] = []
    for i, (level, words) in enumerate(rows):
        x = 24.0 + i * 160.0
        drawn += [
            el("path", {"class": "pipe", "d": f"M{x:g} 804h34", "data-level": level}),
            label(x + 42, 809, words, "small"),
        ]
    return el("g", {"class": "legend"}, drawn)


def schematic_svg(desk: Desk, truth: bool = True, view: str = "whole") -> Markup:
    """The sheet as one SVG, 1680 by 830 units, or one subsystem of it enlarged (``view``, a key of ``VIEWS``).

    Without ``truth`` nothing is shown that no instrument tells. ``KeyError`` for an unknown view.
    """
    valves = bool(desk.rig.line_valves("kill") or desk.rig.line_valves("choke"))
    rows = len(desk.rig.column()) + len(desk.rig.others())
    pitch = min(52.0, (480.0 if valves else 660.0) / max(1, rows))
    left, top, wide, tall = VIEWS[view]
    return el(
        "svg",
        {
            "class": "schematic",
            "viewBox": f"{left:g} {top:g} {wide:g} {tall:g}",
            "xmlns": "http://www.w3.org/2000/svg",
            "role": "group",
            "aria-label": f"Schematic of the control system of {desk.rig.title}, water inlet left, well right",
        },
        pods_and_supply(desk, MAIN, HEADER_END, VALVES),
        _services(desk),
        _tank(desk),
        _pumps(desk),
        _filters(desk),
        _banks(desk),
        _functions(desk),
        stack_and_well(desk, STACK, STACK_TOP, pitch, 36.0, H - 22.0, truth),
        _legend(),
    )


def schematic(desk: Desk, truth: bool = True, view: str = "whole") -> Markup:
    """The schematic as a board. Components open their cards; nothing is commanded from here."""
    return deck("schematic", "", 600, schematic_svg(desk, truth, view))
