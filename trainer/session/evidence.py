"""The evidence of a run: one sealed JSON document that lets anyone re-compute the score.

The seal is a SHA-256 chain over the log and a hash of each other part. It shows which part was touched; since
anyone can make a new seal, the proof of the score is the re-computation in ``trainer.session.verify``.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, cast

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from trainer.constants import TICKS_PER_SECOND
from trainer.session import canonical, signing
from trainer.session.commands import LONGEST_RUN
from trainer.session.custody import Custody
from trainer.session.engine import engine_hash, engine_version
from trainer.session.session import MOST_ENTRIES, Checkpoint, Entry, Identity, SessionCore
from trainer.session.sheets import SheetData

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

MOST_BYTES = 64_000_000
FORMAT = 2
"""The format that is written of a run of one person. Since 2 refusals have codes and no hash of a state holds a
sentence."""
CREW_FORMAT = 3
"""The format that is written of a run of several people, and the last that is read: it says who was at which post."""
_HASH = r"^[0-9a-f]{64}$"


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", populate_by_name=True, allow_inf_nan=False, defer_build=True)


class Engine(_Part):
    """Which engine made the run: version, hash of its sources, Python and machine."""

    version: str = Field(max_length=40)
    hash: str = Field(pattern=_HASH)
    platform: str = Field(default="", max_length=120)


class Person(_Part):
    """Who operated, name and role exactly as typed: nobody has checked them."""

    name: str = Field(default="", max_length=200)
    role: str = Field(default="", max_length=200)


class Manning(_Part):
    """Who was at a post of a crew from a tick on, name as typed; a computer that played the post has no name."""

    post: str = Field(max_length=60)
    name: str = Field(default="", max_length=200)
    role: str = Field(default="", max_length=200)
    tick: int = Field(default=0, ge=0)


class CrewList(_Part):
    """The crew of a run: who was at which post from when on, and whose copy of the evidence this is."""

    post: str = Field(default="", max_length=60)
    """The post of the person named in the document; empty for a copy of the whole crew's."""
    people: list[Manning] = Field(max_length=1000)


class Mark(_Part):
    """An assessor's mark on one criterion, given by eye or instead of the machine's."""

    criterion: str = Field(max_length=120)
    points: float
    remark: str = Field(default="", max_length=4000)
    assessor: str = Field(default="", max_length=200)


class Correction(_Part):
    """A result that was signed off before and opened again: what it was, whose, and why it was opened."""

    was: str = Field(max_length=200)
    assessor: str = Field(max_length=200)
    at: str = Field(max_length=40)
    by: str = Field(max_length=200)
    reason: str = Field(max_length=4000)


class SignOff(_Part):
    """Who signed the result off and when (ISO 8601, UTC), and what was signed before it."""

    assessor: str = Field(max_length=200)
    at: str = Field(max_length=40)
    corrections: list[Correction] = Field(default=[], max_length=200)


class SealedEntry(Entry):
    """An entry of the command log with its link of the hash chain (SHA-256, hexadecimal)."""

    link: str = Field(pattern=_HASH)


class Seal(_Part):
    """SHA-256 hashes of head, log, checkpoints, sheet and marks, hexadecimal; ``whole`` covers the others.

    ``marks`` covers marks, remarks and the sign-off."""

    head: str = Field(pattern=_HASH)
    log: str = Field(pattern=_HASH)
    checkpoints: str = Field(pattern=_HASH)
    sheet: str = Field(pattern=_HASH)
    marks: str = Field(pattern=_HASH)
    custody: str | None = Field(default=None, pattern=_HASH)
    """Absent where nobody kept custody, as in evidence of before."""
    whole: str = Field(pattern=_HASH)


