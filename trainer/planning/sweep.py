"""The same rig under other conditions: deeper, colder, older, or with equipment out of service."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trainer.drawing.markup import Markup, el
from trainer.planning.rules import outcome_of
from trainer.planning.sizing import Recharge, computed
from trainer.planning.work import lowest, mains, weather
from trainer.plant.rig import Plant
from trainer.units import System, from_unit, show

DEPTHS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)
"""Water depths as multiples of the rig's own."""
COLD, WARM = -20.0, 20.0
"""Weather below and above the plant file's, K."""
COLDEST = from_unit(-20.0, "degF")
"""The coldest weather that a plant file takes."""
WARMER = (0.0, 10.0, 20.0, 30.0)
"""K above the plant file's weather, tried in turn where the limits are not kept in it."""
NEAR = 0.5
AGED = 0.10
"""Share of its precharge that an old bank has lost (assumption)."""
LEAST_OVER = from_unit(200.0, "psi")
LEAST_SHARE = 1.5
"""Limits that a case is held against: Devereux, p. 328; Crumpton, p. 174."""
ALL_PUMPS, SOME_LOST = from_unit(15.0, "min"), from_unit(30.0, "min")
"""Longest recharge with all pumps, and with some lost: API Standard 53, 4th ed., 6.3.5, by public restatements."""


@dataclass(frozen=True, slots=True)
class Case:
    """One condition of the sweep by its name, and the plant as it would be under it."""

    name: str
    plant: Plant


@dataclass(frozen=True, slots=True)
class Left:
    """What is left in a case: pressure over precharge (Pa) and usable fluid over closing volume."""

    over: float
    share: float


def at_depth(plant: Plant, depth: float, stack_precharge: bool = True) -> Plant:
    """The rig in another depth of water (m), its stack bottles precharged for it, its umbilical long enough."""
    deeper = plant.model_copy(update={"water_depth": depth})
    for kept in ("head", "sea"):
        deeper.__dict__.pop(kept, None)  # a copy takes along what was worked out for the old depth
    more = deeper.head - plant.head
    banks = tuple(
        b.model_copy(update={"precharge": b.precharge + more}) if stack_precharge and b.place == "stack" else b
        for b in plant.bank
    )
    return deeper.model_copy(update={"bank": banks})


def cases(plant: Plant) -> list[Case]:
    """Every condition of the sweep that the rig can be in, the plant as filed first."""
    found = [Case("As filed", plant)]
    if plant.subsea:
        for factor in DEPTHS:
            if factor != 1.0:
                depth = plant.water_depth * factor
                found.append(Case(f"Water depth {show(depth, 'ft')}, stack bottles precharged for it",
                                  at_depth(plant, depth)))  # fmt: skip
        found.append(Case("Twice the water depth, same precharge in the stack bottles",
                          at_depth(plant, 2.0 * plant.water_depth, stack_precharge=False)))  # fmt: skip
    found += [Case(f"Weather {by:+.0f} K", weather(plant, by)) for by in (COLD, WARM)]
    old = tuple(b.model_copy(update={"precharge": b.precharge * (1.0 - AGED)}) for b in plant.bank)
    found.append(Case(f"Every precharge {AGED:.0%} low", plant.model_copy(update={"bank": old})))
    for bank in mains(plant):
        rest = tuple(b for b in plant.bank if b.id != bank.id)
        if any(b.place == "surface" for b in rest):
            found.append(Case(f"{bank.name} out of service", plant.model_copy(update={"bank": rest})))
    return found


def swept(plant: Plant) -> list[tuple[str, Left]]:
    """Every case's name and what is left in it after the reserve sequence.

    Pressure over precharge is counted from the filed precharge, or from the case's own where that is higher: bottles
    that have lost gas are not the better for it.
    """
    filed = lowest(plant)
    return [(case.name, _left(case.plant, filed)) for case in cases(plant)] + [coldest(plant)]


def _left(plant: Plant, filed: float) -> Left:
    figures = computed(plant, engine=False, low=max(filed, lowest(plant))).figures
    return Left(figures["pressure_over_precharge"], figures["usable_to_closing"])


def coldest(plant: Plant) -> tuple[str, Left]:
    """The coldest weather in which both limits are still kept, to ``NEAR`` K, and what is left in it."""
    filed = lowest(plant)

    def at(by: float) -> tuple[bool, Left]:
        left = _left(weather(plant, by), filed)
        return left.over >= LEAST_OVER and left.share >= LEAST_SHARE, left

    warm = next((by for by in WARMER if at(by)[0]), None)
    if warm is None:
        return "In no weather are both limits kept; here as filed", at(0.0)[1]
    cold = COLDEST - plant.surface_temperature if warm == 0.0 else WARMER[WARMER.index(warm) - 1]
    kept, left = at(cold)
    if kept:
        return f"The coldest weather taken, {show(COLDEST, 'degF')}: both limits are kept", left
    while warm - cold > NEAR:
        middle = 0.5 * (warm + cold)
        warm, cold = (middle, cold) if at(middle)[0] else (warm, middle)
    return f"Coldest weather in which both limits are kept: {show(plant.surface_temperature + warm, 'degF')}", at(warm)[
        1
    ]


HEAD = ("Condition", "Over precharge", "Usable over closing", "Result of the two")
TOLD = (
    "The same rig elsewhere, colder, older, or with something out of service: pressure over the filed precharge after "
    "the reserve sequence at its pace, of which 200 psi are asked, and usable fluid over closing volume (real gas, "
    "drawn fast), of which 1.5 is asked. Not the other rules. Not shown: met by less than the uncertainty."
)


