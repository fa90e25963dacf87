"""``/classes``: class lists by CSV, who is in a class, and the summary of a class to print."""

from __future__ import annotations

from urllib.parse import urlencode

import panel as pn
from panel.viewable import Viewable
from sqlalchemy.orm import Session

from trainer import naming, resources
from trainer.classroom.access import Who
from trainer.classroom.class_summary import ClassSummary, summary
from trainer.classroom.classroom import Classroom
from trainer.classroom.doors import Door
from trainer.classroom.instructor import RefusedError
from trainer.classroom.staff_files import Files
from trainer.classroom.staff_page import StaffPage, html, row, typed
from trainer.classroom.staff_table import fill, table
from trainer.drawing.markup import Markup, el, join, plain_table
from trainer.learn import courses
from trainer.records import audit, class_lists, class_rules
from trainer.records.class_lists import LARGEST_FILE, ClassListError

NO_NAME = "The class without a name"
ABOUT = (
    "A class list is a CSV file with the columns name, class, group, course and due; only name has to be there. "
    "Trainees on it join with the class's code and their name. A course is given by its title or id, its day as "
    "2027-01-31. Lessons deal out by these groups."
)
PRINT = "table { font-size: 12px } @media print { header, .no-print { display: none } h2 { break-after: avoid } }"


class ClassListFiles(Files):
    """The field for one class list, no larger in bytes than a list may be."""

    largest, most = LARGEST_FILE, 1


class ClassLists(StaffPage):
    """The field for a list, the classes, and who is in the chosen one."""

    path, title, roles = "classes", "Classes", ("instructor",)

    def lay_out(self) -> list[Viewable]:
        """The field for a file, the choice of a class, and the table of who is in it."""
        self.file = pn.Column(self._field(), sizing_mode="stretch_width")
        self._ruled: str | None = None
        self.joined = pn.widgets.Select(label="Class", width=300)
        self.joined.param.watch(self._chosen, "value")
        self.printed = html(Markup(""))
        self.starts = pn.widgets.Select(label="Trainees may start", options=class_rules.STARTS, width=230)
        self.listed = table(
            {
                "name": "Name",
                "group": "Group",
                "tried": "Drills tried",
                "passed": "Passed",
                "open": "Assigned, not done",
            },
            filters=("name", "group"),
            long=("open",),
            empty="No trainee is in this class yet.",
        )
        return [
            html(el("p", {}, ABOUT)),
            self.file,
            self.button("Check and take in", self._take),
            row(self.joined, self.starts, self.button("Set", self._let_start)),
            self.printed,
            self.listed,
        ]

    def _field(self) -> ClassListFiles:
        return ClassListFiles(self.still, label="Class list (CSV)", sizing_mode="stretch_width")

    async def _chosen(self, _: object) -> None:
        await self.read_again()

    async def load(self) -> None:
        """Read the names of the classes from the records, and who is in the chosen one."""
        names = await self.look(class_lists.classes)
        options = {name or NO_NAME: f"class {name}" for name in names}
        if options != self.joined.options:
            kept = self.joined.value if self.joined.value in options.values() else next(iter(options.values()), None)
            self.joined.param.update(options=options, value=kept)
        joined = typed(self.joined).removeprefix("class").strip()
        found = await self.look(lambda session: summary_of(self.room, session, joined))
        if joined != self._ruled:
            self._ruled = joined
            self.starts.value = await self.look(lambda session: class_rules.starts(session, joined))
        fill(
            self.listed,
            (
                {
                    "name": one.name,
                    "group": one.team,
                    "tried": str(one.tried),
                    "passed": str(one.passed),
                    "open": one.open,
                }
                for one in found.people
            ),
        )
        where = f"/classes/summary.html?{urlencode({'class': joined})}"
        self.printed.object = el("p", {}, el("a", {"href": where, "target": "_blank"}, "Summary to print"))

    async def _let_start(self, who: Who) -> str:
        """Set what the trainees of the chosen class may start themselves."""
        joined, what = typed(self.joined).removeprefix("class").strip(), typed(self.starts)

        def work(session: Session) -> None:
            class_rules.let_start(session, joined, what)
            audit.note(session, who.name, who.role, "class may start", joined, what)

        await self.ask(work)
        words = next(words for words, value in class_rules.STARTS.items() if value == what)
        return f"{joined or NO_NAME}: trainees may start {words[:1].lower()}{words[1:]}."

    async def _take(self, who: Who) -> str | Markup:
        field = self.file[0]
        sent = list(field.taken().values())
        self.file[0] = self._field()
        if field.too_much:
            raise RefusedError(f"larger than {LARGEST_FILE} bytes; a class list is a page or two")
        if not sent or not sent[-1]:
            raise RefusedError("no file was sent; choose a class list first")
        if not self.room.uploads.spend(str(who.person)):
            raise RefusedError("too many uploads; wait a minute")
        try:
            text = sent[-1].decode("utf-8-sig")
        except UnicodeDecodeError:
            raise RefusedError("the file is not UTF-8 text: save it as CSV in UTF-8") from None
        try:
            rows = class_lists.read_list(text, {one: title for one, (title, _) in known_courses(self.room).items()})

            def work(session: Session) -> tuple[int, int]:
                counted = class_lists.take_in(session, rows, who.person)
                audit.note(session, who.name, who.role, "class list taken in", rows[0].joined, f"{counted[0]} people")
                return counted

            count, new = await self.ask(work)
        except ClassListError as error:
            wrong = el("ul", {}, [el("li", {}, line) for line in error.problems[:20]])
            return join("Nothing was taken in. Correct this, then try again:", wrong)
        return f"{count} on the list, {new} of them new. They join with the class's code and their name."


