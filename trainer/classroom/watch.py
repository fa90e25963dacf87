"""The watch over one run: what custody there is of it while it goes on, and after a crash again."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

from pydantic import ValidationError

from trainer.session.custody import Custody, Pause, Skip

MOST_PAUSES = 1000
WAITED = "waited before Begin"
"""Why the clock of a check stands that was started and not begun: its console can be read meanwhile."""
SHORTEST_WAIT_S = 1.0


class Watch:
    """Who started the run, how long it takes by the wall clock, its pauses and its end.

    Durations are taken from a clock that nobody sets (``clock``, seconds); dates from the wall clock.
    """

    def __init__(self, started_by: str = "", clock: Callable[[], float] = time.monotonic) -> None:
        self.started_by = started_by
        self.began = _now()
        self.pauses: list[Pause] = []
        self.skips: list[Skip] = []
        self.ending = self.ended = ""
        self.by_staff = False
        self._clock = clock
        self._since = clock()
        self._before = 0.0
        self._pause: tuple[float, float, str, str] | None = None

    @property
    def wall_s(self) -> float:
        """Seconds of the wall clock since the run began; stands still once it has ended."""
        return self._before + (0.0 if self.ended else max(self._clock() - self._since, 0.0))

    @property
    def standing(self) -> bool:
        """Whether a pause is under way at this moment, whoever made it."""
        return self._pause is not None

    @property
    def waiting(self) -> bool:
        """Whether the standstill under way is the wait before Begin, which is nobody's pause."""
        return self._pause is not None and self._pause[3] == WAITED

    def stands(self, t: float, by: str, reason: str) -> None:
        """The clock stands still from now on; the cause of one that stands already is kept."""
        if self._pause is None:
            self._pause = (t, self._clock(), by, reason)

    def goes_on(self) -> None:
        """End the pause under way and keep it with its length on the wall (s); nothing happens without one."""
        if self._pause is not None:
            t, since, by, reason = self._pause
            self._pause = None
            wall = max(self._clock() - since, 0.0)
            if reason != WAITED or wall >= SHORTEST_WAIT_S:
                self._add(Pause(t=t, wall_s=round(wall, 1), by=by, reason=reason))

    def skips_wait(self, wait: str, start: float, end: float) -> None:
        """A wait that the drill names was skipped up to ``end``, simulated s; told again while it goes on."""
        if self.skips and self.skips[-1].start == start:
            self.skips.pop()
        if len(self.skips) < MOST_PAUSES:
            self.skips.append(Skip(wait=wait[:300], start=start, end=max(end, start)))

    def ends(self, how: str, by_staff: bool = False) -> None:
        """The run is over; the first ending counts. ``by_staff``: an instructor or assessor ended it."""
        if not self.ended:
            self.by_staff = by_staff
            self.goes_on()
            self._before, self.ended, self.ending = self.wall_s, _now(), how

    def custody(self, rewinds: int = 0, interventions: Sequence[str] = ()) -> Custody:
        """What evidence says of how the run was looked after, up to now: who, pauses, skips, rewinds, interventions."""
        return Custody(
            started_by=self.started_by,
            began=self.began,
            ended=self.ended,
            ending=self.ending,
            wall_s=round(self.wall_s, 1),
            pauses=self.pauses,
            skips=self.skips,
            rewinds=rewinds,
            interventions=list(interventions)[:1000],
        )

    # A crash in between

    def record(self) -> dict[str, Any]:
        """What the journal keeps of it, as plain JSON data, with the pause under way and how long it has lasted (s)."""
        kept: dict[str, Any] = self.custody().model_dump()
        if self._pause is not None:
            kept["pause"] = [self._pause[0], self._clock() - self._pause[1], *self._pause[2:]]
        return kept

    @classmethod
    def taken_up(cls, record: dict[str, Any], t: float, away_s: float, cause: str) -> Watch:
        """The watch of a run whose server was away for so long, standing still since at ``t``; a new one for none."""
        watch = cls()
        try:
            kept = Custody.model_validate({key: value for key, value in record.items() if key != "pause"})
        except ValidationError:
            kept = Custody(started_by="", began=watch.began)
        watch.started_by, watch.began = kept.started_by, kept.began
        watch.pauses, watch.skips = list(kept.pauses), list(kept.skips)
        watch._before = kept.wall_s + max(away_s, 0.0)
        before = record.get("pause")
        if isinstance(before, list) and len(before) == 4:
            watch._pause = (
                float(before[0]),
                # A wait before Begin ends where the server went: from there on the standstill is the server's own.
                watch._clock() - float(before[1]) - (0.0 if before[3] == WAITED else away_s),
                str(before[2]),
                str(before[3]),
            )
        if watch.waiting:
            watch.goes_on()
        watch.stands(t, "the server", cause)
        return watch

    def _add(self, pause: Pause) -> None:
        if len(self.pauses) < MOST_PAUSES:
            self.pauses.append(pause)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
