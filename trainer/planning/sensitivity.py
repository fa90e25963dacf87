"""What of a plant matters for its usable fluid: each quantity moved by what it may be off, all else left as it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trainer.drawing.markup import Markup, el
from trainer.planning import accumulators
from trainer.planning.work import lowest, mains, setting
from trainer.plant.rig import Plant
from trainer.units import show, to_unit

SHARE = 0.10
WEATHER = 15.0
"""Kelvin by which the weather is off."""


@dataclass(frozen=True, slots=True)
class Effect:
    """Usable fluid (m3, real gas drawn fast) with one quantity less and with it more."""

    what: str
    less: float
    more: float


def usable(plant: Plant, low: float, high: float, factor: float = 1.0, warmer: float = 0.0) -> float:
    """Usable fluid (m3) of main and stack bottles, real gas drawn fast; ``factor`` on precharges, ``warmer`` in K.

    The gas was charged at the plant's own temperature: a change of weather moves its pressure in the closed bottle.
    """
    total = 0.0
    for bank in mains(plant):
        head, temperature = setting(plant, bank)
        precharge = bank.precharge * factor
        if warmer and bank.place == "surface":
            precharge = accumulators.precharge_at(precharge, temperature, temperature + warmer)
            temperature += warmer
        least = max(low + head, precharge)
        most = max(high + head, least)
        total += accumulators.real_adiabatic(precharge, most, least, temperature) * bank.bottles * bank.bottle_volume
    return total


def effects(plant: Plant) -> tuple[float, tuple[Effect, ...]]:
    """Usable fluid as the plant stands (m3), and the effect of each quantity, the largest first."""
    high = plant.supply.working_pressure
    low = lowest(plant)

    def deeper(sign: float) -> float:
        moved = plant.model_copy(update={"water_depth": plant.water_depth * (1.0 + sign * SHARE)})
        moved.__dict__.pop("head", None)  # a copy takes along what was worked out for the old depth
        return usable(moved, low, high)

    def one_less(sign: float) -> float:
        banks = [b.model_copy(update={"bottles": max(b.bottles + round(sign), 1)}) for b in plant.bank]
        return usable(plant.model_copy(update={"bank": tuple(banks)}), low, high)

    ways: list[tuple[str, Callable[[float], float]]] = [
        ("Precharge of all bottles, 10 %", lambda sign: usable(plant, low, high, 1.0 + sign * SHARE)),
        ("Working pressure, 10 %", lambda sign: usable(plant, low, high * (1.0 + sign * SHARE))),
        ("Lowest pressure used, 10 %", lambda sign: usable(plant, low * (1.0 + sign * SHARE), high)),
        ("Weather at the unit, 15 K", lambda sign: usable(plant, low, high, 1.0, sign * WEATHER)),
        ("One bottle of each bank", one_less),
    ]
    if plant.subsea:
        ways.append(("Water depth with the same precharge, 10 %", deeper))
    base = usable(plant, low, high)
    found = [Effect(what, way(-1.0), way(1.0)) for what, way in ways]
    return base, tuple(sorted(found, key=lambda e: -max(abs(e.less - base), abs(e.more - base))))


def plot(plant: Plant, system: str = "field") -> Markup:
    """The effects as bars about the usable fluid as it is, largest on top."""
    base, found = effects(plant)
    values = [v for e in found for v in (e.less, e.more)] + [base]
    low, high = min(values), max(values)
    room = max(high - low, 1e-9)

    def x(value: float) -> float:
        return 330.0 + 380.0 * (value - low) / room

    def gallons(value: float) -> str:
        return show(value, "gal", "metric" if system == "metric" else "field")

    text = {"font-size": 13, "fill": "currentColor", "font-family": "sans-serif"}
    shapes: list[Markup] = []
    for n, effect in enumerate(found):
        y = 10.0 + 34.0 * n
        shapes.append(el("text", {**text, "x": 4, "y": y + 17}, effect.what))
        for value, colour, down in ((effect.less, "#b4551a", 0.0), (effect.more, "#2b6cb0", 12.0)):
            left, right = sorted((x(base), x(value)))
            box = {"x": f"{left:.1f}", "y": y + down, "width": f"{right - left:.1f}", "height": 11, "fill": colour}
            shapes.append(el("rect", box))
        told = f"{gallons(effect.less)} to {gallons(effect.more)}"
        shapes.append(el("text", {**text, "x": 722, "y": y + 17}, told))
    foot = 10.0 + 34.0 * len(found)
    shapes.append(el("line", {"x1": x(base), "x2": x(base), "y1": 4, "y2": foot, "stroke": "currentColor"}))
    shapes.append(
        el("text", {**text, "x": x(base), "y": foot + 16, "text-anchor": "middle"}, f"as it is: {gallons(base)}")
    )
    label = "Usable fluid when one thing is less (upper bar) or more (lower bar)"
    frame = {"viewBox": f"0 0 900 {foot + 24:g}", "role": "img", "aria-label": label, "width": "100%",
           "xmlns": "http://www.w3.org/2000/svg"}  # fmt: skip
    return el("svg", frame, shapes)


def lines(plant: Plant) -> list[str]:
    """The effects of each doubt on the usable volume for a terminal and for paper, in gallons."""
    base, found = effects(plant)
    told = []
    for effect in found:
        less, more = (to_unit(v - base, "gal") for v in (effect.less, effect.more))
        told.append(f"{effect.what}: less {less:+.1f} gal, more {more:+.1f} gal")
    return told
