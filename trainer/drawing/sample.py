"""Readings of a plant at rest, with some values changed, for previews, prints and drawing tests.

The live page gets its readings from the presenter; these have the same parts.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from trainer.hydraulics.catalogue import Signal
from trainer.hydraulics.machine import Machine
from trainer.units import System, display_unit, from_unit, show, symbol, to_unit

Changes = Mapping[str, float | str]


def _state_reading(signal: Signal, word: str) -> dict[str, Any]:
    at = signal.states.index(word)
    share = at / max(1, len(signal.states) - 1)
    return {"text": word, "state": word, "fraction": share, "title": f"{signal.meaning}: {word}"}


def _number_reading(signal: Signal, value: float, system: System) -> dict[str, Any]:
    share = (value - signal.low) / (signal.high - signal.low) if signal.high > signal.low else 0.0
    state = "normal"
    if signal.normal is not None:
        state = "low" if value < signal.normal[0] else "high" if value > signal.normal[1] else "normal"
    level = {"normal": "live"}.get(state, state) if value > 0.02 * signal.high else "dead"
    moving = abs(value) > 0.002 * signal.high
    text = show(from_unit(value, signal.unit), signal.unit, system)
    return {
        "text": text,
        "unit": display_unit(signal.unit, system),
        "symbol": symbol(display_unit(signal.unit, system)),
        "state": state,
        "fraction": min(1.0, max(0.0, share)),
        "level": level,
        "flow": ("forward" if value > 0.0 else "back") if moving else "none",
        "title": f"{signal.meaning}: {text}",
    }


def sample_readings(
    machine: Machine, system: System = "field", changed: Changes | None = None
) -> dict[str, dict[str, Any]]:
    """A reading for every signal of ``machine``; ``changed`` gives values in field units or words of a state."""
    readings: dict[str, dict[str, Any]] = {}
    for tag, signal in machine.signals.items():
        now: float | str = (changed or {}).get(tag, "")
        if signal.unit == "state":
            word = str(now) or signal.states[int(machine.read(tag) + 0.5)]
            readings[tag] = _state_reading(signal, word)
        else:
            value = to_unit(machine.read(tag), signal.unit) if isinstance(now, str) else float(now)
            readings[tag] = _number_reading(signal, value, system)
    return readings
