"""The diverter on the schematic: its supply from the header, its four valves, and what they move under the rig floor.

It stands above the riser: packer round the pipe, the flow line to the pit, and an overboard line to each side.
"""

from __future__ import annotations

from trainer.drawing import symbols as sym
from trainer.drawing.context import DrawingContext
from trainer.drawing.function_view import listed_valve
from trainer.drawing.markup import Child, Markup, el, join
from trainer.drawing.mimic import element_shape
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import knot, pipe
from trainer.drawing.sheet import DIVERTER_FEED, FLOOR, MAIN, RETURN, STACK, VALVES, bus, drawn_by, of
from trainer.drawing.stack_view import BORE, gate, movers, position_of
from trainer.drawing.symbols import at
from trainer.plant.functions import Function

_FIRST = 20.0
_STEP = 23.0
_BRANCH = 636.0  # where the branch leaves the header
FLOW_LINE = FLOOR + 42.0
_SIDES = (("port", 84.0), ("starboard", 104.0))


def _supply(desk: DrawingContext, ys: list[float]) -> list[Child]:
    """From the header up and over to the diverter's own regulator and bus."""
    found = desk.rig.diverter_regulators
    header, gives = of(desk, "accumulator.pressure"), drawn_by(desk, "diverter")
    x = bus(desk, "diverter")
    if not found:
        return [pipe([(x, ys[0]), (x, MAIN)], header, css="to-diverter")]
    regulator = found[0]
    read = of(desk, f"{regulator.id}.readback")
    return [
        knot(_BRANCH, MAIN),
        pipe([(_BRANCH, MAIN), (_BRANCH, DIVERTER_FEED), (781, DIVERTER_FEED)], header, gives, "to-diverter", True),
        pipe([(819, DIVERTER_FEED), (x, DIVERTER_FEED)], read, gives, thin=True),
        knot(x, DIVERTER_FEED),
        at(800, DIVERTER_FEED, part(desk, regulator.id, regulator.name, read, sym.regulator()), scale=0.8),
        label(836, DIVERTER_FEED - 9, regulator.name, "small"),
        value(desk, 836, DIVERTER_FEED + 19, f"{regulator.id}.readback"),
        pipe([(x, ys[0]), (x, ys[-1])], read, thin=True),
    ]


def _packer(desk: DrawingContext, packer: Function) -> Markup:
    moving = position_of(desk, packer)
    return part(
        desk,
        packer.id,
        packer.name,
        moving or f"{packer.id}.valve",
        element_shape("annular", 96.0, 26.0),
        el("rect", {"class": "mimic-bore", "x": -BORE, "y": -16, "width": 2 * BORE, "height": 32}),
        movers("annular", 22.0, moving, recess=1.0),
        el("rect", {"class": "mimic-pipe", "x": -5, "y": -18, "width": 10, "height": 36}),
    )


def _gated(desk: DrawingContext, function: Function | None, y: float, reach: float, word: str) -> list[Child]:
    """A line from the bore to the right through its valve; an overboard line ends open, with its side named."""
    drawn: list[Child] = [pipe([(STACK + BORE, y), (reach, y)], css="mudline")]
    if function is not None:
        drawn.append(at(STACK + 44, y, gate(desk, function)))
    if word:
        drawn.append(el("path", {"class": "mud", "d": f"M{reach:g} {y - 6:g}l10 6l-10 6Z"}))
        drawn.append(label(reach + 13, y + 5, word, "small"))
    return drawn


def outlets(desk: DrawingContext) -> Markup:
    """Packer and outlets under the rig floor; the flow line alone where the plant has no diverter."""
    known = {f.id: f for f in desk.rig.diverter()}
    told = desk.rig.plant.diverter
    given = dict(packer=told.packer, flow_line=told.flow_line, port=told.port, starboard=told.starboard) if told else {}
    packer = known.get(given.get("packer", "")) or next(iter(desk.rig.functions_of("diverter_packer")), None)
    drawn: list[Child] = _gated(desk, known.get(given.get("flow_line", "")), FLOW_LINE, STACK + 106.0, "")
    for side, y in _SIDES:
        valve = known.get(given.get(side, ""))
        if valve is not None:
            drawn += _gated(desk, valve, y, STACK + 58.0, {"starboard": "stbd"}.get(side, side))
    if packer is not None:
        drawn.append(at(STACK, FLOOR + 22.0, _packer(desk, packer)))
        drawn.append(label(STACK + 52, FLOOR + 24.0, "Diverter", "small"))
    return join(drawn)


def diverter(desk: DrawingContext) -> Markup | None:
    """The diverter's regulator and control valves at the unit; nothing where the plant has no diverter."""
    functions = desk.rig.diverter()
    if not functions:
        return None
    step = min(_STEP, 92.0 / len(functions))
    rows = [(f, _FIRST + step * i) for i, f in enumerate(functions)]
    drawn: list[Child] = [_supply(desk, [y for _, y in rows])]
    if desk.rig.subsea:
        foot = rows[-1][1] + 12.0
        tank = part(desk, "vent", "Fluid of the diverter returns to the tank", None, sym.reservoir())
        drawn += [
            pipe([(RETURN, _FIRST + 6.0), (RETURN, foot)], css="pipe-return", thin=True),
            at(RETURN, foot, tank),
            label(RETURN + 18, foot + 14, "to tank", "small"),
        ]
    for function, y in rows:
        drawn.append(pipe([(VALVES - 24, y + 6.0), (RETURN, y + 6.0)], css="pipe-return", thin=True))
        drawn.append(listed_valve(desk, function, y, vents=False))
    return el("g", {"class": "diverter-view"}, drawn)
