"""Courses of an instructor's own: taken in when they are sound, with every earlier version kept beside them.

The course ``ID`` lies as ``ID.toml`` in the folder that ``resources.own_courses`` names, what stood there before as
``earlier/ID.1.toml``, ``earlier/ID.2.toml`` and so on.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Collection, Mapping
from pathlib import Path

from trainer import resources
from trainer.learn import courses
from trainer.learn.courses import Course, CourseError, DrillFacts

EARLIER = "earlier"
MOST_COURSES = 100
MOST_VERSIONS = 100


def checked(content: bytes, drills: Mapping[str, DrillFacts], rigs: Collection[str]) -> Course:
    """The course of a file; CourseError lists every fault, as the command ``trainer check`` does.

    drills: those of the class by id, brought-in ones too. rigs: ids of the plant files that are there.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise CourseError("course", ["is not UTF-8 text; save it as a TOML file."]) from None
    course = courses.read_course(text)
    others = {one.id: one for one in courses.offered(drills, rigs)} | {course.id: course}
    if faults := courses.problems(course, drills, rigs, others):
        raise CourseError(course.id, faults)
    courses.in_order(others.values())
    return course


def text_of(course: str) -> str | None:
    """The text of a course's file, of an instructor's own before a shipped one; None where there is neither."""
    for folder in (resources.own_courses(), resources.assets() / "courses"):
        path = {path.stem: path for path in courses.files(folder)}.get(course)
        if path is not None:
            return path.read_text("utf-8")
    return None


def own() -> list[str]:
    """The ids of the instructor's own courses."""
    return [path.stem for path in courses.files(resources.own_courses())]


def earlier_versions() -> dict[str, dict[int, Path]]:
    """The files of earlier versions by course and number, from 1 on; those of removed courses too."""
    found: dict[str, dict[int, Path]] = {}
    for path in courses.files(resources.own_courses() / EARLIER):
        name, _, number = path.stem.rpartition(".")
        if number.isdecimal():
            found.setdefault(name, {})[int(number)] = path
    return {name: dict(sorted(versions.items())) for name, versions in sorted(found.items())}


def unfit(drills: Mapping[str, DrillFacts], rigs: Collection[str]) -> dict[str, list[str]]:
    """The instructor's courses that are offered to nobody, by id, each with everything wrong in it."""
    known, found = {*own(), *(one.id for one in courses.shipped())}, {}
    for path in courses.files(resources.own_courses()):
        try:
            faults = courses.problems(courses.load_course(path), drills, rigs, known)
        except CourseError as error:
            faults = error.problems
        if faults:
            found[path.stem] = faults
    return found


def keep(course: Course, text: str) -> int:
    """Keep a course that was checked in place of its version before, which is laid beside; the new number.

    ValueError where the same text stands already, or too many courses or versions are kept.
    """
    folder = resources.own_courses()
    if text == text_of(course.id):
        raise ValueError(f"{course.id}.toml stands already, the same to the letter")
    if course.id not in own() and len(own()) >= MOST_COURSES:
        raise ValueError(f"{MOST_COURSES} courses are kept already; remove one first")
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    _lay_aside(course.id)
    # The id is letters, digits and dashes: a file's name and nothing more.
    part = folder / f"{course.id}.{secrets.token_hex(4)}.part"
    part.write_text(text, encoding="utf-8")
    part.replace(folder / f"{course.id}.toml")
    return _next(course.id)


def remove(course: str) -> None:
    """Take a course out; its file stays among the earlier versions. ValueError for one that is not the instructor's."""
    if course not in own():
        raise ValueError("there is no such course of your own")
    _lay_aside(course)


def _next(course: str) -> int:
    """The number of the version that holds, or of the next one for a course that was removed."""
    return max(earlier_versions().get(course, {}), default=0) + 1


def _lay_aside(course: str) -> None:
    path = resources.own_courses() / f"{course}.toml"
    if not path.is_file():
        return
    number = _next(course)
    if number > MOST_VERSIONS:
        raise ValueError(f"{MOST_VERSIONS} versions of {course} are kept already; give the course another id")
    folder = path.parent / EARLIER
    folder.mkdir(exist_ok=True, mode=0o700)
    path.replace(folder / f"{course}.{number}.toml")


def written(name: str, title: str, purpose: str, rig: str, after: Collection[str], drills: Collection[str]) -> str:
    """The TOML text of a course made of these drills in this order, which come after these courses."""
    said = {"id": name, "title": title, "purpose": purpose, "rig": rig, "after": list(after)}
    # A JSON string or list of them is one of TOML too.
    lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in said.items()]
    steps = [f"\n[[step]]\ndrill = {json.dumps(drill)}" for drill in drills]
    return "\n".join([*lines, *steps, ""])
