"""What a score report says, taken from an evidence document: the same for the page and the paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import UTC, datetime
from typing import Final, TypeVar

from trainer import languages, naming
from trainer.console import crews
from trainer.console.debrief import PASSED, clock, due, seen, verdict_word, verdict_words
from trainer.console.in_language import teller
from trainer.console.progress import points_of
from trainer.console.shell import SAFETY
from trainer.drills import library
from trainer.drills.assessed import assessed
from trainer.drills.schema import DrillError
from trainer.drills.sheet import dearest, level, lost, of_100
from trainer.session import signing
from trainer.session.custody import UNATTENDED
from trainer.session.evidence import Correction, Evidence
from trainer.session.interventions import ASSISTANT, DEBRIEF, INSTRUCTOR
from trainer.session.sheets import MilestoneData, RowData, SheetData
from trainer.session.verify import Verdict

T = TypeVar("T")

NOTES = "Notes of the moment, kept beside the evidence"

#: The first page has room for so many of the criteria that cost points.
MOST_LOST = 6


@dataclass(frozen=True)
class Line:
    """One criterion. ``marked`` tells of an assessor's mark in place of, or beside, the machine's."""

    title: str
    when: str
    points: str
    what: str
    seen: str
    """What the instruments showed, and when; empty where none bears on it."""
    why: str
    source: str
    marked: str
    kind: str
    """full, part, none or open"""


@dataclass(frozen=True)
class Lost:
    """A criterion that cost points, or a critical failure, in short: what happened, was seen, and rests on what."""

    title: str
    points: str
    what: str
    seen: str
    source: str


@dataclass(frozen=True)
class CategoryScore:
    """What was earned of the points of one kind of criteria; ``share`` is 0 to 1."""

    title: str
    points: str
    share: float


@dataclass(frozen=True)
class Report:
    """A report's content, all of it text. The first page is made of what stands before ``lines``."""

    title: str
    headline: str
    """Passed or not, the score, and what of it no one confirms."""
    tone: str
    """passed, failed, or unproven: a pass that no known key stands behind"""
    verdict: str
    score: str
    facts: tuple[tuple[str, str], ...]
    critical: tuple[Lost, ...]
    parts: tuple[CategoryScore, ...]
    lost: tuple[Lost, ...]
    """What cost most, worst first."""
    more_lost: int
    """How many further criteria lost points."""
    milestones: tuple[tuple[str, str, str], ...]
    """When, when a good crew would have, and what."""
    lines: tuple[Line, ...]
    log: tuple[tuple[str, str, str, str], ...]
    remarks: str
    notes: tuple[str, ...]
    """What staff noted of a moment; kept beside the evidence, not in it."""
    checked: str
    sources: tuple[str, ...]
    signed: str = ""
    """Who signed off and when; empty while no one has."""
    safety: str = SAFETY
    language: str = languages.ENGLISH
    foot: str = ""
    """What stands at the foot of each sheet of paper: drill, person, date."""


