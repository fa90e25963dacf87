"""The function valves of the schematic: buses, one four-way valve a function, lines to the stack, where fluid returns.

Subsea every valve vents to the sea; at the surface a return line brings the fluid back to the tank.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing import symbols as sym
from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import POSITIONS, position_word
from trainer.drawing.markup import Child, Markup, el, join
from trainer.drawing.parts import label, part
from trainer.drawing.pipes import Point, knot, pipe, stream
from trainer.drawing.rig_view import RigView
from trainer.drawing.sheet import (
    DIVERTER_FEED,
    MAIN,
    POD_VALVE,
    RETURN,
    SEA,
    STACK,
    STACK_TOP,
    VALVES,
    H,
    bus,
    feeds,
    flow_of,
    moves,
    of,
    readback,
)
from trainer.drawing.stack_view import WIDTH as STACK_WIDTH
from trainer.drawing.symbols import at
from trainer.plant.functions import Function

JOINT: Final = 128.0  # height of the flex joint
_LISTED: Final = 0.8  # scale of a valve in the list


def pitch_of(rig: RigView) -> float:
    """Height of one row of the stack; a row of the list below it takes half of that."""
    units = 2 * len(rig.column()) + len(rig.listed())
    return 2.0 * min(26.0, (H - STACK_TOP - 18.0) / max(1, units))


def _line_to(desk: DrawingContext, function: Function, side: str, y: float, reach: float) -> Markup:
    """The open or close line of a function, by its pressure; by its valve where the plant has no such reading."""
    tag, valve = of(desk, f"{function.id}.{side}_pressure"), of(desk, f"{function.id}.valve")
    points: list[Point] = [(VALVES + 30, y), (reach, y)]
    if tag:
        # What goes in at one side of the piston comes back at the other.
        way = points if side == "close" else points[::-1]
        return join(pipe(points, tag, thin=True), stream(way, flow_of(desk, function)))
    line = {"class": f"pipe pipe-thin by-valve by-{side}", "d": f"M{points[0][0]:g} {y:g}H{reach:g}"}
    name = f"{function.name}: {position_word(function, side).lower()} line"
    return el("g", {}, el("title", {}, name), el("path", {**line, "data-state": valve}))


def _used(desk: DrawingContext, y: float, scale: float) -> Markup:
    """Where the fluid of one valve goes when its piston gives it up: to the sea, or into the return line."""
    half = 10.0 * scale
    if desk.rig.subsea:
        return at(VALVES, y + half, sym.vent(), scale=0.55 * scale)
    return pipe([(VALVES - 30 * scale, y + half * 0.7), (RETURN, y + half * 0.7)], css="pipe-return", thin=True)


def _fed(desk: DrawingContext, function: Function, y: float) -> Markup | None:
    """Fluid on its way from where the bus is fed to the valve of a function that moves."""
    supply = function.supply
    x = bus(desk, supply)
    start = feeds(desk).get(supply, DIVERTER_FEED if supply == "diverter" else MAIN)
    return stream([(x, start), (x, y), (VALVES - 30, y)], moves(desk, [function]))


def _valves(desk: DrawingContext, function: Function, scale: float) -> Markup:
    """The control valve of a function; where pods carry it, that of each pod, the selected one standing out."""
    valve = of(desk, f"{function.id}.valve")
    if not desk.rig.pods or function.place == "diverter":
        return sym.four_way(valve, scale)
    shown = flow_of(desk, function) is not None
    drawn = []
    many = len(desk.rig.pods)
    apart = {1: 0.0, 2: 18.0, 3: 13.0}[many] * (1.0 if scale == 1.0 else 0.6)
    size = {1: 1.0, 2: 0.78, 3: 0.56}[many] * (1.0 if scale == 1.0 else 0.67)
    for i, pod in enumerate(desk.rig.pods):
        state = f"{POD_VALVE}{function.id}.{pod.id}" if shown else valve
        mark = el("rect", {"class": "pod-mark", "x": -36, "y": -10, "width": 6, "height": 20})
        body = el(
            "g",
            {"class": f"podvalve podvalve-{pod.id}", "data-state": of(desk, "pod_selector.position")},
            mark,
            sym.four_way(state),
        )
        drawn.append(at(0.0, (i - 0.5 * (many - 1)) * apart, body, scale=size))
    return join(*drawn)


def _stands(desk: DrawingContext, function: Function, x: float, y: float) -> Markup | None:
    """Where a control valve stands, in the words of its buttons on the panel."""
    valve = of(desk, f"{function.id}.valve")
    if valve is None:
        return None
    words = [
        el("text", {"class": f"value small end st-{place}", "x": x, "y": y}, position_word(function, place))
        for place in POSITIONS
    ]
    return el("g", {"class": "stands", "data-state": valve}, words)


def _row(desk: DrawingContext, function: Function, y: float) -> list[Child]:
    """An element of the stack: valve at the left, its two lines to the element."""
    valve = of(desk, f"{function.id}.valve")
    supply = function.supply
    reach = STACK - STACK_WIDTH / 2.0 + 8.0
    return [
        pipe([(bus(desk, supply), y), (VALVES - 30, y)], readback(desk, supply)),
        _fed(desk, function, y),
        knot(bus(desk, supply), y),
        _used(desk, y, 1.0),
        _line_to(desk, function, "close", y - 7.0, reach),
        _line_to(desk, function, "open", y + 7.0, reach),
        at(VALVES, y, part(desk, function.id, f"{function.name}: control valve", valve, _valves(desk, function, 1.0))),
        label(VALVES + 36, y - 13, function.name),
    ]


def listed_valve(desk: DrawingContext, function: Function, y: float, vents: bool = True) -> list[Child]:
    """A control valve in a list at the height ``y`` of the sheet, with where it stands in words."""
    valve = of(desk, f"{function.id}.valve")
    supply = function.supply
    body = part(desk, function.id, f"{function.name}: control valve", valve, _valves(desk, function, _LISTED))
    return [
        pipe([(bus(desk, supply), y), (VALVES - 24, y)], readback(desk, supply), thin=True),
        _fed(desk, function, y),
        _used(desk, y, _LISTED) if vents else None,
        at(VALVES, y, body),
        label(VALVES + 26, y + 5, function.name, "small"),
        _stands(desk, function, VALVES + 218, y + 5),
    ]


def _flex_joint(desk: DrawingContext) -> list[Child]:
    """A supply that works no function: the flex joint's, led to the foot of the riser."""
    works = {f.supply for f in desk.rig.functions}
    drawn: list[Child] = []
    for supply, y in feeds(desk).items():
        if supply in works or supply != "flexjoint":
            continue
        x = bus(desk, supply)
        joint = part(
            desk, "flex_joint", "Flex joint", readback(desk, supply), el("circle", {"class": "stack-body", "r": 13})
        )
        line: list[Point] = [(x, y), (x, JOINT), (STACK - 12, JOINT)]
        drawn += [pipe(line, readback(desk, supply), thin=True), at(STACK, JOINT, joint)]
        drawn.append(label(STACK - 64, JOINT - 6, "flex joint", "small end"))
    return drawn


