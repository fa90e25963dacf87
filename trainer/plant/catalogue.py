"""What a plant lets people read and do: signals, operables and fault kinds, as plain declarations."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Signal:
    """One reading of the plant.

    ``unit`` is the field unit (a key of ``trainer.units.UNITS``) or ``"state"`` for a discrete reading whose
    value indexes ``states``. ``low``, ``high`` and ``normal`` are in the field unit. ``station`` names where the
    reading can be seen; an empty tuple marks a true value that no instrument shows (used for scoring and debrief).
    """

    tag: str
    unit: str
    low: float
    high: float
    meaning: str
    station: tuple[str, ...] = ()
    normal: tuple[float, float] | None = None
    states: tuple[str, ...] = ()


POWER = "panel.power"
"""The reading that tells whether the panels have power."""


def on_panel_power(signal: Signal) -> bool:
    """Whether the panels' instrument for a reading lives on the panels' supply: dark when that is lost.

    The drill floor's instruments have a supply of their own. At the control unit gauges work by the fluid itself. What
    the panels' position lamps show is the plant's own affair: they go out there.
    """
    panel = "driller" in signal.station or "remote" in signal.station
    return panel and "floor" not in signal.station and ".lamp_" not in signal.tag


@dataclass(frozen=True, slots=True)
class Operable:
    """One thing a person can command: verb, target, the values it takes and the stations it is done from."""

    do: str
    target: str
    values: tuple[str, ...] | tuple[float, float] | None
    unit: str
    station: tuple[str, ...]
    meaning: str
    critical: bool = False


@dataclass(frozen=True, slots=True)
class Fault:
    """One way a component can fail.

    ``id`` is ``component.kind``; severity runs from 0 (healthy) to 1 (worst). ``shows`` lists the signals that
    reveal it, ``remedy`` is what the crew does about it.
    """

    id: str
    component: str
    kind: str
    title: str
    shows: tuple[str, ...]
    remedy: str
