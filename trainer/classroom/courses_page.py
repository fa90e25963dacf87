"""``/courses``: the courses, to whom they are assigned, by when, and how far those are."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

import panel as pn
from panel.viewable import Viewable
from sqlalchemy import select
from sqlalchemy.orm import Session

from trainer import naming, resources
from trainer.classroom.access import Who
from trainer.classroom.staff_page import StaffPage, html, row, typed
from trainer.classroom.staff_table import fill, table
from trainer.drawing.markup import el
from trainer.learn import courses
from trainer.learn.courses import Course
from trainer.records import assigned, audit
from trainer.records.tables import Person

NO_NAME = "the class without a name"
CLASS, PERSON = "class ", "person "


class Courses(StaffPage):
    """A form that assigns a course, the assignments, and the courses themselves."""

    path, title, roles = "courses", "Courses", ("instructor",)

    def lay_out(self) -> list[Viewable]:
        """The form and two tables."""
        self.course = pn.widgets.Select(name="Course", width=270)
        self.to = pn.widgets.Select(name="Assign to", width=270)
        self.due = pn.widgets.TextInput(name="To be finished by (may stay empty)", placeholder="2027-01-31", width=230)
        self.gone = pn.widgets.Select(name="Withdraw", width=270)
        self.shown = table(
            {"course": "Course", "to": "Assigned to", "due": "By", "by": "Assigned by", "done": "Drills passed"},
            filters=("course", "to"),
            long=("done",),
            widths={"course": "26%", "to": "18%", "due": "12%", "by": "14%"},
            empty="No course is assigned.",
        )
        self.known = table(
            {"course": "Course", "purpose": "What it is for", "steps": "Steps", "file": "File"},
            long=("purpose",),
            widths={"course": "26%", "steps": "10%", "file": "22%"},
        )
        about = (
            "An assigned course comes first in a trainee's next step, with your name and the day. A course of your own "
            "is a file in the folder courses of this server's data; check it with the command trainer check."
        )
        assign, withdraw = self.button("Assign", self._assign), self.button("Withdraw", self._withdraw)
        return [
            html(el("p", {}, about)),
            row(self.course, self.to, self.due, assign),
            self.shown,
            row(self.gone, withdraw),
            html(el("h2", {}, "All courses")),
            self.known,
        ]

    def _courses(self) -> list[Course]:
        return courses.offered(self.room.rooms.drills, list(resources.plant_files()))

    async def load(self) -> None:
        """Read who may be chosen and what is assigned."""
        offered = self._courses()
        titles = {one.id: f"{naming.title(one.rig)}: {one.title}" for one in offered}
        drills = {one.id: one.drills for one in offered}

        def read(session: Session) -> tuple[list[assigned.Assigned], list[str], list[tuple[int, str]]]:
            trainees = select(Person.id, Person.name).where(Person.role == "trainee", Person.active.is_(True))
            people = [(one, name) for one, name in session.execute(trainees.order_by(Person.name))]
            return assigned.every(session, drills), assigned.classes(session), people

        found, classes, people = await self.look(read)
        to = {_class(name): f"{CLASS}{name}" for name in classes} | {name: f"{PERSON}{one}" for one, name in people}
        self.course.options, self.to.options = {title: name for name, title in titles.items()}, to
        rows = [(one, titles.get(one.course, one.course), one.person or _class(one.joined)) for one in found]
        self.gone.options = {f"{title}, {whom}": str(one.id) for one, title, whom in rows}
        fill(
            self.shown,
            (
                {
                    "course": title,
                    "to": whom,
                    "due": f"{one.due:%Y-%m-%d}" if one.due is not None else "",
                    "by": one.by,
                    "done": "\n".join(
                        f"{name}: {len(passed)} of {len(drills.get(one.course, ()))}"
                        for name, passed in one.passed.items()
                    ),
                }
                for one, title, whom in rows
            ),
        )
        fill(
            self.known,
            (
                {
                    "course": titles[one.id],
                    "purpose": one.purpose,
                    "steps": str(len(one.step)),
                    "file": f"{one.id}.toml",
                }
                for one in offered
            ),
        )

    async def _assign(self, who: Who) -> str:
        name, to = typed(self.course), typed(self.to) or CLASS
        course = next((one for one in self._courses() if one.id == name), None)
        if course is None:
            raise ValueError("choose a course")
        due = _day(typed(self.due))
        person = int(to.removeprefix(PERSON)) if to.startswith(PERSON) else None
        joined = to.removeprefix(CLASS.rstrip()).strip() if person is None else ""

        def work(session: Session) -> str:
            one = assigned.assign(session, course.id, who.person, joined=joined, person=person, due=due)
            found = session.get(Person, person) if person is not None else None
            whom = found.name if found is not None else _class(one.joined)
            audit.note(session, who.name, who.role, "course assigned", course.id, whom)
            return whom

        whom = await self.ask(work)
        return f"{course.title} is assigned to {whom}."

    async def _withdraw(self, who: Who) -> str:
        number = typed(self.gone)
        if not number.isdecimal():
            raise ValueError("choose what to withdraw")

        def work(session: Session) -> None:
            assigned.withdraw(session, int(number))
            audit.note(session, who.name, who.role, "course withdrawn", number)

        await self.ask(work)
        return "Withdrawn."


def _day(text: str) -> datetime | None:
    """The end of a day as it was typed, UTC; None for no day. ValueError says how to write one."""
    if not text:
        return None
    try:
        return datetime.combine(date.fromisoformat(text), time(23, 59), UTC)
    except ValueError:
        raise ValueError(f"{text!r} is no day; write year, month and day, such as 2027-01-31") from None


def _class(joined: str) -> str:
    return f"class {joined}" if joined else NO_NAME
