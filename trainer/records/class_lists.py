"""Class lists as CSV: who belongs to a class, to which group of it, and which course is assigned by when."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from sqlalchemy import select
from sqlalchemy.orm import Session

from trainer.records import assigned, logins, names, people
from trainer.records.tables import ClassMember, Login, Person

MOST_ROWS = 500
LARGEST_FILE = 200_000
LONGEST_GROUP = 40
COLUMNS = ("name", "class", "group", "course", "due")


class ClassListError(ValueError):
    """A class list that cannot be taken in, with everything that is wrong in it, by line."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = list(problems)
        super().__init__("; ".join(self.problems))


@dataclass(frozen=True)
class ListedTrainee:
    """One row of a class list; the course is empty where none is assigned, ``due`` None where no day is set."""

    name: str
    joined: str
    team: str = ""
    course: str = ""
    due: datetime | None = None


def read_list(text: str, courses: Mapping[str, str]) -> list[ListedTrainee]:
    """The rows of a class list: columns name, class, group, course and due, of which only name has to be there, parted
    by commas, semicolons or tabs. ``courses`` has the title of each course by its id; either is taken.

    ClassListError lists every fault with its line."""
    if len(text) > LARGEST_FILE:
        raise ClassListError([f"larger than {LARGEST_FILE} characters; a class list has {MOST_ROWS} rows at most"])
    # Some programs end a line with a carriage return alone.
    text = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    parting = max(",;\t", key=text.partition("\n")[0].count)
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=parting, strict=True))
    except csv.Error as error:
        raise ClassListError([f"is no CSV file: {error}; look for a quotation mark that is not closed"]) from None
    columns = [one.strip().casefold() for one in rows[0]] if rows else []
    if "name" not in columns or (unknown := [one for one in columns if one and one not in COLUMNS]):
        more = f"; not known: {', '.join(unknown)}" if "name" in columns else ""
        raise ClassListError([f"line 1: the columns are {', '.join(COLUMNS)}, and name has to be there{more}"])
    if twice := sorted({one for one in columns if one and columns.count(one) > 1}):
        raise ClassListError([f"line 1: the column {', '.join(twice)} stands there twice"])
    if len(rows) - 1 > MOST_ROWS:
        raise ClassListError([f"{len(rows) - 1} rows; a class list has {MOST_ROWS} at most"])
    known = {title.casefold(): one for one, title in courses.items()} | {one.casefold(): one for one in courses}
    found, wrong = [], []
    for line, cells in enumerate(rows[1:], 2):
        given = {key: cell.strip() for key, cell in zip(columns, cells, strict=False)}
        if not any(cell.strip() for cell in cells):
            continue
        if any(cell.strip() for cell in cells[len(columns) :]):
            wrong.append(f"line {line}: more cells than columns; put a text with the parting sign in quotation marks")
            continue
        try:
            found.append(_row(given, known))
        except ValueError as error:
            wrong.append(f"line {line}: {error}")
    if not found and not wrong:
        wrong.append("line 2: no row; write one line for each trainee")
    if wrong:
        raise ClassListError(wrong)
    return found


def _row(given: Mapping[str, str], courses: Mapping[str, str]) -> ListedTrainee:
    name = names.clean(given.get("name", ""))
    course, due = given.get("course", ""), given.get("due", "")
    if course and course.casefold() not in courses:
        raise ValueError(f"there is no course {course[:60]!r}; known: {', '.join(sorted(set(courses.values()))[:12])}")
    if due and not course:
        raise ValueError("due is the day for a course: name the course")
    try:
        end = datetime.combine(date.fromisoformat(due), time(23, 59), UTC) if due else None
    except ValueError:
        raise ValueError(f"{due[:20]!r} is no day; write year, month and day, such as 2027-01-31") from None
    if len(team := logins.class_title(given.get("group", ""))) > LONGEST_GROUP:
        raise ValueError(f"a group's name has at most {LONGEST_GROUP} letters")
    joined = logins.class_title(given.get("class", ""))
    return ListedTrainee(name, joined, team, courses[course.casefold()] if course else "", end)


def take_in(session: Session, rows: Sequence[ListedTrainee], by: int) -> tuple[int, int]:
    """Take a class list in for the person ``by``: (how many are on it, how many of them are new). Whoever is new joins
    with the class's code and their name. ClassListError where a name is staff's; then nothing is kept."""
    new = 0
    staff = [row.name for row in rows if (one := people.find(session, row.name)) is not None and one.role != "trainee"]
    if staff:
        raise ClassListError([f"{name} is on the staff, no trainee" for name in staff])
    for row in rows:
        person = people.find(session, row.name)
        if person is None:
            person, new = people.add(session, row.name), new + 1
        session.merge(ClassMember(person_id=person.id, joined=row.joined, team=row.team))
        if row.course:
            assigned.assign(session, row.course, by, person=person.id, due=row.due)
    session.flush()
    return len({names.folded(row.name) for row in rows}), new


def teams(session: Session) -> dict[str, str]:
    """The group of each person who has one, by the person's name; of several classes the last by name counts."""
    rows = session.execute(
        select(Person.name, ClassMember.team).join(Person).where(ClassMember.team != "").order_by(ClassMember.joined)
    )
    return {str(row[0]): str(row[1]) for row in rows}


def groups(session: Session) -> dict[int, str]:
    """Class and group of each person on a list, in words, by the person's number; of several classes all of them."""
    found: dict[int, list[str]] = {}
    for one in session.scalars(select(ClassMember).order_by(ClassMember.joined)):
        if words := ", ".join(filter(None, (one.joined, one.team))):
            found.setdefault(one.person_id, []).append(words)
    return {person: "; ".join(words) for person, words in found.items()}


def members(session: Session, joined: str) -> list[tuple[Person, str]]:
    """Who is in a class, with the group: by its list, and by having joined it with its code; in the order of names."""
    listed = dict(
        session.execute(select(ClassMember.person_id, ClassMember.team).where(ClassMember.joined == joined)).all()
    )
    came = set(session.scalars(select(Login.person_id).where(Login.joined == joined)))
    found = session.scalars(
        select(Person).where(Person.id.in_(came | set(listed)), Person.role == "trainee").order_by(Person.folded)
    )
    return [(person, listed.get(person.id, "")) for person in found]


def classes(session: Session) -> list[str]:
    """The names of all classes that were joined or have a list, in their order; the one without a name first."""
    listed = session.scalars(select(ClassMember.joined).distinct())
    return sorted({*assigned.classes(session), *listed})
