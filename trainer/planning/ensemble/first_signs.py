"""Which instrument tells a drill's fault first: each plant beside its twin on which the fault does not happen."""

from __future__ import annotations

from typing import Any

import numpy as np

from trainer.hydraulics.catalogue import Signal
from trainer.planning.ensemble.answers import percentile
from trainer.planning.ensemble.block import Block, Healthy
from trainer.planning.ensemble.order import Order, drill_faults
from trainer.planning.ensemble.shares import interval
from trainer.units import UNITS

# Invented: how many plants are looked at at most, and the share of its range by which a reading tells.
PLANTS = 100
TELLING = 0.03
EVERY = 5


def first_signs(order: Order, plants: int = PLANTS) -> list[dict[str, Any]]:
    """Readings at a station in the order in which they leave the healthy twin's, by 3 % of their range.

    Each row: tag, meaning, where it is shown, on what share of the plants it showed before the drill's end, and the
    median time since the fault began, s. Empty when the drill brings no fault. A discrete reading tells by any change.
    """
    faulty, twin = Block(order, 0, plants), Block(order, 0, plants, Healthy)
    machine = faulty.columns.mould
    faults = [machine.index[f"fault.{name}"] for name in sorted(drill_faults(faulty.prepared.drill))]
    if not faults:
        return []
    shown = [signal for signal in machine.signals.values() if signal.station]
    rows = np.array([machine.index[signal.tag] for signal in shown])
    limits = np.array([_limit(signal) for signal in shown])[:, None]
    began = np.full(plants, np.inf)
    told = np.full((len(shown), plants), np.inf)
    commands = order.script()
    states = [block.columns.state[:, :plants] for block in (faulty, twin)]
    done = other = 0
    while not (faulty.finished or twin.finished):
        done, other = faulty.step(commands, done), twin.step(commands, other)
        if faulty.scans % EVERY:
            continue
        apart = np.abs(states[0][faults] - states[1][faults]).max(axis=0) > 0.0
        began[apart & np.isinf(began)] = faulty.time
        off = np.abs(states[0][rows] - states[1][rows]) > limits
        told[off & np.isinf(told)] = faulty.time
    found = []
    for signal, times in zip(shown, told, strict=True):
        seen = np.isfinite(times) & np.isfinite(began)
        if seen.any():
            found.append(
                {
                    "tag": signal.tag,
                    "meaning": signal.meaning,
                    "station": list(signal.station),
                    "share": round(float(seen.mean()), 3),
                    "interval": interval(float(seen.mean()), plants),
                    "after_s": round(percentile((times - began)[seen].tolist(), 0.5), 1),
                }
            )
    return sorted(found, key=lambda row: (row["share"] < 0.5, row["after_s"], row["tag"]))


def _limit(signal: Signal) -> float:
    """How far a reading must be off to be noticed, SI: 3 % of its range, or half a state."""
    if signal.unit == "state":
        return 0.5
    return float(TELLING * (signal.high - signal.low) * UNITS[signal.unit].factor)
