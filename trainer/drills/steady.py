"""Whether instruments stand still: what moves is not read yet."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from trainer import units
from trainer.constants import HAIR
from trainer.drills.binding import Value
from trainer.drills.prepare import Prepared
from trainer.drills.readings import UNITS_OFF, History

OVER: Final = 4.0
"""An instrument that has not moved for so long stands, s; invented."""
YOUNG: Final = 1.0
"""After so long an instrument that has not moved at all since the run began stands too, s; invented."""
SHARE: Final = 0.02
"""Part of its reading by which it may move meanwhile, beside what a dial is read to; invented."""


class Steady:
    """Looks at the instruments of a drill's readings, and knows which of them still move.

    ``strict`` gives, by tag, how far an instrument may move (SI) in how many seconds where a criterion says it.
    """

    def __init__(
        self, prepared: Prepared, read: Callable[[str], float], strict: Mapping[str, tuple[Value, float]]
    ) -> None:
        self._read, self._strict = read, strict
        signals = prepared.catalogue.signals
        tags = dict.fromkeys(reading.tag for reading in prepared.drill.reading if reading.tag)
        self._unit = {tag: signals[tag].unit for tag in tags if signals[tag].unit != "state"}
        self._seen = {tag: History() for tag in self._unit}
        self._since: float | None = None

    def look(self, t: float) -> None:
        """Take what the instruments show at ``t`` s of the run: later it is asked whether they stood still."""
        if self._since is None:
            self._since = t
        for tag, seen in self._seen.items():
            if t >= seen.due - HAIR:
                seen.keep(t, self._read(tag))

    def moving(self, tags: Iterable[str], t: float) -> list[str]:
        """Those of the instruments that still move, as far as that is known yet."""
        return [tag for tag in dict.fromkeys(tags) if tag in self._unit and not self._stands(tag, t)]

    def _stands(self, tag: str, t: float) -> bool:
        now = self._read(tag)
        if tag in self._strict:
            most, over = self._strict[tag]
            room = most()
        else:
            unit = self._unit[tag]
            two, over = units.from_unit(UNITS_OFF, unit) - units.from_unit(0.0, unit), OVER
            room = max(two, SHARE * abs(now))
        moved, looked = self._seen[tag].change(t, now, over), 0.0 if self._since is None else t - self._since
        # What has not moved at all since the run began is not called moving only because the run is young.
        return moved < room if looked >= over else looked >= YOUNG and moved == 0.0
