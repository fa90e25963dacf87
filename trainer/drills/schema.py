"""What a drill file says: pydantic models of ``scenarios/*.toml``, with every fault reported at once."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Literal, cast, get_args

from pydantic import BaseModel, Field, ValidationError

from trainer import toml
from trainer.drills.criteria_schema import Condition, Criterion, Critical, Id, Line, Quantity, Strict
from trainer.drills.expressions import nearest
from trainer.drills.rules import graded
from trainer.units import Seconds

LARGEST_FILE = 400_000
MOST_ROWS = 100
"""Rows of one kind in a drill: more than any drill needs, and few enough to check at once."""
MOST_TOLD = 50
"""Faults told at once; whoever has more mends these first."""


class Action(Strict):
    """A command that the drill itself gives: verb, target and value in the target's field unit."""

    do: Literal["set", "raise", "lower", "push", "hoist"]
    target: str
    value: float | str | None = None


class FaultSetting(Strict):
    """A fault that the plant has from the start, and how bad it is, 0 (healthy) to 1 (worst)."""

    fault: str
    severity: Quantity = "100 %"


class Initial(Strict):
    """The state of the plant when the drill begins, and what the trainee is told of it."""

    text: Line
    """The situation, as the trainee is told it; {vary.<id>} stands for the value picked."""
    start: str | None = None
    """A named start of the plant, such as out_of_hole; absent: as the plant stands when built."""
    depth: Quantity | None = None
    """Depth of the hole, such as vary.depth; absent: as in the plant file."""
    bit: Quantity | None = None
    """Depth of the bit, for a start with the bit off bottom; absent: where that start has it."""
    values: dict[str, str] = Field(default_factory=dict)
    """Variables of the plant to set: a quantity with its unit, vary.<id>, or the name of a state."""
    commands: list[Action] = Field(default_factory=list, max_length=MOST_ROWS)
    faults: list[FaultSetting] = Field(default_factory=list, max_length=MOST_ROWS)
    settle: Seconds = Field(default=0.0, le=1200.0)
    """Simulated time to let the plant come to rest before the clock starts."""
    then: list[Action] = Field(default_factory=list, max_length=MOST_ROWS)
    """Commands given after it has come to rest, such as resetting a counter."""


class Ways(Strict):
    """How far stations are from the driller's panel, for somebody who works alone; on foot, s."""

    # Both invented.
    unit: Seconds = Field(default=60.0, ge=0.0, le=1200.0)
    remote: Seconds = Field(default=30.0, ge=0.0, le=1200.0)


class Vary(Strict):
    """A value that the seed picks, so that a repeat is not the same."""

    id: Id
    title: Line
    low: Quantity | None = None
    high: Quantity | None = None
    step: Quantity | None = None
    """Only multiples of this above ``low`` are picked, so that people can be told the value."""
    one_of: list[str] | None = Field(default=None, min_length=2, max_length=50)
    """Alternatives, such as fault ids, instead of a range."""


class Event(Strict):
    """Something that happens once: at a time, or when a condition has held."""

    title: Line
    at: Quantity | None = None
    when: Condition | None = None
    hold: Annotated[Seconds, Field(alias="for")] = 0.0
    fault: str | None = None
    """Fault id or vary.<id>."""
    severity: Quantity = "100 %"
    over: Seconds = 0.0
    """Time in which the severity grows from nothing."""
    clear: str | None = None
    values: dict[str, str] = Field(default_factory=dict)
    commands: list[Action] = Field(default_factory=list, max_length=MOST_ROWS)
    tell: Line | None = None
    """What the trainee hears, such as a telephone call; {vary.<id>} stands for the value picked."""


class Milestone(Strict):
    """A point of the drill that is reached once: the time it began to hold is what counts."""

    id: Id
    title: Line
    when: Condition
    hold: Annotated[Seconds, Field(alias="for")] = 0.0


class Statement(Strict):
    """Something that the trainee may report; wrong reports are offered as well as right ones."""

    id: Id
    text: Line


class NamedReading(Strict):
    """A reading the trainee is asked to enter: what an instrument shows, or something measured or reckoned."""

    id: Id
    title: Line
    tag: str = ""
    """The signal it is read from; absent for what no instrument shows, such as a time by the stop-watch."""
    unit: str | None = None
    """Unit in which it is entered; only without a tag, whose own unit counts otherwise."""


