"""What others than the trainee do to a run: an instructor's faults and changes, an assistant's hand on a valve.

Interventions stand in the command log like commands, so that a run with them re-computes to the bit. ``from``
says whose they are, and the referee is told of an assistant's hand only: that one was asked for by the trainee.
A debrief leaves one entry, which changes nothing: that a run was taken over here from the replay of another.
"""

from __future__ import annotations

import math

from pydantic import ValidationError

from trainer import units
from trainer.hydraulics.refusal import Refusal
from trainer.session.commands import OPERATE, Command, explain, nearest
from trainer.session.fitting import fit
from trainer.session.protocols import PlantProtocol

INSTRUCTOR = "instructor"
ASSISTANT = "assistant"
DEBRIEF = "debrief"
BY = (INSTRUCTOR, ASSISTANT, DEBRIEF)
TAKE_OVER = "take-over"


def carry_out(
    machine: PlantProtocol, do: str, target: str, value: float | str | None, by: str = INSTRUCTOR
) -> Command | Refusal | None:
    """Do it to the plant.

    ``fault`` sets a fault's severity (0 healthy to 1 worst), ``put`` a variable (in the field unit where a
    signal shows it, else SI), and the verbs of the controls operate one from whatever station it has. Gives the
    command that was carried out for a control, None for the others, or the sentence that says why not.
    """
    if do == TAKE_OVER or by == DEBRIEF:
        if (do, by) == (TAKE_OVER, DEBRIEF):
            return None
        return Refusal("nobody", f"a debrief marks a {TAKE_OVER} and does nothing else")
    if do == "fault":
        return _fault(machine, target, value)
    if do == "put":
        return _put(machine, target, value)
    return _operate(machine, do, target, value)


def _number(value: float | str | None) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def _fault(machine: PlantProtocol, target: str, value: float | str | None) -> Refusal | None:
    severity = _number(value)
    if target not in machine.faults:
        return Refusal("not_here", f"this plant has no fault {target!r}{nearest(target, machine.faults)}")
    if severity is None or not 0.0 <= severity <= 1.0:
        return Refusal("out_of_range", f"a severity is a number from 0 (healthy) to 1 (worst), not {value!r}")
    machine.set_fault(target, severity)
    return None


def _put(machine: PlantProtocol, target: str, value: float | str | None) -> Refusal | None:
    number = _number(value)
    if target not in machine.index:
        return Refusal("not_here", f"this plant has no variable {target!r}{nearest(target, machine.signals)}")
    if number is None:
        return Refusal("out_of_range", f"{target} takes a finite number, not {value!r}")
    signal = machine.signals.get(target)
    if signal is not None and signal.unit != "state":
        number = units.from_unit(number, signal.unit)
    machine.put(target, number)
    return None


def _operate(machine: PlantProtocol, do: str, target: str, value: float | str | None) -> Command | Refusal:
    if do not in OPERATE:
        return Refusal("wrong_verb", f"there is no intervention {do!r} (fault, put, {', '.join(OPERATE)})")
    operable = machine.operables.get((do, target))
    station = operable.station[0] if operable is not None and operable.station else "unit"
    try:
        command = Command.model_validate({"t": 0.0, "do": do, "target": target, "value": value, "from": station})
    except ValidationError as error:
        return Refusal("no_command", explain(error))
    fitted = fit(command, machine)
    if isinstance(fitted, str):
        return fitted
    refusal = machine.apply(fitted)
    return fitted if refusal is None else refusal