def known_courses(room: Classroom) -> dict[str, tuple[str, list[str]]]:
    """Title and drills of every course on offer here, by the id of the course."""
    offered = courses.offered(room.rooms.drills, list(resources.plant_files()))
    return {one.id: (f"{naming.title(one.rig)}: {one.title}", one.drills) for one in offered}


def summary_of(room: Classroom, session: Session, joined: str) -> ClassSummary:
    """The summary of a class of this classroom now, as the records hold it."""
    return summary(session, joined, room.rooms.drills, known_courses(room), audit.now(), room.public_key)


class ClassSummaryPage(Door):
    """``/classes/summary.html``: the summary of a class, to print."""

    roles = ("instructor", "assessor")

    async def get(self) -> None:
        """Write the summary of the class that the address names, as a page to print."""
        joined = self.get_query_argument("class", "")[:80]
        found = await self.look(lambda session: summary_of(self.desk, session, joined))
        day = f"{audit.now():%Y-%m-%d}"
        self.show(
            f"Class summary: {joined or NO_NAME}",
            Markup(f"<style>{PRINT}</style>"),
            el("p", {}, f"As the records stood on {day}. A training record, no certification."),
            el("h2", {}, "By person"),
            _people(found),
            el("h2", {}, "By learning point"),
            _points(found),
            el("h2", {}, "By competency"),
            _competencies(found),
        )


def _people(found: ClassSummary) -> Markup:
    head = ("Name", "Group", "Drills tried", "Passed", "Checks signed", "Mean of best scores", "Last", "Not done")
    rows = [
        (
            one.name,
            one.team,
            str(one.tried),
            str(one.passed),
            str(one.checks),
            "" if one.score is None else f"{one.score:.0f}",
            one.last,
            one.open,
        )
        for one in found.people
    ]
    return plain_table(head, rows) if rows else el("p", {}, "No trainee is in this class yet.")


def _points(found: ClassSummary) -> Markup:
    classes = [name or NO_NAME for name in found.before]
    head = ("Drill", "Learning point", "Points earned", "People", "All others", *classes)
    rows = [
        (
            one.drill,
            one.point,
            f"{100.0 * one.share:.0f} %",
            str(one.count),
            *("" if share is None else f"{100.0 * share:.0f} %" for share in (one.others, *one.before)),
        )
        for one in found.points
    ]
    about = "The last attempt of each person at each drill; what went worst stands first."
    return join(el("p", {}, about), plain_table(head, rows)) if rows else el("p", {}, "No attempt is recorded yet.")


def _competencies(found: ClassSummary) -> Markup:
    rows = [
        (
            one.name,
            f"{len(one.held)} of {len(one.held) + len(one.missing)}",
            ", ".join(one.held),
            "; ".join(f"{name}: {', '.join(missing)}" for name, missing in one.missing.items()),
        )
        for one in found.competencies
    ]
    head = ("Competency", "Held", "By", "Missing")
    return plain_table(head, rows) if rows else el("p", {}, "No competency is defined yet.")
