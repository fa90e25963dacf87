"""The trail: who did what, when and from where."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from trainer.records.tables import Audit

LONGEST_DETAIL = 4000


def now() -> datetime:
    """The present moment with its zone, UTC: the records take no time without one."""
    return datetime.now(UTC)


def note(
    session: Session,
    who: str,
    role: str,
    did: str,
    target: str = "",
    detail: str = "",
    origin: str = "",
    at: datetime | None = None,
) -> None:
    """Add a row to the trail; of this moment, or of ``at`` for what is written behind."""
    session.add(
        Audit(
            at=at or now(),
            who=_plain(who)[:200],
            role=role,
            did=did[:60],
            target=_plain(target)[:300],
            detail=_plain(detail)[:LONGEST_DETAIL],
            origin=_plain(origin)[:60],
        )
    )


def _plain(text: str) -> str:
    # PostgreSQL takes no NUL in a text.
    return text.replace("\x00", "")


def latest(session: Session, count: int = 200, did: str | None = None) -> list[Audit]:
    """The last rows of the trail, newest first; only those of one deed when ``did`` is given."""
    query = select(Audit).order_by(Audit.id.desc()).limit(count)
    if did is not None:
        query = query.where(Audit.did == did)
    return list(session.scalars(query))
