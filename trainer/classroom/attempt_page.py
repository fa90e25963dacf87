"""``/attempts`` and ``/attempt?number=N``: the attempts there are; one of them, with what an assessor does with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import panel as pn
from bokeh.document import Document
from panel.viewable import Viewable
from sqlalchemy.orm import Session

from trainer.classroom import files
from trainer.classroom.access import Who
from trainer.classroom.instructor import RefusedError
from trainer.classroom.record_pages import (
    agreement_table,
    appeal_line,
    points,
    result,
    result_words,
    signed_words,
    whose_key,
)
from trainer.classroom.staff_page import StaffPage, html, row, typed
from trainer.classroom.staff_table import Cell, fill, table
from trainer.console.debrief import NOT_FINISHED, broken_off, clock, verdict_words
from trainer.drawing.markup import Markup, el, join, plain_table
from trainer.drills.criteria_schema import Assess
from trainer.drills.schema import Drill
from trainer.records import agreement, attempts, marks, review
from trainer.records.audit import note
from trainer.records.tables import Appeal, Attempt, Criterion, Person, SignedVersion
from trainer.session import evidence as documents
from trainer.session.custody import Custody

if TYPE_CHECKING:
    from trainer.classroom.classroom import Classroom

FOREIGN = (
    "It was not signed by this classroom: person, date, start, pauses and ending are what the file says. Marks and "
    "signature here change nothing of that; it counts for no validity."
)
NONE_SUCH = "there is no such attempt"
EXPORTS = (
    ("/export/attempts.csv", "Attempts, CSV"),
    ("/export/criteria.csv", "Criteria, CSV"),
    ("/export/xapi.json", "Statements for a learning record store (xAPI 1.0.3)"),
    ("/export/withdrawn.json", "Withdrawn sign-offs, for trainer verify --withdrawn"),
    ("/post", "Post the statements to a learning record store"),
    ("/import", "Take in evidence files"),
)
COLUMNS = {
    "attempt": "Attempt",
    "person": "Person",
    "drill": "Drill",
    "mode": "Mode",
    "when": "When (UTC)",
    "result": "Result",
    "verified": "Verified",
    "signed": "Signed",
}


def attempts_table() -> pn.widgets.Tabulator:
    """An empty table of attempts, each with a link to its page; columns of names and results can be filtered."""
    widths = {"attempt": "9%", "mode": "9%", "when": "14%", "verified": "9%", "signed": "10%"}
    return table(COLUMNS, links=("attempt",), filters=("person", "drill", "mode", "result", "signed"), widths=widths)


def attempt_row(one: Attempt, drills: Mapping[str, Drill]) -> dict[str, Cell]:
    """The row of an attempt; ``drills`` by id, for their pass marks."""
    return {
        "attempt": (str(one.id), f"/attempt?number={one.id}"),
        "person": one.person.name,
        "drill": one.title,
        "mode": one.mode,
        "when": f"{one.at:%Y-%m-%d %H:%M}",
        "result": result_words(one, drills),
        "verified": {None: "", True: "yes", False: "NO"}[one.verified],
        "signed": signed_words(one),
    }


def links(places: Sequence[tuple[str, str]]) -> Markup:
    """A list of places to go to or files to take, by (place, words)."""
    return el("ul", {}, [el("li", {}, el("a", {"href": place}, words)) for place, words in places])


class Attempts(StaffPage):
    """``/attempts``: the newest attempts, or those of one drill or mode, read anew every five seconds."""

    path, title, renew_s = "attempts", "Attempts", 5.0

    def lay_out(self) -> list[Viewable]:
        """What is looked for, the table, the exports."""
        drills = sorted((one.title, one.id) for one in self.room.rooms.drills.values())
        self.drill = pn.widgets.Select(label="Drill", options={"All drills": "", **dict(drills)}, width=360)
        self.mode = pn.widgets.Select(label="Mode", options={"Both": "", "Check": "check", "Practice": "practice"})
        self.listed = attempts_table()
        for choice in (self.drill, self.mode):
            choice.param.watch(self._chosen, "value")
        return [row(self.drill, self.mode), self.listed, html(join(el("h2", {}, "Files"), links(EXPORTS)))]

    async def _chosen(self, _: object) -> None:
        await self.read_again()

    async def load(self) -> None:
        """Read the attempts of the drill and mode that are chosen, the newest first, into the table."""
        drill, mode = self.drill.value or None, self.mode.value or None
        found = await self.look(lambda session: attempts.search(session, drill=drill, mode=mode))
        fill(self.listed, (attempt_row(one, self.room.rooms.drills) for one in found))


@dataclass(frozen=True)
class ToMark:
    """A criterion as its assessor marks it; ``levels`` says what is seen at none, half and all of the points."""

    title: str
    points: float
    judged: bool
    levels: Mapping[str, float]
    own: float | None
    remark: str


@dataclass(frozen=True)
class After:
    """An attempt with what came after it: signed versions, each with the marks that changed after it, and appeals."""

    attempt: Attempt
    pairs: list[agreement.Agreement]
    versions: list[tuple[SignedVersion, list[str]]]
    appeals: list[Appeal]
    must_not: str | None
    """Why who looks may not answer an appeal."""


def _changes(versions: Sequence[SignedVersion], attempt: Attempt) -> list[list[str]]:
    """For each signed version, the marks that the next one has otherwise; of the last, once it is signed again."""
    texts = [one.evidence for one in versions] + ([attempt.evidence] if attempt.signed_at is not None else [])
    found = [review.changed(before, after) for before, after in pairwise(texts)]
    return found + [[] for _ in range(len(versions) - len(found))]


class OneAttempt(StaffPage):
    """Everything about one attempt, and what an assessor does with it."""

    path, title = "attempt", "Attempt"

    def __init__(self, room: Classroom, document: Document, given: Mapping[str, str]) -> None:
        number = given.get("number", "")
        self.number = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 0
        self._to_mark: dict[str, ToMark] = {}
        super().__init__(room, document, given)

    def lay_out(self) -> list[Viewable]:
        """Facts, criteria with their marks, signature, what comes after it, and files."""
        self.facts, self.notes, self.signed, self.after, self.evidence = (html(Markup("")) for _ in range(5))
        self.criteria = table(
            {"criterion": "Criterion", "machine": "Machine", "reason": "What happened", "marks": "Assessors"},
            long=("criterion", "reason", "marks"),
            widths={"criterion": "24%", "machine": "14%", "marks": "26%"},
        )
        self.criterion = pn.widgets.Select(label="Criterion", width=560)
        self.levels = pn.widgets.RadioBoxGroup(label="Points, by what was seen and heard")
        self.points = pn.widgets.TextInput(label="Points")
        self.remark = pn.widgets.TextAreaInput(label="Remark", max_length=marks.LONGEST_REMARK, width=560)
        self.criterion.param.watch(self._show_criterion, "value")
        mark = self.button("Mark", self._mark, "assessor")
        self.about = html(Markup(""))
        self.marking = pn.Column(
            html(el("h2", {}, "Mark")),
            self.criterion,
            self.about,
            self.levels,
            self.points,
            self.remark,
            mark,
            visible=False,
        )
        self.remarks = pn.widgets.TextAreaInput(label="Remarks", max_length=marks.LONGEST_REMARK, width=560)
        sign = self.button("Sign: the marks above are mine", self._sign, "assessor")
        self.warning = html(Markup(""))
        self.signing = pn.Column(html(el("h2", {}, "Sign")), self.warning, self.remarks, sign, visible=False)
        self.answer = pn.widgets.TextAreaInput(label="Answer", max_length=marks.LONGEST_REMARK, width=560)
        self.answering = pn.Column(
            self.answer, self.button("Answer the appeal", self._answer, "assessor"), visible=False
        )
        self.reason = pn.widgets.TextInput(label="Reason of the correction", max_length=marks.LONGEST_REMARK, width=560)
        self.correcting = pn.Column(
            self.reason, self.button("Open for a correction", self._correct, "assessor"), visible=False
        )
        again = self.button("Re-compute now", self._recompute)
        return [
            self.facts,
            self.marking,
            html(el("h2", {}, "Criteria")),
            self.criteria,
            self.notes,
            self.signing,
            self.signed,
            self.after,
            self.answering,
            self.correcting,
            html(el("h2", {}, "Evidence")),
            again,
            self.evidence,
        ]

    async def load(self) -> None:
        """Read the attempt, and show what whose page this is may see and do."""

        who = self.who()

        def read(session: Session) -> After:
            found = self._found(session)
            versions, appeals = review.history(session, found)
            me = session.get(Person, who.person)
            return After(
                found,
                agreement.agreements(session, self.number),
                list(zip(versions, _changes(versions, found), strict=True)),
                appeals,
                review.must_not_answer(session, found, me) if me is not None else None,
            )

        after = await self.look(read)
        attempt, pairs, appeals = after.attempt, after.pairs, after.appeals
        judge, open_ = who.role == "assessor", attempt.signed_at is None
        self.heading.object = el("h1", {}, f"{attempt.title}: {attempt.person.name}")
        self.facts.object = facts(attempt, self.room.public_key, self.room.rooms.drills)
        self._show_criteria(attempt, who, judge and open_)
        self.marking.visible = self.signing.visible = judge and open_
        self.notes.object = join(
            [
                el("h2", {}, "Notes"),
                el("ul", {}, [el("li", {}, f"{clock(one.t)} {one.text} ({one.author})") for one in attempt.notes]),
            ]
            if attempt.notes
            else None,
            [el("h2", {}, "Agreement"), agreement_table(pairs)] if pairs else None,
        )
        self.signed.object = join(signature(attempt))
        waits = any(one.answered_at is None for one in appeals)
        short = broken_off(attempt.mode, attempt.finished)
        self.warning.object = el("p", {}, f"This check is {NOT_FINISHED}. Signed, it is no pass.") if short else ""
        self.after.object = join(
            el("h2", {}, "Corrections and appeals") if after.versions or appeals or (judge and not open_) else None,
            [version_line(*one) for one in after.versions],
            map(appeal_line, appeals),
            el("p", {}, f"{after.must_not.capitalize()}.") if judge and waits and after.must_not else None,
        )
        self.answering.visible = judge and waits and after.must_not is None
        self.correcting.visible = judge and not open_
        self.evidence.object = evidence_links(attempt.id)

    def _found(self, session: Session) -> Attempt:
        attempt = attempts.get(session, self.number)
        if attempt is None:
            raise RefusedError(NONE_SUCH)
        return attempt

    def _both(self, session: Session, who: Who) -> tuple[Attempt, Person]:
        person = session.get(Person, who.person)
        if person is None:
            raise RefusedError("you are no longer in the records")
        return self._found(session), person

    def _show_criteria(self, attempt: Attempt, who: Who, marking: bool) -> None:
        own = {mark.criterion: mark for mark in attempt.marks if mark.assessor_id == who.person}
        # What waits for a person comes first.
        rows = sorted(attempt.criteria, key=lambda row: row.earned is not None)
        fill(
            self.criteria,
            (
                {
                    "criterion": row.title,
                    "machine": "for the assessor" if row.earned is None else f"{row.earned:.3g} of {row.points:g}",
                    "reason": row.reason,
                    # A second assessor does not see the first one's marks before giving an own one.
                    "marks": "" if marking and row.criterion not in own else _marks(attempt, row),
                }
                for row in rows
            ),
        )
        if not marking:
            self._to_mark = {}
            return
        self._to_mark = {
            row.criterion: ToMark(
                row.title,
                row.points,
                row.earned is not None,
                self._levels(attempt, row),
                own[row.criterion].points if row.criterion in own else None,
                own[row.criterion].remark if row.criterion in own else "",
            )
            for row in rows
        }
        words = {row.criterion: f"{row.title}{_standing(self._to_mark[row.criterion])}" for row in rows}
        waits = [row.criterion for row in rows if row.earned is None and row.criterion not in own]
        how = "Choose the points by what was seen and heard; where no levels are listed, type a number."
        done = "Nothing is left to mark: sign below. A mark given here overrides what stands."
        self.about.object = el("p", {}, how if waits else done)
        chosen = waits[0] if waits else self.criterion.value if self.criterion.value in words else rows[0].criterion
        self.criterion.param.update(options={words[one]: one for one in words}, value=chosen)
        self._show_criterion()

    def _levels(self, attempt: Attempt, row: Criterion) -> Mapping[str, float]:
        """What the drill says is seen at each level of a criterion that is left to the assessor; none for any other."""
        drill = self.room.rooms.drills.get(attempt.drill)
        spec = next((one for one in drill.criterion if one.id == row.criterion), None) if drill is not None else None
        if row.earned is not None or not isinstance(spec, Assess) or spec.levels is None:
            return {}
        worth = (0.0, row.points / 2.0, row.points)
        return {f"{points:g}: {words}": points for points, words in zip(worth, spec.levels, strict=False)}

    def _show_criterion(self, _: object = None) -> None:
        """The fields for the criterion that is chosen, with the own mark if there is one."""
        spec = self._to_mark.get(str(self.criterion.value))
        if spec is None:
            return
        self.levels.visible, self.points.visible = bool(spec.levels), not spec.levels
        own = next((words for words, points in spec.levels.items() if points == spec.own), None)
        self.levels.param.update(options=list(spec.levels), value=own)
        self.points.param.update(label=f"Points of {spec.points:g}", value="" if spec.own is None else f"{spec.own:g}")
        self.remark.param.update(label="Reason for the override" if spec.judged else "Remark", value=spec.remark)

    # What an assessor does

    async def _mark(self, who: Who) -> str:
        criterion = str(self.criterion.value)
        spec = self._to_mark.get(criterion)
        given = spec.levels.get(str(self.levels.value)) if spec is not None and spec.levels else typed(self.points)
        try:
            points = float(given)  # type: ignore[arg-type]
        except (TypeError, ValueError):
            raise RefusedError("points are a number: choose or type them") from None
        remark = typed(self.remark)

        def work(session: Session) -> str:
            attempt, person = self._both(session, who)
            mark = marks.give(session, attempt, criterion, points, remark, person)
            return f"Marked: {mark.points:g} of {mark.out_of:g}"

        return await self.ask(work)

    async def _sign(self, who: Who) -> str:
        remarks = typed(self.remarks)

        def work(session: Session) -> str:
            attempt, person = self._both(session, who)
            sheet = marks.sign(session, attempt, remarks, person, self.room.key)
            return f"Signed. {verdict_words(attempt.mode, {**sheet, 'finished': attempt.finished})}"

        return await self.ask(work)

    async def _answer(self, who: Who) -> str:
        answer = typed(self.answer)

        def work(session: Session) -> None:
            attempt, person = self._both(session, who)
            waits = [one for one in review.history(session, attempt)[1] if one.answered_at is None]
            if not waits:
                raise RefusedError("no appeal waits for an answer")
            review.answer(session, waits[0], answer, person)

        await self.ask(work)
        return "Answered."

    async def _correct(self, who: Who) -> str:
        reason = typed(self.reason)

        def work(session: Session) -> None:
            attempt, person = self._both(session, who)
            review.reopen(session, attempt, reason, person, self.room.key)

        await self.ask(work)
        return "Open for a correction: change the marks, then sign again."

    async def _recompute(self, who: Who) -> str:
        """Re-compute in the worker, outside any transaction, and keep what was found."""
        text = await self.look(lambda session: self._found(session).evidence)
        verdict = await self.room.worker.do(files.computed, text)

        def keep(session: Session) -> None:
            attempt = attempts.get(session, self.number)
            if attempt is not None and attempt.evidence == text:
                attempts.found(session, attempt, verdict.ok, verdict.reason)
                note(session, who.name, who.role, "re-computed", f"attempt {self.number}", verdict.reason)

        await self.ask(keep)
        return f"{'Verified' if verdict.ok else 'NOT VERIFIED'}: {verdict.reason}"


def _marks(attempt: Attempt, row: Criterion) -> str:
    return "\n".join(
        f"{mark.assessor}: {mark.points:g}{' (override)' if mark.override else ''} {mark.remark}".rstrip()
        for mark in attempt.marks
        if mark.criterion == row.criterion
    )


def _standing(spec: ToMark) -> str:
    if spec.own is not None:
        return f" ({spec.own:g} of {spec.points:g} given)"
    return " (override)" if spec.judged else " (to mark)"


def facts(attempt: Attempt, own_key: str, drills: Mapping[str, Drill]) -> Markup:
    """How an attempt came about and ended, as a table; ``own_key`` is the classroom's, ``drills`` by id."""
    kept = documents.parse(attempt.evidence).custody or Custody()
    checked = "not yet" if attempt.verified is None else ("verified: " if attempt.verified else "NOT VERIFIED: ")
    foreign = attempt.source == "import" and attempt.signed_key != own_key
    rows = [
        *([("Came as a file", FOREIGN)] if foreign else []),
        (
            "The machine's own score",
            f"{points(attempt.machine_score, attempt.drill, drills)}, "
            + ("passed" if attempt.machine_passed else "not passed"),
        ),
        ("Rig, variation", f"{attempt.plant}, {attempt.seed}"),
        ("Started by", attempt.started_by or _claimed(kept)),
        (
            "Ended",
            (attempt.ending or "not recorded")
            + (f"; {NOT_FINISHED}" if broken_off(attempt.mode, attempt.finished) else ""),
        ),
        ("Time on the clock and on the wall", f"{clock(attempt.simulated_s)}, {clock(attempt.wall_s)}"),
        *((f"Pause at {clock(one.t)}", f"{one.wall_s:.0f} s by {one.by}: {one.reason}") for one in kept.pauses),
        *(
            (f"Skipped {clock(one.start)} to {clock(one.end)}", f"a wait that the drill names: {one.wait}")
            for one in kept.skips
        ),
        ("Changes by an instructor", str(attempt.interventions)),
        *(("Intervention", words) for words in kept.interventions),
        ("Signature", whose_key(attempt.signed_key, own_key)),
        ("Turned back", f"{attempt.rewinds} times"),
        ("Re-computed", checked + attempt.verified_reason),
    ]
    head = el(
        "p",
        {},
        result(attempt, drills),
        f" {attempt.mode}, {clock(attempt.simulated_s)}, {attempt.at:%Y-%m-%d %H:%M} UTC. ",
        el("a", {"href": f"/watch?attempt={attempt.id}", "target": "_blank"}, "Replay"),
    )
    return join(head, plain_table((), rows))