def report(
    evidence: Evidence,
    verdict: Verdict | None = None,
    signer: str = "",
    signed: str = "",
    own_key: str = "",
    notes: Sequence[tuple[float, str, str]] = (),
    language: str = languages.ENGLISH,
) -> Report:
    """The report of an evidence document.

    With marks in it, those of ``signer`` (of the first assessor, when nobody is named) decide the result; every
    other mark and what the machine found stand beside. ``verdict`` is what a re-computation found, ``signed`` when the
    signer signed off, ``own_key`` the public key of the classroom for which the report is written: a pass is shown as
    one only where this key signed it. ``notes`` are moments that staff noted: simulated s, words, author. ``language``
    is that of the report; what people wrote stays as they wrote it.
    """
    assessors = list(dict.fromkeys(mark.assessor for mark in evidence.marks))
    if not signed and evidence.sign_off is not None:
        signer, signed = evidence.sign_off.assessor, plain_date(evidence.sign_off.at)
    signer = signer or (assessors[0] if assessors else "")
    marks = {mark.criterion: mark.points for mark in evidence.marks if mark.assessor == signer}
    sheet = assessed(evidence.scored, marks) if evidence.sheet.get("criteria") else evidence.scored
    end = sheet.get("simulated_s")
    drill = "; ".join(_references(evidence.run.drill))
    rows = list(sheet.get("criteria", []))
    costly = dearest(rows, 0.05)
    score = _of_100(sheet)
    headline, tone = _headline(evidence, verdict, bool(sheet.get("passed")), score, own_key)
    title = str(sheet.get("title") or evidence.run.drill or "Free practice")
    whole = Report(
        title=title,
        headline=headline,
        tone=tone,
        verdict=_unproven(evidence) + verdict_words(evidence.run.mode, sheet),
        score=score,
        facts=_facts(evidence, sheet, assessors),
        critical=tuple(
            Lost(
                f"{clock(row.get('t'))}  {row.get('title') or row.get('id')}",
                "",
                str(row.get("reason") or ""),
                seen(row, end),
                str(row.get("source") or drill),
            )
            for row in evidence.scored.get("critical", [])
        ),
        parts=_parts(rows),
        lost=tuple(
            Lost(
                str(row.get("title") or row["id"]),
                f"{lost(row):.3g}",
                str(row.get("reason") or ""),
                seen(row, end),
                str(row.get("source") or drill),
            )
            for row in costly[:MOST_LOST]
        ),
        more_lost=max(0, len(costly) - MOST_LOST),
        milestones=_milestones(evidence.run.drill, sheet.get("milestones", [])),
        lines=tuple(_line(row, evidence, drill) for row in rows),
        log=tuple(
            (
                clock(entry.t),
                entry.by or entry.from_,
                f"{entry.do} {naming.target(entry.target)}"
                + ("" if entry.value is None else f": {_value(entry.value)}")
                + ("" if entry.figure is None else f", {_value(entry.figure)}"),
                entry.refused or "",
            )
            for entry in evidence.log
        ),
        remarks=evidence.remarks,
        notes=tuple(f"{clock(t)} {text} ({author})" for t, text, author in notes),
        checked=_checked(evidence, verdict, own_key),
        signed=f"Signed off by {signer}, {signed}" if signed else "",
        sources=tuple(dict.fromkeys(str(row["source"]) for row in rows if row.get("source"))),
        language=language,
        foot=", ".join(filter(None, (title, evidence.person.name or "not named", plain_date(evidence.date)))),
    )
    told = whole if language == languages.ENGLISH else _told(whole, teller(language))
    return replace(told, lost=tuple(_shortened(one) for one in told.lost))


#: Of a report: what a person wrote, and what no person reads.
_OWN: Final = ("remarks", "notes", "tone", "kind", "language")


def _told(part: T, tell: Callable[[str], str]) -> T:
    """A report, or a part of one, with its texts as ``tell`` gives them."""
    if isinstance(part, str):
        return tell(part)  # type: ignore[return-value]
    if isinstance(part, tuple):
        return tuple(_told(one, tell) for one in part)  # type: ignore[return-value]
    if is_dataclass(part) and not isinstance(part, type):
        kept = {one.name: getattr(part, one.name) for one in fields(part) if one.name not in _OWN}
        return replace(part, **{name: _told(value, tell) for name, value in kept.items()})
    return part


def _shortened(one: Lost) -> Lost:
    """What cost points, cut to what its row has room for."""
    return replace(one, what=short(one.what, 200), seen=short(one.seen, 100), source=short(one.source, 105))


