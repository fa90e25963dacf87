"""The stack on the schematic: riser, moving rams and packing elements, connectors, choke and kill valves, the well.

Everything that moves is bound to the true position of the function, which no instrument on the rig shows; with a
desk of instruments only (``DrawingContext.seen``) the elements stay at rest.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Markup, el, join, shorten
from trainer.drawing.mimic import element_shape, outlet_row
from trainer.drawing.parts import label, part
from trainer.drawing.pipes import pipe
from trainer.drawing.sheet import CUT, flow_of
from trainer.drawing.symbols import at
from trainer.plant.function_mechanics import GRIP
from trainer.plant.functions import Function

WIDTH: Final = 132.0
BORE: Final = 13.0
PIPE: Final = 5.0
RECESS: Final = 10.0
ON_PIPE: Final = GRIP
"""The position at which an annular meets the pipe; without pipe its halves meet at the end."""


def movers(kind: str, height: float, bound: str | None, recess: float = RECESS) -> list[Markup]:
    """The two halves that close on the bore, each sliding by its travel as the position goes to 100 %.

    Open, they stand ``recess`` back from it.
    """
    h = height / 2.0
    back = BORE + recess
    if kind == "annular":
        shape, travel = (
            f"M0 {shorten(h - 3)}V{shorten(-h + 8)}Q20 {shorten(-h + 8)} 26 {shorten(h - 3)}Z",
            (back - PIPE) / ON_PIPE,
        )
    elif kind == "connector":
        shape, travel = "M0 -5H16V5H0Z", 8.0
    elif kind == "shear_ram":
        shape, travel = "M0 -3L34 -8V8H8Z", back
    else:
        shape, travel = "M0 -8H34V8H0V4Q5 0 0 -4Z", back - PIPE
    start = BORE + 10.0 if kind == "connector" else back
    halves = []
    for side in (-1.0, 1.0):
        block = el("path", {"class": f"mover mover-{kind}", "d": shape})
        slide = el(
            "g",
            {"data-shift": bound, "data-dx": -travel if bound else None, "data-dy": 0 if bound else None},
            block,
        )
        halves.append(el("g", {"transform": f"scale({shorten(side)} 1) translate({shorten(start)} 0)"}, slide))
    return halves


def position_of(desk: DrawingContext, function: Function) -> str | None:
    """The tag that moves a function's picture; None where the sheet does not know it."""
    bound = f"{function.id}.position"
    return bound if desk.has(bound) else None


def element(desk: DrawingContext, function: Function, height: float) -> Markup:
    """One element of the stack about its centre, with its moving halves."""
    moving = position_of(desk, function)
    return part(
        desk,
        function.id,
        function.name,
        moving or f"{function.id}.valve",
        element_shape(function.kind, WIDTH, height),
        el("rect", {"class": "mimic-bore", "x": -BORE, "y": -height / 2 - 3, "width": 2 * BORE, "height": height + 6}),
        movers(function.kind, height, moving),
        _mark(WIDTH / 2 + 4.0, height - 26.0, function.id) if moving and function.kind != "connector" else None,
        _share(desk, function),
        _second(desk, function),
    )


def _second(desk: DrawingContext, function: Function) -> Markup | None:
    """The second piston of a connector, which comes out beside it as it drives the ring open; None without one."""
    second = next((f for f in desk.rig.functions if f.releases == function.id), None)
    if second is None:
        return None
    bound = position_of(desk, second)
    move = {"data-shift": bound, "data-dx": 0 if bound else None, "data-dy": 12 if bound else None}
    rod = el("rect", {"class": "mover mover-connector", "x": 40, "y": -14, "width": 8, "height": 12})
    return part(desk, second.id, second.name, bound or f"{second.id}.valve", el("g", move, rod))


