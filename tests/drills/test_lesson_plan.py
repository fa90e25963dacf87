"""Lesson files: what is wrong with one is said with its place, and the published schema is the one that is read."""

from __future__ import annotations

import json
import tomllib

import jsonschema
import pytest

from trainer import resources
from trainer.drills import library
from trainer.drills.lesson_plan import LessonError, in_words, lesson_schema, problems, read_lesson
from trainer.simulator import build

GOOD = """
id = "try-it"
title = "Try it"
purpose = "See."
minutes = 10
drill = "kick-while-drilling"
groups = ["A", "B"]
[[step]]
title = "Leak"
when = "upper_annular.closed"
for = "3 s"
group = "A"
fault = "upper_annular.leak_close"
severity = "40 %"
"""


def faults(text: str) -> list[str]:
    """Everything that is said of a lesson's text, of its form and of what it asks of the rig."""
    try:
        plan = read_lesson(text)
    except LessonError as error:
        return error.problems
    drills = {"kick-while-drilling": library.load_file(library.find("kick-while-drilling"))}
    return problems(plan, drills, build, lambda plant: ["as built"])


def test_a_good_lesson_has_no_faults_and_reads_in_words() -> None:
    assert faults(GOOD) == []
    drill = library.load_file(library.find("kick-while-drilling"))
    assert in_words("upper_annular.closed", build("quillback"), drill) == "upper annular closed"
    assert "Well shut in" in in_words("done(shut_in)", build("quillback"), drill)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("upper_annular.closed", "upper_anular.closed", "step[1].when: the plant has no reading 'upper_anular.closed'"),
        ("upper_annular.closed", "done(nothing)", "step[1].when: the drill has no milestone 'nothing'"),
        ("upper_annular.closed", "at(shut_in, well.pit_gain) > 1 bbl", "step[1].when: at(…) is for drills only"),
        ("leak_close", "leak_clos", "step[1].fault: quillback has no fault 'upper_annular.leak_clos'"),
        ("40 %", "140 %", "step[1].severity: 140 % is out of range"),
        ("40 %", "40 psi", "step[1].severity:"),
        ('group = "A"', 'group = "C"', "step[1].group: there is no group 'C'"),
        ('for = "3 s"', 'at = "3 s"', "step[1]: give at or when, not both"),
        ('drill = "kick-while-drilling"', 'start = "as built"', "plant: missing"),
        ('drill = "kick-while-drilling"', 'drill = "kick"', "drill: there is no drill 'kick'"),
        ('fault = "upper_annular.leak_close"', "", "step[1]: nothing happens"),
        ("minutes = 10", "minuts = 10", "minuts: unknown key"),
        ("minutes = 10", "minutes = = 10", "is not TOML"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(old: str, new: str, said: str) -> None:
    assert old in GOOD
    found = faults(GOOD.replace(old, new))
    assert any(line.startswith(said) for line in found), found


def test_the_published_schema_takes_the_shipped_lessons() -> None:
    published = json.loads((resources.assets() / "schema" / "lesson.schema.json").read_text("utf-8"))
    assert published == lesson_schema()
    shipped = sorted(resources.lessons().glob("*.toml"))
    assert len(shipped) >= 2
    for path in shipped:
        jsonschema.validate(tomllib.loads(path.read_text("utf-8")), published)
