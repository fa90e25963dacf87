"""One comparison of a computed figure with an expected one, and its source."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal

Kind = Literal["independent", "verification", "balance"]
INDEPENDENT: Kind = "independent"
BALANCE: Kind = "balance"


@dataclass(frozen=True)
class Check:
    """One comparison. ``tolerance`` is relative to ``expected``, or absolute where that is zero."""

    name: str
    source: str
    expected: float
    computed: float
    tolerance: float
    unit: str
    kind: Kind = "verification"

    @property
    def ok(self) -> bool:
        """Whether the computed value lies within the tolerance of the published one."""
        return abs(self.computed - self.expected) <= self.tolerance * (abs(self.expected) or 1.0)

    def to_json(self) -> dict[str, object]:
        """The check as a row of ``trainer bench --json``: plain data, each value in the unit that stands beside it."""
        return {**asdict(self), "difference": self.computed - self.expected, "ok": self.ok}
