"""The trail's chain: each row's digest is linked to all before it, so that none is changed or taken out unseen.

Rows are chained soon after they are written, in one place at a time. What the end of the chain was is in every
export, signed where the classroom has a key: with it, rows cut off the end show too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from trainer.records.database import Records
from trainer.records.tables import Audit
from trainer.session import canonical, signing

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

FORMAT = "trainer-trail"
START = "0" * 64
BATCH = 500
"""Rows chained in one transaction."""


@dataclass(frozen=True)
class Found:
    """What looking the chain through gave. ``head`` is its last link; ``scrubbed`` counts rows without a name."""

    ok: bool
    said: str
    rows: int
    head: str
    scrubbed: int = 0


def digest(row: dict[str, object]) -> str:
    """Hash of what a row of the trail says, over its fields in canonical form; what links it is left out."""
    return canonical.digest({key: row[key] for key in ("at", "who", "role", "did", "target", "detail", "origin")})


def extend(session: Session, most: int | None = None) -> int:
    """Chain the rows that are not yet, or so many of them; how many it did."""
    # One at a time, and seeing what the one before did.
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("LOCK TABLE audit IN SHARE ROW EXCLUSIVE MODE"))
    else:
        session.execute(text("UPDATE audit SET link = link WHERE id < 0"))
    last = session.scalar(select(Audit).where(Audit.place.is_not(None)).order_by(Audit.place.desc()).limit(1))
    place, link = (last.place or 0, last.link) if last is not None else (0, START)
    count = 0
    for row in session.scalars(select(Audit).where(Audit.place.is_(None)).order_by(Audit.id).limit(most)):
        place += 1
        row.digest = digest(_plain(row))
        row.place, link = place, canonical.link(link, row.digest)
        row.link = link
        count += 1
    session.flush()
    return count


def extend_all(records: Records) -> int:
    """Chain what is not yet, a batch at a time, so that nobody who writes waits long; how many rows there were."""
    total = 0
    while True:
        with records.work() as session:
            count = extend(session, BATCH)
        total += count
        if count < BATCH:
            return total


def rows(session: Session) -> Iterator[dict[str, Any]]:
    """The chained rows in their order, as plain data, read in batches so that a long trail fits in memory."""
    query = select(Audit).where(Audit.place.is_not(None)).order_by(Audit.place).execution_options(yield_per=BATCH)
    for row in session.scalars(query):
        yield _plain(row)


def export(session: Session, key: Ed25519PrivateKey | None) -> dict[str, Any]:
    """The whole trail as a document, its end signed when a key is given."""
    extend(session)
    found = list(rows(session))
    head = found[-1]["link"] if found else START
    signature = signing.sign(head, key).model_dump() if key is not None else None
    return {"format": FORMAT, "version": 1, "rows": found, "head": head, "signature": signature}


def look_through(found: Iterable[dict[str, object]], head: str | None = None) -> Found:
    """Hold every row against its digest and the chain, and the end against ``head`` where one is known."""
    link, count, scrubbed, seen = START, 0, 0, head is None or head == START
    for place, row in enumerate(found, start=1):
        count = place
        name = f"row {place} ({row.get('at')}, {row.get('did')})"
        if row.get("place") != place:
            return Found(False, f"a row is missing before {name}", count, link, scrubbed)
        if row.get("scrubbed"):
            scrubbed += 1
        elif digest(row) != row.get("digest"):
            return Found(False, f"{name} was altered", count, link, scrubbed)
        link = canonical.link(link, row["digest"])
        if link != row.get("link"):
            return Found(False, f"{name} breaks the chain: it, or one before it, was altered or taken out", count, link)
        seen = seen or link == head
    if not seen:
        return Found(False, "rows at the end were taken out, or the end is of another trail", count, link, scrubbed)
    said = f"{count} rows, none altered or missing"
    if scrubbed:
        said += f"; a name was taken out of {scrubbed} of them, whose words prove nothing"
    return Found(True, said, count, link, scrubbed)


def verify(document: object, key: str | None = None) -> Found:
    """The same for an exported document; with ``key`` (public) its end has to be signed with it."""
    if not isinstance(document, dict) or document.get("format") != FORMAT or not isinstance(document.get("rows"), list):
        return Found(False, "this is no exported trail", 0, START)
    try:
        found = look_through(document["rows"], str(document.get("head")))
        if found.ok and found.head != document.get("head"):
            return Found(False, "the end does not fit the rows", found.rows, found.head)
        if found.ok and key is not None:
            signature = signing.Signature.model_validate(document.get("signature"))
            if signature.public_key != key or not signing.holds(found.head, signature):
                return Found(False, "its end is not signed with the key given", found.rows, found.head)
    except (KeyError, TypeError, ValueError, AttributeError):
        return Found(False, "its rows or its signature are damaged", 0, START)
    return found


def _plain(row: Audit) -> dict[str, object]:
    return {
        "place": row.place,
        "at": row.at.isoformat(timespec="microseconds"),
        "who": row.who,
        "role": row.role,
        "did": row.did,
        "target": row.target,
        "detail": row.detail,
        "origin": row.origin,
        "digest": row.digest,
        "link": row.link,
        "scrubbed": row.scrubbed,
    }
