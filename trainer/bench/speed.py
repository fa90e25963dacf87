"""Speed, each figure beside a baseline measured in the same run.

Two baselines are used. *Real time* is what the trainee's clock needs: one simulated second a second. The
*float loop*, millions of multiply-adds a second of plain Python, takes the machine out of the figure, so that
ratios may be compared between machines.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

LOOP = 400_000
SIMULATED = 60.0
"""Simulated seconds of each timed run."""


@dataclass(frozen=True)
class Figure:
    """One measured rate. ``ratio`` is value over baseline and must reach ``target`` where there is one."""

    name: str
    value: float
    unit: str
    baseline: str
    baseline_value: float
    target: float | None = None

    @property
    def ratio(self) -> float:
        """How many times the baseline."""
        return self.value / self.baseline_value

    @property
    def ok(self) -> bool:
        """True when the target is reached, or none is set."""
        return self.target is None or self.ratio >= self.target

    def to_json(self) -> dict[str, Any]:
        """A row of ``trainer bench --json``."""
        return {**asdict(self), "ratio": self.ratio, "ok": self.ok}


def best(work: Callable[[], object], tries: int = 3) -> float:
    """The shortest of several runs in seconds: what else the machine did meanwhile only ever adds."""
    times = []
    for _ in range(tries):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def float_loop() -> float:
    """Millions of multiply-adds a second of plain Python."""

    def loop() -> float:
        total, step = 0.0, 1.0000001
        for _ in range(LOOP):
            total = total * 0.5 + step
        return total

    return LOOP / best(loop, 5) / 1e6


def figures() -> list[Figure]:
    """Everything that is timed."""
    from trainer.session.evidence import make
    from trainer.session.verify import verify
    from trainer.simulator import Session, rebuilder

    drill = "kick-while-drilling"
    loop = float_loop()

    def begun() -> Session:
        return Session.start(drill)

    def rate(advance: Callable[[], object]) -> float:
        return SIMULATED / best(advance)

    session, machine = begun(), begun().machine

    def scans() -> None:
        for _ in range(int(SIMULATED * 10)):
            machine.scan()

    headless = rate(lambda: session.advance(SIMULATED))
    plant = rate(scans)
    starts = 1.0 / best(begun)
    snapshots = 1.0 / best(lambda: Session.restore(session.snapshot()))
    document = make(session)
    verified = session.time / best(lambda: verify(document, rebuilder()), 1)
    per = "simulated s a s"
    beside = "float loop, million multiply-adds a s"
    return [
        Figure(f"{drill}, headless with referee", headless, per, "real time", 1.0, 250.0),
        Figure("plant alone", plant, per, "real time", 1.0, 250.0),
        Figure(f"{drill}, headless with referee", headless, per, beside, loop),
        Figure("plant alone", plant, per, beside, loop),
        Figure("evidence re-computed", verified, per, "real time", 1.0),
        Figure("sessions started", starts, "a s", beside, loop),
        Figure("snapshots taken and restored", snapshots, "a s", beside, loop),
    ]
