"""What leaves and enters as files: exports, reports, evidence; and evidence files taken in, one or a folder."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from trainer.records import attempts, csv_out, names, xapi
from trainer.records.attempts import Arrival
from trainer.records.audit import now
from trainer.records.tables import Attempt
from trainer.session import evidence as documents
from trainer.session.evidence import EvidenceError
from trainer.session.verify import Verdict, verify
from trainer.simulator import rebuilder

MOST_FILES = 200
MOST_EXPORTED = 20_000
LONGEST_RUN_S = 4 * 3600.0


@dataclass(frozen=True)
class Taken:
    """What became of one file."""

    name: str
    said: str
    kept: bool


def computed(text: str) -> Verdict:
    """Re-compute an evidence document; a verdict also for a run too long to be played here."""
    document = documents.parse(text)
    if document.end / 50.0 > LONGEST_RUN_S:
        return Verdict(False, False, False, "longer than four hours of simulated time: verify it on the command line")
    return verify(document, rebuilder())


def take_in(session: Session, files: Sequence[tuple[str, bytes]], person: str = "") -> list[Taken]:
    """Take evidence files into the records, each re-computed first; what does not verify stays outside.

    The person is the one named in the evidence unless ``person`` is given. A file that was taken in before is
    known by its seal and not taken in again.
    """
    out = []
    for name, content in files[:MOST_FILES]:
        shown = name.replace("\\", "/").rsplit("/", 1)[-1][:120] or "a file"
        try:
            out.append(_take(session, shown, content, person))
        except (EvidenceError, ValueError) as error:
            out.append(Taken(shown, f"not taken in: {error}", False))
    if len(files) > MOST_FILES:
        out.append(Taken("the rest", f"not taken in: more than {MOST_FILES} files at once", False))
    return out


def _take(session: Session, name: str, content: bytes, person: str) -> Taken:
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        raise EvidenceError("not an evidence file: not UTF-8 text") from None
    document = documents.parse(text)
    whose = names.clean(person or document.person.name)
    verdict = computed(text)
    if not verdict.ok:
        return Taken(name, f"not taken in: {verdict.reason}", False)
    key = hashlib.sha256(f"{document.seal.log}{document.seal.head}".encode()).hexdigest()
    before = attempts.by_key(session, key)
    if before is not None:
        return Taken(name, f"known already, attempt {before.id}", False)
    kept = attempts.keep(session, Arrival(key, text, whose, _date(document.date), source="import"))
    attempts.found(session, kept, verdict.ok, verdict.reason)
    return Taken(name, f"attempt {kept.id} of {kept.person.name}: {kept.title}, {kept.score:g} of 100", True)


def _date(text: str) -> datetime:
    """The date in an evidence document, which is whatever was typed; today when it is none."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return now()
    found = found if found.tzinfo is not None else found.replace(tzinfo=UTC)
    # A date to come would keep somebody current for ever.
    return min(found, now())


def export(session: Session, kind: str) -> tuple[str, str]:
    """(content, content type) of an export: ``attempts.csv``, ``criteria.csv`` or ``xapi.json``. KeyError else."""
    makers = {"attempts.csv": _attempts, "criteria.csv": _criteria, "xapi.json": _statements}
    found = attempts.search(session, count=MOST_EXPORTED)
    return makers[kind](found)


def _attempts(found: list[Attempt]) -> tuple[str, str]:
    return csv_out.attempts_csv(found), "text/csv; charset=utf-8"


def _criteria(found: list[Attempt]) -> tuple[str, str]:
    return csv_out.criteria_csv(found), "text/csv; charset=utf-8"


def _statements(found: list[Attempt]) -> tuple[str, str]:
    made = [statement for attempt in found for statement in xapi.statements(attempt)]
    return json.dumps(made, ensure_ascii=False, indent=1), "application/json"