def _headline(evidence: Evidence, verdict: Verdict | None, passed: bool, score: str, own_key: str) -> tuple[str, str]:
    """What stands largest on the report, and its tone."""
    sheet = evidence.scored
    word = verdict_word(evidence.run.mode, passed, sheet.get("finished"), sheet.get("critical"))
    passed = word == PASSED
    word = f"{word}, {score}"
    if verdict is not None and not verdict.ok:
        return f"NOT VERIFIED. The file says: {word}", "failed"
    if not _holds(evidence):
        said = f"{word}, unsigned: no one confirms person, date or marks"
    elif evidence.signature is not None and evidence.signature.public_key == own_key:
        said = word
    elif own_key:
        said = f"{word}, signed by another key: not by this classroom's"
    else:
        said = f"{word}, signed by a key that was not looked at: give the classroom's with --key"
    return said, "failed" if not passed else "passed" if said == word else "unproven"


def _holds(evidence: Evidence) -> bool:
    """Whether some key has signed it."""
    return evidence.signature is not None and signing.holds(evidence.seal.whole, evidence.signature)


def plain_date(text: str) -> str:
    """A date with its time as people write it, UTC: 2031-05-06 08:38 UTC; anything else as it is."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    return f"{at.astimezone(UTC):%Y-%m-%d %H:%M} UTC" if at.tzinfo is not None else text


def _unproven(evidence: Evidence) -> str:
    """What stands first on a report of a file that no key has signed."""
    if _holds(evidence):
        return ""
    if not evidence.marks and not evidence.remarks:
        return "Unsigned: name and date are not proven. "
    alone = _machines(evidence.scored)
    return f"UNSIGNED: name, date, marks and remarks are not proven; the machine alone: {alone}. "


def short(text: str, most: int) -> str:
    """The text, cut at a word when it is too long for its place; the details have it whole."""
    return text if len(text) <= most else text[: most - 4].rsplit(" ", 1)[0] + " ..."


def _parts(rows: list[RowData]) -> tuple[CategoryScore, ...]:
    kinds = sorted(points_of(rows, None).items(), key=lambda kind: -kind[1][1])
    return tuple(CategoryScore(name, f"{earned:.3g} of {most:g}", earned / most) for name, (earned, most) in kinds)


def _milestones(drill: str | None, rows: list[MilestoneData]) -> tuple[tuple[str, str, str], ...]:
    crew = crews.crew_of(drill) if drill else None
    beside = crews.beside(crew, rows) if crew else None
    out = []
    for row in rows:
        ideal = beside.at(str(row["id"])) if beside else None
        if row.get("t") is not None or ideal is not None:
            out.append((clock(row.get("t")), clock(ideal), str(row.get("title") or row["id"])))
    return tuple(out)


def _value(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _facts(evidence: Evidence, sheet: SheetData, assessors: list[str]) -> tuple[tuple[str, str], ...]:
    run = evidence.run
    changed = len([entry for entry in evidence.log if entry.from_ == INSTRUCTOR])
    taken = next((entry for entry in evidence.log if entry.from_ == DEBRIEF), None)
    helped = len([entry for entry in evidence.log if entry.from_ == ASSISTANT])
    kept = evidence.custody
    facts = [
        ("Person", evidence.person.name or "not named"),
        ("Role", evidence.person.role),
        *_crew(evidence, sheet),
        ("Date", plain_date(evidence.date)),
        ("Drill", str(sheet.get("title") or run.drill or "free practice")),
        ("Drill file", run.drill or ""),
        ("Rig", naming.title(run.plant)),
        ("Variation", str(run.seed)),
        ("Mode", run.mode),
        ("Simulated time", clock(evidence.seconds)),
        ("Started by", kept.started_by if kept is not None else ""),
        ("Ended", kept.ending if kept is not None else ""),
        ("Wall-clock time", clock(kept.wall_s) if kept is not None else ""),
        ("Pass mark", f"{float(sheet.get('pass_mark', 0.0)):g} of 100" if "pass_mark" in sheet else ""),
        ("Assessors", ", ".join(assessors)),
        ("Without marks", _machines(evidence.scored) if evidence.marks else ""),
        *(("Corrected", f"was {one.was}, signed by {one.assessor}: {one.reason}") for one in _corrected(evidence)),
        ("Done by an instructor", f"{changed} changes to the plant" if changed else ""),
        ("Done by an assistant", f"{helped} actions, as asked" if helped else ""),
        ("Began from", f"the replay of an earlier run, at {clock(taken.t)}: no check" if taken else ""),
        ("Engine", evidence.engine.version),
    ]
    return tuple((name, value) for name, value in facts if value)


def _crew(evidence: Evidence, sheet: SheetData) -> list[tuple[str, str]]:
    """Of a crew's run: each station with who was there and what was earned there; nothing of a run of one person."""
    if evidence.crew is None:
        return []
    people: dict[str, list[str]] = {}
    for one in evidence.crew.people:
        people.setdefault(one.post, []).append(one.name or "computer")
    facts = []
    for share in sheet.get("crew") or ():
        own = " (own station)" if share["post"] == evidence.crew.post else ""
        who = ", then ".join(people.get(share["post"], ["computer"]))
        facts.append((f"{share['title']}{own}", f"{who}: {share['earned']:.3g} of {share['points']:g} points"))
    return facts


