"""What the crew of each plant enters where the script enters a reading: what their own instruments show.

A script was written beside the plant of the description. A plain copy of its numbers would be wrong wherever a gauge is
a little off, and would say nothing about the crew. So each plant's crew is off the truth by as much as the script is on
the plant of the description, which runs along as ``model``.
"""

from __future__ import annotations

from trainer import units
from trainer.drills.readings import ReadingJudge
from trainer.drills.runner import Runner
from trainer.drills.schema import NamedReading
from trainer.hydraulics.catalogue import Signal
from trainer.session.commands import Command


def as_read(command: Command, plant: Runner, there: float | None) -> Command:
    """The command with the reading of ``plant`` where the script has one of ``there``, SI; others as they are."""
    if command.do != "read" or command.value is None:
        return command
    named, signal = _shown(command, plant)
    unit = signal.unit if signal is not None else named.unit if named is not None else None
    own = _truth(plant, command, signal)
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


def truth(command: Command, referee: Runner) -> float | None:
    """What a reading is held against on this plant now, SI; None for any other command."""
    return _truth(referee, command, _shown(command, referee)[1]) if command.do == "read" else None


def _shown(command: Command, referee: Runner) -> tuple[NamedReading | None, Signal | None]:
    """The drill's own reading that a command names, and the signal behind it, where there are such."""
    named = next((row for row in referee.drill.reading if row.id == command.target), None)
    return named, referee.prepared.catalogue.signals.get(named.tag if named else command.target)


def _truth(referee: Runner, command: Command, signal: Signal | None) -> float | None:
    """What the entry is held against now, SI; None where that has not come about or nothing asks for it."""
    referee.scope.t = command.t
    if signal is not None:
        return referee.scope.read(signal.tag)
    for judge in referee.judges:
        if isinstance(judge, ReadingJudge) and judge.spec.reading == command.target:
            true = judge.true()
            return true if true == true else None
    return None
