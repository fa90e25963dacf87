"""Speed, each figure beside a baseline measured in the same run.

Two baselines are used. *Real time* is what the trainee's clock needs: one simulated second a second. The
*float loop*, millions of multiply-adds a second of plain Python, takes the machine out of the figure, so that
ratios may be compared between machines. Seconds are of processor time; see ``best``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from trainer.bench import operator
from trainer.console.presenter import Presenter
from trainer.session.evidence import make
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder

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
    """The shortest of several runs in seconds of processor time.

    On a machine with nothing else to do that is the time on the wall. On a busy one it leaves out what others
    took; what is left of their disturbance only ever adds, hence the shortest.
    """
    times = []
    for _ in range(tries):
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return min(times)


def float_loop() -> float:
    """Millions of multiply-adds a second of plain Python."""

    def loop() -> float:
        total, step = 0.0, 1.0000001
        for _ in range(LOOP):
            total = total * 0.5 + step
        return total

    return LOOP / best(loop, 5) / 1e6


def _shown() -> float:
    """Simulated seconds a second with every reading of the plant looked at ten times a simulated second."""
    session = Session.start(operator.DRILL)
    presenter = Presenter(session)
    presenter.first()
    session.submit({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"})

    def watched() -> None:
        for _ in range(int(SIMULATED * 10)):
            session.advance(0.1)
            presenter.patch()

    return SIMULATED / best(watched)


def figures() -> list[Figure]:
    """Everything that is timed."""
    start = best(lambda: Session.start(operator.DRILL))
    whole = best(operator.shut_in)
    session = operator.shut_in()
    # A busy drill: building the plant and settling it before the start are counted apart, as "sessions started".
    drill = session.time / (whole - start)
    machine = session.machine

    def scans() -> None:
        for _ in range(int(SIMULATED * 10)):
            machine.scan()

    plant = SIMULATED / best(scans)
    snapshots = 1.0 / best(lambda: Session.restore(session.snapshot()))
    document = make(session)
    verified = session.time / best(lambda: verify(document, rebuilder()), 1)
    loop = float_loop()
    per, beside = "simulated s a s", "float loop, million multiply-adds a s"
    return [
        Figure(f"{operator.DRILL}, shut in, headless", drill, per, "real time", 1.0, 250.0),
        Figure("plant alone, at rest", plant, per, "real time", 1.0, 250.0),
        Figure("an annular closing, every reading presented at 10 Hz", _shown(), per, "real time", 1.0, 200.0),
        Figure(f"{operator.DRILL}, shut in, headless", drill, per, beside, loop),
        Figure("plant alone, at rest", plant, per, beside, loop),
        Figure("evidence re-computed, start included", verified, per, "real time", 1.0),
        Figure("sessions started", 1.0 / start, "a s", beside, loop),
        Figure("snapshots taken and restored", snapshots, "a s", beside, loop),
    ]
