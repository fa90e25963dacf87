"""Every fault of the plant shows: a healthy and a faulty plant, side by side, through a short exercise.

The short form looks at two of each kind, the thorough one at every fault.
"""

from __future__ import annotations

import pytest

from tests.chromium import THOROUGH
from tests.plant.exercises import Exercise, exercise
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import build_machine, load_plant
from trainer.units import to_unit

PLANT, HASH = load_plant("quillback")
FAULTS = sorted(PLANT.network().faults)
KINDS: dict[str, list[str]] = {}
for _fault in FAULTS:
    KINDS.setdefault(_fault.rsplit(".", 1)[-1], []).append(_fault)
EVERY_KIND = sorted(fault for kind in KINDS.values() for fault in {kind[0], kind[len(kind) // 2]})
LONGEST = 240
SCANS = 10
NOTICED = 0.01
NOTICED_BY = {"totaliser.count": 1.0e-4}

Trace = list[dict[str, float]]


@pytest.fixture(scope="module")
def machine() -> Machine:
    """One plant, no fault set."""
    return build_machine(PLANT, HASH)


class Runs:
    """Healthy runs, each exercise computed once and only as far as somebody looked."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.start = machine.saved()
        self.kept: dict[Exercise, tuple[Trace, bytearray]] = {}

    def second(self, todo: Exercise, t: int) -> None:
        """Advance the machine by the second that begins at ``t``, with its commands."""
        for scan in range(SCANS):
            now = t + scan / SCANS
            for order in todo:
                if abs(order.t - now) < 0.01:
                    if order.do == "start":
                        for name, value in PLANT.well.starts(PLANT)[order.target].items():
                            self.machine.put(name, value)
                        continue
                    if order.do == "stand":
                        self.stand(order.value)
                        continue
                    refused = self.machine.apply(order)
                    assert refused is None or order.may_be_refused, refused
            self.machine.scan()

    def stand(self, level: float) -> None:
        """Have the mixed-fluid tank stand at ``level`` (a share of full); what is above it has been drained."""
        was, stands = self.machine.read("tank.v"), level * PLANT.reservoir.mixed_volume
        self.machine.put("tank.v", stands)
        self.machine.put("ground.v", self.machine.read("ground.v") + was - stands)

    def healthy(self, todo: Exercise, t: int) -> dict[str, float]:
        """Readings of the healthy plant after second ``t``."""
        trace, state = self.kept.setdefault(todo, ([], bytearray(self.start)))
        if t < len(trace):
            return trace[t]
        faulty = self.machine.saved()
        self.machine.restore(state)
        self.second(todo, t)
        trace.append(readings(self.machine))
        state[:] = self.machine.saved()
        self.machine.restore(faulty)
        return trace[t]


@pytest.fixture(scope="module")
def runs(machine: Machine) -> Runs:
    return Runs(machine)


def readings(machine: Machine) -> dict[str, float]:
    """Every reading that some station has, as a share of its range; states as they are."""
    shown = {}
    for tag, signal in machine.signals.items():
        if signal.station:
            value = to_unit(machine.read(tag), signal.unit) if signal.unit != "state" else machine.read(tag)
            shown[tag] = value if signal.unit == "state" else (value - signal.low) / (signal.high - signal.low)
    return shown


def first_sign(runs: Runs, fault_id: str) -> tuple[int, str]:
    """When and on which of its ``shows`` a fault is first noticed."""
    machine = runs.machine
    fault = machine.faults[fault_id]
    machine.restore(runs.start)
    todo = exercise(machine, fault)
    machine.put(f"fault.{fault_id}", 1.0)
    for t in range(LONGEST):
        runs.second(todo, t)
        seen, right = readings(machine), runs.healthy(todo, t)
        for tag in fault.shows:
            if tag in seen and abs(seen[tag] - right[tag]) > NOTICED_BY.get(tag, NOTICED):
                return t, tag
    return LONGEST, ""


@pytest.mark.parametrize("fault_id", FAULTS if THOROUGH else EVERY_KIND)
def test_a_fault_shows_on_an_instrument(runs: Runs, fault_id: str) -> None:
    _, tag = first_sign(runs, fault_id)
    assert tag, f"{fault_id} shows on none of {runs.machine.faults[fault_id].shows} within {LONGEST} s"


def test_every_fault_is_fully_declared(machine: Machine) -> None:
    for fault in machine.faults.values():
        assert fault.title, fault.id
        assert fault.remedy.endswith("."), fault.id
        assert fault.shows, fault.id
        assert all(tag in machine.signals for tag in fault.shows), fault.id
        assert any(machine.signals[tag].station for tag in fault.shows), fault.id


def test_there_are_many_kinds() -> None:
    kinds = {fault_id.rsplit(".", 1)[1] for fault_id in FAULTS}
    assert len(kinds) >= 60
