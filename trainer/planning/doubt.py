"""How far a figure of the planning sheet may be off: everything it rests on moved by what that may be off.

Each quantity is moved up and down alone, the sheet is computed again, and half the differences are added as independent
(root of the sum of squares; JCGM 100:2008, GUM, 5.1.2). The half-widths are assumptions of common practice, said on
the sheet; a rig's own measured ones are better.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping

from trainer.planning.work import weather
from trainer.plant.rig import Plant

Change = Callable[[Plant, float], Plant]

PRECHARGE = 0.03
WEATHER = 10.0
VOLUME = 0.02
SWEPT = 0.03
RATE = 0.05
LOAD = 0.10
SHEAR = 0.10
"""Share by which the pressure that cuts a pipe may differ from the plant file's; a maker's shear test says it better.
Assumption."""
SWITCH = 0.01
"""Share of working pressure by which a pressure switch may be off. Common practice."""
RELIEF = 0.03
"""Share of its setting by which a relief valve may open early or late: ASME BPVC VIII-1, UG-134 (from memory)."""
STROKE = 0.15
"""Share by which a stroke of the real equipment may differ from the plant file's or the engine's."""


def _banks(plant: Plant, key: str, factor: float) -> Plant:
    banks = tuple(b.model_copy(update={key: getattr(b, key) * factor}) for b in plant.bank)
    own = plant.emergency
    kept = own.model_copy(update={key: getattr(own, key) * factor}) if own is not None else None
    return plant.model_copy(update={"bank": banks, "emergency": kept})


def _swept(plant: Plant, sign: float) -> Plant:
    by = 1.0 + sign * SWEPT
    found = tuple(
        f.model_copy(update={"close_volume": f.close_volume * by, "open_volume": f.open_volume * by})
        for f in plant.function
    )
    return plant.model_copy(update={"function": found})


def _rates(plant: Plant, sign: float) -> Plant:
    return plant.model_copy(
        update={"pump": tuple(p.model_copy(update={"rate": p.rate * (1.0 + sign * RATE)}) for p in plant.pump)}
    )


def _shear(plant: Plant, sign: float) -> Plant:
    by = 1.0 + sign * SHEAR
    cutters = tuple(f.model_copy(update={"shear_pressure": f.shear_pressure * by}) for f in plant.function)
    return plant.model_copy(update={"function": cutters})


def _load(plant: Plant, sign: float) -> Plant:
    load = plant.electrical.panel_load + sign * LOAD * plant.battery_load
    return plant.model_copy(update={"electrical": plant.electrical.model_copy(update={"panel_load": load})})


CHANGES: tuple[tuple[str, Change], ...] = (
    ("precharge of all bottles ±3 %", lambda plant, sign: _banks(plant, "precharge", 1.0 + sign * PRECHARGE)),
    ("weather ±10 K since the bottles were charged", lambda plant, sign: weather(plant, sign * WEATHER)),
    ("gas space of the bottles ±2 %", lambda plant, sign: _banks(plant, "bottle_volume", 1.0 + sign * VOLUME)),
    ("volumes of the functions ±3 %", _swept),
    ("pump rates ±5 %", _rates),
    ("pressure to cut pipe ±10 %", _shear),
    ("load of the panels ±10 %", _load),
)
BASIS = (
    "; ".join(what for what, _ in CHANGES) + "; strokes ±15 %; pressure "
    "switches ±1 % of working pressure; relief valves ±3 % of their setting (assumptions, common practice)"
)
_SET = {
    "primary_start": SWITCH, "primary_stop": SWITCH, "secondary_start": SWITCH, "secondary_stop": SWITCH,
    "relief_to_working": RELIEF,
}  # fmt: skip
_TIMES = ("ram_closing_time", "annular_closing_time", "unlatch_time", "deadman_time", "disconnect_time")


def doubts(
    plant: Plant, figures: Mapping[str, float], again: Callable[[Plant], Mapping[str, float]]
) -> dict[str, float]:
    """By how much each figure (SI, by quantity) may be off: set points by what their instruments may be off.

    ``again`` computes the figures of a changed plant.
    """
    squares = dict.fromkeys(figures, 0.0)
    for _, change in CHANGES:
        low, high = (again(change(plant, sign)) for sign in (-1.0, 1.0))
        for name, half in _halves(low, high):
            squares[name] = squares.get(name, 0.0) + half * half
    found = {name: math.sqrt(square) for name, square in squares.items()}
    found.update({name: STROKE * figures[name] for name in _TIMES if math.isfinite(figures.get(name, math.inf))})
    found.update({name: share * figures.get(name, 0.0) for name, share in _SET.items()})
    return found


def _halves(low: Mapping[str, float], high: Mapping[str, float]) -> Iterator[tuple[str, float]]:
    for name, value in low.items():
        other = high.get(name, value)
        if math.isfinite(value) and math.isfinite(other):
            yield name, 0.5 * abs(other - value)
