"""How one signal is shown: the number in the chosen units, its place on a dial, its state as a word."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Protocol

from trainer import units
from trainer.constants import HAIR
from trainer.hydraulics.catalogue import Signal

Reading = dict[str, Any]


class Readable(Protocol):
    """What can be read by its tags: a compiled plant, or what stands in for one."""

    @property
    def signals(self) -> Mapping[str, Signal]: ...

    def read(self, tag: str) -> float: ...


#: A dial or bar moves in steps of this share of its range: finer is below one pixel and only costs messages.
DIAL_STEPS = 500
#: Below this share of the range a line counts as dead, and a flow as none.
DEAD_SHARE = 0.02
STILL_SHARE = 0.002
#: Of half a step so much counts as surely inside, and an edge is so wide; beyond so many steps nothing is sure.
NEAR = 0.4999
MOST_STEPS = 1e9


def reader(signal: Signal, kinds: Iterable[str], system: units.System) -> Callable[[float], Reading]:
    """A function that turns a value of ``signal`` (SI) into the reading that boards show.

    Only the parts named in ``kinds`` (see ``bindings.KINDS``) are made. Parts: ``text`` (number and
    unit, or the state's word), ``unit`` and ``symbol``, ``fraction`` (0 to 1 over the signal's range), ``state``
    (the state's word, or low / normal / high against the normal band), ``flow`` (forward / back / none), ``level``
    (dead / low / live / high) and ``title`` (a sentence for hover and screen readers).
    """
    wanted = frozenset(kinds)
    if signal.unit == "state":
        return _state_reader(signal, wanted)
    return _number_reader(signal, wanted, system)


def _state_reader(signal: Signal, wanted: frozenset[str]) -> Callable[[float], Reading]:
    last = len(signal.states) - 1
    count = max(last, 1)
    dial = bool(wanted & {"needle", "fill", "shift"})

    def read(value: float) -> Reading:
        at = int(value + 0.5)
        word = signal.states[at] if 0 <= at <= last else str(at)
        reading: Reading = {"state": word}
        if "text" in wanted:
            reading["text"] = word
        if "title" in wanted:
            reading["title"] = f"{signal.meaning}: {word}"
        if dial:
            reading["fraction"] = at / count
        return reading

    return read


def _number_reader(signal: Signal, wanted: frozenset[str], system: units.System) -> Callable[[float], Reading]:
    low = units.from_unit(signal.low, signal.unit)
    span = units.from_unit(signal.high, signal.unit) - low
    band = None
    if signal.normal is not None:
        band = tuple(units.from_unit(end, signal.unit) for end in signal.normal)
    shown = units.display_unit(signal.unit, system)
    dial = bool(wanted & {"needle", "fill", "shift"})
    name = signal.meaning.rstrip(".")
    symbol = units.symbol(shown)
    said = units.shower(signal.unit, system) if wanted & {"text", "title"} else None

    def read(value: float) -> Reading:
        reading: Reading = {}
        text = _with_minus(said(value)) if said else ""
        share = (value - low) / span if span else 0.0
        if "text" in wanted:
            reading["text"] = text
        if "unit" in wanted:
            reading["unit"] = shown
            reading["symbol"] = symbol
        if dial:
            reading["fraction"] = round(min(max(share, 0.0), 1.0) * DIAL_STEPS) / DIAL_STEPS
        if "state" in wanted:
            reading["state"] = _against(band, value)
        if "title" in wanted:
            reading["title"] = f"{name}: {text}"
        if "flow" in wanted:
            reading["flow"] = _flow(value / span if span else value)
        if "pressure" in wanted:
            # Counted from no pressure, not from the low end: a line's range may reach below zero.
            reading["level"] = "dead" if value < DEAD_SHARE * span else _LEVELS[_against(band, value)]
        return reading

    return read


def cell(signal: Signal, kinds: Iterable[str], system: units.System) -> Callable[[float], tuple[float, float]]:
    """A function that says of a value between which others around it the reading is the same for certain.

    To compare with two numbers is quicker than to print a third, and most of what changes does not change a digit.
    """
    wanted = frozenset(kinds)
    if signal.unit == "state":
        return lambda value: (int(value + 0.5) - 0.5, int(value + 0.5) + 0.5)
    grids: list[tuple[float, float]] = []
    if wanted & {"text", "title"}:
        step, zero = units.print_step(signal.unit, system)
        grids.append((zero, step))
    low = units.from_unit(signal.low, signal.unit)
    span = units.from_unit(signal.high, signal.unit) - low
    if wanted & {"needle", "fill", "shift"} and span:
        grids.append((low, span / DIAL_STEPS))
    edges = [-STILL_SHARE * (span or 1.0), STILL_SHARE * (span or 1.0)] if "flow" in wanted else []
    if "pressure" in wanted:
        edges.append(DEAD_SHARE * span)
    if wanted & {"state", "pressure"} and signal.normal is not None:
        edges += [units.from_unit(end, signal.unit) for end in signal.normal]

    def around(value: float) -> tuple[float, float]:
        least, most = -math.inf, math.inf
        for zero, step in grids:
            place = round((value - zero) / step)
            if abs(place) > MOST_STEPS:
                return value, value
            # Rounding may put the edge of a step a hair elsewhere: that near to it the reading is made anew.
            least, most = max(least, zero + (place - NEAR) * step), min(most, zero + (place + NEAR) * step)
        for edge in edges:
            if edge - HAIR * abs(edge) <= value <= edge + HAIR * abs(edge):
                return value, value
            if edge < value:
                least = max(least, edge + HAIR * abs(edge))
            else:
                most = min(most, edge - HAIR * abs(edge))
        # So near to the edge of a step that rounding has put it outside: made anew as well.
        return (least, most) if least <= value <= most else (value, value)

    return around


_LEVELS = {"low": "low", "normal": "live", "high": "high"}


def _against(band: tuple[float, ...] | None, value: float) -> str:
    if band is None:
        return "normal"
    return "low" if value < band[0] else "high" if value > band[1] else "normal"


def _with_minus(text: str) -> str:
    """A printed number with a minus in front of it where it has a hyphen."""
    return f"−{text[1:]}" if text.startswith("-") else text


def _flow(share: float) -> str:
    return "none" if abs(share) < STILL_SHARE else "forward" if share > 0 else "back"
