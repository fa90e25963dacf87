"""Measures that the pieces of the schematic share: 1680 by 850 units, the main supply line running left to right."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.plant.functions import Function

W: Final = 1680.0
H: Final = 850.0
MAIN: Final = 430.0  # height of the main supply line
SUCTION: Final = 196.0
DISCHARGE: Final = 384.0
FILTERED: Final = 560.0
HEADER_END: Final = 790.0
PILOT: Final = 176.0  # height of the pilot line
SEA: Final = 948.0  # left edge of the sea floor
VALVES: Final = 1240.0
STACK: Final = 1510.0
STACK_TOP: Final = 146.0
FLOOR: Final = 24.0  # the rotary table
DIVERTER_FEED: Final = 34.0  # height at which the diverter's bus is fed
RETURN: Final = VALVES - 39.0  # the line that brings used fluid back to the tank of a surface stack


def rows(count: int, pitch: float, room: float) -> list[float]:
    """Heights of ``count`` rows about the main line, no farther apart than ``pitch``, within ``room``."""
    step = min(pitch, room / max(1, count))
    first = MAIN - step * (count - 1) / 2.0
    return [first + step * i for i in range(count)]


def of(desk: DrawingContext, *tags: str) -> str | None:
    """The first of the readings that the plant has, or nothing to bind."""
    return next((tag for tag in tags if desk.has(tag)), None)


def readback(desk: DrawingContext, supply: str) -> str | None:
    """The read-back that tells the pressure of a supply; of the header itself for what no regulator feeds."""
    if supply == "supply":
        return of(desk, "accumulator.pressure")
    found = [r for r in desk.rig.regulators if r.serves == supply]
    return of(desk, f"{found[0].id}.readback") if found else None


FLOW: Final = "page.flow:"  # before a function's id: the way its piston goes
MOVES: Final = "page.moves:"  # before functions' ids: whether any of them is on its way
CUT: Final = "page.cut:"  # before a shear ram's id: whether it has cut the pipe
POD_VALVE: Final = "page.pod_valve:"  # before ``function.pod``: where the valve of that pod stands
RUNS: Final = "page.runs:"  # before readings of flow or of a filter's drop: whether any of them tells a flow


def flow_of(desk: DrawingContext, function: Function) -> str | None:
    """The key that tells which way a function's fluid goes; nothing where the drawing may not tell."""
    return f"{FLOW}{function.id}" if desk.has(f"{function.id}.position") else None


def moves(desk: DrawingContext, functions: Iterable[Function]) -> str | None:
    """The key that tells whether any of the functions takes fluid; nothing where the drawing may not tell."""
    known = [f.id for f in functions if desk.has(f"{f.id}.position")]
    return MOVES + ",".join(known) if known else None


def runs(desk: DrawingContext, *tags: str) -> str | None:
    """The key that tells whether fluid runs by any of these readings; nothing where the drawing may not tell."""
    known = [tag for tag in tags if desk.has(tag)]
    return RUNS + ",".join(known) if known else None


def drawn_by(desk: DrawingContext, supply: str) -> str | None:
    """The key that tells whether a supply of the stack gives fluid."""
    return moves(desk, (f for f in desk.rig.functions if f.supply == supply))


def bus(desk: DrawingContext, supply: str) -> float:
    """Where the upright bus of a supply stands, left of the function valves."""
    order = [r.serves for r in desk.rig.power_regulators]
    return VALVES - 46.0 - 13.0 * (order.index(supply) if supply in order else 0)


def feeds(desk: DrawingContext) -> dict[str, float]:
    """At what height of the sheet each bus is fed, by the supply, in units of the sheet."""
    found = desk.rig.power_regulators
    step = (52.0 if len(found) <= 2 else 42.0) if desk.rig.pods else min(120.0, 480.0 / max(1, len(found)))
    return {r.serves: MAIN + (k - (len(found) - 1) / 2.0) * step for k, r in enumerate(found)}
