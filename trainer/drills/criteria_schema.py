"""What a drill file may say about a criterion: one model for each way of judging."""

from __future__ import annotations

import sys
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from trainer.units import Seconds

Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
Line = Annotated[str, Field(min_length=1, max_length=2000)]
Condition = Annotated[
    str,
    Field(
        min_length=1,
        max_length=2000,
        description="a condition, such as: upper_pipe_ram.position > 95 % and done(pumps_stopped)",
        examples=["accumulator.pressure < 1500 psi"],
    ),
]
Quantity = Annotated[
    str,
    Field(
        min_length=1,
        max_length=2000,
        description="a quantity with its unit, or reckoned from readings: 20 gal, totaliser.true",
        examples=["20 gal"],
    ),
]
Category = Literal["outcome", "sequence", "timing", "instruments", "fluid", "communication", "safety"]


class Strict(BaseModel):
    """Declarations refuse unknown keys and silent conversions.

    Validators are built at the first use: whoever opens the trainer waits for none. What the fields' texts say goes
    into the published schema only, so the browser does not read them out of the sources.
    """

    model_config = ConfigDict(
        extra="forbid",
        strict=True,
        frozen=True,
        defer_build=True,
        use_attribute_docstrings=sys.platform != "emscripten",
    )


class Critical(Strict):
    """A critical error: with it a run is not passed, whatever its points."""

    id: Id
    title: Line
    when: Condition
    hold: Annotated[Seconds, Field(alias="for")] = 0.0
    adds: Quantity | None = None
    """A flow that is added up all the while ``when`` holds, however often it is broken off; given with ``most``."""
    most: Quantity | None = None
    """So much may come together of what is added up; the error is made with more."""
    at_end: bool = False
    """Judged once, when the drill has ended."""
    reason: Line
    source: Line


class Common(Strict):
    """What every criterion says, whatever its kind: its name, its points, what it shows and why it matters."""

    id: Id
    title: Line
    points: float = Field(gt=0.0, le=1000.0)
    category: Category
    why: Line
    """Why it matters, in words for the trainee who lost the points."""
    source: Line
    """Where the expectation comes from: a rule, a book, common practice, or this drill's stated method."""
    expected: Line | None = None
    """What was expected, in plain words; absent: the condition itself is quoted."""
    required: bool = False
    """Without any points here the drill is not passed, whatever the score."""
    clerical: bool = False
    """An entry for the log or the kill sheet: scored, at most 3 points together, and never required."""
    needs: list[Id] = []
    """Milestones that must have been reached for any points: nothing is earned by standing still."""
    teaches: list[Annotated[int, Field(ge=1, le=20)]] = Field(default=[], max_length=20)
    """Learning points of the drill that it shows, counted from 1; absent: progress is told by its category."""
    post: Id | None = None
    """Of a crew: the member whose mark it is, and whose entries and reports alone count; absent: the whole crew's."""


class Reach(Common):
    """A state of the plant is brought about, graded by the time it took."""

    kind: Literal["reach"]
    when: Condition
    hold: Annotated[Seconds, Field(alias="for")] = 0.0
    """How long it must last to count; the time that counts is when it began."""
    from_: Id | None = Field(default=None, alias="from")
    """Milestone from which the time is counted; the start of the drill if absent."""
    full: Seconds | None = None
    """Full points up to this time; absent: at any time."""
    zero: Seconds | None = None
    """No points from this time on; absent: as ``full``."""


class Order(Common):
    """Milestones are reached in this order; the times may be equal."""

    kind: Literal["order"]
    steps: list[Id] = Field(min_length=2, max_length=20)
    partial: bool = False
    """Points for each right neighbouring pair instead of all or nothing."""


class Limit(Common):
    """A condition holds all the while between two milestones; the time outside of it costs the points."""

    kind: Literal["limit"]
    holds: Condition
    from_: Id | None = Field(default=None, alias="from")
    until: Id | None = None
    grace: Seconds = 0.0
    """Total time outside the limit that costs nothing."""
    zero: Seconds | None = None
    """Total time outside at which nothing is left; absent: anything over ``grace`` loses all."""


class Final(Common):
    """A condition holds when the drill ends: the plant is left as agreed."""

    kind: Literal["final"]
    holds: Condition


class Reading(Common):
    """The trainee enters a reading that agrees with the true value at that moment. The last entry counts."""

    kind: Literal["reading"]
    reading: Id
    tolerance: Quantity
    """Largest difference that earns full points, such as 25 psi."""
    against: Quantity | None = None
    """True value; absent: the signal the reading is taken from."""
    after: Id | None = None
    """Entries before this milestone do not count."""
    holds: Condition | None = None
    """What must be so when it is entered: a gauge that is shut off from what it should show earns nothing."""
    attempts: int = Field(default=5, ge=1, le=50)
    """More entries than this earn nothing: a reading is read, not guessed."""


class Stood(Common):
    """The instrument stood still when the trainee read it; judged apart from whether the entry is right."""

    kind: Literal["stood"]
    reading: Id
    change: Quantity = "10 psi"
    """Most that it may have moved."""
    over: Seconds = Field(default=30.0, gt=0.0, le=30.0)
    """Time before the entry in which it may have moved by no more."""
    after: Id | None = None
    """Entries before this milestone do not count."""


