"""Who is in the roster: places of this process, and those that another process over the same records serves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from trainer import resources
from trainer.classroom.place import ClassSeat
from trainer.console.reading import Reading
from trainer.plant.rig import PlantError
from trainer.simulator import Session, build


@dataclass
class Place:
    """A seat with its public number, and the page that looks at it now."""

    number: str
    seat: ClassSeat
    page: object | None = None
    left_at: float | None = None
    """When its page went away, by a clock that nobody sets; None while it is looked at."""

    @property
    def name(self) -> str:
        """Who sits here."""
        return self.seat.who.name if self.seat.who else f"Guest {self.number[:4]}"

    @property
    def run(self) -> Session | None:
        """The run at this place."""
        return self.seat.run

    @property
    def plant(self) -> str:
        """The plant that is run here; empty for none."""
        return self.seat.plant if self.run is not None else ""

    @property
    def machine(self) -> Any:
        """The plant's catalogues; None for none."""
        return self.run.machine if self.run is not None else None

    @property
    def away(self) -> bool:
        """Whether nobody looks at this place now."""
        return self.page is None

    @property
    def watch(self) -> str:
        """Where this console is watched."""
        return f"watch?seat={self.number}"


@dataclass(frozen=True)
class FarPlace:
    """A place at another process, as that one tells of it."""

    member: str
    number: str
    name: str
    plant: str
    away: bool
    row: Mapping[str, Reading]
    """What the roster shows of it."""
    about: Mapping[str, Reading] = field(default_factory=dict)
    """What the boards about it show, told while somebody has chosen it."""
    card: Mapping[str, object] = field(default_factory=dict)
    """How its run stands at a glance, told while somebody looks at the whole class."""
    crew: Mapping[str, str] = field(default_factory=dict)
    """Of a crew that can be joined: its drill, who is there, the free stations, its class; empty for any other."""

    @property
    def machine(self) -> Any:
        """The plant's catalogues; None for none, or one that is not known here."""
        return catalogue(self.plant) if self.plant else None

    @property
    def watch(self) -> str:
        """Where this console is watched: the web server before both leads there."""
        return f"/at/{self.member}/watch?seat={self.number}"


def catalogue(plant: str) -> Any:
    """A machine of this plant as its file is now, for what it has rather than for what it does; None for none."""
    path = resources.own_plants() / f"{plant}.toml"
    try:
        written = path.stat()
    except OSError:
        return _catalogue(plant, ())
    # A rig of one's own may be saved anew at any time, here or by another process.
    return _catalogue(plant, (written.st_mtime_ns, written.st_size, written.st_ino))


@lru_cache(maxsize=8)
def _catalogue(plant: str, written: tuple[int, ...]) -> Any:
    """The same; ``written`` tells one state of the file from another."""
    try:
        return build(plant)
    except (PlantError, ValueError):
        return None


AnyPlace = Place | FarPlace


def merged(here: list[Place], far: list[FarPlace]) -> list[AnyPlace]:
    """One roster by name. A run that moved to another process is shown where somebody looks at it."""
    away = {place.number for place in here if place.away}
    elsewhere = {place.number: place for place in far if not place.away}
    shown: list[AnyPlace] = [place for place in here if not (place.away and place.number in elsewhere)]
    numbers = {place.number for place in here}
    shown += [place for place in far if place.number not in numbers or (place.number in away and not place.away)]
    return sorted(shown, key=lambda place: (place.name.casefold(), place.number))
