"""What a crew sees and works with: the same crews drive the engine and the page.

A crew reads through ``Instruments`` and acts through a ``Desk``. At the engine (``AtTheEngine``) a tag is shown only
where an instrument of the plant stands at a station that the crew can look at, faulty values included; at the page
(``tests/browser/hands.py``) it is what stands on the screen. Both give a reading as printed, so no crew sees more
decimals than a person, and both refuse anything else with ``UnseenError``.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from contextvars import ContextVar
from typing import Any, Protocol

from trainer import units
from trainer.hydraulics.catalogue import Signal
from trainer.naming import STATIONS
from trainer.session.walking import place_of
from trainer.simulator import Session


class UnseenError(AssertionError):
    """Somebody looked for what no instrument shows where they stand."""


class Instruments(Protocol):
    """What can be looked at."""

    @property
    def time(self) -> float:
        """The run's clock, s."""
        ...

    @property
    def told(self) -> Sequence[str]:
        """What was said to the crew so far: the situation first, then every call."""
        ...

    @property
    def over(self) -> bool:
        """Whether the run has ended."""
        ...

    def shown(self, tag: str) -> float:
        """What an instrument shows, in its field unit, or which of its states; UnseenError where there is none."""
        ...


class Desk(Instruments, Protocol):
    """Instruments, and hands on what stands beside them."""

    def do(self, do: str, target: str, value: Any, at: str) -> str | None:
        """Work something at a station; the refusal as told, or None."""
        ...

    def hoist(self, way: str, so: Callable[[], bool]) -> None:
        """Hold the hoist's lever up or down until it is so."""
        ...

    def go(self, station: str) -> None:
        """Walk to a station and arrive there."""
        ...

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        ...

    def until(self, so: Callable[[], bool], limit: float, pace: float) -> bool:
        """Wait until it is so, at most ``limit`` s; ``pace`` is the quickest at which it can still be watched."""
        ...

    def finish(self) -> None:
        """Nothing more is done until the run ends."""
        ...

    @property
    def sheet(self) -> dict[str, Any]:
        """The score sheet."""
        ...


def as_printed(value: float, signal: Signal) -> float:
    """A reading (SI) as an instrument prints it: a number in the field unit, or the place of its state."""
    if signal.unit == "state":
        return float(int(value + 0.5))
    return read_number(units.number(value, signal.unit))


def read_number(text: str) -> float:
    """The number that a printed reading begins with; UnseenError for a dash."""
    digits = text.split()[0].rstrip("%°") if text.split() else ""
    try:
        return float(digits.replace(",", "").replace("−", "-"))
    except ValueError:
        raise UnseenError(f"no number can be read off {text!r}") from None


class AtTheEngine:
    """A desk on a session: an instrument of the plant's catalogue stands at one station or more, or nobody sees it."""

    def __init__(
        self, drill: str, seed: int = 0, mode: str = "check", stations: Sequence[str] = tuple(STATIONS)
    ) -> None:
        self.session = Session.start(drill, seed=seed, mode=mode)
        self.stations = stations
        self.looked: set[str] = set()
        """What was looked at so far."""

    @property
    def time(self) -> float:
        return self.session.time

    @property
    def told(self) -> Sequence[str]:
        return [text for _, text in self.session.referee.messages]

    @property
    def over(self) -> bool:
        return self.session.finished

    def shown(self, tag: str) -> float:
        machine, walking = self.session.machine, self.session.walking
        signal = machine.signals.get(tag)
        if signal is None:
            raise UnseenError(f"there is no instrument {tag!r} on this plant")
        at = {place_of(station) for station in signal.station if station in self.stations}
        if not at:
            where = f"only at {', '.join(signal.station)}" if signal.station else "nowhere"
            raise UnseenError(f"{tag} is shown {where}")
        if walking is not None:
            if walking.left(self.session.tick) > 0:
                raise UnseenError(f"{tag} cannot be seen on the way to {walking.station}")
            if place_of(walking.station) not in at:
                raise UnseenError(f"{tag} is shown at {', '.join(sorted(at))}, and the crew is at {walking.station}")
        self.looked.add(tag)
        return as_printed(machine.read(tag), signal)

    def do(self, do: str, target: str, value: Any, at: str) -> str | None:
        refusal: str | None = self.session.submit({"do": do, "target": target, "value": value, "from": at})
        return refusal

    def hoist(self, way: str, so: Callable[[], bool]) -> None:
        self.do("set", "floor.hoist", way, "floor")
        self.until(so, 120.0)
        self.do("set", "floor.hoist", "stop", "floor")

    def go(self, station: str) -> None:
        self.do("go", station, None, "driller")
        assert self.session.walking is not None
        self.wait(self.session.walking.left(self.session.tick))

    def wait(self, seconds: float) -> None:
        self.session.advance(seconds)

    def until(self, so: Callable[[], bool], limit: float, pace: float = 20.0) -> bool:
        end = self.session.time + limit
        while not so() and self.session.time < end and not self.session.finished:
            self.session.advance(0.1)
        return so()

    def finish(self) -> None:
        self.session.advance_to(4 * 3600.0)

    @property
    def sheet(self) -> dict[str, Any]:
        return self.session.sheet()


_DESK: ContextVar[Callable[[str, int, str], Desk]] = ContextVar("desk", default=AtTheEngine)


def desk(drill: str, seed: int, mode: str) -> Desk:
    """The desk at which crews work now: the engine, unless ``working_at`` says otherwise."""
    return _DESK.get()(drill, seed, mode)


@contextlib.contextmanager
def working_at(made: Callable[[str, int, str], Desk]) -> Iterator[None]:
    """Crews that start in here work at the desk that ``made`` gives for drill, seed and mode."""
    before = _DESK.set(made)
    try:
        yield
    finally:
        _DESK.reset(before)
