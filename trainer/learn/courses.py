"""Courses: which drills and exercises of a rig in which order, and what comes before; a TOML file a course.

The shipped ones lie in ``assets/courses``, those of an instructor in the folder that ``resources.own_courses`` names.
"""

from __future__ import annotations

import functools
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Protocol

from pydantic import Field, ValidationError

from trainer import resources, toml
from trainer.drills.criteria_schema import Line, Strict
from trainer.drills.expressions import nearest

LARGEST_FILE = 100_000
MOST_STEPS = 100
CourseId = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$", max_length=60)]


class DrillFacts(Protocol):
    """What a course needs to know of a drill: its id, its title, the plants it runs on and what it teaches."""

    @property
    def id(self) -> str: ...

    @property
    def title(self) -> str: ...

    @property
    def plants(self) -> list[str]: ...

    @property
    def learning(self) -> list[str]: ...


class Step(Strict):
    """One step: the id of a drill, or how many questions on the rig's parts are to be known."""

    drill: str | None = None
    parts: Annotated[int, Field(ge=1, le=500)] | None = None
    """So many questions on the rig's parts count as known."""


class Course(Strict):
    """One course, whole: the drills and exercises of one rig in their order, and the courses before it."""

    id: CourseId
    title: Line
    purpose: Line
    rig: CourseId
    place: Annotated[int, Field(ge=1, le=999)] = 999
    """Where it stands among the courses."""
    after: list[CourseId] = Field(default_factory=list, max_length=20)
    """Courses to finish first."""
    step: list[Step] = Field(min_length=1, max_length=MOST_STEPS)

    @property
    def parts(self) -> int:
        """How many questions on the rig's parts its steps want known at most; 0 where none does."""
        return max((step.parts or 0 for step in self.step), default=0)

    @property
    def drills(self) -> list[str]:
        """The ids of the drills of its steps, in their order; exercises have none."""
        return [step.drill for step in self.step if step.drill is not None]


class CourseError(ValueError):
    """A course file that cannot be used, with everything that is wrong in it."""

    def __init__(self, name: str, problems: Sequence[str]) -> None:
        self.problems = list(problems)
        super().__init__("\n".join(f"{name}: {problem}" for problem in problems))


def read_course(text: str, name: str = "course") -> Course:
    """A course from the text of its TOML file; CourseError lists every fault of form, with its place."""
    if len(text) > LARGEST_FILE:
        raise CourseError(name, [f"larger than {LARGEST_FILE} characters; a course is a page at most."])
    try:
        course = Course.model_validate(toml.loads(text))
    except ValidationError as error:
        raise CourseError(name, [_told(fault) for fault in error.errors(include_url=False)]) from None
    except ValueError as error:
        raise CourseError(name, [f"is not TOML: {error}."]) from None
    wrong = [
        f'step[{at}]: give either drill = "…" or parts = 12, one of them.'
        for at, step in enumerate(course.step, 1)
        if (step.drill is None) == (step.parts is None)
    ]
    if wrong:
        raise CourseError(name, wrong)
    return course


def _told(fault: Mapping[str, object]) -> str:
    place = ""
    located = fault["loc"]
    for part in located if isinstance(located, tuple) else ():
        place += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if place else str(part)
    match fault["type"]:
        case "missing":
            return f"{place}: missing; add it."
        case "extra_forbidden":
            known = Step.model_fields if "step" in place else Course.model_fields
            return f"{place}: unknown key; {nearest(place.rpartition('.')[2], list(known))}"
        case _:
            return f"{place}: given {str(fault['input'])[:60]!r}. {fault['msg']}."


def load_course(path: Path) -> Course:
    """A course from its file, named after its id; CourseError says what is wrong with it."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise CourseError(path.name, [f"cannot be read: {error}."]) from None
    course = read_course(text, path.name)
    if course.id != path.stem:
        raise CourseError(path.name, [f"id: {course.id!r} is not the file's name; call the file {course.id}.toml."])
    return course


def problems(
    course: Course, drills: Mapping[str, DrillFacts], rigs: Collection[str], known: Collection[str]
) -> list[str]:
    """What a course names that is not there, or not for its rig. known: the ids of all courses."""
    found: list[str] = []
    if course.rig not in rigs:
        found.append(f"rig: there is no rig {course.rig!r}; {nearest(course.rig, rigs)}")
    for at, step in enumerate(course.step, 1):
        if step.drill is None:
            continue
        drill = drills.get(step.drill)
        if drill is None:
            found.append(f"step[{at}].drill: there is no drill {step.drill!r}; {nearest(step.drill, drills)}")
        elif course.rig in rigs and course.rig not in drill.plants:
            found.append(f"step[{at}].drill: {step.drill!r} is not for {course.rig!r}; leave it out.")
    found += [
        f"after[{at}]: there is no course {name!r}; {nearest(name, known)}"
        for at, name in enumerate(course.after, 1)
        if name not in known
    ]
    return found


def in_order(courses: Iterable[Course]) -> list[Course]:
    """Courses by place, each after what comes before it; CourseError for courses that wait for each other."""
    waiting = sorted(courses, key=lambda course: (course.place, course.id))
    ids = {course.id for course in waiting}
    placed: list[Course] = []
    while waiting:
        there = {course.id for course in placed}
        ready = next((one for one in waiting if not (set(one.after) & ids) - there), None)
        if ready is None:
            names = ", ".join(course.id for course in waiting)
            raise CourseError(waiting[0].id, [f"after: {names} wait for each other; take one of the names out."])
        placed.append(ready)
        waiting.remove(ready)
    return placed


def files(folder: Path) -> list[Path]:
    """The course files of a folder, in the order of their names; none where it is not there."""
    return sorted(folder.glob("*.toml"))


@functools.cache
def shipped() -> tuple[Course, ...]:
    """The shipped courses in their order; CourseError for a file that is wrong."""
    return tuple(in_order(load_course(path) for path in files(resources.assets() / "courses")))


def offered(drills: Mapping[str, DrillFacts], rigs: Collection[str]) -> list[Course]:
    """The shipped courses, and an instructor's own that fit; of the shipped ones the steps whose drills are there."""
    mine: list[Course] = []
    for path in files(resources.own_courses()):
        try:
            mine.append(load_course(path))
        except CourseError:
            continue  # ``trainer check`` says what is wrong with it
    known = {course.id for course in (*shipped(), *mine)}
    fitting = [course for course in mine if not problems(course, drills, rigs, known)]
    names = {course.id for course in fitting}
    kept = [course for course in shipped() if course.id not in names and not problems(course, drills, rigs, known)]
    try:
        return in_order([*kept, *fitting])
    except CourseError:
        return in_order(kept)