def rows(
    found: Sequence[tuple[str, Left]], doubts: Mapping[str, float], system: System = "field"
) -> list[tuple[str, str, str, str]]:
    """A row a case under ``HEAD``: condition, pressure over precharge, usable over closing volume, and the worse result
    of the two. ``doubts``: by how much both may be off, as for the rig as filed."""
    return [(name, show(got.over, "psi", system), f"{got.share:.2f}", _result(got, doubts)) for name, got in found]


def _result(got: Left, doubts: Mapping[str, float]) -> str:
    both = (
        outcome_of(got.over - LEAST_OVER, doubts.get("pressure_over_precharge", 0.0)),
        outcome_of(got.share - LEAST_SHARE, doubts.get("usable_to_closing", 0.0)),
    )
    return next((word for word in ("NOT MET", "not shown") if word in both), "met")


PUMPS_HEAD = ("Pumps", "Charged in", "Allowed", "Result")
PUMPS_TOLD = (
    "Time to charge the main bottles from precharge to working pressure. 15 min are allowed with all pumps, 30 min "
    "with one power source lost, which one pump out is held against too."
)


def pump_rows(found: Sequence[Recharge], doubts: Mapping[str, float]) -> list[tuple[str, str, str, str]]:
    """A row for each choice of pumps under ``PUMPS_HEAD``. ``doubts``: by how much a recharge with all may be off; the
    others by the same share."""
    share = doubts.get("recharge_time", 0.0) / found[0].seconds if math.isfinite(found[0].seconds) else 0.0
    return [
        (
            _named(one),
            show(one.seconds, "min") if math.isfinite(one.seconds) else "never",
            show(_allowed(one), "min"),
            outcome_of(_allowed(one) - one.seconds, share * one.seconds if math.isfinite(one.seconds) else 0.0),
        )
        for one in found
    ]


def _named(one: Recharge) -> str:
    return one.pumps[:1].upper() + one.pumps[1:]


def _allowed(one: Recharge) -> float:
    return ALL_PUMPS if one.lost == "none" else SOME_LOST


COLORS = {"met": "#2b6cb0", "not shown": "#7b8794", "NOT MET": "#b4551a"}
"""Of a bar, by result."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of a picture: its name, its length (any one unit), its figure as text, and the result of its row."""

    name: str
    value: float
    told: str
    result: str


@dataclass(frozen=True, slots=True)
class Picture:
    """Bars with limits, each a value and its words; all values of one picture in the same unit."""

    label: str
    bars: Sequence[Bar]
    limits: Sequence[tuple[float, str]]

    @property
    def span(self) -> tuple[float, float]:
        """The lowest and the highest value that it shows; zero is always between them."""
        values = [bar.value for bar in self.bars] + [0.0, *(at for at, _ in self.limits)]
        return min(values), max(values)


def pressure_picture(
    found: Sequence[tuple[str, Left]], doubts: Mapping[str, float], system: System = "field"
) -> Picture:
    """Pressure over precharge in each case, with the least that the rule asks for."""
    bars = [Bar(name, got.over, show(got.over, "psi", system), _result(got, doubts)) for name, got in found]
    label = "Pressure over precharge after the reserve sequence under other conditions"
    return Picture(label, bars, [(LEAST_OVER, f"required {show(LEAST_OVER, 'psi', system)}")])


def pump_picture(found: Sequence[Recharge], doubts: Mapping[str, float]) -> Picture:
    """The time of each recharge, with the longest that is allowed; one without end as long as the picture."""
    longest = max([2.0 * SOME_LOST, *(one.seconds for one in found if math.isfinite(one.seconds))])
    bars = []
    for one, (name, told, _, result) in zip(found, pump_rows(found, doubts), strict=True):
        bars.append(Bar(name, min(one.seconds, longest), told, result))
    limits = [(ALL_PUMPS, f"all: {show(ALL_PUMPS, 'min')}"), (SOME_LOST, f"some lost: {show(SOME_LOST, 'min')}")]
    return Picture("Time to charge from precharge to working pressure, by pumps", bars, limits)


def plot(picture: Picture) -> Markup:
    """A picture as SVG, each bar in the color of its result, with the limits as lines across."""
    low, high = picture.span
    room = max(high - low, 1e-9)

    def x(value: float) -> float:
        return 400.0 + 360.0 * (value - low) / room

    text = {"font-size": 13, "fill": "currentColor", "font-family": "sans-serif"}
    shapes: list[Markup] = []
    for n, bar in enumerate(picture.bars):
        y = 6.0 + 24.0 * n
        start, end = sorted((x(0.0), x(bar.value)))
        shapes.append(el("text", {**text, "x": 4, "y": y + 14}, bar.name))
        shapes.append(el("rect", {"x": f"{start:.1f}", "y": y, "width": f"{max(end - start, 1.0):.1f}", "height": 16,
                                  "fill": COLORS[bar.result]}))  # fmt: skip
        shapes.append(el("text", {**text, "x": 772, "y": y + 14}, bar.told))
    foot = 6.0 + 24.0 * len(picture.bars)
    for at, told in picture.limits:
        shapes.append(el("line", {"x1": f"{x(at):.1f}", "x2": f"{x(at):.1f}", "y1": 2, "y2": foot,
                                  "stroke": "currentColor", "stroke-dasharray": "5 4"}))  # fmt: skip
        shapes.append(el("text", {**text, "x": f"{x(at):.1f}", "y": foot + 16, "text-anchor": "middle"}, told))
    return el("svg", {"viewBox": f"0 0 860 {foot + 24:g}", "role": "img", "aria-label": picture.label, "width": "100%",
                      "xmlns": "http://www.w3.org/2000/svg"}, shapes)  # fmt: skip