FOR_LOG = " for the log"


def for_log(title: str) -> bool:
    """Whether a reading of this title is entered for whoever comes next, and proves nothing now."""
    return title.endswith(FOR_LOG)


class Levels(Strict):
    """What a drill gives to a scored criterion of the named rules: its points, and from where to where they go."""

    points: float = Field(gt=0.0, le=1000.0)
    full: str | None = None
    """Full points up to this time or quantity."""
    grace: str | None = None
    """Of a limit: the total time outside that costs nothing."""
    zero: str
    """No points from here on."""
    teaches: list[int] = Field(default_factory=list, max_length=20)
    needs: list[Id] = Field(default_factory=list, max_length=20)


class CoachStep(Strict):
    """One step of the coach in practice mode: what to do, why, and the condition that ends it."""

    id: Id
    need: Condition | None = None
    """When the step is called for; absent: as soon as the step before is done."""
    done: Condition
    names: list[Id] = Field(default=[], max_length=5)
    """Criteria of the kind diagnose: the step is done only when their faults are reported too."""
    say: Line
    why: Line
    late: Seconds = 20.0
    """Time after which the coach speaks without being asked."""


class CrewPost(Strict):
    """A place in the crew of a drill for several people: where its member stands, and what of that is the member's."""

    id: Id
    title: Line
    """Who stands there, such as Driller."""
    task: Line
    """What the member does in this drill, told in the briefing."""
    at: list[Literal["unit", "driller", "remote", "floor", "third", "fourth", "fifth"]] = Field(min_length=1)
    """The stations where the member stands: only their instruments are seen, only their controls worked."""
    only: list[str] = Field(default_factory=list, max_length=MOST_ROWS)
    """Controls there that are the member's, as patterns of targets such as floor.choke; absent: all."""
    without: list[str] = Field(default_factory=list, max_length=MOST_ROWS)
    """Controls there that another member works, as patterns of targets."""
    walks: bool = False
    """Whether the member walks from one of these stations to the other, and is at one at a time."""


class CrewCall(Strict):
    """A short call from one member of the crew to another; wrong ones are offered as well as right ones."""

    id: Id
    text: Line
    by: list[Id] = Field(default_factory=list, max_length=20)
    """The members who may make it; absent: all."""
    to: list[Id] = Field(default_factory=list, max_length=20)
    """The members to whom it may go; absent: all others."""
    figure: Id | None = None
    """The reading whose figure is told with it; who repeats the call back repeats the figure."""


class CrewPart(Strict):
    """What a member of the good crew does when no person stands there: the computer plays it from this.

    Its condition looks only at what the member can see from the post, and at what was called and repeated back.
    """

    post: Id
    when: Condition
    wait: Seconds = 2.0
    """Time from when the condition holds to the deed, s; it has to hold all the while."""
    do: Literal["set", "raise", "lower", "push", "hoist", "read", "say", "name", "go", "call"]
    target: str
    value: float | str | None = None
    """As in a command; of a reading absent: what the instrument shows."""
    heard: Id | None = None
    """The call whose figure is entered, for a reading that stands on no instrument there."""
    at: str | None = None
    """The station where it is done; absent: the first of the member's that has the control."""


class Caution(Strict):
    """What the coach says about an action that is refused, or ill-judged at that moment."""

    do: Literal["set", "raise", "lower", "push", "hoist"]
    target: str
    value: str | None = None
    when: Condition | None = None
    say: Line


class Wait(Strict):
    """Time in which a crew only waits. In a check it may be skipped, and the record says so."""

    id: Id
    title: Line
    when: Condition
    """Holds while there is nothing to do but wait; a skip ends when it no longer does."""
    most: Seconds = Field(default=600.0, gt=0.0, le=3600.0)
    """So far one skip goes."""


class End(Strict):
    """When the drill is over: at a time (s) or when a condition has held, whichever comes first."""

    at: Seconds = Field(gt=0.0, le=24 * 3600.0)
    when: Condition | None = None
    hold: Annotated[Seconds, Field(alias="for")] = 0.0


