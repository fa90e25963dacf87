"""A way of its own for what goes to and fro all the time: one WebSocket a page beside the page library's.

A page is told a ticket over its own socket. Its script opens ``readings`` with the same cookie and shows the ticket;
the server holds both against the page: the ticket must be that page's, and the log-in the one that the page was
made for. From then on readings and what charts gain come this way, and what hands do goes it. Until the channel is
open, and whenever it is not, all of that goes the page library's way.
"""

from __future__ import annotations

import json
import secrets
from asyncio import Future
from collections.abc import Callable, Mapping

from tornado.ioloop import IOLoop
from tornado.websocket import WebSocketClosedError, WebSocketHandler

from trainer.classroom.access import Access
from trainer.classroom.gate import COOKIE, known_host

SHOW_TICKET_S = 10.0
"""So long a socket may be silent before it has shown its ticket."""
LONGEST_MESSAGE = 64_000
"""A longer message from a page is none that it sends."""
MOST_WAITING = 100
"""So many messages may wait in a socket: a browser further behind opens it anew, and is told everything."""
DENIED, UNKNOWN = 4403, 4404
"""Why the server closes a channel: it belongs to somebody else, or to no page of this process."""


class Channel:
    """The channel of one page, which was made for ``login`` (empty for a guest)."""

    def __init__(self, login: str) -> None:
        self.login = login
        self.ticket = secrets.token_urlsafe(24)
        self.hear: Callable[[object], None] = lambda message: None
        """Called with each message of the page."""
        self.again: Callable[[], None] = lambda: None
        """Called when the channel was opened once more: what was under way in the old one may be lost."""
        self.lost: Callable[[], None] = lambda: None
        """Called when the browser closed it."""
        self._socket: ReadingsSocket | None = None
        self._opened = False
        self._waiting = 0

    def send(self, number: int, readings: Mapping[str, object], charts: Mapping[str, object]) -> bool:
        """Send readings by board and changes by chart; False when the channel is not open.

        A later ``number`` stands above an earlier.
        """
        socket = self._socket
        if socket is None:
            return False
        if self._waiting >= MOST_WAITING:
            self.close()
            return False
        told = {"n": number, "boards": readings, "charts": charts}
        try:
            written = socket.write_message(json.dumps(told, separators=(",", ":")))
        except WebSocketClosedError:
            self._socket = None
            return False
        self._waiting += 1
        written.add_done_callback(self._written)
        return True

    def joined(self, socket: ReadingsSocket) -> None:
        """Take the socket that the page's script has opened; one that came before is closed, and all is told anew."""
        self.close()
        self._socket, self._waiting = socket, 0
        if self._opened:
            self.again()
        self._opened = True

    def left(self, socket: ReadingsSocket) -> None:
        """Note that this socket is closed; one that has been replaced meanwhile changes nothing."""
        if self._socket is socket:
            self._socket = None
            self.lost()

    def close(self, code: int = 1000) -> None:
        """Close the socket with a code of RFC 6455 (1000: as it should be); nothing happens without one."""
        if self._socket is not None:
            self._socket.close(code)
            self._socket = None

    def _written(self, written: Future[None]) -> None:
        self._waiting = max(self._waiting - 1, 0)
        # A page that went away in mid-sentence is no error.
        if not written.cancelled():
            written.exception()


class Channels:
    """The channels of all open pages of this process, by the ticket that each page's markup carries."""

    def __init__(self) -> None:
        self._open: dict[str, Channel] = {}

    def new(self, login: str) -> Channel:
        """A channel with a fresh ticket, for a page that was made for the log-in of this name."""
        channel = Channel(login)
        self._open[channel.ticket] = channel
        return channel

    def of(self, ticket: str) -> Channel | None:
        """The channel of this ticket; None when there was never such a page, or it is gone."""
        return self._open.get(ticket)

    def forget(self, channel: Channel) -> None:
        """Forget the channel of a page that is gone and close its socket; twice does no harm."""
        self._open.pop(channel.ticket, None)
        channel.close()


class ReadingsSocket(WebSocketHandler):
    """``readings``: same origin (the library's own rule), the right person, the right page."""

    def initialize(self, access: Access, channels: Channels) -> None:
        """Take what the socket is held against; tornado calls it by this name before anything else."""
        self._access = access
        self._channels = channels
        self._channel: Channel | None = None
        self._login = ""

    def prepare(self) -> None:
        """Refuse a request that names this server otherwise than it is called (HTTPError 421)."""
        known_host(self)

    def open(self, *_: str, **__: str) -> None:
        """Wait for the page's ticket, which has to come soon; tornado calls it once the socket stands."""
        self.set_nodelay(True)
        self._login = self._access.login(self.get_cookie(COOKIE))
        IOLoop.current().call_later(SHOW_TICKET_S, self._late)

    def on_message(self, message: str | bytes) -> None:
        """First the ticket, then what hands do; whoever the page belongs to asks again for each."""
        if self._channel is not None:
            self._hear(self._channel, message)
            return
        channel = self._channels.of(message) if isinstance(message, str) else None
        if channel is None:
            self.close(UNKNOWN)
        elif channel.login != self._login or (self._login and self._access.holder(self._login) is None):
            self.close(DENIED)
        else:
            self._channel = channel
            channel.joined(self)

    def _hear(self, channel: Channel, message: str | bytes) -> None:
        if len(message) > LONGEST_MESSAGE:
            return
        try:
            said = json.loads(message)
        except (ValueError, RecursionError):
            return
        channel.hear(said)

    def on_close(self) -> None:
        """Tell the channel, if a ticket has joined one, that the browser's socket is gone."""
        if self._channel is not None:
            self._channel.left(self)

    def _late(self) -> None:
        if self._channel is None:
            self.close(UNKNOWN)
