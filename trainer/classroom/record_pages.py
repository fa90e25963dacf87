"""A trainee's own attempts, appeals, and the files of attempts: report and evidence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import ClassVar

from sqlalchemy.orm import Session
from tornado.web import HTTPError

from trainer.classroom import files, paper
from trainer.classroom.doors import Door
from trainer.console.debrief import PASSED, causes, held_back, names_cause, verdict_word
from trainer.drawing.markup import Markup, el, plain_table
from trainer.drills.schema import Drill
from trainer.drills.sheet import whole
from trainer.records import agreement, attempts, marks, review
from trainer.records.tables import Appeal, Attempt, Person
from trainer.reports.content import report
from trainer.reports.page import html
from trainer.reports.paper import pdf
from trainer.session import evidence as documents

TO_SIGN = "To sign: no assessor has signed this check off yet."

STAFF = ("instructor", "assessor")


def result(attempt: Attempt, drills: Mapping[str, Drill]) -> Markup:
    """Passed or not, and the score, as the sheet shows it; ``drills`` by id, for their pass marks."""
    return el("span", {"class": "passed" if _word(attempt) == PASSED else "failed"}, result_words(attempt, drills))


def result_words(attempt: Attempt, drills: Mapping[str, Drill]) -> str:
    """The same as text."""
    return f"{_word(attempt)}, {points(attempt.score, attempt.drill, drills)}"


def points(score: float, drill: str, drills: Mapping[str, Drill]) -> int:
    """A score as the sheet shows it: a whole number, and below the drill's pass mark never the mark itself."""
    known = drills.get(drill)
    return whole(score, known.pass_mark if known is not None else 0.0)


def _word(attempt: Attempt) -> str:
    return verdict_word(attempt.mode, attempt.passed, attempt.finished, attempt.criticals)


def signed_words(attempt: Attempt) -> str:
    """The day it was signed off; "to sign" for a check of staff's that waits for it."""
    if attempt.signed_at is not None:
        return f"{attempt.signed_at:%Y-%m-%d}"
    return "to sign" if attempt.mode == "check" and attempt.started_by else ""


KEPT_BACK = (
    "This check was ended early, and its evidence names what was wrong: the next check may ask the same. "
    "An assessor can hand the file out; signed, it is here."
)


class AttemptFile(Door):
    """``/attempts/N/report.pdf``, ``report.html`` and ``evidence.json``."""

    roles: ClassVar[tuple[str, ...]] = STAFF

    async def get(self, number: str, name: str) -> None:
        """The file."""
        await self.give(self.number(number), name, None)

    async def give(self, number: int, name: str, owner: int | None) -> None:
        """Send the file; only the owner's, when one is given."""

        def read(session: Session) -> tuple[str, str, str, list[tuple[float, str, str]], frozenset[str]]:
            found = attempts.get(session, number)
            if found is None or (owner is not None and found.person_id != owner):
                raise HTTPError(404)
            when = f"{found.signed_at:%Y-%m-%d %H:%M} UTC" if found.signed_at is not None else ""
            notes = [(one.t, one.text, one.author) for one in found.notes]
            open_ = owner is not None and not when and not _ended_by_staff(found)
            held = causes(self.desk.rooms.drills.get(found.drill)) if open_ else frozenset()
            return found.evidence, found.signer.name if found.signer else "", when, notes, held

        text, signer, when, notes, held = await self.look(read)
        self.set_header("Content-Disposition", f'attachment; filename="attempt-{number}.{name}"')
        if name == "evidence.json":
            document = documents.parse(text) if held else None
            if document is not None and names_cause(document.scored, document.run.mode, held):
                self.clear_header("Content-Disposition")
                self.set_status(403)
                self.show("Evidence", el("p", {}, KEPT_BACK))
                return
            self.set_header("Content-Type", "application/json")
            self.write(text)
            return

        made = await self.desk.worker.do(
            _made, name, text, signer, when, self.desk.public_key, notes, held, self.language
        )
        self.set_header("Content-Type", "application/pdf" if name == "report.pdf" else "text/html; charset=utf-8")
        if name == "report.html":
            self.set_header("Content-Disposition", "inline")
        self.write(made)


def _ended_by_staff(attempt: Attempt) -> bool:
    """Whether staff ended it, by how it ended in the record's words: theirs give a name."""
    return attempt.ending.startswith("ended by ") and not attempt.ending.startswith("ended by the ")