class Say(Common):
    """The trainee makes a statement, at the right time and when it is true."""

    kind: Literal["say"]
    statement: Id
    after: Id | None = None
    within: Seconds | None = None
    """Time allowed after ``after``."""
    holds: Condition | None = None
    """What must be so when it is said: a false report earns nothing until it is made again and is true."""
    instead_of: list[Id] = []
    """Statements that lose the points when they are made, before the right one or after: they say the opposite."""


class Answer(Common):
    """A question that the seed picks is answered by a statement; the first one counts, and none may go against it."""

    kind: Literal["answer"]
    question: str
    """vary.<id> of a variation with one_of: the questions, put to the trainee as {vary.<id>}."""
    answers: list[Id] = Field(min_length=2, max_length=50)
    """The right statement for each of them, in the same order."""
    instead_of: list[Id] = []
    """Further statements that go against a right answer: they are right for no question."""
    after: Id | None = None
    """Milestone at which the question is put."""
    within: Seconds | None = None
    """Time allowed from then on."""


class Confirm(Common):
    """The trainee shows that the instruments were looked at, by entering what they show."""

    kind: Literal["confirm"]
    of: list[str] = Field(min_length=1, max_length=20)
    """Named readings or signal tags that count."""
    at_least: int | None = Field(default=None, ge=1)
    """How many of them are needed for full points; absent: all."""
    where: dict[str, Condition] = {}
    """Readings that tell something only where a condition holds as they are entered: a regulator's, while what it feeds
    is sent to close."""
    after: Id | None = None
    until: Id | None = None
    """Entries from this milestone on do not count: what was to be seen is there no more; absent: to the end."""
    within: Seconds | None = None
    tolerance: float = Field(default=0.1, ge=0.0, le=1.0)
    """An entry off by no more than this share of the reading, and two of its units, shows that somebody looked."""


class Economy(Common):
    """A quantity used between two milestones, such as fluid, is kept small."""

    kind: Literal["economy"]
    measure: Quantity
    from_: Id | None = Field(default=None, alias="from")
    until: Id | None = None
    full: Quantity
    zero: Quantity


class Diagnose(Common):
    """The trainee names the fault. Each wrong name takes a share of the points that are left; three take them all."""

    kind: Literal["diagnose"]
    fault: str
    """Fault id, or vary.<id> for one that the seed picks."""
    from_: Id | None = Field(default=None, alias="from")
    full: Seconds | None = None
    zero: Seconds | None = None
    each_wrong: float = Field(default=0.34, ge=0.0, lt=1.0)
    alike: list[Id] = []
    """Other faults of the same part that nothing allowed in this drill tells from it: they count as right."""


class MakeCall(Common):
    """A member of the crew makes a call to another, when it is true and in time, and it is repeated back."""

    kind: Literal["call"]
    call: Id
    to: Id | None = None
    """The member who has to get it; absent: whoever it may go to."""
    after: Id | None = None
    within: Seconds | None = None
    """Time allowed after ``after``."""
    holds: Condition | None = None
    """What must be so when it is made: a false call earns nothing until it is made again and is true."""
    repeated: Seconds | None = None
    """Time in which it has to be repeated back; absent: the call alone earns the points."""
    instead_of: list[Id] = []
    """Calls that lose the points when they are made: they say the opposite."""


class TellFigure(Common):
    """A member tells another a figure as the instrument shows it, and it is repeated back as it was told.

    The last telling counts. A wrong figure, told or repeated, that the crew puts right costs half of the points.
    """

    kind: Literal["figure"]
    call: Id
    to: Id | None = None
    """The member who has to get it; absent: whoever it may go to."""
    tolerance: Quantity
    """Largest difference from the instrument that earns points, such as 25 psi."""
    against: Quantity | None = None
    """True value; absent: the signal of the reading that the call carries."""
    after: Id | None = None
    """Figures told before this milestone do not count."""
    within: Seconds | None = None
    """Time allowed after ``after``."""
    repeated: Seconds = 20.0
    """Time in which it has to be repeated back."""


class RepeatBack(Common):
    """Every call to a member is repeated back in time, or without ``post`` every call of the crew: by shares."""

    kind: Literal["repeats"]
    calls: list[Id] = []
    """The calls that count; absent: all of the drill."""
    within: Seconds = 20.0


class Assess(Common):
    """Judged by the assessor; outside the machine's score until marked."""

    kind: Literal["assess"]
    look_for: Line
    """What a good performance looks like."""
    levels: list[Line] | None = Field(default=None, min_length=3, max_length=3)
    """What earns none, half and all of the points, in words: weak, acceptable, good."""


Criterion = Annotated[
    Reach
    | Order
    | Limit
    | Final
    | Reading
    | Stood
    | Say
    | Answer
    | Confirm
    | Economy
    | Diagnose
    | MakeCall
    | TellFigure
    | RepeatBack
    | Assess,
    Field(discriminator="kind"),
]