def _machines(sheet: SheetData) -> str:
    """What the machine alone found, before any mark."""
    return f"{'passed' if sheet.get('passed') else 'not passed'}, {_of_100(sheet)}"


def _of_100(sheet: SheetData) -> str:
    return of_100(float(sheet.get("score", 0.0)), float(sheet.get("pass_mark", 0.0)))


def _corrected(evidence: Evidence) -> Sequence[Correction]:
    return evidence.sign_off.corrections if evidence.sign_off is not None else ()


def _references(drill: str | None) -> list[str]:
    """What a drill of the library rests on as a whole: stands in where a criterion names no source of its own."""
    path = (library.every_file() | library.crewed()).get(drill or "")
    try:
        return list(library.load_file(path).references) if path else []
    except DrillError:
        return []


def _line(row: RowData, evidence: Evidence, drill: str) -> Line:
    earned, points = row.get("earned"), float(row.get("points", 0.0))
    kind = level(earned, points)
    marks = [mark for mark in evidence.marks if mark.criterion == row["id"]]
    told = [
        f"{mark.assessor or 'An assessor'}: {mark.points:g}" + (f" ({mark.remark})" if mark.remark else "")
        for mark in marks
    ]
    found = row.get("machine", earned)
    if marks and found is not None:
        told.append(f"the machine: {found:.3g}")
    return Line(
        title=str(row.get("title") or row["id"]),
        when=clock(row.get("t")),
        points=f"{'–' if earned is None else f'{earned:.3g}'} of {points:g}",
        what=" ".join(part for part in (str(row.get("reason") or ""), due(row)) if part),
        seen=seen(row, evidence.scored.get("simulated_s")),
        why=str(row.get("why") or ""),
        source=str(row.get("source") or drill),
        marked="; ".join(told),
        kind=kind,
    )


def _checked(evidence: Evidence, verdict: Verdict | None, own_key: str) -> str:
    seal = f"Seal of this file: {evidence.seal.whole}."
    if evidence.signature is None:
        seal += " Unsigned: the seal shows only that nothing was changed since, not who operated."
    else:
        whose = "this classroom's key" if evidence.signature.public_key == own_key else "the key"
        seal += f" Signed with {whose} {evidence.signature.public_key}."
    kept = evidence.custody
    if kept is None or not kept.started_by:
        seal += f" {UNATTENDED}"
    if kept is not None:
        seal += "".join(
            f" Pause at {clock(one.t)}, {one.wall_s:.0f} s, by {one.by}: {one.reason}." for one in kept.pauses
        )
        seal += "".join(
            f" Skipped {clock(one.start)} to {clock(one.end)}, a wait that the drill names: {one.wait}."
            for one in kept.skips
        )
        seal += "".join(f" {line}." for line in kept.interventions)
    if verdict is None:
        return f"{seal} Not re-computed for this report."
    return f"{seal} {'Verified' if verdict.ok else 'NOT VERIFIED'}: {verdict.reason}."
