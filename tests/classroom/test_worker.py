"""Work that the same answer is asked of again."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import pytest

from trainer.classroom.worker import Once, Worker, WorkerError


class Slow(Worker):
    """Works only when told to, and counts."""

    def __init__(self) -> None:
        super().__init__()
        self.go = asyncio.Event()
        self.begun = 0

    async def do(self, work: Callable[..., Any], *given: object) -> Any:
        self.begun += 1
        await self.go.wait()
        return work(*given)


def test_the_same_sheet_is_worked_out_once_even_if_nobody_waits_any_more() -> None:
    async def asked() -> None:
        slow = Slow()
        once = Once(slow)
        first = asyncio.ensure_future(once.do("a", str, 1))
        await asyncio.sleep(0)
        first.cancel()
        again = [asyncio.ensure_future(once.do("a", str, 1)) for _ in range(3)]
        other = asyncio.ensure_future(once.do("b", str, 2))
        await asyncio.sleep(0)
        slow.go.set()
        assert await asyncio.gather(*again, other) == ["1", "1", "1", "2"]
        assert slow.begun == 2

    asyncio.run(asked())


def test_what_failed_is_tried_again_and_old_answers_go() -> None:
    async def asked() -> None:
        slow = Slow()
        slow.go.set()
        once = Once(slow, kept=2)

        def fail() -> None:
            raise WorkerError("ended")

        for _ in range(2):
            with pytest.raises(WorkerError):
                await once.do("a", fail)
        assert slow.begun == 2
        for n in range(5):
            assert await once.do(n, str, n) == str(n)
        assert await once.do(4, str, 4) == "4" and slow.begun == 7
        assert await once.do(0, str, 0) == "0" and slow.begun == 8

    asyncio.run(asked())
