"""The sockets of live pages, before the page library reads what comes: nothing that unpacks beyond what a page sends,
no more a second than a page sends, and no log filled with it.

The library unpacks compressed bytes in a message without a bound, and keeps whatever models a message adds.
"""

from __future__ import annotations

import asyncio
import base64
import gzip
import io
import json
import logging
import time
import zlib
from collections.abc import Callable
from typing import Any

from bokeh.server.urls import per_app_patterns
from panel.io.server import WSHandler

from trainer.classroom.gate import UNWANTED, Gate
from trainer.classroom.limits import Limit

LARGEST_MESSAGE = 200_000
"""Bytes of a message, as sent and as unpacked; a piece of a file is half of that."""
MOST_BUFFERS = 16
"""Binary parts of a message: a piece of a file is one."""
FRAGMENTS_A_SECOND = 300.0
"""A message is three fragments or five: a hand that drags or types sends some twenty messages a second."""
BYTES_A_SECOND = 8e6
"""As sent and as unpacked together: the largest files a page takes are in within half a minute."""
BURST_S = 2.0
LONGEST_LOGGED = 300
LOGGERS = ("bokeh.server.views.ws", "bokeh.server.protocol_handler")
TOO_LARGE = 1009
"""RFC 6455, 7.4.1: a message too big to process."""


class Budget:
    """So much a second, and ``BURST_S`` of it at once. Nothing is refused: what is spent beyond it takes its time."""

    def __init__(self, a_second: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._a_second, self._clock = a_second, clock
        self._free_at = float("-inf")

    def spend(self, amount: float) -> float:
        """Seconds to wait after this was spent, 0 within the burst."""
        now = self._clock()
        self._free_at = max(self._free_at, now - BURST_S) + amount / self._a_second
        return max(self._free_at - now, 0.0)


def unpacked(fragment: str) -> int:
    """Bytes that the compressed parts of a fragment unpack to, looked at up to one beyond LARGEST_MESSAGE together.
    ValueError for text that is no JSON or that no page sends."""
    try:
        waiting: list[object] = [json.loads(fragment)]
    except RecursionError:
        raise ValueError("nested too deep") from None
    size = 0
    while waiting and size <= LARGEST_MESSAGE:
        value = waiting.pop()
        if isinstance(value, list):
            waiting.extend(value)
        elif isinstance(value, dict):
            waiting.extend(value.values())
            if value.get("kind") == "RootAdded":
                raise ValueError("a page adds no roots")
            if not _few(value.get("num_buffers", 0)):
                raise ValueError("too many binary parts")
            if value.get("type") == "bytes" and isinstance(packed := value.get("data"), str):
                size += _size(packed, LARGEST_MESSAGE - size)
    return size


def _few(buffers: object) -> bool:
    return isinstance(buffers, int) and 0 <= buffers <= MOST_BUFFERS


def _size(packed: str, most: int) -> int:
    """Bytes that these unpack to, at most one more than ``most``; what is broken unpacks to none."""
    try:
        with gzip.open(io.BytesIO(base64.b64decode(packed))) as stream:
            return len(stream.read(most + 1))
    except (ValueError, OSError, EOFError, zlib.error):
        return 0


class PageSocket(WSHandler):
    """As the library's own, for what a page sends."""

    def initialize(self, *given: object, **more: object) -> None:
        """As the library's own, with the socket's budgets of messages and bytes."""
        super().initialize(*given, **more)
        self._count, self._weight = Budget(FRAGMENTS_A_SECOND), Budget(BYTES_A_SECOND)
        self._refused = False

    def open(self, *given: object, **more: object) -> object:
        """Open as the library does, counted for the account of its log-in."""
        gate: Gate = self.application.auth_provider
        gate.opened(self)
        return super().open(*given, **more)

    def on_close(self) -> None:
        """Close as the library does, and let the account open another in its place."""
        gate: Gate = self.application.auth_provider
        gate.held.closed(self)
        super().on_close()

    async def on_message(self, fragment: str | bytes) -> None:
        """Look at a fragment before the library does. The next is read when this is done: who sends too much waits."""
        if self._refused:
            return
        try:
            size = unpacked(fragment) if isinstance(fragment, str) else 0
        except ValueError as error:
            self._refuse(UNWANTED, str(error))
            return
        if size > LARGEST_MESSAGE:
            self._refuse(TOO_LARGE, "unpacks to too much")
            return
        wait = max(self._count.spend(1.0), self._weight.spend(len(fragment) + size))
        if wait > 0.0:
            await asyncio.sleep(wait)
        await super().on_message(fragment)

    def _refuse(self, code: int, why: str) -> None:
        self._refused = True
        self.close(code, why[:100])


class Brief(logging.Filter):
    """Cuts what the page library logs of a message, and lets so many of its lines through a minute."""

    def __init__(self) -> None:
        super().__init__()
        self._lines = Limit(20, 60.0)

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether the line is logged, shortened where it is long."""
        if record.levelno < logging.WARNING:
            return True
        if not self._lines.spend(""):
            return False
        said = record.getMessage()
        error = record.exc_info[1] if record.exc_info else None
        if len(said) > LONGEST_LOGGED:
            record.msg, record.args = f"{said[:LONGEST_LOGGED]}…", ()
        if error is not None and len(str(error)) > LONGEST_LOGGED:
            # Its message, at the end of the traceback, is as long as what came.
            record.exc_info, record.exc_text = None, None
        return True


def guard() -> None:
    """Make the server open these sockets, where the page libraries name theirs; before it is made."""
    routes: list[Any] = per_app_patterns
    routes[:] = [(path, PageSocket if issubclass(handler, WSHandler) else handler) for path, handler in routes]
    brief = Brief()
    for name in LOGGERS:
        logging.getLogger(name).addFilter(brief)