def _claimed(kept: Custody) -> str:
    """Who started a run for which no staff here can confirm it."""
    if kept.started_by:
        return f"the file says {kept.started_by}: no one here confirms it"
    return "no staff member: no one confirms it"


def signature(attempt: Attempt) -> Markup | None:
    """Who signed an attempt, when and with what remarks, as markup; None while nobody has."""
    if attempt.signed_at is None:
        return None
    by = attempt.signer.name if attempt.signer else "an assessor no longer in the records"
    when = el("p", {}, f"By {by}, {attempt.signed_at:%Y-%m-%d %H:%M} UTC")
    return join(el("h2", {}, "Signed"), when, el("p", {}, attempt.remarks))


def version_line(one: SignedVersion, changed: Sequence[str] = ()) -> Markup:
    """What was signed before, why it was opened again, and which marks changed then."""
    return el(
        "p",
        {},
        f"Signed by {one.signer}, {one.signed_at:%Y-%m-%d %H:%M} UTC: {one.verdict}. Opened again by "
        f"{one.reopened_by}, {one.reopened_at:%Y-%m-%d %H:%M} UTC: {one.reason}",
        f". Changed: {'; '.join(changed)}" if changed else "",
    )


def evidence_links(number: int) -> Markup:
    """The files of an attempt, and how they are verified elsewhere."""
    own = (("report.pdf", "Report, PDF"), ("report.html", "Report, page"), ("evidence.json", "Evidence"))
    places = [(f"/attempts/{number}/{name}", words) for name, words in own]
    return join(
        links([*places, ("/key.pem", "Public key of this classroom")]),
        el(
            "p",
            {"class": "soft"},
            "To have it verified on another machine, hand over evidence and key: ",
            el("code", {}, "trainer verify EVIDENCE --key KEY"),
            ". With ",
            el("code", {}, "--withdrawn LIST"),
            " it also says whether the sign-off still stands; the list is on the page Attempts.",
        ),
    )
