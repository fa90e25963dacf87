"""Readings straight to the browser: one small message a beat instead of a property change for each board.

Readings change on every board ten times a second, and their models need not remember them: a page that opens anew
is given everything. So they go as one event to the header board, whose script hands them to the others. What else
a patch holds (markup, charts) goes the ordinary way.
"""

from __future__ import annotations

import json
import secrets
import time
from asyncio import Future
from collections.abc import Mapping
from typing import Any

from bokeh.document import Document
from panel.io import hold
from tornado.websocket import WebSocketHandler

from trainer.console.pages import Page
from trainer.console.presenter import Patch

HEADER = "header"
SETTLE_S = 2.0
"""So long after new markup readings go the ordinary way too, behind it in the queue."""
KEPT_S = 3.0
SHORT_S = 0.3
"""So long after a socket was busy."""


class Recent:
    """What a board was told in the last moments, told again with what is new.

    Two changes of one property that wait in the same queue become one, the later: without this what only the
    earlier one said would be lost.
    """

    def __init__(self) -> None:
        self._told: dict[str, dict[str, tuple[float, Any]]] = {}

    def with_new(self, board: str, readings: Mapping[str, Any], now: float) -> dict[str, Any]:
        """The readings of a board, new ones and those of the last moments."""
        told = self._told.setdefault(board, {})
        out = {key: reading for key, (at, reading) in told.items() if now - at < KEPT_S} | dict(readings)
        for key in [key for key, (at, _) in told.items() if now - at >= KEPT_S]:
            del told[key]
        # A file is handed over once.
        told.update({key: (now, reading) for key, reading in readings.items() if "content" not in reading})
        return out

    def overtaken(self, board: str, readings: Mapping[str, Any], now: float) -> None:
        """These went another way: what is told again is as new as they are."""
        told = self._told.get(board)
        if told:
            told.update({key: (now, reading) for key, reading in readings.items() if key in told})


class Wire:
    """How the patches of one page reach its browser."""

    def __init__(self, page: Page, document: Document) -> None:
        self._page = page
        self._document = document
        self._ordinary_until = 0.0
        self._hurried: set[int] = set()
        self._recent = Recent()

    def send(self, patch: Patch) -> None:
        """Bring the page up to date."""
        now = time.monotonic()
        if any("markup" in change for change in patch.values()):
            self._ordinary_until = now + SETTLE_S
        sockets = self._sockets() if now >= self._ordinary_until else None
        if not sockets:
            if patch:
                # What waits in the queue now must not come behind what is sent past it.
                self._ordinary_until = max(self._ordinary_until, now + SHORT_S)
            with hold(self._document):
                self._page.apply(self._whole(patch, now))
            return
        readings = {name: change["readings"] for name, change in patch.items() if "readings" in change}
        if readings:
            self._event(sockets, readings)
            for name, change in readings.items():
                self._recent.overtaken(name, change, now)
        rest = {
            name: left
            for name, change in patch.items()
            if (left := {key: value for key, value in change.items() if key != "readings"})
        }
        if rest:
            with hold(self._document):
                self._page.apply(rest)

    def _whole(self, patch: Patch, now: float) -> Patch:
        """The patch, with the readings of the last moments again."""
        return {
            name: {**change, "readings": self._recent.with_new(name, change["readings"], now)}
            if "readings" in change
            else change
            for name, change in patch.items()
        }

    def _sockets(self) -> list[Any] | None:
        """The open sockets of this page; None when one is being written to, so that nothing comes in between."""
        context = self._document.session_context
        session = getattr(context, "session", None)
        sockets = [connection._socket for connection in getattr(session, "_subscribed_connections", ())]
        if any(not isinstance(socket, WebSocketHandler) or _busy(socket) for socket in sockets):
            return None
        for socket in sockets:
            if id(socket) not in self._hurried:
                # Three small writes a message: without this the second waits for the first to be acknowledged.
                socket.set_nodelay(True)
                self._hurried.add(id(socket))
        return sockets

    def _event(self, sockets: list[Any], readings: Mapping[str, Any]) -> None:
        models = self._page.boards[HEADER]._models
        content = json.dumps(readings, separators=(",", ":"))
        for model, _ in models.values():
            values = {"type": "map", "entries": [["model", {"id": model.id}], ["data", content]]}
            said = {"type": "event", "name": "esm_event", "values": values}
            event = {"kind": "MessageSent", "msg_type": "bokeh_event", "msg_data": said}
            header = json.dumps({"msgid": secrets.token_hex(8), "msgtype": "PATCH-DOC"})
            body = json.dumps({"events": [event]}, separators=(",", ":"))
            for socket in sockets:
                for fragment in (header, "{}", body):
                    WebSocketHandler.write_message(socket, fragment).add_done_callback(_seen)


def _seen(written: Future[None]) -> None:
    """A page that went away in mid-sentence is no error."""
    if not written.cancelled():
        written.exception()


def _busy(socket: Any) -> bool:
    lock = getattr(socket, "write_lock", None)
    connection = getattr(socket, "ws_connection", None)
    return connection is None or connection.is_closing() or (lock is not None and lock._block._value == 0)