def _return(desk: DrawingContext, last: float) -> list[Child]:
    """The return line of a surface stack, from the highest valve down and along the foot of the sheet to the tank."""
    first = STACK_TOP + pitch_of(desk.rig) * 0.5
    if desk.rig.subsea:
        vent = part(desk, "vent", "Used fluid vents to the sea", None, at(0, 0, sym.vent()))
        return [
            at(SEA + 14, H - 36.0, vent, scale=0.8),
            label(SEA + 26, H - 22.0, "used fluid vents to the sea", "small"),
        ]
    top = 27.0 if desk.rig.diverter() else first + 7.0
    foot = max(last + 24.0, 706.0 if len(desk.rig.surface_banks) < 3 else 726.0)
    way: list[Point] = [(RETURN, top), (RETURN, foot), (430, foot), (430, 782), (112, 782), (112, 540)]
    rail = part(desk, "vent", "Used fluid returns to the tank", None, pipe(way, css="pipe-return pipe-hit", thin=True))
    return [
        rail,
        stream(way, moves(desk, desk.rig.functions)),
        label(1000, foot - 8, "used fluid returns to the tank", "middle small"),
    ]


def functions(desk: DrawingContext) -> Markup:
    """Buses, then every function: the stack's rows with their lines, the others in a list."""
    rig = desk.rig
    pitch = pitch_of(rig)
    rows = [(f, STACK_TOP + pitch * (i + 0.5)) for i, f in enumerate(rig.column())]
    below = STACK_TOP + pitch * len(rows) + 6.0
    listed = [(f, below + pitch / 2.0 * (i + 0.5)) for i, f in enumerate(rig.listed())]
    reaches: dict[str, list[float]] = {}
    for function, y in (*rows, *listed):
        reaches.setdefault(function.supply, []).append(y)
    buses: list[Child] = []
    for supply, heights in reaches.items():
        ends = [*heights, feeds(desk).get(supply, MAIN)]
        x = bus(desk, supply)
        buses.append(pipe([(x, min(ends)), (x, max(ends))], readback(desk, supply)))
    last = max([y for _, y in (*rows, *listed)], default=STACK_TOP)
    return el(
        "g",
        {"class": "functions"},
        _return(desk, last),
        buses,
        _flex_joint(desk),
        [_row(desk, f, y) for f, y in rows],
        [listed_valve(desk, f, y) for f, y in listed],
    )
