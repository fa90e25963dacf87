"""Class lists: every fault of a file by its line, who is on one, their groups and courses, and the class in figures."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.records.conftest import START, arrival
from trainer.classroom.class_summary import summary
from trainer.drills import library
from trainer.records import assigned, attempts, class_lists, competency, logins, people
from trainer.records.class_lists import ClassListError, ListedTrainee, read_list
from trainer.records.database import Records

COURSES = {"quillback-well-control": "Quillback: Well control"}
KICK = "kick-while-drilling"


def test_a_list_is_read_with_commas_semicolons_or_tabs() -> None:
    due = datetime(2027, 1, 31, 23, 59, tzinfo=UTC)
    wanted = [
        ListedTrainee("Ona Tiller", "nights", "Leak", "quillback-well-control", due),
        ListedTrainee("Bo Quay", "nights"),
    ]
    rows = [["Name", "Class", "Group", "Course", "Due"]]
    rows += [["Ona Tiller", "nights", "Leak", "quillback: well control", "2027-01-31"], ["Bo Quay", "nights"], [""]]
    for parting in ",;\t":
        text = "\ufeff" + "\r\n".join(parting.join(row) for row in rows)
        assert read_list(text, COURSES) == wanted


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("person\nOna", "line 1: the columns are name, class, group, course, due, and name has to be there"),
        ("name,age\nOna,3", "line 1: the columns are name, class, group, course, due, and name has to be there; not"),
        ("name,course\nOna,Nothing", "line 2: there is no course 'Nothing'"),
        ("name,course,due\nOna,quillback-well-control,31.1.2027", "line 2: '31.1.2027' is no day"),
        ("name,due\nOna,2027-01-31", "line 2: due is the day for a course"),
        ("name,class\n,nights", "line 2: a name is missing"),
        ("name\n", "line 2: no row"),
        ("name,class\nTiller, Ona,nights", "line 2: more cells than columns"),
        ('name,class\n"Ona,nights\nBo,nights', "is no CSV file"),
        ("name,name\nOna,Bo", "line 1: the column name stands there twice"),
        (f"name\n{'x' * 140_000}", "is no CSV file"),
        ("", "line 1: the columns are"),
    ],
)
def test_what_is_wrong_in_a_list_is_said_by_line(text: str, said: str) -> None:
    with pytest.raises(ClassListError) as error:
        read_list(text, COURSES)
    assert error.value.problems[0].startswith(said), error.value.problems


def test_a_class_by_its_list_and_its_code_in_figures(records: Records, run: dict[str, Any]) -> None:
    drills = {KICK: library.load_file(library.find(KICK))}
    listed = [ListedTrainee("Ona Tiller", "nights", "Leak", "quillback-well-control", START + timedelta(days=9))]
    with records.work() as session:
        staff = people.add(session, "Ines Marlow", "instructor")
        people.add(session, "Ona Tiller")
        bo = people.add(session, "Bo Quay")
        logins.begin(session, bo, joined="nights")
        assert class_lists.take_in(session, [*listed, ListedTrainee("Cy Dale", "nights")], staff.id) == (2, 1)
        with pytest.raises(ClassListError, match="ines marlow is on the staff"):
            class_lists.take_in(session, [ListedTrainee("ines marlow", "nights")], staff.id)
        assigned.assign(session, "quillback-well-control", staff.id, joined="nights")
        attempts.keep(session, arrival(run))
        competency.keep(session, "Well control", [KICK], [KICK])
    with records.look() as session:
        found = class_lists.members(session, "nights")
        assert [(one.name, team) for one, team in found] == [("Bo Quay", ""), ("Cy Dale", ""), ("Ona Tiller", "Leak")]
        assert class_lists.teams(session) == {"Ona Tiller": "Leak"} and class_lists.classes(session) == ["", "nights"]
        # Whoever is on the list has what is assigned to the class, whichever code they came in with.
        assert [course for course, _, _ in assigned.of_person(session, found[1][0].id, "")] == [
            "quillback-well-control"
        ]
        made = summary(session, "nights", drills, {"quillback-well-control": ("Well control", [KICK])}, START, "")
    ona = made.people[2]
    assert (ona.name, ona.team, ona.tried, ona.checks) == ("Ona Tiller", "Leak", 1, 0)
    assert made.people[0].open == "Well control: 1 of 1 left" and made.people[0].score is None
    assert made.points and all(0.0 <= one.share <= 1.0 and one.others is None and one.count == 1 for one in made.points)
    assert [(one.name, list(one.held)) for one in made.competencies] == [("Well control", [])]
    assert set(made.competencies[0].missing) == {"Bo Quay", "Cy Dale", "Ona Tiller"}
