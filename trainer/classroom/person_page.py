"""``/people``, ``/person?number=N`` and ``/trail``: who is in the records, one person's progress, who did what."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import panel as pn
from bokeh.plotting import figure
from panel.viewable import Viewable
from sqlalchemy.orm import Session

from trainer.classroom import files
from trainer.classroom.access import LINK_HOURS, Who
from trainer.classroom.attempt_page import attempt_row, attempts_table
from trainer.classroom.instructor import RefusedError
from trainer.classroom.staff_page import StaffPage, html, row, typed
from trainer.classroom.staff_table import fill, table
from trainer.drawing.markup import Markup, el
from trainer.records import attempts, audit, people
from trainer.records.tables import Attempt, Audit, Person

DARK = "@media (prefers-color-scheme: dark) { :host { filter: invert(1) hue-rotate(180deg) } }"
"""The plot is drawn for light; the hues stay, light and dark change places."""


class People(StaffPage):
    """Who is in the records, and what an instructor does about one of them."""

    path, title, roles = "people", "People", ("instructor",)

    def lay_out(self) -> list[Viewable]:
        """The table of people, what is done with the one that is chosen, and the form for new staff."""
        self.listed = table(
            {"name": "Name", "role": "Role", "here": "Here"},
            links=("name",),
            filters=("name", "role", "here"),
            widths={"role": "20%", "here": "20%"},
        )
        self._numbers: list[int] = []
        self.listed.on_click(self._clicked)
        self.person = pn.widgets.Select(label="Person", width=320)
        self.sure = pn.widgets.TextInput(label="Type the name to anonymize or delete", max_length=80, width=320)
        self.name = pn.widgets.TextInput(label="Name", max_length=80, width=320)
        self.role = pn.widgets.Select(label="Role", options={"Assessor": "assessor", "Instructor": "instructor"})
        return [
            self.listed,
            html(el("h2", {}, "One person")),
            self.person,
            row(self.button("New number", self._number), self.button("Link for a new browser", self._link)),
            row(self.sure, self.button("Anonymize", self._anonymize), self.button("Delete", self._delete)),
            html(el("h2", {}, "Instructors and assessors")),
            html(el("p", {}, "They log in with a one-time password, shown here once, and then choose their own.")),
            row(self.name, self.role, self.button("Give a one-time password", self._invite)),
        ]

    async def load(self) -> None:
        """Read everybody of the records, active or not, into the table, by name."""
        found = await self.look(people.everybody)
        self._numbers = [one.id for one in found]
        fill(
            self.listed,
            (
                {
                    "name": (one.name, f"/person?number={one.id}"),
                    "role": one.role,
                    "here": "yes" if one.active else "left",
                }
                for one in found
            ),
        )
        options = {one.name: one.id for one in found}
        kept = self.person.value if self.person.value in self._numbers else next(iter(self._numbers), None)
        self.person.param.update(options=options, value=kept)

    def _clicked(self, event: object) -> None:
        at = getattr(event, "row", -1)
        if isinstance(at, int) and 0 <= at < len(self._numbers):
            self.person.value = self._numbers[at]

    @staticmethod
    def _person(session: Session, number: int) -> Person:
        person = session.get(Person, number)
        if person is None:
            raise people.PeopleError("there is no such person any more")
        return person

    async def _invite(self, who: Who) -> Markup:
        name, role = typed(self.name), typed(self.role)
        secret = await self.slowly(lambda: self.room.access.invite(who, name, role))
        return el("p", {}, f"One-time password for {name}: ", el("strong", {"class": "code"}, secret))

    async def _link(self, who: Who) -> Markup:
        """What somebody opens in a new browser while others try to get in under the same name."""
        number = self._chosen()
        name = await self.look(lambda session: self._person(session, number).name)
        address = f"{self.origin}/browser/{self.room.access.link(name)}"
        return el(
            "p",
            {},
            f"For {name} alone, to open in a new browser within {LINK_HOURS} h: then wrong tries of others "
            "no longer delay it. Name and password are needed as before. ",
            el("input", {"readonly": "readonly", "size": 60, "aria-label": "Link", "value": address}),
        )

    async def _number(self, who: Who) -> str:
        def change(session: Session, person: Person) -> str:
            if person.role != "trainee":
                raise people.PeopleError("only trainees have a personal number")
            person.secret = None
            audit.note(session, who.name, who.role, "number forgotten", person.name)
            return f"{person.name} gets a new personal number at the next joining"

        return await self._changed(who, change)

    async def _anonymize(self, who: Who) -> str:
        return await self._for_good(who, people.anonymise, "{} is now {} everywhere")

    async def _delete(self, who: Who) -> str:
        return await self._for_good(who, people.erase, "{} and all attempts are deleted")

    async def _for_good(self, who: Who, act: Callable[..., None], said: str) -> str:
        """What cannot be undone, for whose name was typed once more; ``said`` takes the name before and after."""
        sure = typed(self.sure)

        def change(session: Session, person: Person) -> str:
            if sure != (name := person.name):
                raise people.PeopleError("the name was not typed the same; nothing was changed")
            act(session, person, who.name, self.room.key)
            return said.format(name, person.name)

        return await self._changed(who, change)

    def _chosen(self) -> int:
        """The number of who is chosen now, 0 for nobody: taken once for a deed, as another may be chosen meanwhile."""
        return self.person.value if isinstance(self.person.value, int) else 0

    async def _changed(self, who: Who, change: Callable[[Session, Person], str]) -> str:
        number = self._chosen()
        if number == who.person:
            raise people.PeopleError("no one removes themselves; ask another instructor")
        if self.room.rooms.checks(number):
            raise people.PeopleError("a check of theirs is under way; end it first, or wait until it is over")
        said = await self.ask(lambda session: change(session, self._person(session, number)))
        self.room.access.forget()
        self.sure.value = ""
        return said


class OnePerson(StaffPage):
    """``/person``: one person's attempts and their scores over time, by the number in the address."""

    path, title = "person", "Person"

    def lay_out(self) -> list[Viewable]:
        """The plot of scores and the table of attempts; a number that is none shows nobody."""
        number = self.given.get("number", "")
        self.number = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 0
        self.plot = pn.Column(html(el("p", {}, "No attempts yet.")), sizing_mode="stretch_width")
        self.listed = attempts_table()
        return [html(el("h2", {}, "Progress")), self.plot, html(el("h2", {}, "Attempts")), self.listed]

    async def load(self) -> None:
        """Read the person of this number and their attempts; a sentence instead when there is no such person."""

        def read(session: Session) -> tuple[Person, list[Attempt]]:
            person = session.get(Person, self.number)
            if person is None:
                raise RefusedError("there is no such person")
            return person, attempts.search(session, person=self.number)

        person, found = await self.look(read)
        self.heading.object = el("h1", {}, person.name)
        fill(self.listed, (attempt_row(one, self.room.rooms.drills) for one in found))
        if found:
            self.plot[0] = pn.pane.Bokeh(progress(found), sizing_mode="stretch_width", stylesheets=[DARK])


