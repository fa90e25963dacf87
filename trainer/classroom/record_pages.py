"""The pages of attempts: list, one attempt with its marks, signature, re-computation, report and evidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from sqlalchemy.orm import Session
from tornado.web import HTTPError

from trainer.classroom import files, paper
from trainer.classroom.check_pages import appeal_line
from trainer.classroom.doors import Door
from trainer.console.debrief import clock
from trainer.drawing.markup import Markup, el
from trainer.drills.criteria_schema import Assess
from trainer.records import agreement, attempts, marks, review
from trainer.records.audit import note
from trainer.records.tables import Appeal, Attempt, Criterion, Mark, Person, SignedVersion
from trainer.reports.content import report
from trainer.reports.page import html
from trainer.reports.paper import pdf
from trainer.session import evidence as documents
from trainer.session import signing
from trainer.session.custody import Custody

STAFF = ("instructor", "assessor")


FOREIGN = (
    "It was not signed by this classroom: person, date, start, pauses and ending are what the file says. Marks and "
    "signature here change nothing of that; it counts for no validity."
)


def _claimed(kept: Custody) -> str:
    """Who started a run for which no staff here can confirm it."""
    if kept.started_by:
        return f"the file says {kept.started_by}: no one here confirms it"
    return "no staff member: no one confirms it"


def result(attempt: Attempt) -> Markup:
    """Passed or not, and the score."""
    word = "Passed" if attempt.passed else "Not passed" if attempt.finished else "Not finished"
    return el("span", {"class": "passed" if attempt.passed else "failed"}, f"{word}, {attempt.score:g}")


def listed(found: list[Attempt], own: bool = False) -> Markup:
    """A table of attempts."""
    place = "mine" if own else "attempts"
    return paper.table(
        ("Attempt", "Person", "Drill", "Mode", "When (UTC)", "Result", "Verified", "Signed"),
        [
            (
                el("a", {"href": f"/{place}/{one.id}"}, str(one.id)),
                one.person.name,
                one.title,
                one.mode,
                f"{one.at:%Y-%m-%d %H:%M}",
                result(one),
                {None: "", True: "yes", False: "NO"}[one.verified],
                f"{one.signed_at:%Y-%m-%d}" if one.signed_at else "",
            )
            for one in found
        ],
    )


class Attempts(Door):
    """``/attempts``: the newest, or those of one person or drill."""

    roles = STAFF

    async def get(self) -> None:
        """The list and the exports."""
        drill = self.text("drill")[:120] or None
        mode = self.text("mode")[:40] or None
        found = await self.look(lambda session: attempts.search(session, drill=drill, mode=mode))
        drills = [("", "All drills"), *((one.id, one.title) for one in self.desk.rooms.drills.values())]
        self.show(
            "Attempts",
            el(
                "form",
                {"method": "get"},
                paper.choice("drill", "Drill", drills, drill or ""),
                paper.choice("mode", "Mode", [("", "Both"), ("check", "Check"), ("practice", "Practice")], mode or ""),
                el("button", {"type": "submit"}, "Show"),
            ),
            listed(found),
            el("h2", {}, "Export"),
            el(
                "ul",
                {},
                [
                    el("li", {}, el("a", {"href": f"/export/{name}"}, words))
                    for name, words in (
                        ("attempts.csv", "Attempts, CSV"),
                        ("criteria.csv", "Criteria, CSV"),
                        ("xapi.json", "Statements for a learning record store (xAPI 1.0.3)"),
                    )
                ],
                el("li", {}, el("a", {"href": "/post"}, "Post the statements to a learning record store")),
            ),
            el("p", {}, el("a", {"href": "/import"}, "Take in evidence files")),
        )


class OneAttempt(Door):
    """``/attempts/N``: everything about one, and what an assessor does with it."""

    roles = STAFF

    async def get(self, number: str) -> None:
        """The page."""
        await self.page(self.number(number))

    async def page(self, number: int, told: str = "", kind: str = "status") -> None:
        """Show the attempt, with a line about what was done."""

        def read(session: Session) -> tuple[Attempt, Any, Any]:
            found = attempts.get(session, number)
            if found is None:
                raise HTTPError(404)
            return found, agreement.agreements(session, number), review.history(session, found)

        attempt, pairs, (versions, appeals) = await self.look(read)
        who = self.somebody
        marking = who.role == "assessor" and attempt.signed_at is None
        self.show(
            f"{attempt.title}: {attempt.person.name}",
            paper.told(told, kind),
            el(
                "p",
                {},
                result(attempt),
                f" {attempt.mode}, {clock(attempt.simulated_s)}, {attempt.at:%Y-%m-%d %H:%M} UTC. ",
                el("a", {"href": f"/watch?attempt={attempt.id}", "target": "_blank"}, "Replay"),
            ),
            self._facts(attempt),
            self._criteria(attempt, marking),
            [
                el("h2", {}, "Notes"),
                el("ul", {}, [el("li", {}, f"{clock(one.t)} {one.text} ({one.author})") for one in attempt.notes]),
            ]
            if attempt.notes
            else None,
            self._agreement(pairs),
            self._sign(attempt, marking),
            self._after(attempt, versions, appeals),
            self._files(attempt),
        )

    def _facts(self, attempt: Attempt) -> Markup:
        kept = documents.parse(attempt.evidence).custody or Custody()
        checked = "not yet" if attempt.verified is None else ("verified: " if attempt.verified else "NOT VERIFIED: ")
        foreign = attempt.source == "import" and attempt.signed_key != self.desk.public_key
        rows = [
            *([("Came as a file", FOREIGN)] if foreign else []),
            (
                "The machine's own score",
                f"{attempt.machine_score:g}, {'passed' if attempt.machine_passed else 'not passed'}",
            ),
            ("Plant, seed", f"{attempt.plant}, {attempt.seed}"),
            ("Started by", attempt.started_by or _claimed(kept)),
            ("Ended", attempt.ending or "not recorded"),
            ("Time on the clock and on the wall", f"{clock(attempt.simulated_s)}, {clock(attempt.wall_s)}"),
            *((f"Pause at {clock(one.t)}", f"{one.wall_s:.0f} s by {one.by}: {one.reason}") for one in kept.pauses),
            *(
                (f"Skipped {clock(one.start)} to {clock(one.end)}", f"a wait that the drill names: {one.wait}")
                for one in kept.skips
            ),
            ("Changes by an instructor", str(attempt.interventions)),
            *(("Intervention", words) for words in kept.interventions),
            ("Signature", whose_key(attempt.signed_key, self.desk.public_key)),
            ("Turned back", f"{attempt.rewinds} times"),
            ("Re-computed", checked + attempt.verified_reason),
        ]
        return paper.table(("", ""), rows)

    def _criteria(self, attempt: Attempt, marking: bool) -> Markup:
        rows = []
        # A second assessor does not see the first one's marks before giving an own one.
        me = self.somebody
        # What waits for a person comes first.
        for row in sorted(attempt.criteria, key=lambda row: row.earned is not None):
            given = [mark for mark in attempt.marks if mark.criterion == row.criterion]
            own = next((mark for mark in given if mark.assessor_id == me.person), None)
            hidden = marking and own is None
            seen = [] if hidden else given
            shown = [
                el("p", {}, f"{mark.assessor}: {mark.points:g}{' (override)' if mark.override else ''} {mark.remark}")
                for mark in seen
            ]
            form = self._marking(attempt, row, own) if marking else None
            found = "for the assessor" if row.earned is None else f"{row.earned:.3g} of {row.points:g}"
            rows.append((el("strong", {}, row.title), found, el("div", {}, row.reason), el("div", {}, shown, form)))
        return paper.table(("Criterion", "Machine", "What happened", "Assessors"), rows)

    def _assessed(self, attempt: Attempt, row: Criterion) -> Assess | None:
        """What the drill says of a criterion that is left to the assessor; None for any other."""
        drill = self.desk.rooms.drills.get(attempt.drill)
        spec = next((one for one in drill.criterion if one.id == row.criterion), None) if drill is not None else None
        return spec if isinstance(spec, Assess) else None

    def _marking(self, attempt: Attempt, row: Criterion, own: Mark | None) -> Markup:
        spec = self._assessed(attempt, row) if row.earned is None else None
        if spec is not None and spec.levels:
            worth = (0.0, row.points / 2.0, row.points)
            levels = [(f"{points:g}", f"{points:g}: {words}") for points, words in zip(worth, spec.levels, strict=True)]
            points = paper.one_of(
                "points", "Points, by what was seen and heard", levels, f"{own.points:g}" if own else ""
            )
        else:
            points = paper.field(
                "points",
                f"Points of {row.points:g}",
                "number",
                f"{own.points:g}" if own else "",
                step="any",
                min="0",
                max=f"{row.points:g}",
                required="required",
            )
        form: Markup = self.form(
            f"/attempts/{attempt.id}/mark",
            "Mark",
            el("input", {"type": "hidden", "name": "criterion", "value": row.criterion}),
            points,
            paper.field(
                "remark",
                "Remark" if row.earned is None else "Reason for the override",
                value=own.remark if own else "",
                maxlength=4000,
            ),
        )
        if row.earned is None:
            return form
        return el("details", {}, el("summary", {}, "Override"), form)

    def _agreement(self, pairs: list[agreement.Agreement]) -> Markup | None:
        if not pairs:
            return None
        return el("div", {}, el("h2", {}, "Agreement"), agreement_table(pairs))

    def _sign(self, attempt: Attempt, marking: bool) -> Markup | None:
        if attempt.signed_at is not None:
            by = attempt.signer.name if attempt.signer else "somebody no longer in the records"
            return el(
                "div",
                {},
                el("h2", {}, "Signed"),
                el("p", {}, f"By {by}, {attempt.signed_at:%Y-%m-%d %H:%M} UTC"),
                el("p", {}, attempt.remarks),
            )
        if not marking:
            return None
        box = el(
            "label", {}, el("span", {}, "Remarks"), el("textarea", {"name": "remarks", "maxlength": 4000, "rows": 3})
        )
        return el(
            "div",
            {},
            el("h2", {}, "Sign"),
            self.form(f"/attempts/{attempt.id}/sign", "Sign: the marks above are mine", box),
        )

    def _after(self, attempt: Attempt, versions: Sequence[SignedVersion], appeals: Sequence[Appeal]) -> Markup | None:
        """Corrections and appeals with their history, and what an assessor does about them."""
        judge = self.somebody.role == "assessor"
        lines = [
            el(
                "p",
                {},
                f"Signed by {one.signer}, {one.signed_at:%Y-%m-%d %H:%M} UTC: {one.verdict}. Opened again by "
                f"{one.reopened_by}, {one.reopened_at:%Y-%m-%d %H:%M} UTC: {one.reason}",
            )
            for one in versions
        ]
        for one in appeals:
            lines.append(appeal_line(one))
            if judge and one.answered_at is None:
                lines.append(
                    self.form(
                        f"/attempts/{attempt.id}/answer",
                        "Answer the appeal",
                        el("input", {"type": "hidden", "name": "appeal", "value": str(one.id)}),
                        paper.field("answer", "Answer", required="required", maxlength=4000),
                    )
                )
        if judge and attempt.signed_at is not None:
            reason = paper.field("reason", "Reason of the correction", required="required", maxlength=4000)
            lines.append(self.form(f"/attempts/{attempt.id}/correct", "Open for a correction", reason))
        return el("div", {}, el("h2", {}, "Corrections and appeals"), lines) if lines else None

    def _files(self, attempt: Attempt) -> Markup:
        links = (("report.pdf", "Report, PDF"), ("report.html", "Report, page"), ("evidence.json", "Evidence"))
        return el(
            "div",
            {},
            el("h2", {}, "Evidence"),
            self.form(f"/attempts/{attempt.id}/verify", "Re-compute now"),
            el(
                "ul",
                {},
                [el("li", {}, el("a", {"href": f"/attempts/{attempt.id}/{name}"}, words)) for name, words in links],
                el("li", {}, el("a", {"href": "/key.pem"}, "Public key of this classroom")),
            ),
            el(
                "p",
                {"class": "soft"},
                "To have it verified on another machine, hand over evidence and key: ",
                el("code", {}, "trainer verify EVIDENCE --key KEY"),
            ),
        )


class AttemptDeed(OneAttempt):
    """``/attempts/N/mark``, ``sign`` and ``verify``."""

    async def get(self, number: str, deed: str) -> None:  # type: ignore[override]
        """Nothing is done by a link: back to the attempt."""
        self.redirect(f"/attempts/{self.number(number)}")

    async def post(self, number: str, deed: str) -> None:
        """Do it, and show the attempt with what was done."""
        who, at = self.somebody, self.number(number)
        if deed in ("mark", "sign") and who.role != "assessor":
            raise HTTPError(403)

        def work(session: Session) -> str:
            attempt = attempts.get(session, at)
            person = session.get(Person, who.person)
            if attempt is None or person is None:
                raise HTTPError(404)
            if deed == "mark":
                return self._mark(session, attempt, person)
            if deed == "sign":
                sheet = marks.sign(session, attempt, self.text("remarks"), person, self.desk.key)
                return f"Signed. {sheet['verdict']}"
            raise HTTPError(404)

        try:
            told, kind = await (self._recompute(at) if deed == "verify" else self.ask(work)), "status"
        except (marks.MarkError, signing.SigningError) as error:
            told, kind = f"Not done: {error}.", "alert"
        await self.page(at, told, kind)

    async def _recompute(self, at: int) -> str:
        """Re-compute in the worker, outside any transaction, and keep what was found."""
        who = self.somebody

        def read(session: Session) -> str:
            attempt = attempts.get(session, at)
            if attempt is None:
                raise HTTPError(404)
            return attempt.evidence

        text = await self.look(read)
        verdict = await self.desk.worker.do(files.computed, text)

        def keep(session: Session) -> None:
            attempt = attempts.get(session, at)
            if attempt is not None and attempt.evidence == text:
                attempts.found(session, attempt, verdict.ok, verdict.reason)
                note(session, who.name, who.role, "re-computed", f"attempt {at}", verdict.reason)

        await self.ask(keep)
        return f"{'Verified' if verdict.ok else 'NOT VERIFIED'}: {verdict.reason}"

    def _mark(self, session: Session, attempt: Attempt, person: Person) -> str:
        try:
            points = float(self.text("points"))
        except ValueError:
            raise marks.MarkError("points are a number") from None
        mark = marks.give(session, attempt, self.text("criterion")[:120], points, self.text("remark"), person)
        return f"Marked: {mark.points:g} of {mark.out_of:g}"


class AttemptFile(Door):
    """``/attempts/N/report.pdf``, ``report.html`` and ``evidence.json``."""

    roles: ClassVar[tuple[str, ...]] = STAFF

    async def get(self, number: str, name: str) -> None:
        """The file."""
        await self.give(self.number(number), name, None)

    async def give(self, number: int, name: str, owner: int | None) -> None:
        """Send the file; only the owner's, when one is given."""

        def read(session: Session) -> tuple[str, str, str, list[tuple[float, str, str]]]:
            found = attempts.get(session, number)
            if found is None or (owner is not None and found.person_id != owner):
                raise HTTPError(404)
            when = f"{found.signed_at:%Y-%m-%d %H:%M} UTC" if found.signed_at is not None else ""
            notes = [(one.t, one.text, one.author) for one in found.notes]
            return found.evidence, found.signer.name if found.signer else "", when, notes

        text, signer, when, notes = await self.look(read)
        self.set_header("Content-Disposition", f'attachment; filename="attempt-{number}.{name}"')
        if name == "evidence.json":
            self.set_header("Content-Type", "application/json")
            self.write(text)
            return

        made = await self.desk.worker.do(_made, name, text, signer, when, self.desk.public_key, notes)
        self.set_header("Content-Type", "application/pdf" if name == "report.pdf" else "text/html; charset=utf-8")
        if name == "report.html":
            self.set_header("Content-Disposition", "inline")
        self.write(made)


def whose_key(signed: str, own: str) -> str:
    """What a signature proves, in words."""
    if not signed:
        return "none: the seal shows only that nothing was changed since"
    if signed == own:
        return "this classroom's: run, person, date, marks and interventions are as they were kept here"
    return f"another key, {signed[:16]}…: ask who holds it"


def _made(
    name: str, text: str, signer: str, when: str, own_key: str, notes: list[tuple[float, str, str]]
) -> str | bytes:
    document = documents.parse(text)
    content = report(document, files.computed(text), signer, when, own_key, notes)
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
        self.show("My attempts", listed(found, own=True), el("ul", {}, deeds) if deeds else None)


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
    return paper.table(
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
