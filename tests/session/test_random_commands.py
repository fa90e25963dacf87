"""Whatever people do to the real plant, every number stays finite, no volume negative, and no fluid is lost."""

from __future__ import annotations

import functools
import math
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.hydraulics.catalogue import Operable
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.storage import Fixed
from trainer.session.commands import Command
from trainer.simulator import build

LOST = 1e-9
"""Share of all fluid that may go astray by rounding."""


@functools.cache
def plant() -> tuple[Machine, bytes]:
    """A plant and its state at rest."""
    machine = build("quillback")
    return machine, machine.saved()


def value_for(operable: Operable) -> st.SearchStrategy[Any]:
    values = operable.values
    if values is None:
        return st.none()
    if isinstance(values[0], str):
        return st.sampled_from(values)
    low, high = values
    return st.one_of(st.just(low), st.just(high), st.floats(float(low), float(high)))


@st.composite
def deeds(draw: st.DrawFn) -> tuple[Command, int]:
    """A command of this plant, and the scans that pass after it."""
    machine, _ = plant()
    do, target = draw(st.sampled_from(sorted(machine.operables)))
    operable = machine.operables[do, target]
    record = {
        "t": 0.0,
        "do": do,
        "target": target,
        "value": draw(value_for(operable)),
        "from": draw(st.sampled_from(operable.station or ("unit",))),
    }
    return Command.model_validate(record), draw(st.integers(0, 60))


def holds(machine: Machine, fluid: float, told: str) -> None:
    bad = [name for name, value in zip(machine.names, machine.state, strict=True) if not math.isfinite(value)]
    assert not bad, f"after {told}: not finite: {bad[:5]}"
    for name, node in machine.net.nodes.items():
        if not isinstance(node.storage, Fixed):
            volume = machine.read(f"{name}.v")
            assert volume >= 0.0, f"after {told}: {name} holds {volume} m3"
    lost = machine.fluid() - fluid
    assert abs(lost) <= LOST * fluid, f"after {told}: {lost} m3 of {fluid} m3 astray"


@settings(max_examples=60)
@given(script=st.lists(deeds(), min_size=1, max_size=25))
def test_random_commands_do_no_harm_to_the_numbers(script: list[tuple[Command, int]]) -> None:
    machine, start = plant()
    machine.restore(start)
    machine.tick = 0
    fluid = machine.fluid()
    for command, scans in script:
        machine.apply(command)
        for _ in range(scans):
            machine.scan()
        holds(machine, fluid, f"{command.do} {command.target} {command.value}")


@settings(max_examples=40)
@given(
    faults=st.lists(st.tuples(st.sampled_from(sorted(plant()[0].faults)), st.floats(0.0, 1.0)), max_size=5),
    script=st.lists(deeds(), min_size=1, max_size=10),
)
def test_broken_plants_keep_their_numbers_too(
    faults: list[tuple[str, float]], script: list[tuple[Command, int]]
) -> None:
    machine, start = plant()
    machine.restore(start)
    machine.tick = 0
    fluid = machine.fluid()
    for fault, severity in faults:
        machine.set_fault(fault, severity)
    for command, scans in script:
        machine.apply(command)
        for _ in range(scans):
            machine.scan()
        holds(machine, fluid, f"{faults} and {command.do} {command.target} {command.value}")
