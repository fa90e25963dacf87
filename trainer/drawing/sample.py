"""Sample signals and readings for previews and drawing tests, made from the parts of a rig.

Only the drawings' own preview and tests use them: a live page takes the plant's catalogue.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from trainer.drawing.rig_view import RigView
from trainer.plant.catalogue import Signal
from trainer.units import System, from_unit, show

_ALARM: Final = ("normal", "unacknowledged", "acknowledged", "returned")
_OFF_ON: Final = ("off", "on")
_HAND: Final = ("shut", "open")

# tag: unit, low, high, normal band, sample value
_FIXED: Final[dict[str, tuple[str, float, float, tuple[float, float] | None, float]]] = {
    "tank.level": ("%", 0, 100, (40, 95), 82),
    "tank.volume": ("gal", 0, 700, None, 574),
    "tank.concentrate": ("gal", 0, 150, (30, 150), 120),
    "tank.glycol": ("gal", 0, 150, None, 96),
    "supply.pressure": ("psi", 0, 5000, (2600, 3100), 2910),
    "accumulator.pressure": ("psi", 0, 5000, (2600, 3100), 2885),
    "pilot.pressure": ("psi", 0, 5000, (2600, 3100), 2870),
    "totaliser.count": ("gal", 0, 999.9, None, 17.2),
    "totaliser.flow": ("gpm", 0, 300, None, 0.0),
    "air.pressure": ("psi", 0, 200, (95, 130), 118),
    "battery.volts": ("V", 0, 150, (115, 140), 127.4),
    "battery.amps": ("A", 0, 30, None, 8.0),
    "well.flow_out": ("gpm", 0, 1500, None, 352),
    "well.flow_in": ("gpm", 0, 1500, None, 344),
    "well.pit_volume": ("bbl", 0, 1000, None, 604.3),
    "well.pit_gain": ("bbl", -10, 40, (-2, 2), 4.3),
    "well.standpipe": ("psi", 0, 5000, None, 2640),
    "well.drillpipe_pressure": ("psi", 0, 2000, None, 310),
    "well.casing_pressure": ("psi", 0, 2000, None, 455),
    "well.bit_depth": ("ft", 0, 12000, None, 10790),
    "floor.rotary": ("rpm", 0, 200, None, 110),
    "floor.mud_pumps": ("1/min", 0, 120, None, 70),
    "floor.hook": ("ft", 0, 100, None, 6),
    "floor.choke": ("%", 0, 100, None, 0),
    "trip_tank.volume": ("bbl", 0, 50, None, 24.8),
}
_STATES: Final[dict[str, tuple[tuple[str, ...], str]]] = {
    "tank.low": (("no", "yes"), "no"),
    "power.ac": (_OFF_ON, "on"),
    "panel.power": (_OFF_ON, "on"),
    "driller.enable": (_OFF_ON, "off"),
    "floor.safety_valve": (_HAND, "open"),
    "alarm.low_accumulator": (_ALARM, "normal"),
    "alarm.low_pilot": (_ALARM, "normal"),
    "alarm.low_air": (_ALARM, "normal"),
    "alarm.low_tank": (_ALARM, "normal"),
    "alarm.power_loss": (_ALARM, "normal"),
}


def _state(tag: str, states: tuple[str, ...]) -> Signal:
    return Signal(tag, "state", 0.0, float(len(states) - 1), tag, ("driller",), None, states)


def _values(rig: RigView) -> tuple[dict[str, Signal], dict[str, float | str]]:
    signals: dict[str, Signal] = {}
    values: dict[str, float | str] = {}

    def number(
        tag: str, unit: str, low: float, high: float, normal: tuple[float, float] | None, value: float
    ) -> None:
        signals[tag] = Signal(tag, unit, low, high, tag, ("driller",), normal)
        values[tag] = value

    def state(tag: str, states: tuple[str, ...], value: str) -> None:
        signals[tag] = _state(tag, states)
        values[tag] = value

    for tag, row in _FIXED.items():
        number(tag, *row)
    for tag, (states, value) in _STATES.items():
        state(tag, states, value)
    for pump in rig.pumps:
        state(f"{pump.id}.running", _OFF_ON, "on" if pump.id.endswith("x_1") else "off")
        state(f"{pump.id}.mode", ("off", "auto", "manual"), "auto")
        number(f"{pump.id}.flow", "gpm", 0, 30, None, 14 if pump.id.endswith("x_1") else 0)
    for item in rig.filters:
        number(f"{item.id}.dp", "psi", 0, 60, (0, 15), 6)
        state(f"{item.id}.isolation", _HAND, "open" if item.get("in_use", True) else "shut")
    for bank in rig.banks:
        number(f"{bank.id}.pressure", "psi", 0, 5000, (2600, 3100), 2880)
        state(f"{bank.id}.isolation", _HAND, "open")
        state(f"{bank.id}.bleed", _HAND, "shut")
    for regulator in rig.regulators:
        high = 2000 if "annular" in regulator.id else 3500
        at = 900 if "annular" in regulator.id else 1500
        for which in ("pilot", "readback"):
            number(f"{regulator.id}.{which}", "psi", 0, high, (at * 0.93, at * 1.07), at - 12)
        state(f"{regulator.id}.authority", ("unit", "remote"), "remote")
    if rig.pods:
        state("pod_selector.position", ("block", "yellow", "blue"), "yellow")
    for f in rig.functions:
        shut = f.id == "upper_annular" or f.kind in ("connector", "failsafe_valve")
        at_position = "close" if shut else "open"
        state(f"{f.id}.valve", ("block", "open", "close"), at_position)
        for lamp in ("open", "block", "close"):
            state(f"{f.id}.lamp_{lamp}", _OFF_ON, "on" if lamp == at_position else "off")
        number(f"{f.id}.position", "%", 0, 100, None, 100 if shut else 0)
        for side in ("close", "open"):
            number(f"{f.id}.{side}_pressure", "psi", 0, 5000, None, 1490 if side == at_position else 0)
    return signals, values


def sample_signals(rig: RigView) -> dict[str, Signal]:
    """A catalogue with the tags a plant of these parts has."""
    return _values(rig)[0]


def _reading(signal: Signal, value: float | str, system: System) -> dict[str, Any]:
    if isinstance(value, str):
        number = float(signal.states.index(value))
        share = number / max(1.0, signal.high)
        return {"text": value, "state": value, "number": number, "fraction": share, "level": "dead", "flow": "none"}
    share = min(1.0, max(0.0, (value - signal.low) / (signal.high - signal.low)))
    level = "dead"
    if signal.unit == "psi" and value > 50.0:
        level = "high" if signal.normal and value > signal.normal[1] else "live"
        level = "low" if signal.normal and value < signal.normal[0] else level
    flowing = "none" if abs(value) < 0.05 else ("forward" if value > 0.0 else "back")
    text = show(from_unit(value, signal.unit), signal.unit, system)
    return {"text": text, "state": "", "number": value, "fraction": share, "level": level, "flow": flowing, "title": f"{signal.tag}: {text}"}


def sample_readings(
    rig: RigView, system: System = "field", changed: Mapping[str, float | str] | None = None
) -> dict[str, dict[str, Any]]:
    """Readings as the presenter writes them, with some values ``changed`` (in field units)."""
    signals, values = _values(rig)
    values.update({k: v for k, v in (changed or {}).items() if k in signals})
    return {tag: _reading(signals[tag], value, system) for tag, value in values.items()}
