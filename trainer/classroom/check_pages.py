"""The pages of assessing: who is at what now, what waits for a mark, corrections and appeals, competencies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy.orm import Session
from tornado.web import HTTPError

from trainer.classroom import paper
from trainer.classroom.desk_readings import row_readings
from trainer.classroom.doors import Door
from trainer.classroom.instructor import RefusedError
from trainer.classroom.roster import AnyPlace
from trainer.drawing.markup import Markup, el
from trainer.records import attempts, audit, competency, currency, marks, review
from trainer.records.tables import Appeal, Person

#: So often the table of live runs renews itself, s.
RENEW_S = 3

STAFF = ("instructor", "assessor")


class Live(Door):
    """``/live``: every run that is going on, with what an assessor may do: watch, start a check, stop, end, note."""

    roles = STAFF

    def get(self, said: Any = None) -> None:
        """The roster."""
        places = self.desk.desk.places()
        if self.text("now"):
            self._now(places)
            return
        drills = sorted(
            ((drill.id, drill.title) for drill in self.desk.rooms.drills.values()), key=lambda one: one[1].casefold()
        )
        start = self.form(
            "/live",
            "Start the check",
            el("input", {"type": "hidden", "name": "deed", "value": "start"}),
            paper.choice("number", "Trainee", [(place.number, place.name) for place in places]),
            paper.choice("drill", "Drill", drills),
            **{"aria-label": "Start a check", "class": "tall"},
        )
        self.show(
            "Live",
            said,
            el("p", {}, "A check draws its own variation. Its clock is stopped only for a reason."),
            el(
                "p",
                {},
                "The table of runs renews itself; Watch shows one live. ",
                el("a", {"href": "/live"}, "Refresh"),
                " when a trainee has come or asks for a check.",
            ),
            el(
                "iframe",
                {"src": "/live?now=1", "title": "How the runs stand now", "style": f"height:{5 + 3 * len(places)}em"},
                "",
            )
            if places
            else None,
            start
            if places
            else el(
                "p", {}, "No trainee is here yet: they show once they have joined and opened the drills. Refresh then."
            ),
            paper.table(("Trainee", "Console", "Check"), [self._row(one) for one in places]),
        )

    def _row(self, place: AnyPlace) -> tuple[Any, ...]:
        seen = {key.rpartition(".")[2]: value.get("text", "") for key, value in row_readings(place, None).items()}
        under_way = "(check)" in str(seen["state"])
        deeds: list[Markup] = []
        if seen["asks"] == "check":
            deeds.append(self._deed(place, "allow", "Allow the check"))
        if under_way:
            frozen = str(seen["state"]).startswith("frozen")
            reason = paper.field("reason", "Reason", maxlength=300, required="required")
            deeds.append(
                self._deed(place, "resume", "Resume")
                if frozen
                else self._deed(place, "freeze", "Stop the clock", reason)
            )
            deeds.append(self._deed(place, "note", "Note", paper.field("text", "Note of this moment", maxlength=500)))
            why = paper.field("reason", "Reason", maxlength=300, required="required")
            end = self._deed(place, "end", "End the check", why)
            deeds.append(el("details", {}, el("summary", {}, "End"), end))
        watch = el("a", {"href": place.watch, "target": "_blank"}, "Watch")
        return (place.name, watch, el("div", {}, deeds))

    def _now(self, places: Sequence[AnyPlace]) -> None:
        """The table that renews itself, in a frame of its own: what is being typed beside it stays."""
        rows = []
        for place in places:
            seen = {key.rpartition(".")[2]: value.get("text", "") for key, value in row_readings(place, None).items()}
            asks = el("a", {"href": "/live", "target": "_top"}, "Asks for a check: Refresh")
            rows.append(
                (place.name, seen["drill"], seen["clock"], seen["state"], asks if seen["asks"] == "check" else "")
            )
        self.part(paper.table(("Trainee", "Drill", "Time", "State", "Asks"), rows), renew_s=RENEW_S)

    def _deed(self, place: AnyPlace, deed: str, button: str, *fields: Markup) -> Markup:
        hidden = {"deed": deed, "number": place.number}
        given = [el("input", {"type": "hidden", "name": name, "value": value}) for name, value in hidden.items()]
        made: Markup = self.form("/live", button, given, *fields)
        return made

    def post(self) -> None:
        """Do it: through the same desk as the instructor's page, with the same rules and the same trail."""
        message = {
            "page": self.text("deed"),
            "drill": self.text("drill")[:120],
            "mode": "check",
            "reason": self.text("reason"),
            "text": self.text("text"),
        }
        try:
            # What another server makes of it shows when this page is shown again.
            done = self.desk.desk.do(message, self.somebody, self.text("number")[:40], lambda said, kind: None)
            said = paper.told(done or "Sent to the other server; show this page again.")
        except RefusedError as error:
            said = paper.told(f"Not done: {error}.", "alert")
        self.get(said)


class AttemptReview(Door):
    """``/attempts/N/correct`` and ``answer``: what an assessor does after a signature."""

    roles = ("assessor",)

    async def get(self, number: str, deed: str) -> None:
        """Nothing is done by a link."""
        self.redirect(f"/attempts/{self.number(number)}")

    async def post(self, number: str, deed: str) -> None:
        """Do it, and go back to the attempt."""
        who, at = self.somebody, self.number(number)

        def work(session: Session) -> None:
            attempt, person = attempts.get(session, at), session.get(Person, who.person)
            if attempt is None or person is None:
                raise HTTPError(404)
            if deed == "correct":
                review.reopen(session, attempt, self.text("reason"), person)
                return
            made = session.get(Appeal, self.number(self.text("appeal")))
            if made is None or made.attempt_id != at:
                raise HTTPError(404)
            review.answer(session, made, self.text("answer"), person)

        try:
            await self.ask(work)
        except marks.MarkError as error:
            self.set_status(400)
            self.show("Not done", paper.told(f"Not done: {error}.", "alert"), _back(at))
            return
        self.redirect(f"/attempts/{at}")


