"""Who looked after a run: what stands beside its log, since no re-computation can find it again.

Who started it, how it ended, how long it took by the wall clock, every pause with its reason, every wait that was
skipped, and every intervention in plain words. In evidence this part is sealed and, in a classroom, signed.
"""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

UNATTENDED = "No staff member started this run: no one confirms who operated it, or how."


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, defer_build=True)


class Pause(_Part):
    """The clock stood still: at a simulated time, for so many seconds of the wall clock, for what reason."""

    t: float = Field(ge=0.0)
    wall_s: float = Field(ge=0.0)
    by: str = Field(max_length=200)
    reason: str = Field(max_length=500)


class Skip(_Part):
    """A wait that the drill names was skipped, from one simulated time to another."""

    wait: str = Field(max_length=300)
    start: float = Field(ge=0.0)
    end: float = Field(ge=0.0)


class Custody(_Part):
    """What is known of a run beside its log. Dates are UTC by the wall clock of whoever kept it."""

    started_by: str = Field(default="", max_length=200)
    """The staff member who started or allowed it; empty when none did."""
    began: str = Field(default="", max_length=40)
    ended: str = Field(default="", max_length=40)
    ending: str = Field(default="", max_length=300)
    """How it ended, in words."""
    wall_s: float = Field(default=0.0, ge=0.0)
    pauses: list[Pause] = Field(default=[], max_length=1000)
    skips: list[Skip] = Field(default=[], max_length=1000)
    rewinds: int = Field(default=0, ge=0)
    interventions: list[str] = Field(default=[], max_length=1000)
