"""What a training simulator must do by published criteria: hold still, repeat itself, keep its books, keep time.

Source of the four: the standard for power-plant simulators as remembered and restated (drift at most 2 % in 60 min at
rest, mass balance, repeatability, real time). They are asked here of the demonstration rig.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

from trainer.bench import operator
from trainer.bench.checks import BALANCE, Check
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import build_machine, load_plant
from trainer.session.evidence import make
from trainer.units import from_unit

_STANDARD = "ANSI/ANS-3.5, section 4 (from memory): "
DRIFT_SOURCE = _STANDARD + "at most 2 % in 60 min at rest"
REPEAT_SOURCE = _STANDARD + "repeatability"
BALANCE_SOURCE = _STANDARD + "mass balance; 1e-9 of the total over an hour is this project's own limit"
PACE_SOURCE = _STANDARD + "real time"
SETTLING = 600


def _at_rest() -> Machine:
    """Quillback with the mud pumps stopped and the unit charged, once it has come to rest."""
    plant, digest = load_plant("quillback")
    machine = build_machine(plant, digest)
    machine.put("floor.mud_pumps.set", 0.0)
    machine.put("floor.rotary.set", 0.0)
    machine.scan(SETTLING)
    return machine


def drift(minutes: float) -> float:
    """Largest change of a reading while nothing is done, as a share of its range."""
    machine = _at_rest()
    shown = {t: s for t, s in machine.signals.items() if s.station and s.unit not in ("state", "s")}
    before = {t: machine.read(t) for t in shown}
    machine.scan(round(minutes * 600))
    worst = 0.0
    for tag, signal in shown.items():
        span = from_unit(signal.high, signal.unit) - from_unit(signal.low, signal.unit)
        worst = max(worst, abs(machine.read(tag) - before[tag]) / span)
    return worst


def criteria(minutes: float = 60.0) -> Iterator[Check]:
    """The four criteria; ``minutes`` at rest (a short form shortens it, and its limit in proportion)."""
    within = f"drift of any reading over {minutes:g} min at rest, share of its range"
    yield Check(within, DRIFT_SOURCE, 0.0, drift(minutes), 0.02 * minutes / 60.0, "1")
    first, second = operator.shut_in(), operator.shut_in()
    same = float(make(first).checkpoints == make(second).checkpoints)
    yield Check("two runs of the same commands give the same chain of states", REPEAT_SOURCE, 1.0, same, 0.0, "1")
    machine = _at_rest()
    there = machine.fluid()
    began = time.process_time()
    for scan in range(round(minutes * 600)):
        if scan % 600 == 10:
            machine.put("upper_pipe_ram.valve", 2.0 - (scan // 600) % 2)
        machine.scan()
    took = time.process_time() - began
    yield Check(
        "control fluid of a rig that works a ram every minute",
        BALANCE_SOURCE,
        there,
        machine.fluid(),
        1.0e-9,
        "m3",
        BALANCE,
    )
    kept = min(minutes * 60.0 / took, 1.0)
    yield Check("simulated seconds kept up with each second, at most 1 counted", PACE_SOURCE, 1.0, kept, 0.0, "1")
