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


class Wire:
    """How the patches of one page reach its browser."""

    def __init__(self, page: Page, document: Document) -> None:
        self._page = page
        self._document = document
        self._ordinary_until = 0.0
        self._hurried: set[int] = set()

    def send(self, patch: Patch) -> None:
        """Bring the page up to date."""
        now = time.monotonic()
        if any("markup" in change for change in patch.values()):
            self._ordinary_until = now + SETTLE_S
        sockets = self._sockets() if now >= self._ordinary_until else None
        if not sockets:
            with hold(self._document):
                self._page.apply(patch)
            return
        readings = {name: change["readings"] for name, change in patch.items() if "readings" in change}
        if readings:
            self._event(sockets, readings)
        rest = {
            name: left
            for name, change in patch.items()
            if (left := {key: value for key, value in change.items() if key != "readings"})
        }
        if rest:
            with hold(self._document):
                self._page.apply(rest)

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
