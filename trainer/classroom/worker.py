"""Work that takes a while (re-computing, PDF), in a process beside the server, so that no drill waits for it."""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import os
import threading
from collections.abc import Callable, Hashable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import Connection
from typing import Any, TypeVar

from trainer.runtime import server

T = TypeVar("T")
NICER = 10
"""So much lower than the server's is the worker's priority (POSIX nice)."""
PROMPT = 2
"""The same for short work that somebody waits for while typing."""


class WorkerError(RuntimeError):
    """The process that worked was ended from outside; one sentence."""


class Worker:
    """One process, started at the first piece of work; pieces wait for each other, not for the drills. Its priority is
    lower than the server's by ``nicer``."""

    def __init__(self, nicer: int = NICER) -> None:
        self._nicer = nicer
        self._pool: ProcessPoolExecutor | None = None
        self._alive: Connection | None = None

    async def do(self, work: Callable[..., T], *given: object) -> T:
        """What ``work`` gives; it and its arguments can be sent between processes. WorkerError when it was ended."""
        if self._pool is None:
            context = multiprocessing.get_context("spawn")
            hears, self._alive = context.Pipe(duplex=False)
            self._pool = ProcessPoolExecutor(1, mp_context=context, initializer=_begin, initargs=(self._nicer, hears))
        try:
            return await asyncio.get_running_loop().run_in_executor(self._pool, work, *given)
        except BrokenProcessPool as error:
            self._pool = None
            raise WorkerError("the process that computes was ended; try again") from error

    def stop(self) -> None:
        """End the process, whatever it is at."""
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = None
        if self._alive is not None:
            self._alive.close()
            self._alive = None


class Once:
    """Work that the same answer is asked of again: done once, by a worker of its own, the last few answers kept."""

    def __init__(self, worker: Worker, kept: int = 8) -> None:
        self.worker = worker
        self._kept = kept
        self._found: dict[Hashable, asyncio.Task[Any]] = {}

    async def do(self, key: Hashable, work: Callable[..., T], *given: object) -> T:
        """What ``work`` gives, or gave for the same ``key``, or is about to give. As ``Worker.do``."""
        task: asyncio.Task[T] | None = self._found.get(key)
        if task is None or (task.done() and (task.cancelled() or task.exception() is not None)):
            task = self._found[key] = asyncio.ensure_future(self.worker.do(work, *given))
            for old in [one for one, under_way in self._found.items() if under_way.done()][: -self._kept]:
                del self._found[old]
        return await asyncio.shield(task)

    def stop(self) -> None:
        """End the worker."""
        self.worker.stop()


def _begin(nicer: int, alive: Connection) -> None:
    if hasattr(os, "nice"):
        os.nice(nicer)
    threading.Thread(target=_end_with, args=(alive,), daemon=True).start()
    server.offer()


def _end_with(alive: Connection) -> None:
    """End with the server, also where it was killed: nothing is ever sent, so hearing anything is its end."""
    with contextlib.suppress(EOFError, OSError):
        alive.recv_bytes()
    os._exit(1)
