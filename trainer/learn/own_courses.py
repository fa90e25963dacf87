"""Courses of an instructor's own: taken in when they are sound, with every earlier version kept beside them."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping

from trainer import resources
from trainer.kept import KeptFiles
from trainer.learn import courses
from trainer.learn.courses import Course, CourseError, DrillFacts

MOST_COURSES = 100
MOST_VERSIONS = 100


def own() -> KeptFiles:
    """The instructor's own courses and their earlier versions: in the folder that ``resources.own_courses`` names."""
    return KeptFiles(resources.own_courses(), "course", MOST_COURSES, MOST_VERSIONS)


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
    shipped = resources.assets() / "courses" / f"{course}.toml"
    mine = own().text(course)
    return shipped.read_text("utf-8") if mine is None and shipped in courses.files(shipped.parent) else mine


def unfit(drills: Mapping[str, DrillFacts], rigs: Collection[str]) -> dict[str, list[str]]:
    """The instructor's courses that are offered to nobody, by id, each with everything wrong in it."""
    mine, found = own().standing(), {}
    known = {*mine, *(one.id for one in courses.shipped())}
    for name, path in mine.items():
        try:
            faults = courses.problems(courses.load_course(path), drills, rigs, known)
        except CourseError as error:
            faults = error.problems
        if faults:
            found[name] = faults
    return found


def keep(course: Course, text: str) -> int:
    """Keep a course that was checked in place of its version before; the new number.

    ValueError where the same text stands already, as an own or a shipped course, or too many are kept.
    """
    if text == text_of(course.id):
        raise ValueError(f"{course.id}.toml stands already, the same to the letter")
    return own().keep(course.id, text)


def written(name: str, title: str, purpose: str, rig: str, after: Collection[str], drills: Collection[str]) -> str:
    """The TOML text of a course made of these drills in this order, which come after these courses."""
    said = {"id": name, "title": title, "purpose": purpose, "rig": rig, "after": list(after)}
    # A JSON string or list of them is one of TOML too.
    lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in said.items()]
    steps = [f"\n[[step]]\ndrill = {json.dumps(drill)}" for drill in drills]
    return "\n".join([*lines, *steps, ""])
