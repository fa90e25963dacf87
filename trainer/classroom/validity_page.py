"""``/currency``, ``/competency`` and ``/agreement``: who is current in what, and do the assessors see the same?"""

from __future__ import annotations

from datetime import timedelta

import panel as pn
from panel.viewable import Viewable
from sqlalchemy.orm import Session

from trainer.classroom.access import Who
from trainer.classroom.instructor import RefusedError
from trainer.classroom.staff_page import StaffPage, by_title, html, row, typed
from trainer.classroom.staff_table import Cell, fill, table
from trainer.console.debrief import NOT_FINISHED
from trainer.drawing.markup import Markup, el, join
from trainer.records import agreement, audit, competency, currency
from trainer.records.tables import Competency, Person, Task

STATES = {"due": "re-check", "unsigned": "to sign", "unfinished": "not finished"}
TONES = {
    "current": "--good",
    "re-check": "--due",
    "expired": "--bad",
    "failed": "--bad",
    "not finished": "--bad",
    "to sign": "--due",
}


class Validity(StaffPage):
    """Every check that somebody was ever in, what it is worth now, and how long a pass counts."""

    path, title = "currency", "Validity"

    def lay_out(self) -> list[Viewable]:
        """The table of who may do what until when, and the form for the terms of one drill."""
        self.summary, self.never = html(Markup("")), html(Markup(""))
        self.passes = table(
            {
                "person": "Person",
                "drill": "Drill",
                "state": "State",
                "why": "Reason",
                "check": "Attempt",
                "until": "Until",
                "again": "Re-check from",
            },
            links=("person", "check"),
            filters=("person", "drill", "state", "until"),
            long=("why",),
            widths={"state": "11%", "why": "16%", "check": "11%", "until": "13%", "again": "13%"},
            tones={"state": TONES},
        )
        self._tasks: dict[str, Task] = {}
        self.drill = pn.widgets.Select(label="Drill", options=by_title(self.room.rooms.drills), width=420)
        self.drill.param.watch(self._terms, "value")
        self.valid = pn.widgets.TextInput(label="Counts for, days", width=180)
        self.recheck = pn.widgets.TextInput(label="Re-check before its end, days", width=220)
        terms = row(self.drill, self.valid, self.recheck, self.button("Keep", self._keep))
        return [self.summary, self.passes, self.never, html(el("h2", {}, "How long a pass counts")), terms]

    async def load(self) -> None:
        """Read where everybody stands in every drill that has terms, by this classroom's own key."""
        drills = {one.id: one.title for one in self.room.rooms.drills.values()}
        found = await self.look(lambda session: currency.matrix(session, drills, audit.now(), self.room.public_key))
        made = [(person, task, found.cells[(person.id, task.drill)]) for person in found.people for task in found.tasks]
        fill(self.passes, (_pass(*one) for one in made if one[2].state != "never"))
        soon = audit.now() + timedelta(days=30)
        due = [cell for _, _, cell in made if cell.expires is not None and cell.expires < soon]
        self.summary.object = join(
            el("p", {}, f"{len(due)} run out within 30 days or have run out."),
            el(
                "p",
                {},
                "Counted are checks that staff started, with this classroom's key, and signed off by an assessor.",
            ),
        )
        checked = {task.drill for _, task, cell in made if cell.state != "never"}
        never = [task.title for task in found.tasks if task.drill not in checked]
        self.never.object = el(
            "details",
            {},
            el("summary", {}, f"{len(never)} drills without any check so far"),
            el("ul", {}, [el("li", {}, title) for title in never]),
        )
        self._tasks = {task.drill: task for task in found.tasks}
        self._terms()

    def _terms(self, _: object = None) -> None:
        task = self._tasks.get(typed(self.drill))
        if task is not None:
            self.valid.value, self.recheck.value = str(task.valid_days), str(task.recheck_days)

    async def _keep(self, who: Who) -> str:
        known = self.room.rooms.drills.get(typed(self.drill))
        if known is None:
            raise RefusedError("there is no such drill")
        valid, recheck = _days(self.valid), _days(self.recheck)

        def work(session: Session) -> None:
            currency.set_terms(session, known.id, known.title, valid, recheck)
            audit.note(session, who.name, who.role, "terms", known.id, f"{valid} days, re-check {recheck} days before")

        await self.ask(work)
        return f"{known.title}: kept"


def _days(widget: pn.widgets.TextInput) -> int:
    text = typed(widget)
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise RefusedError("give the days as whole numbers")
    return int(text)


def _pass(person: Person, task: Task, cell: currency.Cell) -> dict[str, Cell]:
    return {
        "person": (person.name, f"/person?number={person.id}"),
        "drill": task.title,
        "state": STATES.get(cell.state, cell.state),
        "why": _why(cell),
        "check": (str(cell.attempt), f"/attempt?number={cell.attempt}") if cell.attempt is not None else "",
        "until": f"{cell.expires:%Y-%m-%d}" if cell.expires else "",
        "again": f"{cell.recheck:%Y-%m-%d}" if cell.recheck and cell.state == "current" else "",
    }


