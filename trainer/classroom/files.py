"""What leaves and enters as files: exports, reports, evidence; and evidence files taken in, one or a folder."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

from sqlalchemy.orm import Session

from trainer.drills.sheet import of_100
from trainer.records import attempts, chain, csv_out, names, review, xapi
from trainer.records.attempts import Arrival
from trainer.records.audit import note, now
from trainer.records.database import Records
from trainer.records.proof import signed_key
from trainer.records.tables import Attempt
from trainer.session import evidence as documents
from trainer.session import signing, withdrawn
from trainer.session.evidence import EvidenceError
from trainer.session.verify import Verdict, broken_seal, verify
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
    if document.seconds > LONGEST_RUN_S:
        return Verdict(False, False, False, "longer than four hours of simulated time: verify it on the command line")
    return verify(document, rebuilder())


@dataclass(frozen=True)
class Read:
    """An evidence file as it was read; ``wrong`` says why it was not."""

    name: str
    text: str = ""
    whose: str = ""
    date: str = ""
    run_hash: str = ""
    wrong: str = ""
    signed: str = ""
    """The key whose signature of the file holds, if there is one."""
    named: str = ""
    """Whom the file itself names."""


def read(name: str, content: bytes, person: str = "") -> Read:
    """Read an evidence file, for the person it names unless ``person`` is given."""
    shown = name.replace("\\", "/").rsplit("/", 1)[-1][:120] or "a file"
    try:
        text = content.decode("utf-8-sig")
        document = documents.parse(text)
        whose = names.clean(person or document.person.name)
    except UnicodeDecodeError:
        return Read(shown, wrong="not taken in: not an evidence file: not UTF-8 text")
    except (EvidenceError, ValueError) as error:
        return Read(shown, wrong=f"not taken in: {error}")
    if (broken := broken_seal(document)) is not None:
        bare = "" if document.signature is None else "; the signature does not cover what stands here"
        return Read(shown, wrong=f"not taken in: seal: {broken}{bare}")
    key, named = signed_key(document), document.person.name
    return Read(shown, text, whose, document.date, documents.run_hash(document), signed=key, named=named)


def known(session: Session, file: Read) -> Taken | None:
    """Whether this run is or was in the records already, whatever name and date the file has; None when it is not."""
    before = attempts.same_run(session, file.run_hash)
    if before is None and attempts.erased(session, file.run_hash):
        return Taken(file.name, "not taken in: this run was deleted here together with its person", False)
    if before is None:
        return None
    if names.folded(before.person.name) == names.folded(file.whose):
        return Taken(file.name, f"known already, attempt {before.id}{_beside(session, file, before)}", False)
    return Taken(file.name, f"not taken in: the same run is attempt {before.id} of another person", False)


def _beside(session: Session, file: Read, kept: Attempt) -> str:
    """How a file of a known run stands to what the records hold of it: the same, withdrawn since, or another state."""
    seal = documents.parse(file.text).seal.whole
    if seal == kept.seal:
        return ", the same as in the records"
    for one in review.withdrawn(session, kept.id):
        if one.seal == seal:
            return f"; NOT THE NEWEST: the sign-off in this file was withdrawn on {one.withdrawn[:10]}"
    return "; not as it stands in the records: marks or sign-off differ"


def of_another(file: Read, own_key: str) -> Taken | None:
    """A run that this classroom signed for one person is never filed under another; None where it names them or
    nobody."""
    if not own_key or file.signed != own_key or not file.named.strip() or _same(file.named, file.whose):
        return None
    return Taken(file.name, "not taken in: this classroom signed it for another person, whom the file names", False)


def _same(one: str, other: str) -> bool:
    return bool(one.strip()) and names.folded(one) == names.folded(other)


def keep(session: Session, file: Read, verdict: Verdict, own_key: str = "") -> Taken:
    """Keep a file that was re-computed; what does not verify stays outside. ``own_key`` is the classroom's."""
    if not verdict.ok:
        return Taken(file.name, f"not taken in: {verdict.reason}", False)
    if (before := known(session, file) or of_another(file, own_key)) is not None:
        return before
    key = hashlib.sha256(f"import {file.run_hash}".encode()).hexdigest()
    kept = attempts.keep(session, Arrival(key, file.text, file.whose, _date(file.date), source="import"))
    attempts.found(session, kept, verdict.ok, verdict.reason)
    if not own_key or kept.signed_key != own_key or not _same(file.named, file.whose):
        # Who started it is only what the file says, or it was started for nobody who is named.
        kept.started_by = ""
    score = of_100(kept.score, float(documents.parse(file.text).sheet.get("pass_mark", 0.0)))
    said = f"attempt {kept.id} of {kept.person.name}: {kept.title}, {score}"
    if not kept.signed_key:
        said += "; unsigned: it proves what was done, not by whom or when"
    elif kept.signed_key != own_key:
        said += f"; signed with another key, {kept.signed_key[:16]}…"
    return Taken(file.name, said, True)


def take(url: str | None, own_key: str, who: str, role: str, name: str, content: bytes, person: str) -> Taken:
    """Read, re-compute and keep a file that somebody on the staff brought, in the worker: the re-computing outside any
    transaction, the keeping in a short one. RecordsAwayError when the database does not answer."""
    records = _opened(url)
    file = read(name, content, person)
    taken = Taken(file.name, file.wrong, False) if file.wrong else None
    if taken is None:
        with records.look() as session:
            taken = known(session, file) or of_another(file, own_key)
    verdict = computed(file.text) if taken is None else None
    with records.work() as session:
        if verdict is not None:
            taken = keep(session, file, verdict, own_key)
        assert taken is not None
        note(session, who, role, "import", taken.name, taken.said)
    return taken


@lru_cache(1)
def _opened(url: str | None) -> Records:
    return Records(url)


def _date(text: str) -> datetime:
    """The date in an evidence document, which is whatever was typed; today when it is none."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return now()
    found = found if found.tzinfo is not None else found.replace(tzinfo=UTC)
    # A date to come would keep somebody current for ever.
    return min(found, now())


def trail_looked_through(url: str | None) -> chain.Found:
    """Look the chain of the trail through, in the worker: the trail of years is long."""
    records = Records(url)
    try:
        chain.extend_all(records)
        with records.look() as session:
            return chain.look_through(chain.rows(session))
    finally:
        records.close()


def trail_exported(url: str | None, folder: Path) -> str:
    """The whole trail as a document, its end signed with the key of the data folder; in the worker."""
    records = Records(url)
    try:
        chain.extend_all(records)
        with records.look() as session:
            return json.dumps(chain.export(session, signing.folder_key(folder)), ensure_ascii=False, indent=1)
    finally:
        records.close()


def withdrawn_exported(url: str | None, folder: Path) -> str:
    """The list of withdrawn sign-offs as a document signed with the key of the data folder; in the worker."""
    records = Records(url)
    try:
        with records.look() as session:
            rows = review.withdrawn(session)
    finally:
        records.close()
    return withdrawn.listed(rows, now().isoformat(), signing.folder_key(folder)).model_dump_json(indent=1)


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