class Drill(Strict):
    """One drill, whole, as its TOML file declares it; the published schema is made from this."""

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$", max_length=60)
    title: Line
    purpose: Line
    level: Literal["beginner", "competent", "advanced"]
    minutes: float = Field(gt=0.0, le=240.0)
    plants: list[str] = Field(min_length=1, max_length=20)
    method: Line | None = None
    """The stated method, where more than one is right in the trade."""
    pass_mark: float = Field(ge=1.0, le=100.0)
    well_control: bool = False
    crew: Literal["manned", "alone", "shared"] = "manned"
    """Whether somebody stands at each station, one person walks between them, or several people share the run."""
    post: list[CrewPost] = Field(default_factory=list, max_length=12)
    """The members of the crew, where several people share the run."""
    call: list[CrewCall] = Field(default_factory=list, max_length=MOST_ROWS)
    """The short calls that they make to each other."""
    part: list[CrewPart] = Field(default_factory=list, max_length=200)
    """What the good crew does: the computer plays from it whoever is not there."""
    ways: Ways = Field(default_factory=Ways)
    """How far it is on foot, where one person works alone."""
    learning: list[Line] = Field(min_length=1, max_length=MOST_ROWS)
    safety: list[Line] = Field(min_length=1, max_length=MOST_ROWS)
    references: list[Line] = Field(min_length=1, max_length=MOST_ROWS)
    initial: Initial
    vary: list[Vary] = Field(default_factory=list, max_length=MOST_ROWS)
    event: list[Event] = Field(default_factory=list, max_length=MOST_ROWS)
    milestone: list[Milestone] = Field(default_factory=list, max_length=MOST_ROWS)
    statement: list[Statement] = Field(default_factory=list, max_length=MOST_ROWS)
    reading: list[NamedReading] = Field(default_factory=list, max_length=MOST_ROWS)
    criterion: list[Criterion] = Field(min_length=1, max_length=100)
    critical: list[Critical] = Field(default_factory=list, max_length=MOST_ROWS)
    rules: list[Id] = Field(default_factory=list, max_length=MOST_ROWS)
    """Ids of the named rules in scenarios/rules whose critical errors count here too."""
    leaves: list[Id] = Field(default_factory=list, max_length=MOST_ROWS)
    """Ids of the named rules about how the unit is left that do not hold here: the method leaves it so."""
    graded: dict[Id, Levels] = Field(default_factory=dict, max_length=MOST_ROWS)
    """Criteria of the named rules in scenarios/rules that are scored here too: by id, with points and levels."""
    roles: dict[str, Id] = Field(default_factory=dict, max_length=MOST_ROWS)
    """Milestones of this drill by the name that a rule gives them, where it is another."""
    coach: list[CoachStep] = Field(default_factory=list, max_length=MOST_ROWS)
    caution: list[Caution] = Field(default_factory=list, max_length=MOST_ROWS)
    pace: Literal[1, 2, 5] = 1
    """How many times as fast as the clock a check of this drill runs."""
    wait: list[Wait] = Field(default_factory=list, max_length=MOST_ROWS)
    """Waits that may be skipped, also in a check."""
    end: End

    @property
    def finds_faults(self) -> bool:
        """Whether a criterion scores the naming of a fault, so that the page offers the list of faults."""
        return any(criterion.kind == "diagnose" for criterion in self.criterion)

    def is_for(self, plant: str, base: str = "") -> bool:
        """Whether it is written for a plant, or for the ``base`` that the plant was fitted from."""
        return plant in self.plants or base in self.plants


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault in a drill file: where, what is wrong and how to mend it."""

    path: str
    text: str

    def __str__(self) -> str:
        return f"{self.path}: {self.text}" if self.path else self.text


class DrillError(ValueError):
    """A drill that cannot be used, with everything that is wrong in it."""

    def __init__(self, name: str, problems: list[Problem]) -> None:
        self.name = name
        self.problems = problems
        super().__init__("\n".join(f"{name}: {problem}" for problem in problems))


@lru_cache(maxsize=8)
def read_drill(text: str, name: str = "drill") -> Drill:
    """A drill from the text of its TOML file; raises ``DrillError`` listing every fault of form.

    Tags, units and ids are checked against a plant later, by ``trainer.drills.prepare``.
    """
    if len(text) > LARGEST_FILE:
        problem = Problem("", f"larger than {LARGEST_FILE} characters; a drill is a few pages at most.")
        raise DrillError(name, [problem])
    try:
        data = toml.loads(text)
    except ValueError as error:
        raise DrillError(name, [Problem("", f"is not TOML: {error}.")]) from None
    try:
        return Drill.model_validate(_with_graded(data, name))
    except ValidationError as error:
        raise DrillError(name, _problems(error)) from None


def _with_graded(data: dict[str, object], name: str) -> dict[str, object]:
    """The file's data with each criterion of the named rules written out after its own, where all has its form."""
    asked, own, roles = data.get("graded"), data.get("criterion"), data.get("roles", {})
    if not (isinstance(asked, dict) and isinstance(own, list) and isinstance(roles, dict)):
        return data
    known = graded()
    unknown = [f"there is no scored rule {one!r}; {nearest(str(one), known)}" for one in asked if one not in known]
    if unknown:
        raise DrillError(name, [Problem("graded", text) for text in unknown])
    added = [known[one].criterion(levels, roles) for one, levels in asked.items() if isinstance(levels, dict)]
    return {**data, "criterion": [*own, *added]}


