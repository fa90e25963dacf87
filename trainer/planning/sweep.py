"""The same rig under other conditions: deeper, colder, older, or with equipment out of service."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trainer.drawing.markup import Markup, el
from trainer.planning.rules import outcome_of
from trainer.planning.sizing import computed
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


@dataclass(frozen=True, slots=True)
class Case:
    """One condition and the plant under it."""

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
    """Every condition of the sweep that the rig can be in."""
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


def plot(found: Sequence[tuple[str, Left]], system: System = "field") -> Markup:
    """Pressure over precharge in each case as bars, with the least that the rule asks for as a line."""
    return _bars([(name, got.over) for name, got in found], LEAST_OVER, system)


def _bars(found: Sequence[tuple[str, float]], need: float, system: System) -> Markup:
    values = [value for _, value in found] + [0.0, need]
    low, high = min(values), max(values)
    room = max(high - low, 1.0)

    def x(value: float) -> float:
        return 400.0 + 360.0 * (value - low) / room

    text = {"font-size": 13, "fill": "currentColor", "font-family": "sans-serif"}
    shapes: list[Markup] = []
    for n, (name, value) in enumerate(found):
        y = 6.0 + 24.0 * n
        start, end = sorted((x(0.0), x(value)))
        fill = "#2b6cb0" if value >= need else "#b4551a"
        shapes.append(el("text", {**text, "x": 4, "y": y + 14}, name))
        shapes.append(el("rect", {"x": f"{start:.1f}", "y": y, "width": f"{max(end - start, 1.0):.1f}", "height": 16,
                                  "fill": fill}))  # fmt: skip
        shapes.append(el("text", {**text, "x": 772, "y": y + 14}, show(value, "psi", system)))
    foot = 6.0 + 24.0 * len(found)
    shapes.append(el("line", {"x1": x(need), "x2": x(need), "y1": 2, "y2": foot, "stroke": "currentColor",
                              "stroke-dasharray": "5 4"}))  # fmt: skip
    shapes.append(el("text", {**text, "x": x(need), "y": foot + 16, "text-anchor": "middle"},
                     f"required {show(need, 'psi', system)}"))  # fmt: skip
    label = "Pressure over precharge after the reserve sequence under other conditions"
    return el("svg", {"viewBox": f"0 0 860 {foot + 24:g}", "role": "img", "aria-label": label, "width": "100%",
                      "xmlns": "http://www.w3.org/2000/svg"}, shapes)  # fmt: skip
