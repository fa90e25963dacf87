"""Where lessons lie: the shipped ones, and a class's own, of which every version stays."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from trainer import resources
from trainer.classroom.starts import StartError, built_in
from trainer.drills import library
from trainer.drills.lesson_plan import LessonError, LessonPlan, load_lesson, problems, read_lesson
from trainer.drills.schema import Drill
from trainer.kept import KeptFiles
from trainer.simulator import build

MOST_LESSONS = 200
MOST_VERSIONS = 500


def own() -> KeptFiles:
    """A class's own lessons and their earlier versions: in the folder that ``resources.own_lessons`` names."""
    return KeptFiles(resources.own_lessons(), "lesson", MOST_LESSONS, MOST_VERSIONS, aside="versions")


def faults_of(plan: LessonPlan, drills: Mapping[str, Drill]) -> list[str]:
    """What is wrong with a lesson that is well formed, with its place; empty when it can be run."""
    return problems(plan, drills, build, lambda plant: built_in(build(plant)))


def check_lesson(path: Path, drills: Mapping[str, Drill]) -> list[str]:
    """Everything wrong with a lesson file, each with its place; empty when it can be run."""
    try:
        plan = load_lesson(path)
    except LessonError as error:
        return error.problems
    return faults_of(plan, drills)


def check_file(path: Path) -> list[str]:
    """``check_lesson`` against the drills of the library, for ``trainer check``."""
    return check_lesson(path, {name: library.load_file(found) for name, found in library.every_file().items()})


def lessons() -> dict[str, LessonPlan]:
    """Every lesson that can be read, by its id: the shipped ones, and the class's own, which may not take their names.
    One that is wrong is left out; ``trainer check`` says what is wrong with it."""
    found: dict[str, LessonPlan] = {}
    for path in (*own().standing().values(), *sorted(resources.lessons().glob("*.toml"))):
        try:
            written = path.stat()
            plan = _loaded(path, written.st_mtime_ns, written.st_size)
        except (LessonError, OSError):
            continue
        found[plan.id] = plan
    return dict(sorted(found.items(), key=lambda item: item[1].title.casefold()))


@lru_cache(maxsize=2 * MOST_LESSONS)
def _loaded(path: Path, written: int, size: int) -> LessonPlan:
    """The lesson of a file as it was written then: a page asks for all of them every second."""
    return load_lesson(path)


def every_version() -> dict[str, list[int]]:
    """The numbers of the kept versions of each of the class's own lessons by its id, the newest first."""
    kept = own()
    earlier = kept.earlier()
    return {
        lesson: [max(earlier.get(lesson, {}), default=0) + 1, *reversed(earlier.get(lesson, {}))]
        for lesson in kept.standing()
    }


def versions(lesson: str) -> list[int]:
    """The numbers of the kept versions of one of the class's own lessons, the newest first; the one that holds too."""
    kept = own()
    holds = [kept.version(lesson)] if lesson in kept.standing() else []
    return [*holds, *reversed(kept.earlier().get(lesson, {}))]


def text_of(lesson: str, version: int | None = None) -> str:
    """The text of a lesson's file, or of a kept version of one; StartError where there is none."""
    # Looked up by name: what an address asks for becomes no path.
    shipped = {path.stem: path for path in resources.lessons().glob("*.toml")}.get(lesson)
    text = own().text(lesson, version)
    if text is None and version is None and shipped is not None:
        text = shipped.read_text("utf-8")
    if text is None:
        raise StartError(f"there is no lesson {lesson!r}" + (f" in version {version}" if version is not None else ""))
    return text


def keep(text: str, drills: Mapping[str, Drill]) -> tuple[LessonPlan, int]:
    """Check the text of a lesson file and take it in, as the newest version of its id: (lesson, its version).
    LessonError says everything that is wrong; then nothing is kept."""
    plan = read_lesson(text)
    if wrong := faults_of(plan, drills):
        raise LessonError(plan.id, wrong)
    if (resources.lessons() / f"{plan.id}.toml").exists():
        raise LessonError(plan.id, [f"id: {plan.id!r} is the name of a shipped lesson; give yours another."])
    try:
        return plan, own().keep(plan.id, text)
    except ValueError as error:
        raise LessonError(plan.id, [f"{error}."]) from None