_KINDS = re.compile(
    r"^(reach|order|limit|final|reading|stood|say|answer|confirm|economy|diagnose|call|repeats|assess)$"
)


def key_path(location: tuple[int | str, ...]) -> str:
    """A place in the file as written there: criterion[2].full, counting from 1."""
    path = ""
    for depth, part in enumerate(location):
        if isinstance(part, int):
            path += f"[{part + 1}]"
        elif depth == 2 and location[0] == "criterion" and _KINDS.match(part):
            continue  # pydantic names the branch of the union; the file does not
        else:
            path += f".{part}" if path else part
    return path


def _problems(error: ValidationError) -> list[Problem]:
    problems = []
    for fault in error.errors(include_url=False)[:MOST_TOLD]:
        location = fault["loc"]
        given = repr(fault["input"])
        given = given if len(given) <= 60 else given[:57] + "..."
        message = fault["msg"].removeprefix("Value error, ")
        match fault["type"]:
            case "missing":
                text = f"missing; add {location[-1]!r}."
            case "extra_forbidden":
                text = f"unknown key; {nearest(str(location[-1]), _keys_at(location))}"
            case "union_tag_not_found":
                text = "missing 'kind'; say how it is judged: " + ", ".join(_criteria()) + "."
            case "union_tag_invalid":
                text = f"there is no such kind; kinds are {', '.join(_criteria())}."
            case "literal_error":
                text = f"given {given}; expected {fault['ctx']['expected']}."
            case "string_pattern_mismatch":
                text = f"given {given}; an id is small letters and digits, beginning with a letter, joined by "
                text += "a dash." if location == ("id",) else "an underscore."
            case _:
                text = f"given {given}; {message[0].lower()}{message[1:]}."
        problems.append(Problem(key_path(location), text))
    return problems


def _criteria() -> dict[str, type[BaseModel]]:
    models = cast(tuple[type[BaseModel], ...], get_args(get_args(Criterion)[0]))
    return {get_args(model.model_fields["kind"].annotation)[0]: model for model in models}


def _keys_at(location: tuple[int | str, ...]) -> list[str]:
    """The keys that the table holding an unknown key may have."""
    model: type[BaseModel] = Drill
    if len(location) > 1:
        table = str(location[0])
        if table == "criterion":
            model = _criteria()[str(location[2])]
        else:
            annotation: object = Drill.model_fields[table].annotation
            model = cast(type[BaseModel], next(iter(get_args(annotation)), annotation))
        if len(location) > 3 and table != "criterion":
            deeper: dict[str, type[BaseModel]] = {"commands": Action, "then": Action, "faults": FaultSetting}
            model = deeper.get(str(location[-3]), model)
    return [field.alias or name for name, field in model.model_fields.items()]


def json_schema() -> dict[str, object]:
    """The JSON Schema published as ``assets/schema/drill.schema.json``."""
    schema = Drill.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
