"""What each person holds open at this server: so many pages and no more, and none after the log-out."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from trainer.classroom.access import STAFF, Who

if TYPE_CHECKING:
    from tornado.websocket import WebSocketHandler

MOST_PAGES: Mapping[str, int] = {"trainee": 40, **dict.fromkeys(STAFF, 100)}
"""Pages that the server holds for one account. A page that was left is held for half a minute; who goes from page to
page, reloads, or watches a whole class stays far below it."""
MOST_SOCKETS: Mapping[str, int] = {"trainee": 12, **dict.fromkeys(STAFF, 60)}
"""Of these so many may be in use at once: tabs, on all of a person's machines."""
SAID_S = 6.0
"""So long a page has to say why before its socket is closed."""


class Held:
    """The pages and sockets that are open, by whose they are. ``admitted`` says whether a log-in still has a path, and
    None while nobody can know."""

    def __init__(
        self, admitted: Callable[[str, str], bool | None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._admitted, self._clock = admitted, clock
        self._pages: dict[str, int] = {}
        self._sockets: dict[WebSocketHandler, tuple[int, str, str]] = {}
        self._over: dict[WebSocketHandler, float] = {}

    def full(self, who: Who) -> bool:
        """Whether this person has as many pages as MOST_PAGES gives the role."""
        return Counter(self._pages.values())[who.person] >= MOST_PAGES[who.role]

    def crowded(self, who: Who) -> bool:
        """Whether this person has as many sockets open as MOST_SOCKETS gives the role."""
        return sum(person == who.person for person, _, _ in self._sockets.values()) >= MOST_SOCKETS[who.role]

    def made(self, session: str, who: Who) -> None:
        """Count the page of a ``session`` for this person."""
        self._pages[session] = who.person

    def gone(self, session: str) -> None:
        """Count the page of a ``session`` no longer; one that is unknown changes nothing."""
        self._pages.pop(session, None)

    def opened(self, socket: WebSocketHandler, who: Who | None, login: str, path: str) -> None:
        """Keep an open socket with its person, log-in and path, to be looked at by ``sweep``."""
        self._sockets[socket] = (who.person if who is not None else 0, login, path)

    def closed(self, socket: WebSocketHandler) -> None:
        """Forget a socket; one that is unknown changes nothing."""
        self._sockets.pop(socket, None)
        self._over.pop(socket, None)

    def sweep(self, code: int) -> None:
        """Close the sockets, with this code, of log-ins that have ended or may not have their page any more."""
        for socket, (_, login, path) in list(self._sockets.items()):
            admitted = self._admitted(login, path)
            if admitted:
                self._over.pop(socket, None)
            elif admitted is False and self._clock() - self._over.setdefault(socket, self._clock()) >= SAID_S:
                self.closed(socket)
                socket.close(code, "logged out")
