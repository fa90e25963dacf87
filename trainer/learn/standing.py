"""How far somebody is in courses, by learning point, and the one step to do next, with the reason.

Evidence are attempts at drills, each with what it earned on each learning point.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Final, Literal, Protocol

from trainer.learn.courses import Course, DrillFacts
from trainer.learn.spacing import GOOD, Review, standing

State = Literal["new", "practised", "mastered", "due"]
DrillState = Literal["never tried", "tried", "passed", "due"]
ENOUGH: Final = 5
"""So many questions on the parts of a rig that are due are a step of their own."""
STATES: Final[tuple[DrillState, ...]] = ("never tried", "tried", "passed", "due")


class Done(Protocol):
    """An attempt at a drill: ``points`` has, by learning point, what was earned and what could be."""

    @property
    def drill(self) -> str: ...

    @property
    def mode(self) -> str: ...

    @property
    def passed(self) -> bool: ...

    @property
    def score(self) -> float: ...

    @property
    def points(self) -> Mapping[str, tuple[float, float]]: ...

    @property
    def at(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Point:
    """One learning point of a drill, where it stands, and when it is due; no day for what was never shown."""

    text: str
    state: State = "new"
    due: date | None = None


@dataclass(frozen=True, slots=True)
class DrillStanding:
    """Where one drill stands for one trainee: its state today, its learning points, and how it went so far."""

    state: DrillState
    points: tuple[Point, ...]
    passes: int = 0
    last_score: float = 0.0
    last_day: date | None = None
    best: float = 0.0

    @property
    def due(self) -> list[Point]:
        """The learning points that are due today or were before, in the drill's order."""
        return [point for point in self.points if point.state == "due"]


@dataclass(frozen=True, slots=True)
class CourseStanding:
    """Where one course stands: its learning points in the order of its steps, and what comes next in it."""

    course: Course
    points: tuple[Point, ...]
    open: bool
    """Whether the courses before it are finished."""
    finished: bool
    next: str
    """The drill of its next step; ``parts`` for exercises; empty when all is done."""
    known: int = 0
    """How many questions on the parts of its rig count as known."""
    begun: int = 0
    """How many more of them were right when last asked."""

    def count(self, state: State) -> int:
        """How many learning points of the course are in this state today."""
        return sum(point.state == state for point in self.points)


@dataclass(frozen=True, slots=True)
class Advice:
    """The one step to do next: a drill, or the exercises of a rig; and why, in plain words."""

    course: Course
    why: str
    drill: str = ""
    parts: str = ""
    points: tuple[Point, ...] = ()


def _day(text: str, today: date) -> date:
    try:
        return min(date.fromisoformat(text[:10]), today)
    except ValueError:
        return today


def of_drill(drill: DrillFacts, attempts: Sequence[Done], today: date) -> DrillStanding:
    """Where a drill stands after its attempts, oldest first. An attempt without a day is of today."""
    done = [one for one in attempts if one.drill == drill.id]
    points = []
    for text in drill.learning:
        shown = standing(
            Review(_day(one.at, today), one.points[text][0] / one.points[text][1], one.mode == "check")
            for one in done
            if text in one.points
        )
        if shown is None:
            points.append(Point(text))
            continue
        state: State = "practised"
        if shown.due <= today:
            state = "due"
        elif shown.mastered:
            state = "mastered"
        points.append(Point(text, state, shown.due))
    if not done:
        return DrillStanding("never tried", tuple(points))
    last, passes = done[-1], sum(one.passed for one in done)
    state_of: DrillState = "passed" if passes else "tried"
    if passes and any(point.state == "due" for point in points):
        state_of = "due"
    best = max(one.score for one in done)
    return DrillStanding(state_of, tuple(points), passes, last.score, _day(last.at, today), best)


@dataclass(frozen=True, slots=True)
class Assigned:
    """A course that staff assigned, by its id: the day by which it is to be finished, if one is set, and by whom."""

    course: str
    due: date | None = None
    by: str = ""


@dataclass(frozen=True, slots=True)
class Path:
    """All that the first page shows of a person's way: drills, courses and the one step to do next."""

    drills: Mapping[str, DrillStanding]
    courses: tuple[CourseStanding, ...]
    advice: Advice | None
    today: date
    parts_due: Mapping[str, int] = field(default_factory=dict)
    """By rig, how many questions on its parts are due for review."""
    assigned: Mapping[str, Assigned] = field(default_factory=dict)
    """The courses that staff assigned, by id, the nearest day first."""

    @property
    def due(self) -> list[tuple[str, Point]]:
        """Every learning point that is due, with its drill, the longest due first."""
        found = [(name, point) for name, one in self.drills.items() for point in one.due]
        return sorted(found, key=lambda each: each[1].due or self.today)


