"""Courses as files, when something is due again, and the one step to do next."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

import pytest

from trainer import resources
from trainer.console import path_view
from trainer.console.progress import Attempt
from trainer.drills import library
from trainer.drills.schema import Drill
from trainer.learn import courses, own_courses
from trainer.learn.spacing import Review, standing
from trainer.learn.standing import Assigned, path

TODAY = date(2026, 11, 28)
KNOWN = {"sandpiper": 40, "quillback": 40}
FIRST, NEXT = "surface-first-function-test", "diverter-function-test"


@pytest.fixture(scope="module")
def drills() -> Mapping[str, Drill]:
    return library.all_drills()


def attempt(drill: Drill, days_ago: int, share: float, mode: str = "practice") -> Attempt:
    at = f"{TODAY - timedelta(days=days_ago):%Y-%m-%d}"
    points = dict.fromkeys(drill.learning, (10.0 * share, 10.0))
    return Attempt(f"{drill.id} {at}", drill.id, drill.title, mode, 100 * share, share >= 0.75, points, at)


def test_every_shipped_drill_and_rig_has_its_place_in_a_course(drills: Mapping[str, Drill]) -> None:
    shipped = courses.shipped()
    rigs, ids = list(resources.plant_files()), {course.id for course in shipped}
    assert [problem for course in shipped for problem in courses.problems(course, drills, rigs, ids)] == []
    assert {name for course in shipped for name in course.drills} == set(drills)
    assert len(courses.offered(drills, rigs)) == len(list((resources.assets() / "courses").glob("*.toml")))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("drill = ", "dril = "), r"step\[1\].dril: unknown key.*drill"),
        (("parts = 12", "parts = 0"), r"step\[2\].parts"),
        (("parts = 12", 'parts = 12\ndrill = "find-the-leak"'), r"step\[2\]: give either"),
        (('rig = "sandpiper"', ""), "rig: missing"),
        (("place = 1", "place = "), "is not TOML"),
        (('id = "sandpiper', 'id = "other'), "call the file other-operate.toml"),
    ],
)
def test_a_course_file_that_is_wrong_is_refused_with_the_place(
    tmp_path: Path, change: tuple[str, str], said: str
) -> None:
    file = tmp_path / "sandpiper-operate.toml"
    shipped = (resources.assets() / "courses" / file.name).read_text(encoding="utf-8")
    assert change[0] in shipped
    file.write_text(shipped.replace(*change), encoding="utf-8")
    with pytest.raises(courses.CourseError, match=said):
        courses.load_course(file)


def test_a_course_says_what_is_not_there_and_courses_do_not_wait_for_each_other(drills: Mapping[str, Drill]) -> None:
    text = 'id = "{}"\ntitle = "T"\npurpose = "P"\nrig = "sandpiper"\nafter = ["{}"]\n[[step]]\ndrill = "{}"\n'
    one = courses.read_course(text.format("one", "two", "find-the-leek"))
    assert any("find-the-leak" in problem for problem in courses.problems(one, drills, ["sandpiper"], {"one", "two"}))
    other = courses.read_course(text.format("two", "one", "find-the-leak"))
    assert any(
        "is not for 'sandpiper'" in problem for problem in courses.problems(other, drills, ["sandpiper"], {"one"})
    )
    with pytest.raises(courses.CourseError, match="wait for each other"):
        courses.in_order([one, other])


def test_an_own_course_joins_and_a_broken_one_does_not(
    drills: Mapping[str, Drill], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TRAINER_DATA", str(tmp_path))
    (tmp_path / "courses").mkdir()
    good = 'id = "mine"\ntitle = "Mine"\npurpose = "P"\nrig = "quillback"\nplace = 1\n[[step]]\ndrill = "dead-panel"\n'
    (tmp_path / "courses" / "mine.toml").write_text(good, encoding="utf-8")
    (tmp_path / "courses" / "broken.toml").write_text("[[step", encoding="utf-8")
    offered = courses.offered(drills, list(resources.plant_files()))
    assert "mine" in [course.id for course in offered] and len(offered) == len(courses.shipped()) + 1


def test_an_own_course_is_checked_and_its_earlier_versions_stay(
    drills: Mapping[str, Drill], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TRAINER_DATA", str(tmp_path))
    rigs = ["sandpiper", "quillback"]

    def made(*steps: str, after: tuple[str, ...] = ("sandpiper-operate",)) -> str:
        return own_courses.written("nights", 'The "night" shift', "Refresh.", "sandpiper", after, steps)

    def keep(text: str) -> int:
        return own_courses.keep(own_courses.checked(text.encode(), drills, rigs), text)

    first, second = made("surface-lost-rig-air"), made("surface-lost-rig-air", FIRST)
    assert (keep(first), keep(second)) == (1, 2)
    with pytest.raises(ValueError, match="stands already"):
        keep(second)
    course = next(one for one in courses.offered(drills, rigs) if one.id == "nights")
    assert (course.title, course.after, course.drills) == (
        'The "night" shift',
        ["sandpiper-operate"],
        ["surface-lost-rig-air", FIRST],
    )
    # What is wrong is refused, and what stands stays; a course that waits for itself by another's way too.
    for text, said in (
        (made("lamp-lies"), "is not for 'sandpiper'"),
        (made("surface-lost-rig-airs"), "did you mean surface-lost-rig-air"),
        (made("surface-lost-rig-air", after=("nights",)), "wait for each other"),
    ):
        with pytest.raises(courses.CourseError, match=said):
            keep(text)
    with pytest.raises(courses.CourseError, match="UTF-8"):
        own_courses.checked(b"\xff\xfe", drills, rigs)
    assert own_courses.text_of("nights") == second
    assert own_courses.own().earlier()["nights"][1].read_text("utf-8") == first
    assert keep(first) == 3
    own_courses.own().remove("nights")
    assert own_courses.text_of("nights") is None and list(own_courses.own().earlier()["nights"]) == [1, 2, 3]
    # One whose drill went is offered to nobody, and says why.
    (tmp_path / "courses" / "nights.toml").write_text(first.replace("air", "airs"), "utf-8")
    assert "there is no drill" in own_courses.unfit(drills, rigs)["nights"][0]


def test_what_was_done_well_comes_back_when_fsrs_says_so() -> None:
    """Published default parameters of FSRS-6: stability after a first Again 0.212, Hard 1.2931, Good 2.3065, Easy
    8.2956 days; at 90 % retention the interval is the stability, at least a day. Source: open-spaced-repetition, the
    list of default parameters."""
    days = {
        share: (standing([Review(TODAY, share, alone)]).due - TODAY).days  # type: ignore[union-attr]
        for share, alone in ((0.2, True), (0.7, True), (0.9, True), (1.0, True))
    }
    assert days == {0.2: 1, 0.7: 1, 0.9: 2, 1.0: 8}
    # With the coach's help nothing is easy, and once is not mastered.
    helped, twice = standing([Review(TODAY, 1.0)]), standing([Review(TODAY, 1.0), Review(TODAY + timedelta(3), 1.0)])
    assert helped is not None and twice is not None
    assert (helped.due - TODAY).days == 2 and not helped.mastered and twice.mastered
    assert (twice.due - TODAY).days > 10


def test_the_next_step_is_one_and_says_why(drills: Mapping[str, Drill]) -> None:
    offered = courses.offered(drills, ["sandpiper", "quillback"])

    def advice(*done: Attempt, known: Mapping[str, int] = KNOWN) -> tuple[str, str]:
        found = path(offered, drills, done, known, TODAY).advice
        assert found is not None
        return found.drill or f"parts {found.parts}", found.why

    assert advice(known={})[0] == advice()[0] == FIRST
    parts = advice(attempt(drills[FIRST], 0, 1.0), known={"sandpiper": 5})
    assert parts[0] == "parts sandpiper" and "until you know 12: both count. You know 5." in parts[1]
    failed = advice(attempt(drills[FIRST], 0, 0.6))
    assert failed[0] == FIRST and "60 of 100, not passed" in failed[1]
    passed = advice(attempt(drills[FIRST], 0, 1.0))
    assert passed[0] == NEXT and "adds 3 learning points" in passed[1]
    late = advice(attempt(drills[FIRST], 20, 1.0))
    assert late[0] == FIRST and "3 learning points are due" in late[1] and "8 Nov 2026" in late[1]
    # Whoever began with another rig goes on there.
    there = advice(attempt(drills["follow-the-fluid"], 0, 1.0, "check"))
    assert there[0] == "name-the-parts"
    # A course whose predecessor is unfinished is not open: nothing of it is advised.
    stand = path(offered, drills, [], {}, TODAY)
    assert [each.course.id for each in stand.courses if each.open] == ["sandpiper-operate", "quillback-operate"]


def test_points_are_counted_by_their_state(drills: Mapping[str, Drill]) -> None:
    done = [
        *(attempt(drills[name], 1, 1.0, "check") for name in (FIRST, NEXT)),
        attempt(drills["daily-round"], 9, 1.0, "practice"),
    ]
    stand = path(courses.shipped(), drills, done, KNOWN, TODAY)
    first = stand.courses[0]
    assert (first.count("mastered"), first.finished) == (6, True)
    assert stand.drills["daily-round"].state == "due" and len(stand.due) == 3
    assert stand.drills[FIRST].state == "passed" and stand.drills["lamp-lies"].state == "never tried"


def test_exercises_that_are_due_are_a_step_of_their_own(drills: Mapping[str, Drill]) -> None:
    known = courses.offered(drills, list(resources.plant_files()))
    way = path(known, drills, [], KNOWN, TODAY, {"sandpiper": 7, "quillback": 2})
    assert way.advice is not None
    assert (way.advice.parts, "7 questions" in way.advice.why) == ("sandpiper", True)
    few = path(known, drills, [], KNOWN, TODAY, {"sandpiper": 4}).advice
    assert few is not None and few.drill == FIRST


def test_what_is_assigned_comes_first_with_who_and_when(drills: Mapping[str, Drill]) -> None:
    known = courses.offered(drills, list(resources.plant_files()))
    given = [Assigned("quillback-find-faults", TODAY + timedelta(days=5), "Ines Marlow")]
    way = path(known, drills, [attempt(drills[FIRST], 300, 1.0)], KNOWN, TODAY, {"sandpiper": 50}, given)
    assert way.advice is not None
    assert way.advice.course.id == "quillback-find-faults"
    assert "Ines Marlow assigned the course Find faults to you, to be finished by 3 Dec 2026" in way.advice.why
    assert "assigned, by 3 Dec 2026" in path_view.courses(way, lambda rig: "")
    done = [attempt(drills[name], 1, 1.0) for one in known if one.id == given[0].course for name in one.drills]
    after = path(known, drills, done, KNOWN, TODAY, {}, given).advice
    assert after is None or after.course.id != given[0].course