class Trail(StaffPage):
    """The newest rows of the audit log, and whether its chain is whole."""

    path, title, roles = "trail", "Audit log", ("instructor",)

    def lay_out(self) -> list[Viewable]:
        """The check of the chain, the whole log as a file, the newest rows."""
        self.rows = table(
            {
                "when": "When (UTC)",
                "who": "Who",
                "role": "As",
                "did": "Did",
                "to": "To",
                "detail": "Detail",
                "from": "From",
            },
            filters=("when", "who", "role", "did", "to", "detail"),
            long=("to", "detail"),
            widths={"when": "15%", "role": "10%", "from": "10%"},
        )
        file = el("a", {"href": "/export/trail.json"}, "The whole audit log, chained and signed")
        return [self.button("Check the chain", self._check), html(el("p", {}, file)), self.rows]

    async def load(self) -> None:
        """Read the newest 500 rows of the audit trail into the table, the last deed first."""
        fill(self.rows, map(_trail_row, await self.look(lambda session: audit.latest(session, 500))))

    async def _check(self, _: Who) -> str | None:
        """Look the chain through, in the worker."""
        found = await self.room.worker.do(files.trail_looked_through, self.room.records_url)
        if not found.ok:
            self.tell(f"NOT WHOLE: {found.said}.", "alert")
            return None
        return f"Whole: {found.said}."


def _trail_row(one: Audit) -> dict[str, str | tuple[str, str]]:
    return {
        "when": f"{one.at:%Y-%m-%d %H:%M:%S}",
        "who": one.who,
        "role": one.role,
        "did": one.did,
        "to": one.target,
        "detail": one.detail,
        "from": one.origin,
    }


def progress(found: list[Attempt]) -> figure:
    """The scores (of 100) over the days as a plot, a line a drill; a check is a filled mark."""
    times = [one.at.replace(tzinfo=None) for one in found]
    plot = figure(
        height=320,
        sizing_mode="stretch_width",
        x_axis_type="datetime",
        x_range=(min(times) - timedelta(days=1), max(times) + timedelta(days=1)),
        y_range=(0, 105),
        toolbar_location=None,
        background_fill_color=None,
        border_fill_color=None,
        outline_line_color=None,
    )
    plot.yaxis.axis_label = "Score"
    for grid in plot.grid:
        grid.update(grid_line_color="#6c7783", grid_line_alpha=0.4)
    colours = ("#14688a", "#9a2fb8", "#17733a", "#b3261e", "#9a5b00", "#47525e")
    drills = sorted({one.drill for one in found})
    for at, drill in enumerate(drills):
        rows = sorted((one for one in found if one.drill == drill), key=lambda one: one.at)
        x, y = [one.at.replace(tzinfo=None) for one in rows], [one.score for one in rows]
        colour = colours[at % len(colours)]
        plot.line(x, y, color=colour, legend_label=rows[-1].title)
        plot.scatter(x, y, size=9, color=colour, fill_alpha=[1.0 if one.mode == "check" else 0.0 for one in rows])
    plot.legend[0].update(location="bottom_right", background_fill_alpha=0.0, border_line_color=None)
    return plot