def path(
    courses: Sequence[Course],
    drills: Mapping[str, DrillFacts],
    attempts: Sequence[Done],
    known: Mapping[str, int],
    today: date,
    parts_due: Mapping[str, int] | None = None,
    assigned: Sequence[Assigned] = (),
    begun: Mapping[str, int] | None = None,
) -> Path:
    """Where a person stands. known: by rig, how many questions on its parts count as known; parts_due: are due.

    assigned: courses that staff assigned, the nearest day first. begun: by rig, how many questions more were right
    when last asked.
    """
    stand = {name: of_drill(drill, attempts, today) for name, drill in drills.items()}
    finished: set[str] = set()
    found: list[CourseStanding] = []
    for course in courses:
        left = [
            step.drill or "parts"
            for step in course.step
            if (known.get(course.rig, 0) < step.parts if step.parts else not stand[step.drill or ""].passes)
        ]
        points = tuple(point for name in course.drills for point in stand[name].points)
        if not left:
            finished.add(course.id)
        ready = set(course.after) <= finished
        counts = known.get(course.rig, 0), (begun or {}).get(course.rig, 0)
        found.append(CourseStanding(course, points, ready, not left, left[0] if left else "", *counts))
    whole = Path(stand, tuple(found), None, today, parts_due or {}, {one.course: one for one in assigned})
    return replace(whole, advice=_advice(whole, drills, attempts))


def _advice(path: Path, drills: Mapping[str, DrillFacts], attempts: Sequence[Done]) -> Advice | None:
    """First what staff assigned; then what is due: drills, then exercises; then on with the course of the last attempt;
    then the first that is open."""
    mine = {each.course.id: each for each in path.courses if not each.finished}
    for given in path.assigned.values():
        if (ordered := mine.get(given.course)) is not None:
            by = f", to be finished by {_written(given.due)}" if given.due else ""
            why = f"{given.by or 'Your instructor'} assigned the course {ordered.course.title} to you{by}."
            return _step(path, ordered, why)
    of_course = {name: each for each in reversed(path.courses) for name in each.course.drills}
    due = [(name, path.drills[name]) for name in of_course if path.drills[name].state == "due"]
    if due:
        name, one = max(due, key=lambda each: (len(each[1].due), -_first_due(each[1], path.today).toordinal()))
        many = len(one.due)
        points = "1 learning point is" if many == 1 else f"{many} learning points are"
        why = f"You last did it on {_written(one.last_day or path.today)}. {points} due for review."
        return Advice(of_course[name].course, why, drill=name, points=tuple(one.due))
    rig = max(path.parts_due, key=lambda rig: path.parts_due[rig], default="")
    of_rig = [each.course for each in path.courses if each.course.rig == rig]
    if of_rig and path.parts_due[rig] >= ENOUGH:
        why = f"{path.parts_due[rig]} questions on its parts are due for review: short, and it keeps them in mind."
        return Advice(of_rig[0], why, parts=rig)
    last = next((of_course[one.drill] for one in reversed(attempts) if one.drill in of_course), None)
    going = [each for each in (last, *path.courses) if each is not None and each.open and not each.finished]
    if not going:
        return None
    return _step(path, going[0])


def _step(path: Path, now: CourseStanding, why: str = "") -> Advice:
    """The next step of a course; without a reason of its own, with the one that the course gives."""
    if now.next == "parts":
        said = (
            f"It is the next step of the course {now.course.title}. Follow the fluid, then answer questions under "
            f"By sight or Exercises until you know {now.course.parts}: both count. "
            f"You know {now.known}. Right once: {now.begun}."
        )
        return Advice(now.course, why or said, parts=now.course.rig)
    one = path.drills[now.next]
    fresh = tuple(point for point in one.points if point.state != "mastered")
    if one.state == "tried":
        said = f"Your last score was {one.last_score:.0f} of 100, not passed. Practise it again."
    else:
        many = len(one.points)
        said = (
            f"It is the next step of the course {now.course.title} and adds {many} learning point{'s' * (many != 1)}."
        )
    return Advice(now.course, why or said, drill=now.next, points=fresh)


def _first_due(one: DrillStanding, today: date) -> date:
    return min((point.due for point in one.due if point.due), default=today)


def _written(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


__all__ = ["GOOD", "Advice", "Assigned", "CourseStanding", "Done", "DrillStanding", "Path", "Point", "of_drill", "path"]
