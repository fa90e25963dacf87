"""How often a caller may try: a bucket of tries that fills again with time, and delays that grow with failures."""

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
        """Whether this caller has no try left at this moment; asking costs none."""
        return self._now(caller) < 1.0

    def spend(self, caller: str) -> bool:
        """Use up one of this caller's tries; False, with nothing used, when there was none."""
        left = self._now(caller)
        if left < 1.0:
            return False
        if len(self._left) >= MOST_CALLERS and caller not in self._left:
            self._left.pop(next(iter(self._left)))
        self._left[caller] = (left - 1.0, self._clock())
        return True


class Delays:
    """How long a caller's next try waits: not at all after ``free`` failures, then twice as long each time.

    Nobody is ever refused: who knows the secret gets in after ``longest`` seconds at most. A failure is forgotten
    after ``forgotten`` seconds.
    """

    def __init__(
        self,
        free: int,
        longest: float,
        forgotten: float = 600.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._free, self._longest, self._forgotten, self._clock = free, longest, forgotten, clock
        self._failed: dict[str, tuple[int, float]] = {}

    def wait(self, caller: str) -> float:
        """How long this caller's next try has to wait, s: doubled with each failure beyond the free ones, up to the
        longest."""
        count, at = self._failed.get(caller, (0, 0.0))
        if count <= self._free or self._clock() - at >= self._forgotten:
            return 0.0
        return min(2.0 ** min(count - self._free - 1, 30), self._longest)

    def fail(self, caller: str) -> None:
        """Count one more failure of this caller; after a quiet time the count begins anew."""
        count, at = self._failed.pop(caller, (0, 0.0))
        if self._clock() - at >= self._forgotten:
            count = 0
        if len(self._failed) >= MOST_CALLERS:
            self._failed.pop(next(iter(self._failed)))
        self._failed[caller] = (count + 1, self._clock())

    def clear(self, caller: str) -> None:
        """Forget this caller's failures: the last try was the right one."""
        self._failed.pop(caller, None)
