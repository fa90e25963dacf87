"""Speed, each figure beside a baseline measured in the same run.

Two baselines are used. *Real time* is what the trainee's clock needs: one simulated second a second. The
*float loop*, millions of multiply-adds a second of plain Python, takes the machine out of the figure, so that
ratios may be compared between machines. Seconds are of processor time; see ``best``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any

from trainer.bench import operator, stiff
from trainer.console.presenter import Presenter
from trainer.planning.ensemble.block import run_block
from trainer.planning.ensemble.order import make as make_order
from trainer.planning.ensemble.study import BLOCK
from trainer.runtime import server
from trainer.session.evidence import make
from trainer.session.verify import verify
from trainer.simulator import Session, build, rebuilder

LOOP = 400_000
SIMULATED = 60.0
"""Simulated seconds of each timed run."""
INTEGRATED = 3
"""The same of the integrator's, in which an annular begins to close."""
ENSEMBLE = 1000 * 600.0 / (2 * 45.0)
"""The same that an ensemble must reach: 1,000 plants over ten minutes in 45 s of two processors."""


@dataclass(frozen=True)
class Figure:
    """One measured rate, or time. ``ratio`` is value over baseline; where there is a ``target``, a rate's must reach it
    and a time's (``more`` is False) stay within it."""

    name: str
    value: float
    unit: str
    baseline: str
    baseline_value: float
    target: float | None = None
    more: bool = True

    @property
    def ratio(self) -> float:
        """How many times the baseline it is, a plain number; less is better where ``more`` is False."""
        return self.value / self.baseline_value

    @property
    def ok(self) -> bool:
        """Whether the target is kept, by the ratio to it; True as well where none is set."""
        if self.target is None:
            return True
        return self.ratio >= self.target if self.more else self.ratio <= self.target

    def to_json(self) -> dict[str, object]:
        """The figure as a row of ``trainer bench --json``: plain data, the value in ``unit``."""
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
    """Multiply-adds of floats in plain Python here, in millions a second: what other rates are held against."""

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


def drilled(seconds: float, tries: int = 3) -> tuple[float, float]:
    """Processor seconds that a session takes to start, and simulated seconds a second of a busy drill after that.

    Building the plant and settling it come before the drill's start: they are counted apart.
    """
    start = best(lambda: Session.start(operator.DRILL), tries)
    return start, seconds / (best(operator.shut_in, tries) - start)


def many() -> float:
    """Simulated seconds a second of processor time of the same drill on many plants, each scored, start included."""
    order = replace(make_order(operator.DRILL), commands=tuple(command.record() for command in operator.commands()))
    # The first of them may have to translate the plant.
    blocks: list[Any] = [run_block(order, 0, BLOCK) for _ in range(2)]
    return max(float(block["simulated_s"] / (block["setup_cpu_s"] + block["run_cpu_s"])) for block in blocks)


def integrated() -> float | None:
    """Simulated seconds a second of SciPy's quickest stiff integrator at a loose tolerance; None without SciPy.

    It gets a plant of four functions and no score to keep, since the whole would take it minutes.
    """
    try:
        return INTEGRATED / stiff.integrated_course(INTEGRATED, stiff.LOOSE[0], stiff.LOOSE_METHOD, 5, False).took
    except ImportError:
        return None


def figures() -> list[Figure]:
    """Everything that is timed, one after another on this machine: some minutes of work."""
    session = operator.shut_in()
    start, drill = drilled(session.time)
    machine = session.machine
    plant = SIMULATED / best(lambda: machine.scan(int(SIMULATED * 10)))
    with server.plain():
        _, flat_drill = drilled(session.time, 1)
        flat = build(session.identity.plant)
        flat.restore(machine.saved())
        flat_plant = SIMULATED / 10.0 / best(lambda: flat.scan(int(SIMULATED)))
    integrator = integrated()
    snapshots = 1.0 / best(lambda: Session.restore(session.snapshot()))
    document = make(session)
    verified = session.time / best(lambda: verify(document, rebuilder()), 1)
    loop = float_loop()
    per, beside = "simulated s a s", "float loop, million multiply-adds a s"
    alone, scored = "plant, compiled", "drill with score, compiled"
    small = "SciPy's BDF on a plant of four functions"
    return [
        Figure(alone, plant, per, "the same by flat CPython", flat_plant, 25.0),
        *([Figure(alone, plant, per, small, integrator)] if integrator else []),
        Figure(scored, drill, per, "real time", 1.0, 600.0),
        Figure(scored, drill, per, "the same by flat CPython", flat_drill),
        *([Figure(scored, drill, per, small, integrator)] if integrator else []),
        Figure("plants of an ensemble, drill with score", many(), per, "real time", 1.0, ENSEMBLE),
        Figure("an annular closing, every reading presented at 10 Hz", _shown(), per, "real time", 1.0, 200.0),
        Figure(scored, drill, per, beside, loop),
        Figure(alone, plant, per, beside, loop),
        Figure("evidence re-computed, start included", verified, per, "real time", 1.0),
        Figure("sessions started", 1.0 / start, "a s", beside, loop),
        Figure("snapshots taken and restored", snapshots, "a s", beside, loop),
    ]
