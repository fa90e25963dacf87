"""What a plant lets people read and do: signals, operables and faults, and what a command does when it is given."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from trainer.hydraulics.refusal import Refusal


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


def own_power(station: str, signals: Mapping[str, Signal]) -> str:
    """The reading that tells whether a further panel has its supply; an empty string where there is no such panel."""
    return next((tag for tag, s in signals.items() if s.station[:1] == (station,) and tag.endswith(".power")), "")


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


class Order(Protocol):
    """A command as a plant takes it: ``value`` in the target's field unit or one of its words, ``from_`` a station."""

    @property
    def do(self) -> str: ...

    @property
    def target(self) -> str: ...

    @property
    def value(self) -> float | str | None: ...

    @property
    def from_(self) -> str: ...


class Variables(Protocol):
    """The variables of a running plant, SI, by their names: all that a command's effect may touch."""

    @property
    def index(self) -> Mapping[str, int]:
        """The variables that there are, each with its place in the plant's state."""

    def read(self, tag: str) -> float:
        """A variable's value in SI, as it stands after the last scan; KeyError for none of that name."""

    def put(self, name: str, value: float) -> None:
        """Set a variable, SI; the next scan goes on from it. KeyError for none of that name."""


Effect = Callable[[Variables, Order], Refusal | None]
"""Carries a command out: None, or why it is refused."""
