"""The seats of a classroom: which run belongs to which browser tab, and who is looking at it now."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from functools import lru_cache

from trainer import resources
from trainer.console.boards import Boards
from trainer.console.own import OwnFile
from trainer.console.seat import Seat
from trainer.drills import library
from trainer.drills.schema import Drill, DrillError
from trainer.planning.suited import unfit
from trainer.plant.rig import Plant, PlantError, parse_plant
from trainer.simulator import Session

log = logging.getLogger("trainer.classroom")

#: A class with spare room: the seat left longest is given up when another is needed.
MOST_SEATS = 200


class Rooms:
    """Seats by token. A seat is driven by one page at a time: the one that took it last."""

    def __init__(self, make: Callable[[], Seat] | None = None) -> None:
        self._make = make if make is not None else shipped_seat
        self._seats: dict[str, Seat] = {}
        self._pages: dict[int, object] = {}

    def take(self, token: str, page: object) -> Seat:
        """The seat of this tab, a new one if it has none; from now on ``page`` drives it."""
        seat = self._seats.pop(token, None)
        if seat is None:
            self._make_room()
            seat = self._make()
        self._seats[token] = seat  # moved to the end: taken most recently
        self._pages[id(seat)] = page
        return seat

    def holds(self, seat: Seat, page: object) -> bool:
        """Whether ``page`` is the one that drives ``seat``."""
        return self._pages.get(id(seat)) is page

    def leave(self, seat: Seat, page: object) -> None:
        """The page is gone; the seat stays for when it comes back."""
        if self.holds(seat, page):
            del self._pages[id(seat)]

    def _make_room(self) -> None:
        if len(self._seats) < MOST_SEATS:
            return
        for token, seat in self._seats.items():
            if id(seat) not in self._pages:
                del self._seats[token]
                return


def shipped_seat() -> Seat:
    """A seat over the drills there are."""
    return Seat(_start, drills_now(), _BOARDS)


def drills_now(known: Mapping[str, Drill] | None = None) -> dict[str, Drill]:
    """The drills by id: the shipped ones, as in ``known`` where they stand there, and those that staff brought in.

    A file that is wrong is left out, and the log says why.
    """
    own = {path.stem for path in library.files(resources.own_drills())}
    drills: dict[str, Drill] = {}
    for name, path in sorted(library.every_file().items()):
        if known is not None and name in known and name not in own:
            drills[name] = known[name]
            continue
        try:
            drills[name] = library.load_file(path)
        except DrillError as error:
            log.warning("left out: %s", error)
    return drills


@lru_cache(maxsize=64)
def _fitted(content: bytes, name: str) -> tuple[Plant, dict[str, str]]:
    """The plant of a file, and the drills that cannot start on it."""
    plant = parse_plant(content, name)
    return plant, unfit(plant)


def fitted_plants() -> list[OwnFile]:
    """The plants fitted to one's own rigs, by title; one with faults tells them and cannot be chosen."""
    found = []
    for path in sorted(resources.own_plants().glob("*.toml")):
        try:
            plant, left = _fitted(path.read_bytes(), path.name)
        except (OSError, PlantError) as error:
            found.append(OwnFile(path.name, "plant", path.stem, faults=tuple(str(error).splitlines()[:3])))
            continue
        found.append(OwnFile(path.name, "plant", plant.title, plant.base, unfit=left))
    return found


_BOARDS = Boards()


def _start(drill: str | None, plant: str | None, seed: int, mode: str) -> Session:
    return Session.start(drill, plant=plant, seed=seed, mode=mode)
