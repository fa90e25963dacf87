"""``/courses``: the courses, to whom they are assigned, by when, and how far those are; courses of one's own."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, time

import panel as pn
from panel.viewable import Viewable
from sqlalchemy import select
from sqlalchemy.orm import Session
from tornado.web import HTTPError

from trainer import naming, resources
from trainer.classroom.access import Who
from trainer.classroom.doors import Door
from trainer.classroom.instructor import RefusedError
from trainer.classroom.staff_files import OneFile
from trainer.classroom.staff_page import StaffPage, by_title, html, listed, row, typed
from trainer.classroom.staff_table import fill, table
from trainer.drawing.markup import Markup, el, join
from trainer.learn import courses, own_courses
from trainer.learn.courses import Course, CourseError
from trainer.records import assigned, audit
from trainer.records.tables import Person

NO_NAME = "the class without a name"
CLASS, PERSON = "class ", "person "


ABOUT = (
    "An assigned course comes first in a trainee's next step, with your name and the day. Courses are files: take one "
    "from the table, change it and bring it in again, or make one here. It is checked first. Earlier versions are kept."
)


class Courses(StaffPage):
    """Forms that assign, make, bring in and remove courses; the assignments, and the courses themselves."""

    path, title, roles = "courses", "Courses", ("instructor",)

    def lay_out(self) -> list[Viewable]:
        """The forms and two tables."""
        self.course = pn.widgets.Select(label="Course", width=270)
        self.to = pn.widgets.Select(label="Assign to", width=270)
        self.due = pn.widgets.TextInput(label="To be finished by (may stay empty)", placeholder="2027-01-31", width=230)
        self.gone = pn.widgets.Select(label="Assignment to withdraw", width=270)
        self.shown = table(
            {"course": "Course", "to": "Assigned to", "due": "By", "by": "Assigned by", "done": "Drills passed"},
            filters=("course", "to"),
            long=("done",),
            widths={"course": "26%", "to": "18%", "due": "12%", "by": "14%"},
            empty="No course is assigned.",
        )
        self.known = table(
            {"course": "Course", "purpose": "What it is for", "steps": "Steps", "version": "Version", "file": "File"},
            long=("purpose",),
            links=("file",),
            widths={"course": "24%", "steps": "8%", "version": "12%", "file": "22%"},
        )
        assign, withdraw = self.button("Assign", self._assign), self.button("Withdraw", self._withdraw)
        return [
            html(el("p", {}, ABOUT)),
            row(self.course, self.to, self.due, assign),
            self.shown,
            row(self.gone, withdraw),
            html(el("h2", {}, "All courses")),
            self.known,
            *self._lay_out_own(),
        ]

    def _lay_out_own(self) -> list[Viewable]:
        self.file = OneFile("Course file (TOML)", courses.LARGEST_FILE, self.still)
        self.rig = pn.widgets.Select(label="Rig", width=160)
        self.called = pn.widgets.TextInput(label="Title", max_length=60, width=270)
        self.purpose = pn.widgets.TextInput(label="What it is for", max_length=200, width=420)
        self.drill = pn.widgets.Select(label="Drill", width=320)
        self.after = pn.widgets.MultiSelect(label="Courses to finish first (may stay empty)", size=4, width=320)
        self.steps: list[str] = []
        self.listed = html(Markup(""))
        self.rig.param.watch(lambda _: self._offer(), "value")
        self.before = pn.widgets.Select(label="Earlier version", width=270)
        self.own = pn.widgets.Select(label="Course to remove", width=270)
        self.sure = pn.widgets.TextInput(label="Type its id to remove it", max_length=60, width=270)
        return [
            html(el("h2", {}, "Make a course")),
            row(self.rig, self.called, self.purpose),
            row(self.drill, self.button("Add the drill", self._add), self.button("Remove the last", self._drop)),
            self.listed,
            row(self.after, self.button("Make the course", self._make)),
            html(el("h2", {}, "Bring in a course file")),
            self.file,
            self.button("Check and bring in", self._bring),
            row(self.before, self.button("Put back", self._put_back)),
            row(self.own, self.sure, self.button("Remove", self._remove)),
        ]

    def _courses(self) -> list[Course]:
        return courses.offered(self.room.rooms.drills, list(resources.plant_files()))

    async def load(self) -> None:
        """Read who may be chosen and what is assigned."""
        offered = self._courses()
        titles = {one.id: _title(one) for one in offered}
        drills = {one.id: one.drills for one in offered}

        def read(session: Session) -> tuple[list[assigned.Assigned], list[str], list[tuple[int, str]]]:
            trainees = select(Person.id, Person.name).where(Person.role == "trainee", Person.active.is_(True))
            people = [(one, name) for one, name in session.execute(trainees.order_by(Person.name))]
            return assigned.every(session, drills), assigned.classes(session), people

        self._load_own(offered)
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

    def _load_own(self, offered: Sequence[Course]) -> None:
        unfit = own_courses.unfit(self.room.rooms.drills, list(resources.plant_files()))
        kept = own_courses.own()
        mine, versions = list(kept.standing()), kept.earlier()
        rows = [(one.id, _title(one), one.purpose, str(len(one.step))) for one in offered]
        rows += [(name, name, f"Does not fit: {' '.join(faults)}", "") for name, faults in unfit.items()]
        fill(
            self.known,
            (
                {
                    "course": title,
                    "purpose": purpose,
                    "steps": steps,
                    "version": f"{max(versions.get(name, {}), default=0) + 1}, yours" if name in mine else "shipped",
                    "file": (f"{name}.toml", f"/courses/{name}.toml"),
                }
                for name, title, purpose, steps in rows
            ),
        )
        if self.rig.options != (rigs := {naming.title(name): name for name in resources.plant_files()}):
            self.rig.param.update(options=rigs, value=next(iter(rigs.values()), None))
        self._offer()
        self.before.options = {
            f"{name}, version {number}": f"{name}.{number}" for name, found in versions.items() for number in found
        }
        self.own.options = mine

    def _offer(self) -> None:
        """Offer the drills of the chosen rig, and the courses that can come before."""
        rig = str(self.rig.value)
        drills = {name: drill for name, drill in self.room.rooms.drills.items() if rig in drill.plants}
        self.drill.options = by_title(drills)
        self.steps = [name for name in self.steps if name in drills]
        self.listed.object = (
            el("ol", {}, [el("li", {}, drills[name].title) for name in self.steps])
            if self.steps
            else el("p", {"class": "soft"}, "No drill is added yet.")
        )
        before = {one.title: one.id for one in self._courses() if one.rig == rig}
        if self.after.options != before:
            self.after.param.update(options=before, value=[])

    async def _add(self, _: Who) -> str:
        drill = self.room.rooms.drills.get(typed(self.drill))
        if drill is None:
            raise RefusedError("choose a drill")
        if drill.id in self.steps:
            raise RefusedError("that drill is in the course already")
        if len(self.steps) >= courses.MOST_STEPS:
            raise RefusedError(f"a course has {courses.MOST_STEPS} steps at most")
        self.steps.append(drill.id)
        return f"{drill.title}: added as step {len(self.steps)}."

    async def _drop(self, _: Who) -> str:
        if not self.steps:
            raise RefusedError("no drill is added yet")
        return f"{self.room.rooms.drills[self.steps.pop()].title}: removed."

    async def _make(self, who: Who) -> Markup | None:
        """Write the file that the form describes, and bring it in."""
        title, rig = typed(self.called), typed(self.rig)
        name = re.sub(r"[^a-z0-9]+", "-", f"{rig}-{title}".lower()).strip("-")[:60]
        if not title or not self.steps:
            raise RefusedError("a course needs a title and one drill or more")
        text = own_courses.written(name, title, typed(self.purpose) or title, rig, list(self.after.value), self.steps)
        return await self._kept(who, text.encode())

    async def _bring(self, who: Who) -> Markup | None:
        return await self._kept(who, self.file.take())

    async def _put_back(self, who: Who) -> Markup | None:
        name, _, number = typed(self.before).rpartition(".")
        text = own_courses.own().text(name, int(number)) if number.isdecimal() else None
        if text is None:
            raise RefusedError("choose an earlier version")
        return await self._kept(who, text.encode())

    async def _kept(self, who: Who, content: bytes) -> Markup | None:
        """Check a course's text and keep it as its newest version; what is wrong with it stands above the page."""
        if not self.room.uploads.spend(str(who.person)):
            raise RefusedError("too many uploads; wait a minute")
        drills, rigs = self.room.rooms.drills, list(resources.plant_files())
        try:
            course = await self.slowly(lambda: own_courses.checked(content, drills, rigs))
        except CourseError as error:
            self.tell(join("Not brought in. Correct this, then try again:", listed(error.problems)), "alert")
            return None
        version = own_courses.keep(course, content.decode("utf-8-sig"))
        self.room.outbox.log(who.name, who.role, "course brought in", course.id, f"version {version}")
        return el("span", {}, f"{_title(course)}: brought in as version {version} of {course.id}.toml.")

    async def _remove(self, who: Who) -> str:
        name = typed(self.own)
        if typed(self.sure) != name:
            raise RefusedError("the id was not typed the same; nothing was removed")
        shipped = name in {one.id for one in courses.shipped()}
        if not shipped and await self.look(lambda session: assigned.stands(session, name)):
            raise RefusedError("it is assigned; withdraw it first")
        own_courses.own().remove(name)
        self.room.outbox.log(who.name, who.role, "course removed", name)
        self.sure.value = ""
        return f"{name}: removed. Its file stays among the earlier versions." + (
            " The shipped course holds again." if shipped else ""
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


class CourseFile(Door):
    """``/courses/ID.toml``: the file of a course, to read or to change."""

    roles = ("instructor",)

    def get(self, course: str) -> None:
        """Write the text of the course's file as a download; HTTPError 404 where there is no such course."""
        text = own_courses.text_of(course)
        if text is None:
            raise HTTPError(404)
        self.set_header("Content-Type", "application/toml; charset=utf-8")
        self.set_header("Content-Disposition", f'attachment; filename="{course}.toml"')
        self.write(text)


def _title(course: Course) -> str:
    return f"{naming.title(course.rig)}: {course.title}"


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