class MyAppeal(Door):
    """``/mine/N/appeal``: a trainee appeals against the result of an own check."""

    roles = ("trainee",)

    async def get(self, number: str, said: Any = None) -> None:
        """The form, and what came of earlier ones."""
        at, who = self.number(number), self.somebody

        def read(session: Session) -> tuple[str, list[Appeal]]:
            attempt = attempts.get(session, at)
            if attempt is None or attempt.person_id != who.person:
                raise HTTPError(404)
            return attempt.title, review.history(session, attempt)[1]

        title, before = await self.look(read)
        self.show(
            f"Appeal: {title}",
            said,
            *(appeal_line(one) for one in before),
            self.form(
                f"/mine/{at}/appeal",
                "Appeal",
                el("label", {}, el("span", {}, "What is wrong with the result"), _area("text")),
                **{"class": "tall"},
            ),
        )

    async def post(self, number: str) -> None:
        """Keep it."""
        at, who = self.number(number), self.somebody

        def work(session: Session) -> None:
            attempt, person = attempts.get(session, at), session.get(Person, who.person)
            if attempt is None or person is None or attempt.person_id != person.id:
                raise HTTPError(404)
            review.appeal(session, attempt, self.text("text"), person)

        try:
            await self.ask(work)
        except marks.MarkError as error:
            await self.get(number, paper.told(f"Not done: {error}.", "alert"))
            return
        await self.get(number, paper.told("Your appeal is with the assessors."))


class Competencies(Door):
    """``/competency``: who has which named set of drills, with the evidence behind it."""

    roles = STAFF

    async def get(self, said: Any = None) -> None:
        """The matrix, and the form to make a set."""
        drills = {one.id: one.title for one in self.desk.rooms.drills.values()}
        key = self.desk.public_key

        def read(session: Session) -> tuple[list[Any], currency.Matrix]:
            return competency.every(session), currency.matrix(session, drills, audit.now(), key)

        sets, found = await self.look(read)
        rows = [
            (
                el("a", {"href": f"/people/{person.id}"}, person.name),
                *(_standing(competency.standing(found, person, one), drills) for one in sets),
            )
            for person in found.people
        ]
        change = self.somebody.role == "instructor"
        self.show(
            "Competency",
            said,
            paper.table(("Person", *(one.name for one in sets)), rows)
            if sets
            else el("p", {}, "No competency is defined yet."),
            [
                el(
                    "p",
                    {},
                    el("strong", {}, f"{one.name}: "),
                    ", ".join(drills.get(drill, drill) for drill in competency.drills_of(one)),
                )
                for one in sets
            ],
            self._make(drills, sets) if change else None,
        )

    def _make(self, drills: dict[str, str], sets: list[Any]) -> Markup:
        boxes = [
            el("label", {}, el("input", {"type": "checkbox", "name": "drills", "value": drill}), f" {title}")
            for drill, title in drills.items()
        ]
        remove = [
            self.form(
                "/competency",
                f"Remove {one.name}",
                el("input", {"type": "hidden", "name": "remove", "value": one.name}),
            )
            for one in sets
        ]
        return el(
            "div",
            {},
            el("h2", {}, "Define a competency"),
            self.form(
                "/competency",
                "Save",
                paper.field("name", "Name", required="required", maxlength=120),
                el("fieldset", {}, el("legend", {}, "Drills"), boxes),
                **{"class": "tall"},
            ),
            remove,
        )

    async def post(self) -> None:
        """Keep or remove a set."""
        who = self.somebody
        if who.role != "instructor":
            raise HTTPError(403)
        name, chosen, gone = self.text("name"), self.get_arguments("drills"), self.text("remove")
        known = set(self.desk.rooms.drills)

        def work(session: Session) -> str:
            if gone:
                competency.remove(session, gone)
                audit.note(session, who.name, who.role, "competency removed", gone)
                return f"{gone}: removed"
            one = competency.keep(session, name, chosen, known)
            audit.note(session, who.name, who.role, "competency", one.name, one.drills)
            return f"{one.name}: saved"

        try:
            said = paper.told(await self.ask(work))
        except ValueError as error:
            said = paper.told(f"Not done: {error}.", "alert")
        await self.get(said)


def _standing(one: competency.Standing, drills: dict[str, str]) -> Markup:
    if one.held:
        return el("div", {"class": "current"}, f"held until {one.until:%Y-%m-%d}" if one.until else "held")
    missing = ", ".join(drills.get(drill, drill) for drill in one.missing)
    return el("div", {"class": "due" if one.current else "never"}, f"{one.current} of {one.of}; missing: {missing}")


def appeal_line(one: Appeal) -> Markup:
    """An appeal, and its answer if there is one."""
    answer = f" Answer by {one.answered_by}, {one.answered_at:%Y-%m-%d}: {one.answer}" if one.answered_at else ""
    return el("p", {}, el("strong", {}, f"Appeal of {one.at:%Y-%m-%d}: "), one.text, answer)


def _area(name: str) -> Markup:
    return el("textarea", {"name": name, "maxlength": 4000, "rows": 4, "required": "required"})


def _back(number: int) -> Markup:
    return el("p", {}, el("a", {"href": f"/attempts/{number}"}, "Back to the attempt"))