def _mark(x: float, tall: float, function: str) -> Markup:
    """The position mark of an element: empty while open, red from below as it moves, all red once it is closed."""
    box = {"x": x, "y": -tall / 2, "width": 8, "height": tall}
    moved = {"data-fill": f"{function}.position", "data-full": tall, "data-bottom": tall / 2}
    return el(
        "g",
        {"class": "position-mark"},
        el("rect", {"class": "position-box", **box}),
        el("rect", {"class": "position-closed", **box, **moved}),
        el("rect", {"class": "position-closed position-whole", **box, "data-state": f"{function}.closed"}),
    )


def _key(x: float, y: float) -> Markup:
    """What the position marks mean."""
    return el(
        "g",
        {"class": "legend"},
        el("rect", {"class": "position-closed", "x": x, "y": y - 13, "width": 8, "height": 26}),
        label(x + 14.0, y + 5.0, "closed", "small"),
        el("rect", {"class": "position-box", "x": x, "y": y + 27, "width": 8, "height": 26}),
        label(x + 14.0, y + 45.0, "open", "small"),
    )


def _share(desk: DrawingContext, function: Function) -> Markup | None:
    """How far an annular or a ram has closed, beside it while it moves: its stroke on the sheet is easily missed."""
    moving = flow_of(desk, function)
    if moving is None or function.kind == "connector":
        return None
    text = {"class": "value", "x": WIDTH / 2 + 16.0, "y": 5, "data-text": f"{function.id}.position"}
    return el("g", {"class": "stroke-share", "data-flow": moving}, el("text", text, "–"))


def _cut(function: Function, pitch: float) -> Markup:
    """The gap in the pipe where a ram has cut it, once it has."""
    h = pitch * 0.45
    return el(
        "g",
        {"class": "cut", "data-state": f"{CUT}{function.id}"},
        el("rect", {"class": "cut-gap", "x": -6.5, "y": -h, "width": 13, "height": 2 * h}),
        el("path", {"class": "cut-edge", "d": f"M-6 {shorten(-h)}l4 5l4 -4l4 4M-6 {shorten(h)}l4 -5l4 4l4 -4"}),
    )


def gate(desk: DrawingContext, function: Function) -> Markup:
    """A choke or kill valve: its gate stands above the line while open and drops across it to close."""
    moving = position_of(desk, function)
    return part(
        desk,
        function.id,
        function.name,
        moving or f"{function.id}.valve",
        el("path", {"class": "sym-body", "d": "M-11 -7L11 7V-7L-11 7Z"}),
        el(
            "g",
            {"data-shift": moving, "data-dx": 0 if moving else None, "data-dy": 9 if moving else None},
            el("rect", {"class": "mover", "x": -2.5, "y": -15, "width": 5, "height": 12}),
        ),
    )


def _branches(desk: DrawingContext, x: float, y: float, pitch: float, up: float) -> list[Markup]:
    """Choke and kill lines from the bore, through inner and outer valve, up to the surface at ``up``."""
    drawn: list[Markup] = []
    for order, line in enumerate(("kill", "choke")):
        riser = x + WIDTH / 2 + 66.0 + order * 20.0
        lowest = None
        for level in ("upper", "lower"):
            valves = [v for v in desk.rig.line_valves(line) if level in v.id] or (
                list(desk.rig.line_valves(line)) if level == "upper" else []
            )
            if not valves:
                continue
            at_y = y + pitch * (outlet_row(desk.rig, valves[0]) + 1) + (-8.5 if line == "kill" else 8.5)
            lowest = at_y
            drawn.append(pipe([(x + BORE, at_y), (riser, at_y)], css=f"mudline mudline-{line}"))
            for place, valve in enumerate(valves[:2]):
                drawn.append(at(x + WIDTH / 2 + 18.0 + place * 34.0, at_y, gate(desk, valve)))
        if lowest is not None:
            drawn.append(pipe([(riser, lowest), (riser, up)], css=f"mudline mudline-{line}"))
            name_y = up - 6.0 if order else up + 14.0
            drawn.append(
                el("text", {"class": "label small end", "x": riser + (18.0 if order else -6.0), "y": name_y}, line)
            )
    return drawn


