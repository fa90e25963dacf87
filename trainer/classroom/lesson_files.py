"""Where lessons lie: the shipped ones, and a class's own, of which every version stays."""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping
from pathlib import Path

from trainer import resources
from trainer.classroom.starts import StartError, built_in
from trainer.drills import library
from trainer.drills.lesson_plan import LessonError, LessonPlan, load_lesson, problems, read_lesson
from trainer.drills.schema import Drill
from trainer.simulator import build

MOST_LESSONS = 200
MOST_VERSIONS = 500
_VERSION = re.compile(r"([a-z][a-z0-9-]*)\.(\d+)\.toml")


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
    for path in (*sorted(resources.own_lessons().glob("*.toml")), *sorted(resources.lessons().glob("*.toml"))):
        try:
            plan = load_lesson(path)
        except LessonError:
            continue
        found[plan.id] = plan
    return dict(sorted(found.items(), key=lambda item: item[1].title.casefold()))


def versions(lesson: str) -> list[int]:
    """The numbers of the kept versions of one of the class's own lessons, the newest first."""
    names = (_VERSION.fullmatch(path.name) for path in _folder().glob("*.toml"))
    return sorted((int(name[2]) for name in names if name is not None and name[1] == lesson), reverse=True)


def text_of(lesson: str, version: int | None = None) -> str:
    """The text of a lesson's file, or of a kept version of one; StartError where there is none."""
    own = resources.own_lessons()
    paths = [own / f"{lesson}.toml", resources.lessons() / f"{lesson}.toml"]
    if version is not None:
        paths = [_folder() / f"{lesson}.{version}.toml"]
    for path in paths:
        if path.is_file():
            return path.read_text("utf-8")
    raise StartError(f"there is no lesson {lesson!r}" + (f" in version {version}" if version is not None else ""))


def keep(text: str, drills: Mapping[str, Drill]) -> tuple[LessonPlan, int]:
    """Check the text of a lesson file and take it in, as the newest version of its id: (lesson, its version).
    LessonError says everything that is wrong; then nothing is kept."""
    plan = read_lesson(text)
    if wrong := faults_of(plan, drills):
        raise LessonError(plan.id, wrong)
    if (resources.lessons() / f"{plan.id}.toml").exists():
        raise LessonError(plan.id, [f"id: {plan.id!r} is the name of a shipped lesson; give yours another."])
    own, known = resources.own_lessons(), versions(plan.id)
    if not known and len(list(own.glob("*.toml"))) >= MOST_LESSONS:
        raise LessonError(plan.id, [f"{MOST_LESSONS} lessons were brought in already; delete one first."])
    if known and text == text_of(plan.id, known[0]):
        _write(own / f"{plan.id}.toml", text)
        return plan, known[0]
    if len(known) >= MOST_VERSIONS:
        raise LessonError(plan.id, [f"{MOST_VERSIONS} versions are kept already; give it another id."])
    number = (known[0] if known else 0) + 1
    _write(_folder() / f"{plan.id}.{number}.toml", text)
    _write(own / f"{plan.id}.toml", text)
    return plan, number


def delete(lesson: str) -> None:
    """Take one of the class's own lessons from the list; its versions stay, and bringing one in brings it back."""
    if lesson not in {path.stem for path in resources.own_lessons().glob("*.toml")}:
        raise StartError("there is no such lesson of this class")
    (resources.own_lessons() / f"{lesson}.toml").unlink(missing_ok=True)


def _folder() -> Path:
    return resources.own_lessons() / "versions"


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = path.with_name(f"{path.stem}.{secrets.token_hex(4)}.part")
    part.write_text(text, encoding="utf-8")
    part.replace(path)
