"""The web server with so many connections an address, and no more."""

from __future__ import annotations

from typing import Any

from tornado.httpserver import HTTPServer
from tornado.iostream import IOStream

MOST_CONNECTIONS = 800
"""A class of forty behind one address has some three hundred open: eight by each browser."""


class CappedServer(HTTPServer):
    """As the library's own; a connection beyond those an address may have is closed at once.

    Behind a web server of one's own every connection comes from there: then that one counts.
    """

    most = MOST_CONNECTIONS

    def initialize(self, *given: Any, **more: Any) -> None:
        """As the library's own."""
        super().initialize(*given, **more)
        self._behind_another = bool(more.get("xheaders"))
        self._of: dict[str, list[IOStream]] = {}

    def handle_stream(self, stream: IOStream, address: tuple[object, ...]) -> None:
        """A connection came."""
        if not self._behind_another:
            origin = str(address[0]) if address else ""
            held = [one for one in self._of.get(origin, ()) if not one.closed()]
            if len(held) >= self.most:
                self._of[origin] = held
                stream.close()
                return
            held.append(stream)
            self._of[origin] = held
        super().handle_stream(stream, address)
