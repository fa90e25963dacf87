"""One person alone on the rig: where they stand, and that walking to another station takes simulated time.

The driller's panel stands on the drill floor: those two are one place. The control unit, the toolpusher's panel and
further ones lie some way off, and every way leads past the driller's panel. Where somebody stands follows from the
log alone, so it needs no place in states and snapshots.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from trainer import naming
from trainer.constants import SCAN_HAIR, TICKS_PER_SCAN, TICKS_PER_SECOND
from trainer.hydraulics.refusal import Refusal
from trainer.session.commands import GO, OPERATE, Command

START: Final = "driller"
MANNED: Final = Refusal("manned", "each station has a crew member in this drill: no one needs to walk")
_SAME: Final = {"floor": "driller"}


def place_of(station: str) -> str:
    """The place where a station is: the drill floor and the driller's panel are one."""
    return _SAME.get(station, station)


class Walking:
    """Where the person is. ``ways`` gives seconds from the driller's panel to each of the others."""

    def __init__(self, ways: Mapping[str, float]) -> None:
        self._ways = dict(ways)
        self.reset()

    def reset(self) -> None:
        """Put the person back at the driller's panel, as at the start of a drill."""
        self.station = START
        self._arrival = 0

    def seconds(self, there: str) -> float:
        """How long the way to a station is from where the person stands, on foot, s."""
        a, b = place_of(self.station), place_of(there)
        return 0.0 if a == b else self._ways.get(a, 0.0) + self._ways.get(b, 0.0)

    def left(self, tick: int) -> float:
        """Seconds until the person arrives; 0 for one who stands at a station."""
        return max(0, self._arrival - tick) / TICKS_PER_SECOND

    def refuse_to_go(self, there: str, tick: int) -> Refusal | None:
        """Why the person cannot set out for a station now; None when they can."""
        known = [place for place in naming.STATIONS if place in self._ways or place_of(place) == START]
        if there not in known:
            return Refusal("no_station", f"there is no station {there!r} to go to ({', '.join(known)})")
        if self._arrival > tick:
            return self._on_the_way(tick)
        if place_of(there) == place_of(self.station):
            return Refusal("there_already", f"you are at {naming.station(there)} already")
        return None

    def refuse_hand(self, at: str, tick: int) -> Refusal | None:
        """Why the person cannot work something at a station now; None when they stand there."""
        if self._arrival > tick:
            return self._on_the_way(tick)
        if place_of(at) == place_of(self.station):
            return None
        way = f"{naming.station(at)} is {self.seconds(at):g} s away"
        return Refusal("elsewhere", f"you are at {naming.station(self.station)}; {way}: walk there first")

    def go(self, there: str, tick: int) -> None:
        """Set out for a station at this tick; the person is there once ``left`` is 0. ``refuse_to_go`` comes first."""
        scans = math.ceil(self.seconds(there) * TICKS_PER_SECOND / TICKS_PER_SCAN - SCAN_HAIR)
        self._arrival = tick + scans * TICKS_PER_SCAN
        self.station = there

    def _on_the_way(self, tick: int) -> Refusal:
        to_go = f"{math.ceil(self.left(tick))} s to go"
        return Refusal("on_the_way", f"you are on the way to {naming.station(self.station)}: {to_go}")


def refusal(walking: Walking | None, command: Command, tick: int) -> Refusal | None:
    """Why somebody cannot do this from where they stand; without ``walking`` every station is manned."""
    if walking is None:
        return MANNED if command.do == GO else None
    if command.do == GO:
        return walking.refuse_to_go(command.target, tick)
    return walking.refuse_hand(command.from_, tick) if command.do in OPERATE else None
