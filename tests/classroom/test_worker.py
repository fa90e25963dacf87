"""Work that the same answer is asked of again."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.classroom.conftest import ROOT
from tests.waiting import wait_until
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


AT_WORK = """
import asyncio, os, time
from trainer.classroom.worker import Worker

async def story():
    worker = Worker()
    print(await worker.do(os.getpid), flush=True)
    work = asyncio.ensure_future(worker.do(time.sleep, 3600.0))
    await asyncio.to_thread(input)
    worker.stop()

asyncio.run(story())
"""


@pytest.mark.parametrize("killed", [False, True], ids=["stopped", "killed"])
def test_a_server_ends_at_once_and_its_worker_with_it_whatever_that_is_at(killed: bool) -> None:
    server = subprocess.Popen(
        [sys.executable, "-c", AT_WORK], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert server.stdin is not None and server.stdout is not None
    worker = int(server.stdout.readline())
    os.kill(worker, 0)
    if killed:
        server.kill()
        server.wait()
    else:
        server.stdin.write("\n")
        server.stdin.close()
        # The work alone would take an hour.
        assert server.wait(600) == 0
    wait_until(lambda: not _there(worker))
    server.stdout.close()


def _there(number: int) -> bool:
    try:
        return Path(f"/proc/{number}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False
