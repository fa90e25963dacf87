"""Holds a command against a plant's catalogue: what the plant or the drill has no such command for is refused here."""

from __future__ import annotations

import math

from trainer import units
from trainer.hydraulics.catalogue import Operable
from trainer.hydraulics.refusal import Refusal
from trainer.session.commands import CALL, FREE, GO, OPERATE, REPEAT, Command, Vocabulary, nearest
from trainer.session.protocols import PlantProtocol
from trainer.wording import printed, worded, written


def _fit_number(command: Command, operable: Operable, low: float, high: float) -> float | Refusal:
    """The value in the field unit, or a sentence that says why it does not fit."""
    what, unit = f"{command.do} {command.target}", operable.unit
    least, most = printed(f"{low:g}", low, unit, bare=True), printed(f"{high:g} {unit}", high, unit)
    if command.value is None:
        if command.do in ("raise", "lower"):
            return min(max(1.0, low), high)
        return Refusal("no_value", worded("{0} needs a value from {1} to {2}", what, least, most))
    value = command.value
    if isinstance(value, str):
        try:
            value = units.to_unit(units.edge_value(value, unit), unit)
        except ValueError as error:
            return Refusal("wrong_unit", written(f"{what}: {error}"))
    if not math.isfinite(value) or not low <= value <= high:
        given = printed(f"{value:g} {unit}", value, unit)
        return Refusal("out_of_range", worded("{0}: {1} is out of range; give {2} to {3}", what, given, least, most))
    return float(value)


def _fit_operable(command: Command, machine: PlantProtocol) -> Command | Refusal:
    operable = machine.operables.get((command.do, command.target))
    if operable is None:
        targets = [target for verb, target in machine.operables if verb == command.do]
        if command.target in {target for _, target in machine.operables}:
            verbs = [verb for verb, target in machine.operables if target == command.target]
            return Refusal(
                "wrong_verb", f"{command.target!r} does not take {command.do!r}; it takes {', '.join(verbs)}"
            )
        return Refusal(
            "not_here",
            f"there is nothing called {command.target!r} to {command.do} on this plant"
            f"{nearest(command.target, targets)}",
        )
    if command.from_ not in operable.station:
        places = " or ".join(operable.station) or "nowhere"
        return Refusal(
            "wrong_station", f"{command.do} {command.target} is done from {places}, not from {command.from_}"
        )
    values = operable.values
    if values is None:
        if command.value is not None:
            return Refusal(
                "takes_no_value", f"{command.do} {command.target} takes no value, but {command.value!r} was given"
            )
        return command
    if isinstance(values[0], str):
        if command.value not in values:
            return Refusal(
                "out_of_range",
                f"{command.do} {command.target} takes {', '.join(map(str, values))}, not {command.value!r}"
                f"{nearest(str(command.value), map(str, values))}",
            )
        return command
    low, high = (float(bound) for bound in values)
    fitted = _fit_number(command, operable, low, high)
    if isinstance(fitted, str):
        return fitted
    return command if fitted == command.value else command.model_copy(update={"value": fitted})


def _unit_of(reading: str, machine: PlantProtocol, words: Vocabulary) -> str | None:
    """The field unit of a reading of the drill or plant; None for one that there is not."""
    signal = machine.signals.get(words.readings.get(reading, reading))
    return words.units.get(reading) if signal is None else signal.unit


def _fit_call(command: Command, machine: PlantProtocol, words: Vocabulary) -> Command | Refusal:
    """A call, or its repeating back, with its figure as a number. Who may call what is ``session.crewing``'s."""
    reading = words.figures.get(command.target)
    if reading is None:
        return command if command.figure is None else Refusal("takes_no_value", "this call carries no figure")
    unit = _unit_of(reading, machine, words) or ""
    if command.figure is None or command.figure == "":
        return Refusal("no_value", f"this call carries a figure: give it in {units.symbol(unit)}")
    if not isinstance(command.figure, str):
        return command
    try:
        figure = units.to_unit(units.edge_value(command.figure, unit), unit)
    except ValueError as error:
        return Refusal("wrong_unit", written(f"{command.do} {command.target}: {error}"))
    return command.model_copy(update={"figure": figure})


def _fit_reading(command: Command, machine: PlantProtocol, words: Vocabulary) -> Command | Refusal:
    if command.value is None:
        return Refusal("no_value", f"read {command.target} needs the value that was read")
    signal = machine.signals.get(words.readings.get(command.target, command.target))
    unit = _unit_of(command.target, machine, words)
    if unit is None:
        hint = nearest(command.target, [*words.readings, *words.units, *machine.signals])
        return Refusal("not_here", f"there is no reading called {command.target!r}{hint}")
    if not isinstance(command.value, str):
        return command
    if signal is not None and command.value in signal.states:
        return command.model_copy(update={"value": float(signal.states.index(command.value))})
    try:
        value = units.to_unit(units.edge_value(command.value, unit), unit)
    except ValueError as error:
        return Refusal("wrong_unit", written(f"read {command.target}: {error}"))
    return command.model_copy(update={"value": value})


def fit(command: Command, machine: PlantProtocol, words: Vocabulary = FREE) -> Command | Refusal:
    """The command as this plant takes it, text with a unit turned into a number in the target's field unit.

    A string instead of a command is the sentence that says why the plant or the drill has no such command:
    unknown target, wrong station, value out of range. Nothing is carried out.
    """
    if command.do in OPERATE:
        return _fit_operable(command, machine)
    if command.do == GO:
        return command if command.value is None else Refusal("takes_no_value", f"go {command.target} takes no value")
    if command.do in (CALL, REPEAT):
        return _fit_call(command, machine, words)
    if command.do == "read":
        return _fit_reading(command, machine, words)
    if command.do == "say" and words.statements is not None and command.target not in words.statements:
        known = f"; the drill knows {', '.join(words.statements)}" if words.statements else ""
        return Refusal("not_here", f"there is no report called {command.target!r}{known}")
    if command.do == "name" and command.target not in machine.faults:
        return Refusal(
            "not_here", f"there is no fault called {command.target!r}{nearest(command.target, machine.faults)}"
        )
    return command