def _why(cell: currency.Cell) -> str:
    """Why the check that was made last is no pass that counts; empty where one counts."""
    waits = "an assessor has not signed it"
    reasons = [waits if cell.state == "unsigned" else "not passed" if cell.state == "failed" else ""]
    reasons += ["" if cell.finished else NOT_FINISHED]
    return "; ".join(filter(None, reasons))


class Competencies(StaffPage):
    """Who has which named set of drills, with what is missing; and the form to make a set."""

    path, title = "competency", "Competency"

    def lay_out(self) -> list[Viewable]:
        """The matrix of people and competencies, the sets of drills that make them, and for instructors the form."""
        self.matrix = pn.Column(self._table({}), sizing_mode="stretch_width")
        self._sets: dict[str, str] = {}
        self.sets = html(Markup(""))
        self.name = pn.widgets.TextInput(label="Name", max_length=120, width=420)
        self.drills = pn.widgets.CheckBoxGroup(label="Drills", options=by_title(self.room.rooms.drills))
        self.gone = pn.widgets.Select(label="Competency", width=420)
        self.making = pn.Column(
            html(el("h2", {}, "Define a competency")),
            self.name,
            pn.Column(self.drills, scroll=True, height=300, width=560),
            self.button("Save", self._save, "instructor"),
            html(el("h2", {}, "Remove a competency")),
            row(self.gone, self.button("Remove", self._remove, "instructor")),
            visible=False,
        )
        return [self.matrix, self.sets, self.making]

    @staticmethod
    def _table(sets: dict[str, str]) -> pn.widgets.Tabulator:
        return table(
            {"person": "Person", **sets},
            links=("person",),
            filters=("person", *sets),
            long=tuple(sets),
            empty="No one is here yet.",
        )

    async def load(self) -> None:
        """Read the sets of drills, and where everybody stands in each of them today."""
        drills = {one.id: one.title for one in self.room.rooms.drills.values()}

        def read(session: Session) -> tuple[list[Competency], currency.Matrix]:
            return competency.every(session), currency.matrix(session, drills, audit.now(), self.room.public_key)

        sets, found = await self.look(read)
        titles = {f"set{at}": one.name for at, one in enumerate(sets)}
        if titles != self._sets:
            self._sets, self.matrix[0] = titles, self._table(titles)
        fill(
            self.matrix[0],
            (
                {
                    "person": (person.name, f"/person?number={person.id}"),
                    **{
                        f"set{at}": _standing(competency.standing(found, person, one), drills)
                        for at, one in enumerate(sets)
                    },
                }
                for person in found.people
            ),
        )
        self.sets.object = join(
            [
                el(
                    "p",
                    {},
                    el("strong", {}, f"{one.name}: "),
                    ", ".join(drills.get(name, name) for name in competency.drills_of(one)),
                )
                for one in sets
            ]
            or el(
                "p",
                {},
                "No competency is defined yet: an instructor defines one on this page, as a named set of drills.",
            )
        )
        self.gone.options = [one.name for one in sets]
        self.making.visible = self.who().role == "instructor"

    async def _save(self, who: Who) -> str:
        name, chosen = typed(self.name), [str(one) for one in self.drills.value]
        known = set(self.room.rooms.drills)

        def work(session: Session) -> str:
            one = competency.keep(session, name, chosen, known)
            audit.note(session, who.name, who.role, "competency", one.name, one.drills)
            return f"{one.name}: saved"

        return await self.ask(work)

    async def _remove(self, who: Who) -> str:
        gone = typed(self.gone)
        if not gone:
            raise RefusedError("choose a competency")

        def work(session: Session) -> str:
            competency.remove(session, gone)
            audit.note(session, who.name, who.role, "competency removed", gone)
            return f"{gone}: removed"

        return await self.ask(work)


def _standing(one: competency.Standing, drills: dict[str, str]) -> str:
    if one.held:
        return f"held until {one.until:%Y-%m-%d}" if one.until else "held"
    return f"{one.current} of {one.of}; missing: {', '.join(drills.get(drill, drill) for drill in one.missing)}"


class Agreement(StaffPage):
    """``/agreement``: every pair of assessors who marked the same criteria, and how far they agree."""

    path, title = "agreement", "Agreement of assessors"

    def lay_out(self) -> list[Viewable]:
        """A sentence on what is counted, and the table of pairs, still empty."""
        about = "Criteria that two assessors both marked, each as none, part or all of the points."
        self.pairs = pairs_table()
        return [html(el("p", {}, about)), self.pairs]

    async def load(self) -> None:
        """Read every pair of assessors from the records into the table."""
        fill(self.pairs, map(pair_row, await self.look(agreement.agreements)))


def pairs_table() -> pn.widgets.Tabulator:
    """An empty table of pairs of assessors; it says so while no criterion has two marks."""
    titles = {"pair": "Assessors", "count": "Criteria both marked", "same": "Same", "kappa": "Cohen's kappa"}
    return table(titles, empty="No criterion has been marked by two assessors yet.")


def pair_row(pair: agreement.Agreement) -> dict[str, Cell]:
    """The row of a pair of assessors: how many criteria, how many alike (%), and Cohen's kappa."""
    return {
        "pair": f"{pair.first} and {pair.second}",
        "count": str(pair.count),
        "same": f"{100.0 * pair.observed:.0f} %",
        "kappa": "not defined" if pair.kappa is None else f"{pair.kappa:.2f}",
    }
