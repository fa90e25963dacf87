"""The function valves of the schematic: buses, one four-way valve a function, lines to the stack, vent to sea."""

from __future__ import annotations

from trainer.drawing import symbols as sym
from trainer.drawing.controls import position_word
from trainer.drawing.desk import Desk
from trainer.drawing.markup import Child, Markup, el
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import Point, knot, pipe
from trainer.drawing.rig_view import Part, RigView
from trainer.drawing.sheet import MAIN, STACK, STACK_TOP, VALVES, H, bus, feeds, of, readback
from trainer.drawing.stack_view import WIDTH as STACK_WIDTH
from trainer.drawing.symbols import at


def pitch_of(rig: RigView) -> float:
    """Height of one row of the stack: the choke and kill valves below need their share of the sheet."""
    valves = rig.line_valves("kill") or rig.line_valves("choke")
    rows = len(rig.column()) + len(rig.others())
    return min(52.0, (480.0 if valves else 660.0) / max(1, rows))


def _supply_of(function: Part) -> str:
    return str(function.get("supply") or "manifold")


def _line_to(desk: Desk, function: Part, side: str, y: float, reach: float) -> Markup:
    """The open or close line of a function, by its pressure; by its valve where the plant has no such reading."""
    tag, valve = of(desk, f"{function.id}.{side}_pressure"), of(desk, f"{function.id}.valve")
    points: list[Point] = [(VALVES + 30, y), (reach, y)]
    if tag:
        return pipe(points, tag, thin=True)
    line = {"class": f"pipe pipe-thin by-valve by-{side}", "d": f"M{points[0][0]:g} {y:g}H{reach:g}"}
    name = f"{function.title}: {position_word(function, side).lower()} line"
    return el("g", {}, el("title", {}, name), el("path", {**line, "data-state": valve}))


def _row(desk: Desk, function: Part, y: float, in_column: bool) -> list[Child]:
    valve = of(desk, f"{function.id}.valve")
    supply = _supply_of(function)
    reach = STACK - STACK_WIDTH / 2.0 + 8.0 if in_column else VALVES + 96.0
    return [
        pipe([(bus(desk, supply), y), (VALVES - 30, y)], readback(desk, supply)),
        knot(bus(desk, supply), y),
        _line_to(desk, function, "close", y - 7.0, reach),
        _line_to(desk, function, "open", y + 7.0, reach),
        at(VALVES, y, part(desk, function.id, f"{function.title}: control valve", valve, sym.four_way(valve))),
        label(VALVES + 36, y - 14, function.title),
        None if in_column else value(desk, reach + 8, y + 5, f"{function.id}.valve", "small state"),
    ]


def _line_valve(desk: Desk, function: Part, y: float) -> list[Child]:
    """A choke or kill valve's control valve, in the list below the stack's rows."""
    valve = of(desk, f"{function.id}.valve")
    supply = _supply_of(function)
    body = part(desk, function.id, f"{function.title}: control valve", valve, sym.four_way(valve, 0.8))
    return [
        pipe([(bus(desk, supply), y), (VALVES - 30, y)], readback(desk, supply), thin=True),
        at(VALVES, y, body),
        label(VALVES + 32, y + 5, function.title, "small"),
        value(desk, VALVES + 205, y + 5, f"{function.id}.valve", "small state end"),
    ]


def _flex_joint(desk: Desk) -> list[Child]:
    """A supply that works no function: the flex joint's, led to the foot of the riser."""
    works = {_supply_of(f) for f in desk.rig.functions}
    drawn: list[Child] = []
    for supply, y in feeds(desk).items():
        if supply in works or supply != "flexjoint":
            continue
        x = bus(desk, supply)
        joint = part(
            desk, "flex_joint", "Flex joint", readback(desk, supply), el("circle", {"class": "stack-body", "r": 17})
        )
        drawn += [pipe([(x, y), (x, 98), (STACK - 15, 98)], readback(desk, supply), thin=True), at(STACK, 98, joint)]
        drawn.append(label(STACK - 30, 92, "flex joint", "small end"))
    return drawn


def functions(desk: Desk) -> Markup:
    """Buses, then every function: the stack's rows with their lines, the choke and kill valves in a list."""
    rig = desk.rig
    column, others = rig.column(), rig.others()
    valves = (*rig.line_valves("kill"), *rig.line_valves("choke"))
    pitch = pitch_of(rig)
    rows = [(f, STACK_TOP + pitch * (i + 0.5)) for i, f in enumerate((*column, *others))]
    below = STACK_TOP + pitch * len(rows) + 8.0
    step = min(25.0, (H - 12.0 - below) / max(1, len(valves)))
    listed = [(f, below + step * (i + 0.5)) for i, f in enumerate(valves)]
    reaches: dict[str, list[float]] = {}
    for function, y in (*rows, *listed):
        reaches.setdefault(_supply_of(function), []).append(y)
    buses: list[Child] = []
    for supply, heights in reaches.items():
        ends = [*heights, feeds(desk).get(supply, MAIN)]
        x = bus(desk, supply)
        buses.append(pipe([(x, min(ends)), (x, max(ends))], readback(desk, supply)))
    first = STACK_TOP + pitch * 0.5
    return el(
        "g",
        {"class": "functions"},
        buses,
        pipe([(VALVES, first - 10), (VALVES, first - 26)], css="pipe-return", thin=True),
        at(VALVES, first - 22, part(desk, "vent", "Used fluid vents to sea", None, sym.vent()), turn=180),
        label(VALVES - 10, first - 30, "vent", "small end"),
        _flex_joint(desk),
        [_row(desk, f, y, i < len(column)) for i, (f, y) in enumerate(rows)],
        [_line_valve(desk, f, y) for f, y in listed],
    )
