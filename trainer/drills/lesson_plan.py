"""Lesson files: what an instructor plans around a drill or a starting point; a TOML file a lesson.

A step happens at a time of each trainee's run, when a condition of the drill language holds there, or by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, ValidationError

from trainer import toml, units
from trainer.drills.binding import Binder
from trainer.drills.criteria_schema import Condition, Line, Quantity, Strict
from trainer.drills.expressions import Catalogue, Known, Scope, condition, nearest
from trainer.drills.language import ExpressionError
from trainer.drills.phrases import Titles
from trainer.drills.phrases import condition as phrase
from trainer.drills.schema import Drill, key_path
from trainer.units import Seconds

LARGEST_FILE = 100_000
MOST_STEPS = 60
LONGEST_RUN = 24 * 3600.0
RANGES = {"at": "0 s to 24 h", "severity": "0 to 100 %"}
LessonId = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$", max_length=60)]


class LessonStep(Strict):
    """One step of a lesson: what happens, to whom, and when; without ``at`` or ``when`` the instructor runs it."""

    title: Line
    at: Quantity | None = None
    """Time of the run, such as 90 s or 3 min."""
    when: Condition | None = None
    """A condition of the drill language, such as: upper_annular.closed, or done(shut_in)."""
    hold: Annotated[Seconds, Field(alias="for")] = 0.0
    """So long the condition has to hold, s."""
    group: str = ""
    """The group it is for; absent: for all."""
    fault: str | None = None
    severity: Quantity = "100 %"
    over: Seconds = 0.0
    """Time in which the fault grows from nothing, s."""
    clear: str | None = None
    """A fault that is taken away."""
    tell: Line | None = None
    """What the trainee is told, such as a telephone call."""
    ask: Line | None = None
    """A question to the trainee, answered aloud."""
    discuss: Line | None = None
    """The clock stops there, and this is discussed; the instructor lets it go on."""
    private: Line | None = None
    """A note for the instructor, which no trainee sees."""


class LessonPlan(Strict):
    """One lesson, whole, as its TOML file declares it; the published schema is made from this."""

    id: LessonId
    title: Line
    purpose: Line
    minutes: float = Field(gt=0.0, le=480.0)
    drill: LessonId | None = None
    """The drill that is run, in practice; or ``start``."""
    start: str | None = Field(default=None, min_length=1, max_length=80)
    """The starting point of a free practice on ``plant``, such as pumps off."""
    plant: LessonId | None = None
    """The rig of a free practice."""
    variation: int = Field(default=0, ge=0, le=999_999_999)
    """The variation of the drill, the same for all."""
    groups: list[Annotated[str, Field(min_length=1, max_length=40)]] = Field(default_factory=list, max_length=12)
    """Names of groups; trainees are dealt out to them in the order of their names."""
    notes: Line | None = None
    """Notes for the instructor, which no trainee sees."""
    step: list[LessonStep] = Field(min_length=1, max_length=MOST_STEPS)


class LessonError(ValueError):
    """A lesson file that cannot be used, with everything that is wrong in it."""

    def __init__(self, name: str, problems: Sequence[str]) -> None:
        self.problems = list(problems)
        super().__init__("\n".join(f"{name}: {problem}" for problem in problems))


@lru_cache(maxsize=64)
def read_lesson(text: str, name: str = "lesson") -> LessonPlan:
    """A lesson from the text of its TOML file; LessonError lists every fault of form, with its place."""
    if len(text) > LARGEST_FILE:
        raise LessonError(name, [f"larger than {LARGEST_FILE} characters; a lesson is a few pages at most."])
    try:
        plan = LessonPlan.model_validate(toml.loads(text))
    except ValidationError as error:
        raise LessonError(name, [_fault(one) for one in error.errors(include_url=False)]) from None
    except ValueError as error:
        raise LessonError(name, [f"is not TOML: {error}."]) from None
    if wrong := list(_amiss(plan)):
        raise LessonError(name, wrong)
    return plan


def load_lesson(path: Path) -> LessonPlan:
    """A lesson from its file, named after its id; LessonError says what is wrong with it."""
    try:
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise LessonError(path.name, [f"cannot be read: {error}."]) from None
    return read_lesson(text, path.name)


def lesson_schema() -> dict[str, Any]:
    """The JSON Schema published as ``assets/schema/lesson.schema.json``, for editors that know it."""
    schema = LessonPlan.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    return schema


def _fault(fault: Mapping[str, Any]) -> str:
    place = key_path(fault["loc"])
    if fault["type"] == "missing":
        return f"{place}: missing; add it."
    if fault["type"] == "extra_forbidden":
        known = LessonStep.model_fields if "step" in place else LessonPlan.model_fields
        return f"{place}: unknown key; {nearest(place.rpartition('.')[2], list(known))}"
    return f"{place}: given {str(fault['input'])[:60]!r}. {fault['msg']}."


def _amiss(plan: LessonPlan) -> Iterator[str]:
    """What no rig needs to be known for."""
    if (plan.drill is None) == (plan.start is None):
        yield 'drill: give either drill = "…" or start = "…", one of them.'
    if plan.start is not None and plan.plant is None:
        yield 'plant: missing; a starting point belongs to a rig, such as plant = "quillback".'
    if len(set(plan.groups)) < len(plan.groups):
        yield "groups: two have the same name; give each its own."
    for at, step in enumerate(plan.step, 1):
        if step.at is not None and step.when is not None:
            yield f"step[{at}]: give at or when, not both; without them it is run by hand."
        if not any((step.fault, step.clear, step.tell, step.ask, step.discuss)):
            yield f"step[{at}]: nothing happens; give fault, clear, tell, ask or discuss."
        if step.group and step.group not in plan.groups:
            yield f"step[{at}].group: there is no group {step.group!r}; {nearest(step.group, plan.groups)}"
        for key, text, unit, top in (("at", step.at, "s", LONGEST_RUN), ("severity", step.severity, "%", 1.0)):
            try:
                value = 0.0 if text is None else units.edge_value(text, unit)
            except ValueError as error:
                yield f"step[{at}].{key}: {error}."
            else:
                if not 0.0 <= value <= top:
                    yield f"step[{at}].{key}: {text} is out of range; give {RANGES[key]}."


def problems(
    plan: LessonPlan,
    drills: Mapping[str, Drill],
    catalogue: Callable[[str], Catalogue],
    starts: Callable[[str], Collection[str]],
) -> list[str]:
    """What is wrong with a lesson that is well formed, on every rig that it is for: its drill or starting point, its
    faults and conditions. ``catalogue`` gives what a plant has, ``starts`` the names of its starting points."""
    drill = drills.get(plan.drill or "")
    if plan.drill is not None and drill is None:
        return [f"drill: there is no drill {plan.drill!r}; {nearest(plan.drill, drills)}"]
    plants = [plan.plant or ""] if drill is None else [plan.plant] if plan.plant else drill.plants
    if drill is not None and plan.plant is not None and plan.plant not in drill.plants:
        return [f"plant: {plan.drill!r} is not for {plan.plant!r}; it is for {', '.join(drill.plants)}."]
    found: list[str] = []
    for plant in plants:
        try:
            there = catalogue(plant)
        except ValueError as error:
            return [f"plant: {str(error).splitlines()[0]}"]
        if plan.start is not None and plan.start not in (known := starts(plant)):
            found.append(f"start: {plant} has no starting point {plan.start!r}; {nearest(plan.start, known)}")
        for at, step in enumerate(plan.step, 1):
            for key, fault in (("fault", step.fault), ("clear", step.clear)):
                if fault is not None and fault not in there.faults:
                    found.append(f"step[{at}].{key}: {plant} has no fault {fault!r}; {nearest(fault, there.faults)}")
            if step.when is not None:
                try:
                    trigger(step.when, there, drill)
                except ExpressionError as error:
                    found.append(f"step[{at}].when: {error}")
    return list(dict.fromkeys(found))


def known_to(catalogue: Catalogue, drill: Drill | None) -> Known:
    """The names that a trigger may use: the plant's, and the milestones, reports and entries of the drill that runs."""
    if drill is None:
        return Known(catalogue)
    return Known(
        catalogue,
        frozenset(one.id for one in drill.milestone),
        frozenset(one.id for one in drill.statement),
        frozenset(one.id for one in drill.reading),
    )


def trigger(source: str, catalogue: Catalogue, drill: Drill | None, scope: Scope | None = None) -> Callable[[], bool]:
    """A function that says whether a condition holds now in the run that ``scope`` looks at. ExpressionError, in one
    sentence, for a condition that the plant and the drill do not know, or that asks for a value of an earlier time."""
    checked = condition(source, known_to(catalogue, drill))
    if checked.keeps:
        raise ExpressionError("at(…) is for drills only; ask for what holds now.")
    return Binder(scope or Scope(read=lambda _: 0.0), catalogue.signals).condition(checked)


def in_words(source: str, catalogue: Catalogue, drill: Drill | None) -> str:
    """A condition as it reads on a page, with the boards' own names; the condition itself where it is not known."""
    titles = {("done", one.id): one.title for one in drill.milestone} if drill is not None else {}
    if drill is not None:
        titles |= {("said", one.id): one.text for one in drill.statement}
        titles |= {("noted", one.id): one.title for one in drill.reading}
    try:
        checked = condition(source, known_to(catalogue, drill))
    except ExpressionError:
        return source
    return phrase(checked.tree, Titles(catalogue.signals, lambda kind, name: titles.get((kind, name), name)))
