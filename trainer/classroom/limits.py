"""How often somebody may try: a bucket of tries for each caller that fills again with time."""

from __future__ import annotations

import time
from collections.abc import Callable

MOST_CALLERS = 10_000


class Limit:
    """``count`` tries at once, and ``count`` more every ``per`` seconds, for each caller by name."""

    def __init__(self, count: float, per: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.count = float(count)
        self.per = per
        self._clock = clock
        self._left: dict[str, tuple[float, float]] = {}

    def _now(self, caller: str) -> float:
        left, at = self._left.get(caller, (self.count, self._clock()))
        return min(self.count, left + (self._clock() - at) * self.count / self.per)

    def spent(self, caller: str) -> bool:
        """Whether this caller has no try left now."""
        return self._now(caller) < 1.0

    def spend(self, caller: str) -> bool:
        """Use up a try; False when there was none."""
        left = self._now(caller)
        if left < 1.0:
            return False
        if len(self._left) >= MOST_CALLERS and caller not in self._left:
            self._left.pop(next(iter(self._left)))
        self._left[caller] = (left - 1.0, self._clock())
        return True