def _well(desk: DrawingContext, x: float, top: float, bottom: float) -> Markup:
    """Casing, shoe, open hole, drill pipe and bit, with the influx rising from the bottom by its volume."""
    shoe = top + (bottom - top) * 0.55
    deep = bottom - 20.0 - top
    gas = "well.influx_volume"
    influx = None
    if desk.has(gas):
        influx = el(
            "rect",
            {
                "class": "gas",
                "x": x - 24,
                "y": bottom,
                "width": 48,
                "height": 0,
                "data-fill": gas,
                "data-full": (bottom - shoe),
                "data-bottom": bottom,
            },
        )
    return part(
        desk,
        "well",
        desk.rig.well_name or "Well",
        "well.pit_gain",
        el("path", {"class": "ground", "d": f"M{x - 50:g} {top:g}h100v{bottom + 14 - top:g}h-100Z"}),
        el("rect", {"class": "mud", "x": x - 20, "y": top, "width": 40, "height": shoe - top}),
        el("rect", {"class": "mud", "x": x - 24, "y": shoe, "width": 48, "height": bottom - shoe}),
        influx,
        el("path", {"class": "casing", "d": f"M{x - 20:g} {top:g}V{shoe:g}l-8 8M{x + 20:g} {top:g}V{shoe:g}l8 8"}),
        el(
            "path",
            {
                "class": "drillpipe",
                "d": f"M{x - 5:g} {top:g}v{deep:g}l-7 15h24l-7 -15v{-deep:g}Z",
            },
        ),
    )


def _surface(desk: DrawingContext, x: float, floor: float, sea: float) -> Markup:
    """Rotary table, riser down to the stack, and the mud pit at the end of the flow line."""
    left, top = x + 106.0, floor + 36.0
    pit = part(
        desk,
        "pit",
        "Mud pit",
        "well.pit_volume",
        el("rect", {"class": "sym-body-plain", "x": left, "y": top, "width": 62, "height": 40}),
        el(
            "rect",
            {
                "class": "mud",
                "x": left,
                "y": top + 20,
                "width": 62,
                "height": 20,
                "data-fill": "well.pit_volume" if desk.has("well.pit_volume") else None,
                "data-full": 40,
                "data-bottom": top + 40,
            },
        ),
        el("path", {"class": "sym-wall", "d": f"M{left:g} {top:g}V{top + 40:g}H{left + 62:g}V{top:g}"}),
    )
    return join(
        el("rect", {"class": "mimic-bore", "x": x - BORE, "y": floor, "width": 2 * BORE, "height": sea - floor}),
        el(
            "path", {"class": "table", "d": f"M{x - 50:g} {floor - 9:g}h37v9h-37zM{x + BORE:g} {floor - 9:g}h37v9h-37z"}
        ),
        pit,
        label(
            x - BORE - 8,
            floor + (82 if desk.rig.subsea else 96),
            "riser" if desk.rig.subsea else "bell nipple",
            "small end",
        ),
    )


def stack_and_well(desk: DrawingContext, x: float, y: float, pitch: float, floor: float, bottom: float) -> Markup:
    """Floor, riser, the whole column from ``y`` downwards, choke and kill lines, and the well down to ``bottom``."""
    column = desk.rig.column()
    end = y + pitch * len(column)
    pipe_string = el("rect", {"class": "mimic-pipe", "x": x - 5, "y": 2, "width": 10, "height": end + 2})
    return el(
        "g",
        {"class": "stack-view"},
        _surface(desk, x, floor, y),
        _branches(desk, x, y, pitch, floor + 104),
        _well(desk, x, end, bottom),
        _key(x + WIDTH / 2, end + 60.0) if any(position_of(desk, function) for function in column) else None,
        pipe_string,
        [at(x, y + pitch * (i + 0.5), element(desk, f, pitch - 8.0)) for i, f in enumerate(column)],
        el("rect", {"class": "mimic-pipe", "x": x - 5, "y": y, "width": 10, "height": end - y}),
        [
            at(x, y + pitch * (i + 0.5), _cut(f, pitch))
            for i, f in enumerate(column)
            if f.kind == "shear_ram" and position_of(desk, f)
        ],
    )
