"""What the crew of each plant enters where the script enters a reading: what their own instruments show.

A script was written beside the plant of the description. A plain copy of its numbers would be wrong wherever a gauge is
a little off, and would say nothing about the crew. So each plant's crew is off the truth by as much as the script is on
the plant of the description, which runs along as ``model``.
"""

from __future__ import annotations

from typing import Any

from trainer import units
from trainer.drills.readings import ReadingJudge
from trainer.drills.runner import Runner
from trainer.session.commands import Command


def as_read(command: Command, plant: Runner, model: Runner) -> Command:
    """The command with the reading of ``plant`` where the script has that of ``model``; others as they are."""
    if command.do != "read" or command.value is None:
        return command
    named = next((row for row in plant.drill.reading if row.id == command.target), None)
    signal = plant.prepared.catalogue.signals.get(named.tag if named else command.target)
    unit = signal.unit if signal is not None else named.unit if named is not None else None
    own, there = (_truth(referee, command, signal) for referee in (plant, model))
    if unit is None or own is None or there is None or own == there:
        return command
    if unit == "state":
        states = signal.states if signal is not None else ()
        known = command.value == states[int(there)] if int(there) < len(states) else False
        return command.model_copy(update={"value": states[int(own)]}) if known else command
    try:
        given = units.edge_value(command.value, unit)
    except ValueError:
        return command
    return command.model_copy(update={"value": units.to_unit(given + own - there, unit)})


def _truth(referee: Runner, command: Command, signal: Any) -> float | None:
    """What the entry is held against now, SI; None where that has not come about or nothing asks for it."""
    referee.scope.t = command.t
    if signal is not None:
        return referee.scope.read(signal.tag)
    for judge in referee.judges:
        if isinstance(judge, ReadingJudge) and judge.spec.reading == command.target:
            true = judge.true()
            return true if true == true else None
    return None