def whose_key(signed: str, own: str) -> str:
    """What a signature proves, in words."""
    if not signed:
        return "none: the seal shows only that nothing was changed since"
    if signed == own:
        return "this classroom's: run, person, date, marks and interventions are as they were kept here"
    return f"another key, {signed[:16]}…: ask who holds it"


def _made(
    name: str,
    text: str,
    signer: str,
    when: str,
    own_key: str,
    notes: list[tuple[float, str, str]],
    held: frozenset[str],
    language: str,
) -> str | bytes:
    document = documents.parse(text)
    shown = document.model_copy(update={"sheet": dict(held_back(document.scored, document.run.mode, held))})
    content = report(shown, files.computed(text), signer, when, own_key, notes, language)
    if not when and document.run.mode == "check" and document.custody is not None and document.custody.started_by:
        tone = "unproven" if content.tone == "passed" else content.tone
        content = replace(content, headline=f"{content.headline}, to sign", tone=tone, signed=TO_SIGN)
    return pdf(content) if name == "report.pdf" else html(content)


class Mine(Door):
    """``/mine``: a trainee's own attempts."""

    roles = ("trainee",)

    async def get(self) -> None:
        """The list."""
        who = self.somebody
        found = await self.look(lambda session: attempts.search(session, person=who.person))
        deeds = [
            el(
                "li",
                {},
                f"{one.id}, {one.title}: ",
                el("a", {"href": f"/mine/{one.id}/report.pdf"}, f"Report {one.id}, PDF"),
                " · ",
                el("a", {"href": f"/mine/{one.id}/evidence.json"}, f"Evidence {one.id}"),
                " · ",
                el("a", {"href": f"/mine/{one.id}/appeal"}, f"Appeal against the result of {one.id}"),
            )
            for one in found
            if one.mode == "check"
        ]
        self.show("My attempts", _listed(found, self.desk.rooms.drills), el("ul", {}, deeds) if deeds else None)


def _listed(found: list[Attempt], drills: Mapping[str, Drill]) -> Markup:
    return plain_table(
        ("Attempt", "Drill", "Mode", "When (UTC)", "Result", "Signed"),
        [
            (
                el("a", {"href": f"/mine/{one.id}"}, str(one.id)),
                one.title,
                one.mode,
                f"{one.at:%Y-%m-%d %H:%M}",
                result(one, drills),
                signed_words(one),
            )
            for one in found
        ],
    )


class MyReport(AttemptFile):
    """``/mine/N``: the report of an own attempt."""

    roles = ("trainee",)

    async def get(self, number: str) -> None:  # type: ignore[override]
        """The report as a page; there is nothing here for anybody else."""
        await self.give(self.number(number), "report.html", self.somebody.person)


class MyFile(AttemptFile):
    """``/mine/N/report.pdf`` and ``evidence.json``: an own attempt to hand over, signed as the classroom keeps it."""

    roles = ("trainee",)

    async def get(self, number: str, name: str) -> None:
        """The file; there is nothing here for anybody else."""
        await self.give(self.number(number), name, self.somebody.person)


def agreement_table(pairs: list[agreement.Agreement]) -> Markup:
    """Pairs of assessors and how far they agree."""
    return plain_table(
        ("Assessors", "Criteria both marked", "Same", "Cohen's kappa"),
        [
            (
                f"{pair.first} and {pair.second}",
                str(pair.count),
                f"{100.0 * pair.observed:.0f} %",
                "not defined" if pair.kappa is None else f"{pair.kappa:.2f}",
            )
            for pair in pairs
        ],
    )


class MyAppeal(Door):
    """``/mine/N/appeal``: a trainee appeals against the result of an own check."""

    roles = ("trainee",)

    async def get(self, number: str, said: object = None) -> None:
        """The form, and what came of earlier ones."""
        at, who = self.number(number), self.somebody
        if said is None and self.get_query_argument("sent", ""):
            said = paper.told("Your appeal is with the assessors.")

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
        # To the page anew: loading it again sends nothing again.
        self.redirect(f"/mine/{at}/appeal?sent=1", status=303)


def appeal_line(one: Appeal) -> Markup:
    """An appeal, and its answer if there is one."""
    answer = f" Answer by {one.answered_by}, {one.answered_at:%Y-%m-%d}: {one.answer}" if one.answered_at else ""
    return el("p", {}, el("strong", {}, f"Appeal of {one.at:%Y-%m-%d}: "), one.text, answer)


def _area(name: str) -> Markup:
    return el("textarea", {"name": name, "maxlength": 4000, "rows": 4, "required": "required"})
