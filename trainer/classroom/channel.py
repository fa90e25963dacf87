"""The readings' own way to the browser: one WebSocket a page beside the page library's, and who may open it.

A page is told a ticket over its own socket. Its script opens ``readings`` with the same cookie and shows the ticket;
the server holds both against the page: the ticket must be that page's, and the log-in the one that the page was
made for. Until the channel is open, and whenever it is not, readings go the page library's way.
"""

from __future__ import annotations

import json
import secrets
from asyncio import Future
from collections.abc import Mapping
from typing import Any

from tornado.ioloop import IOLoop
from tornado.websocket import WebSocketClosedError, WebSocketHandler

from trainer.classroom.access import Access
from trainer.classroom.gate import COOKIE, known_host

SHOW_TICKET_S = 10.0
"""So long a socket may be silent before it has shown its ticket."""
MOST_WAITING = 100
"""So many messages may wait in a socket: a browser further behind opens it anew, and is told everything."""
DENIED, UNKNOWN = 4403, 4404
"""Why the server closes a channel: it belongs to somebody else, or to no page of this process."""


class Channel:
    """The channel of one page, which was made for ``login`` (empty for a guest)."""

    def __init__(self, login: str) -> None:
        self.login = login
        self.ticket = secrets.token_urlsafe(24)
        self._socket: ReadingsSocket | None = None
        self._waiting = 0

    def send(self, number: int, readings: Mapping[str, Any]) -> bool:
        """Send readings by board; False when the channel is not open. A later ``number`` stands above an earlier."""
        socket = self._socket
        if socket is None:
            return False
        if self._waiting >= MOST_WAITING:
            self.close()
            return False
        try:
            written = socket.write_message(json.dumps({"n": number, "boards": readings}, separators=(",", ":")))
        except WebSocketClosedError:
            self._socket = None
            return False
        self._waiting += 1
        written.add_done_callback(self._written)
        return True

    def joined(self, socket: ReadingsSocket) -> None:
        """The page's script has opened its socket, perhaps anew."""
        self.close()
        self._socket, self._waiting = socket, 0

    def left(self, socket: ReadingsSocket) -> None:
        """This socket is closed."""
        if self._socket is socket:
            self._socket = None

    def close(self, code: int = 1000) -> None:
        """Close the socket, if there is one."""
        if self._socket is not None:
            self._socket.close(code)
            self._socket = None

    def _written(self, written: Future[None]) -> None:
        self._waiting = max(self._waiting - 1, 0)
        # A page that went away in mid-sentence is no error.
        if not written.cancelled():
            written.exception()


class Channels:
    """The channels of all open pages of this process, by ticket."""

    def __init__(self) -> None:
        self._open: dict[str, Channel] = {}

    def new(self, login: str) -> Channel:
        """A channel for a page made for this log-in."""
        channel = Channel(login)
        self._open[channel.ticket] = channel
        return channel

    def of(self, ticket: str) -> Channel | None:
        """The channel of this ticket."""
        return self._open.get(ticket)

    def forget(self, channel: Channel) -> None:
        """The page is gone."""
        self._open.pop(channel.ticket, None)
        channel.close()


class ReadingsSocket(WebSocketHandler):
    """``readings``: same origin (the library's own rule), the right person, the right page."""

    def initialize(self, access: Access, channels: Channels) -> None:
        """Called by the server with what the socket is held against."""
        self._access = access
        self._channels = channels
        self._channel: Channel | None = None
        self._login = ""

    def prepare(self) -> None:
        """Only under a name of this server."""
        known_host(self)

    def open(self, *_: str, **__: str) -> None:
        """Wait for the ticket."""
        self.set_nodelay(True)
        self._login = self._access.login(self.get_cookie(COOKIE))
        IOLoop.current().call_later(SHOW_TICKET_S, self._late)

    def on_message(self, message: str | bytes) -> None:
        """The ticket; nothing else is ever said this way."""
        channel = self._channels.of(message) if isinstance(message, str) and self._channel is None else None
        if channel is None:
            self.close(UNKNOWN)
        elif channel.login != self._login or (self._login and self._access.holder(self._login) is None):
            self.close(DENIED)
        else:
            self._channel = channel
            channel.joined(self)

    def on_close(self) -> None:
        """The browser went away."""
        if self._channel is not None:
            self._channel.left(self)

    def _late(self) -> None:
        if self._channel is None:
            self.close(UNKNOWN)
