"""Work on the records and other slow work, beside the running sessions: in threads, while the loop goes on."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TypeVar

from sqlalchemy.orm import Session

from trainer.records.database import Records

T = TypeVar("T")


async def slowly(work: Callable[[], T]) -> T:
    """Work that takes a while (hashing, the disk); what it gives."""
    return await asyncio.get_running_loop().run_in_executor(None, work)


async def ask(records: Records, work: Callable[[Session], T]) -> T:
    """Work on the records; committed at its end. RecordsAwayError when they do not answer."""

    def run() -> T:
        with records.work() as session:
            return work(session)

    return await slowly(run)


async def look(records: Records, work: Callable[[Session], T]) -> T:
    """Only read the records, beside whoever writes. RecordsAwayError when they do not answer."""

    def run() -> T:
        with records.look() as session:
            return work(session)

    return await slowly(run)
