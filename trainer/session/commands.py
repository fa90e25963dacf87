"""Commands: what a person does at a station, the same record in pages, action files and the command log."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from trainer import units
from trainer.hydraulics.refusal import Refusal
from trainer.plant.catalogue import Operable
from trainer.session.protocols import Machine

Station = Literal["unit", "driller", "remote", "floor"]

OPERATE = ("set", "raise", "lower", "push", "hoist")
"""Verbs that move the plant."""
SPEAK = ("read", "say", "name")
"""Verbs that only the referee hears: a reading entered, a statement made, a fault named."""
GO = "go"
"""The verb of somebody who walks to another station; what it does is told in ``trainer.session.walking``."""
VERBS = (*OPERATE, *SPEAK, GO)

LONGEST_RUN = 24 * 3600.0
"""No run is longer than a day of simulated time."""


def _number(value: Any) -> Any:
    # bool is an int to Python, but "true" is no time and no value here.
    if isinstance(value, bool):
        raise ValueError("expected a number, not true or false")
    return value


class Command(BaseModel):
    """One command: simulated time in seconds, verb, target, value in the target's field unit, station."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False)

    t: Annotated[float, BeforeValidator(_number)] = Field(ge=0.0, le=LONGEST_RUN)
    do: Literal["set", "raise", "lower", "push", "hoist", "read", "say", "name", "go"]
    target: str = Field(min_length=1, max_length=120)
    value: Annotated[float | Annotated[str, Field(max_length=500)] | None, BeforeValidator(_number)] = None
    from_: Station = Field(default="driller", alias="from")

    def record(self) -> dict[str, Any]:
        """The command as the plain data of an action file."""
        return {"t": self.t, "do": self.do, "target": self.target, "value": self.value, "from": self.from_}


@dataclass(frozen=True)
class Vocabulary:
    """What can be said in a drill: its statements (None: anything) and its named readings.

    A named reading has the tag it is read from, or, when no instrument shows it, a unit of its own.
    """

    statements: tuple[str, ...] | None = None
    readings: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)


FREE = Vocabulary()
"""Free practice: anything may be said, and every signal may be read."""


def nearest(wrong: str, known: Iterable[str]) -> str:
    """A hint naming the closest known words, or nothing: ``"; did you mean 'a' or 'b'?"``."""
    close = difflib.get_close_matches(wrong, list(known), n=3, cutoff=0.6)
    return f"; did you mean {' or '.join(repr(word) for word in close)}?" if close else ""


def explain(error: ValidationError) -> str:
    """The faults of a record that is no command, as one sentence."""
    parts = []
    for fault in error.errors(include_url=False):
        # A value may be number or text: pydantic names the branch it tried, which helps nobody.
        key = str(fault["loc"][0]) if fault["loc"] else "the command"
        key = "from" if key == "from_" else key if len(key) <= 60 else key[:57] + "..."
        given = fault["input"]
        shown = repr(given)
        shown = shown if len(shown) <= 60 else shown[:57] + "..."
        match fault["type"]:
            case "missing":
                said = f"{key} is missing"
            case "extra_forbidden":
                said = f"{key} is not known (known keys: t, do, target, value, from)"
            case "literal_error" if key == "do":
                said = f"the verb {shown} is not known (verbs: {', '.join(VERBS)}){nearest(str(given), VERBS)}"
            case "literal_error":
                said = f"{key} is {shown}, expected {fault['ctx']['expected']}"
            case "model_type" | "model_attributes_type":
                said = f"expected an object with t, do, target, value and from, not {shown}"
            case _:
                message = fault["msg"].removeprefix("Value error, ")
                said = f"{key} is {shown}: {message[0].lower()}{message[1:]}"
        if said not in parts:
            parts.append(said)
    return "; ".join(parts)


def _fit_number(command: Command, operable: Operable, low: float, high: float) -> float | Refusal:
    """The value in the field unit, or a sentence that says why it does not fit."""
    what = f"{command.do} {command.target}"
    if command.value is None:
        if command.do in ("raise", "lower"):
            return min(max(1.0, low), high)
        return Refusal("no_value", f"{what} needs a value from {low:g} to {high:g} {operable.unit}")
    value = command.value
    if isinstance(value, str):
        try:
            value = units.to_unit(units.edge_value(value, operable.unit), operable.unit)
        except ValueError as error:
            return Refusal("wrong_unit", f"{what}: {error}")
    if not math.isfinite(value) or not low <= value <= high:
        return Refusal(
            "out_of_range",
            f"{what}: {value:g} {operable.unit} is out of range; give {low:g} to {high:g} {operable.unit}",
        )
    return float(value)


def _fit_operable(command: Command, machine: Machine) -> Command | Refusal:
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


def _fit_reading(command: Command, machine: Machine, words: Vocabulary) -> Command | Refusal:
    if command.value is None:
        return Refusal("no_value", f"read {command.target} needs the value that was read")
    signal = machine.signals.get(words.readings.get(command.target, command.target))
    unit = words.units.get(command.target) if signal is None else signal.unit
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
        return Refusal("wrong_unit", f"read {command.target}: {error}")
    return command.model_copy(update={"value": value})


def fit(command: Command, machine: Machine, words: Vocabulary = FREE) -> Command | Refusal:
    """The command as this plant takes it, text with a unit turned into a number in the target's field unit.

    A string instead of a command is the sentence that says why the plant or the drill has no such command:
    unknown target, wrong station, value out of range. Nothing is carried out.
    """
    if command.do in OPERATE:
        return _fit_operable(command, machine)
    if command.do == GO:
        return command if command.value is None else Refusal("takes_no_value", f"go {command.target} takes no value")
    if command.do == "read":
        return _fit_reading(command, machine, words)
    if command.do == "say" and words.statements is not None and command.target not in words.statements:
        known = f"; the drill knows {', '.join(words.statements)}" if words.statements else ""
        return Refusal("not_here", f"nobody waits for the statement {command.target!r}{known}")
    if command.do == "name" and command.target not in machine.faults:
        return Refusal(
            "not_here", f"there is no fault called {command.target!r}{nearest(command.target, machine.faults)}"
        )
    return command
