"""A fault that grows from some time on: set a little further at each simulated second."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trainer.classroom.planned import Trigger


@dataclass
class Ramp:
    """A fault on its way to a severity, a step each simulated second."""

    fault: str
    first: float
    last: float
    begin: float
    over: float
    given: float = -1.0
    waits: Trigger | None = None
    """The condition that it waits for; until then ``begin`` is infinite."""

    @staticmethod
    def waiting(fault: str, first: float, last: float, over: float, waits: Trigger) -> Ramp:
        """A fault that begins when a condition of the run holds, and not before."""
        return Ramp(fault, first, last, math.inf, over, waits=waits)

    def due(self, t: float) -> float | None:
        """The severity to set at ``t`` seconds; None when nothing is to be done yet."""
        if t < self.begin or (t < self.begin + self.over and t - self.given < 1.0):
            return None
        self.given = t
        share = min(1.0, (t - self.begin) / self.over) if self.over > 0.0 else 1.0
        return self.first + share * (self.last - self.first)

    def over_at(self, t: float) -> bool:
        """Whether it has arrived."""
        return t >= self.begin + self.over