class Evidence(_Part):
    """The document. ``end`` is the tick at which it was made; ``date`` is as given by whoever made it."""

    format: Literal["trainer-evidence"] = "trainer-evidence"
    version: Literal[1, 2, 3] = 2
    engine: Engine
    date: str = Field(default="", max_length=40)
    run: Identity
    person: Person = Person()
    crew: CrewList | None = None
    """Who was at which post; None where one person worked, and then it is not written."""
    end: int = Field(ge=0, le=int(LONGEST_RUN) * TICKS_PER_SECOND)
    log: list[SealedEntry] = Field(max_length=MOST_ENTRIES)
    checkpoints: list[Checkpoint] = Field(min_length=1, max_length=20_000)
    sheet: dict[str, Any]
    marks: list[Mark] = Field(default=[], max_length=1000)
    remarks: str = Field(default="", max_length=20_000)
    sign_off: SignOff | None = None
    """None until an assessor has signed the result off."""
    custody: Custody | None = None
    """Who looked after the run; None when nobody did."""
    seal: Seal
    signature: signing.Signature | None = None

    @property
    def scored(self) -> SheetData:
        """The score sheet with the types of its parts, as far as the file has them."""
        return cast(SheetData, self.sheet)

    @property
    def seconds(self) -> float:
        """How long the run was, in simulated seconds from its start to its end."""
        return self.end / TICKS_PER_SECOND

    def record(self) -> dict[str, Any]:
        """The document as plain JSON data, in the order and with the keys of its format."""
        log = [{**entry.record(), "link": entry.link} for entry in self.log]
        document = {**self.model_dump(by_alias=True), "log": log}
        if self.custody is None:
            # Written as before, so that earlier versions read it too.
            del document["custody"], document["seal"]["custody"]
        if self.sign_off is None:
            del document["sign_off"]
        if self.crew is None:
            del document["crew"]
        return document


class EvidenceError(ValueError):
    """A file that is no evidence; one sentence, with the key where it goes wrong."""


def head_hash(document: dict[str, Any]) -> str:
    """Hash of everything that the log is read against: format, engine, date, run, person, end."""
    keys = ["format", "version", "engine", "date", "run", "person", "end"]
    if document.get("crew") is not None:
        keys.append("crew")
    return canonical.digest({key: document[key] for key in keys})


def run_hash(evidence: Evidence) -> str:
    """Hash of what was run and done, whoever is named and whenever it was: two documents with one are one run."""
    entries = [{key: value for key, value in entry.record().items() if key != "link"} for entry in evidence.log]
    # Each member of a crew keeps a copy of the one run: by the post, whoever is named there.
    post = () if evidence.crew is None else (evidence.crew.post,)
    return canonical.digest([evidence.run.model_dump(), evidence.end, entries, *post])


def chain(head: str, entries: list[Entry]) -> list[str]:
    """The links of the log's hash chain in order, the first over ``head`` and the first entry."""
    links: list[str] = []
    for entry in entries:
        head = canonical.link(head, {key: value for key, value in entry.record().items() if key != "link"})
        links.append(head)
    return links


def seal_of(document: dict[str, Any], links: list[str]) -> Seal:
    """The seal of a document (plain data) whose log has these links; it reads, and changes nothing."""
    head = head_hash(document)
    parts = {
        "head": head,
        "log": links[-1] if links else head,
        "checkpoints": canonical.digest(document["checkpoints"]),
        "sheet": canonical.digest(document["sheet"]),
        "marks": canonical.digest([document["marks"], document["remarks"], *_given(document.get("sign_off"))]),
    }
    if document.get("custody") is not None:
        parts["custody"] = canonical.digest(document["custody"])
    return Seal(whole=canonical.digest(parts), **parts)


def _given(part: dict[str, Any] | None) -> list[dict[str, Any]]:
    return [] if part is None else [part]


