"""Commands: what a person does at a station, the same record in pages, action files and the command log."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

Station = Literal[
    "unit", "driller", "remote", "floor", "third", "fourth", "fifth", "workshop", "bridge", "vehicle", "boat"
]

OPERATE = ("set", "raise", "lower", "push", "hoist")
"""Verbs that move the plant."""
SPEAK = ("read", "say", "name")
"""Verbs that only the referee hears: a reading entered, a statement made, a fault named."""
GO = "go"
"""The verb of somebody who walks to another station; what it does is told in ``trainer.session.walking``."""
CALL, REPEAT = "call", "repeat"
"""Verbs of a crew: a short call from one member to another, and its repeating back; told in ``session.crewing``."""
VERBS = (*OPERATE, *SPEAK, GO, CALL, REPEAT)

LONGEST_RUN = 24 * 3600.0
"""No run is longer than a day of simulated time."""


def _number(value: object) -> object:
    # bool is an int to Python, but "true" is no time and no value here.
    if isinstance(value, bool):
        raise ValueError("expected a number, not true or false")
    return value


class Command(BaseModel):
    """One command: simulated time in seconds, verb, target, value in the target's field unit, station.

    ``by`` is the member of a crew who gives it, in a drill for several people; nobody is named where one person works.
    ``figure`` is what a call of a crew tells, or its repeating back, in the field unit of the reading.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False)

    t: Annotated[float, BeforeValidator(_number)] = Field(ge=0.0, le=LONGEST_RUN)
    do: Literal["set", "raise", "lower", "push", "hoist", "read", "say", "name", "go", "call", "repeat"]
    target: str = Field(min_length=1, max_length=120)
    value: Annotated[float | Annotated[str, Field(max_length=500)] | None, BeforeValidator(_number)] = None
    from_: Station = Field(default="driller", alias="from")
    by: str | None = Field(default=None, pattern=r"^[a-z][a-z0-9_]{0,59}$")
    figure: Annotated[float | Annotated[str, Field(max_length=60)] | None, BeforeValidator(_number)] = None

    def record(self) -> dict[str, object]:
        """The command as a line of an action file: t in s, do, target, value and from, of a crew also by and figure."""
        line: dict[str, object] = {
            "t": self.t,
            "do": self.do,
            "target": self.target,
            "value": self.value,
            "from": self.from_,
        }
        of_crew = {"by": self.by, "figure": self.figure}
        return line | {key: given for key, given in of_crew.items() if given is not None}


@dataclass(frozen=True)
class Vocabulary:
    """What can be said in a drill: its statements (None: anything) and its named readings.

    A named reading has the tag it is read from, or, when no instrument shows it, a unit of its own.
    """

    statements: tuple[str, ...] | None = None
    readings: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    figures: Mapping[str, str] = field(default_factory=dict)
    """The calls of a crew that carry a figure: the reading that it is of, by the call's id."""


FREE = Vocabulary()
"""Free practice: anything may be said, and every signal may be read."""


def nearest(wrong: str, known: Iterable[str]) -> str:
    """A hint naming the closest known words, or nothing: ``"; did you mean 'a' or 'b'?"``."""
    import difflib

    close = difflib.get_close_matches(wrong, list(known), n=3, cutoff=0.6)
    return f"; did you mean {' or '.join(repr(word) for word in close)}?" if close else ""


def explain(error: ValidationError) -> str:
    """The faults of a record that is no command, as one sentence that says what was expected."""
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
                said = f"{key} is not known (known keys: t, do, target, value, from, by, figure)"
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
