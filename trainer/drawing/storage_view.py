"""The header with its banks, and the pilot supply that branches from it: filter, check valve, bottles, regulator."""

from __future__ import annotations

from trainer.drawing import symbols as sym
from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Child, Markup, join
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import cut_off, knot, pipe
from trainer.drawing.sheet import FILTERED, HEADER_END, MAIN, PILOT, moves, of
from trainer.drawing.symbols import at
from trainer.plant.accumulators import Bank
from trainer.units import from_unit


def fluid_height(desk: DrawingContext, bank: Bank) -> float:
    """How high the bottle's drawing fills when its reading is at the end of its range, which exceeds the bottles."""
    tag = f"{bank.id}.fluid"
    if not desk.has(tag):
        return sym.BOTTLE
    shown = from_unit(desk.signals[tag].high, desk.signals[tag].unit)
    return sym.BOTTLE * shown / (bank.bottles * bank.bottle_volume)


def _bank(desk: DrawingContext, bank: Bank, x: float, size: float, drop: float) -> Markup:
    """One bank hanging from the header: header valve where there are two headers, shut-off, bleed, bottle.

    Among many banks its name is its last word, and its pressure stands ``drop`` lower.
    """
    tight = size < 0.7
    title = bank.name.rsplit(" ", 1)[-1] if tight else bank.name.replace("Accumulator bank", "Bank")
    header = of(desk, "accumulator.pressure")
    own = of(desk, f"{bank.id}.pressure") or header
    held, bled = of(desk, f"{bank.id}.isolation"), of(desk, f"{bank.id}.bleed")
    fluid = of(desk, f"{bank.id}.fluid")
    half = bank.header
    joined = of(desk, f"header_{half}.isolation")
    shut = part(desk, f"{bank.id}.isolation", f"{bank.name}: shut-off valve", held, sym.shut_off(held))
    bleed = part(desk, f"{bank.id}.bleed", f"{bank.name}: bleed valve", bled, sym.shut_off(bled), at(24, 0, sym.vent()))
    drawn: list[Child] = [
        knot(x, MAIN),
        pipe([(x, MAIN), (x, 504)], header),
        cut_off(held, pipe([(x, 504), (x, 546)], own)),
        at(x, 504, shut, turn=90, scale=0.62),
        pipe([(x, 530), (x + 34 * size, 530)], own, thin=True),
        at(x + 34 * size, 530, bleed, scale=0.6),
        at(x, 590, part(desk, bank.id, bank.name, own, sym.accumulator(fluid, fluid_height(desk, bank))), turn=180),
        label(x, 656, title, "middle"),
        label(x, 676, f"{bank.bottles}{'' if tight else ' bottles'}", "middle small"),
        value(desk, x, 698 + drop, f"{bank.id}.pressure", "middle"),
    ]
    if joined:
        valve = part(desk, joined, f"Header {half.upper()} isolation valve", joined, sym.shut_off(joined))
        drawn.append(at(x, 454, valve, turn=90, scale=0.62))
    return join(drawn)


def banks(desk: DrawingContext) -> Markup:
    """The header, its gauge, and every main bank with its valves, from the top of the sheet down."""
    found = desk.rig.surface_banks
    header = of(desk, "accumulator.pressure")
    step = min(112.0, (HEADER_END - FILTERED - 30.0) / max(1, len(found)))
    size = min(1.0, step / 84.0)
    places = [FILTERED + 52.0 + step * i for i in range(len(found))]
    given = of(desk, "totaliser.flow") or moves(desk, desk.rig.functions)
    drawn: list[Child] = [pipe([(FILTERED, MAIN), (HEADER_END, MAIN)], header, given), knot(FILTERED, MAIN)]
    crossing = of(desk, "header.crossover")
    halves = {b.header: x for b, x in zip(reversed(found), reversed(places), strict=True)}
    if crossing and len(halves) > 1:
        left, right = min(halves.values()), max(halves.values())
        valve = part(desk, "header.crossover", "Header cross-over valve", crossing, sym.shut_off(crossing))
        drawn += [
            pipe([(left, 480), (right, 480)], header, thin=True),
            at((left + right) / 2.0, 480, valve, scale=0.62),
        ]
    drops = [18.0 if step < 80.0 and i % 2 else 0.0 for i in range(len(found))]
    drawn += [_bank(desk, b, x, size, drop) for b, x, drop in zip(found, places, drops, strict=True)]
    gauge = part(desk, "accumulator", "Accumulator header pressure", header, sym.pressure_gauge(header))
    drawn += [
        pipe([(586, MAIN), (586, 362)], header, thin=True),
        at(586, 336, gauge),
        label(586, 290, "Header", "middle"),
        value(desk, 586, 310, "accumulator.pressure", "middle"),
    ]
    return join(drawn)


def pilot_supply(desk: DrawingContext) -> Markup | None:
    """From the header up: pilot filter, check valve, bottles, regulator, and the pilot valves; none without pods."""
    rig = desk.rig
    x = HEADER_END - 44.0
    own, header = of(desk, "pilot.pressure"), of(desk, "accumulator.pressure")
    if own is None:
        return None  # direct hydraulics: the levers' fluid goes to the pistons itself
    before = of(desk, *(f"{b.id}.pressure" for b in rig.pilot_banks)) or own
    check = part(desk, "pilot_check", "Pilot supply check valve", own, sym.check_valve())
    valves = part(desk, "pilot_valves", "Pilot valves of the functions, at the unit", own, sym.four_way(None))
    drawn: list[Child] = [
        knot(x, MAIN),
        pipe([(x, MAIN), (x, 318)], header, css="to-pilot"),
        at(x, 296, check, turn=-90),
        pipe([(x, 274), (x, PILOT)], before),
        pipe([(x, PILOT), (868, PILOT)], own),
        at(896, PILOT, valves),
        label(900, PILOT - 22, "Pilot valves", "middle"),
        value(desk, 884, PILOT + 34, "pilot.pressure", "end"),
        label(778, PILOT + 34, "Pilot", "end"),
    ]
    for item in rig.pilot_filters[:1]:
        element = part(desk, item.id, item.name, f"{item.id}.dp", sym.filter_element())
        drawn += [at(x, 378, element, turn=-90, scale=0.8), label(x - 20, 384, item.name, "small end")]
    for regulator in rig.pilot_regulators[:1]:
        body = part(desk, regulator.id, regulator.name, f"{regulator.id}.readback", sym.regulator())
        drawn += [at(804, PILOT, body, scale=0.8), label(800, PILOT - 40, "Pilot regulator", "middle small")]
    for i, bank in enumerate(rig.pilot_banks):
        bx = x - 60.0 - 70.0 * i
        bottles = part(
            desk,
            bank.id,
            bank.name,
            f"{bank.id}.pressure",
            sym.accumulator(of(desk, f"{bank.id}.fluid"), fluid_height(desk, bank)),
        )
        drawn += [
            pipe([(x, PILOT), (bx, PILOT), (bx, 160)], before),
            at(bx, 112, bottles),
            label(bx, 64, bank.name, "middle"),
        ]
    return join(drawn)