def make(
    session: SessionCore,
    *,
    name: str = "",
    role: str = "",
    date: str = "",
    key: Ed25519PrivateKey | None = None,
    custody: Custody | None = None,
    crew: CrewList | None = None,
) -> Evidence:
    """The evidence of a session as it stands, signed when a key is given. The session is not changed.

    crew: who was at which post, of a run of several people; without it each post counts as played by the computer.
    """
    import platform

    head: dict[str, Any] = {
        "format": "trainer-evidence",
        "version": FORMAT if session.crewing is None else CREW_FORMAT,
        "engine": {
            "version": engine_version(),
            "hash": engine_hash(),
            "platform": f"{platform.python_implementation()} {platform.python_version()} {platform.system()}",
        },
        "date": date,
        "run": session.identity.model_dump(),
        "person": {"name": name, "role": role},
        "end": session.tick,
    }
    if session.crewing is not None:
        posts = crew or CrewList(people=[Manning(post=post) for post in session.crewing.posts])
        head["crew"] = posts.model_dump()
    links = chain(head_hash(head), session.log)
    body = {
        "log": [{**entry.record(), "link": link} for entry, link in zip(session.log, links, strict=True)],
        "checkpoints": [point.model_dump() for point in [*session.checkpoints, session.checkpoint()]],
        "sheet": session.sheet(),
        "marks": [],
        "remarks": "",
        "custody": custody.model_dump() if custody is not None else None,
    }
    document = {**head, **body}
    return _sealed(document, links, key)


def _sealed(document: dict[str, Any], links: list[str], key: Ed25519PrivateKey | None) -> Evidence:
    seal = seal_of(document, links)
    signature = signing.sign(seal.whole, key) if key is not None else None
    return Evidence.model_validate({**document, "seal": seal.model_dump(), "signature": signature})


def marked(
    evidence: Evidence,
    marks: list[Mark],
    remarks: str = "",
    key: Ed25519PrivateKey | None = None,
    sign_off: SignOff | None = None,
) -> Evidence:
    """The same evidence with an assessor's marks, and who signed them off if anyone has, sealed and signed anew.

    What the machine found stays.
    """
    document = evidence.record()
    document["marks"] = [mark.model_dump() for mark in marks]
    document["remarks"] = remarks
    document["sign_off"] = sign_off.model_dump() if sign_off is not None else None
    return _sealed(document, [entry.link for entry in evidence.log], key)


def parse(source: str) -> Evidence:
    """The evidence in a JSON text; EvidenceError, with the key where it goes wrong, when it is none."""
    try:
        document = canonical.loads(source)
        if told := _newer(document):
            raise EvidenceError(told)
        return Evidence.model_validate(document)
    except ValidationError as error:
        faults = error.errors(include_url=False)
        where = ".".join(str(part) for part in faults[0]["loc"]) or "the document"
        more = f" (and {len(faults) - 1} more faults)" if len(faults) > 1 else ""
        raise EvidenceError(f"not an evidence file: {where}: {faults[0]['msg']}{more}") from error
    except EvidenceError:
        raise
    except ValueError as error:
        raise EvidenceError(f"not an evidence file: not JSON: {error}") from error


def _newer(document: object) -> str:
    """Which trainer a document in a later format needs, as a sentence; empty for one in this format."""
    if not isinstance(document, dict) or document.get("format") != "trainer-evidence":
        return ""
    version, engine = document.get("version"), document.get("engine")
    if isinstance(version, bool) or not isinstance(version, int) or version <= CREW_FORMAT:
        return ""
    made = engine if isinstance(engine, dict) else {}
    by = f"trainer {str(made.get('version', 'unknown'))[:40]}, engine {str(made.get('hash', 'unknown'))[:12]}"
    return (
        f"evidence in format {version}, made with {by}: this is trainer {engine_version()}, which reads format "
        f"{CREW_FORMAT}; verify it with that version or a later one"
    )


def read(path: Path) -> Evidence:
    """The evidence in a file; EvidenceError when it is missing, unreadable, too large or no evidence."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise EvidenceError(f"larger than {MOST_BYTES} bytes: not an evidence file")
        return parse(path.read_text(encoding="utf-8"))
    except UnicodeDecodeError as error:
        if path.suffix.lower() == ".pdf":
            raise EvidenceError(
                "a report, not evidence: give the evidence file (.json) that it was made from"
            ) from error
        raise EvidenceError(f"not an evidence file: not UTF-8 text (byte {error.start})") from error
    except OSError as error:
        raise EvidenceError(f"cannot be read: {error.strerror or error}") from error
