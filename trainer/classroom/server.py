"""``trainer serve``: live pages, one run for each browser tab, all in this process.

Each page drives its seat by the wall clock ten times a second; a command is carried out the moment it comes,
and its effect goes back at once, without waiting for the next beat.
"""

from __future__ import annotations

import contextlib
import gc
import logging
import re
import signal
import socket
import time
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from bokeh.application.handlers.handler import Handler
from bokeh.document import Document
from panel.io.application import build_applications
from panel.io.server import get_server
from tornado.ioloop import PeriodicCallback
from tornado.websocket import WebSocketClosedError

from trainer.classroom.channel import Channel
from trainer.classroom.garbage import GARBAGE, TIDY_S
from trainer.classroom.gate import HOSTS
from trainer.classroom.headers import headers_for
from trainer.classroom.page_socket import guard
from trainer.classroom.quick import Wire
from trainer.classroom.rooms import Rooms
from trainer.console.message import Message
from trainer.console.pages import Page
from trainer.console.presenter import Patch
from trainer.console.seat import Seat

log = logging.getLogger("trainer.classroom")

TITLE = "Well control panel trainer"
#: A little faster than the plant's scans of 100 ms, so that each one is seen.
BEAT_MS = 80
BEYOND = ("192.0.2.1", "10.255.255.254", "172.31.255.254", "192.168.255.254")
"""Addresses beyond this machine, of documentation (RFC 5737) and of private networks (RFC 1918)."""
_TOKEN = re.compile(r"[0-9a-f]{32}")
APOLOGY = "Something went wrong here; your run is kept. Reload the page to go on. (The reason is in the server's log.)"


class Live:
    """One open page with its line to the browser, and the seat that it shows: None before the page has said hello."""

    def __init__(self, rooms: Rooms, document: Document, page: Page, channel: Channel) -> None:
        self._rooms = rooms
        self.page = page
        self._wire = Wire(self.page, document, channel)
        self.seat: Seat | None = None
        self._token = ""
        self._last = time.monotonic()
        self._failed = False
        self.page.listen(self.hear)
        channel.hear, channel.again = self.hear, self.retell
        channel.lost = lambda: self.hear({"page": "gone"})

    def retell(self) -> None:
        """Tell the page everything once more, as after a line that was broken; not when another page has taken its
        seat."""
        seat = self.seat
        if seat is not None and self._rooms.holds(seat, self):
            self._do(seat.first)

    def hear(self, message: Message | object) -> None:
        """Take a message from the browser, which may be anything: what means nothing is dropped."""
        if not isinstance(message, Mapping):
            return
        if message.get("page") == "hello":
            token = str(message.get("value"))
            if self._token in ("", token) and _TOKEN.fullmatch(token):
                # One seat a page, for good: whoever could go to another would leave a check standing still.
                self._token = token
                taken = self.seat = self._rooms.take(token, self)
                self._do(lambda: taken.hello(message.get("theme"), message), greet=True)
            return
        seat = self.seat
        if seat is not None and self._rooms.holds(seat, self):
            self._do(lambda: seat.handle(message))

    def beat(self) -> None:
        """Let one beat of the wall clock pass: the run goes on by it, and the page is told what changed."""
        now = time.monotonic()
        elapsed, self._last = now - self._last, now
        seat = self.seat
        if seat is not None and self._rooms.holds(seat, self):
            self._do(lambda: seat.tick(elapsed))

    def left(self) -> None:
        """Let go of the seat, since the page was closed: its run waits for it to come back."""
        GARBAGE.left()
        if self.seat is not None:
            self._rooms.leave(self.seat, self)

    def _do(self, work: Callable[[], Patch], greet: bool = False) -> None:
        try:
            patch = work()
            if self.seat is not None:
                patch = self.seat.worded(patch)
            self._wire.send(patch, greet)
            self._failed = False
            if any("markup" in change for change in patch.values()):
                # A page has been built, which nobody can work at yet. What stands now stays until it is closed:
                # looking it through for garbage while somebody operates would keep a lamp from lighting.
                GARBAGE.stands()
        except Exception:
            # The user gets one plain line; whoever runs the server gets the reason, once.
            if not self._failed:
                log.exception("a page could not be brought up to date")
            self._failed = True
            self._wire.send(
                {
                    "messages": {"readings": {"page.says": {"state": "refused"}, "page.refusal": {"html": APOLOGY}}},
                    "chooser": {"readings": {"page.status": {"text": APOLOGY}}},
                }
            )


def _page_went_away(record: logging.LogRecord) -> bool:
    """Keep a record unless it tells of a patch that was on its way when a page was closed: that is no fault."""
    return record.exc_info is None or not isinstance(record.exc_info[1], WebSocketClosedError)


def addresses(host: str, port: int) -> list[str]:
    """The addresses at which a browser finds the server; every network address when it listens on all."""
    if host not in ("0.0.0.0", "::"):
        return [f"http://{host}:{port}/"]
    found = {"127.0.0.1"}
    try:
        found.update(str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), port, socket.AF_INET))
    except OSError:
        log.debug("this machine's own name has no address")
    for beyond in BEYOND:
        # Asks the system by which of its addresses it would go there; nothing is sent.
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect((beyond, 9))
            found.add(str(probe.getsockname()[0]))
    return [f"http://{name}:{port}/" for name in sorted(found)]


def serve(
    port: int = 5006,
    host: str = "127.0.0.1",
    *,
    tell: Callable[[str], None],
    pages: Mapping[str, Callable[[], object]],
    holder: Handler,
    origins: Sequence[str] = (),
    beats: Mapping[float, Callable[[], None]] = MappingProxyType({}),
    **more: object,
) -> None:
    """Serve the pages until interrupted.

    ``host`` is loopback unless the classroom wants other machines to come in; port 0 takes a free one. ``tell``
    gets each address once the server listens. ``pages`` are live pages by path; ``holder`` writes into the session
    of each whom it was made for; ``origins`` are further names (host:port) under which browsers reach this server;
    ``beats`` are called on the loop, by their period in seconds; ``more`` goes to the server as it is. OSError when
    the port is taken.
    """
    port = port or _free_port(host)
    names = [*own_names(host, port), *origins]
    hosts = _as_asked(names)
    applications = build_applications(dict(pages), title=TITLE)
    for application in applications.values():
        application.add(holder)
    guard()
    server = get_server(
        applications,
        port=port,
        address=host,
        title=TITLE,
        websocket_origin=names,
        # Nothing of what a browser sends goes into a page: what it needs to know is written there by ``holder``.
        include_headers=[],
        include_cookies=[],
        transforms=[headers_for(hosts)],
        **{HOSTS: hosts},
        check_unused_sessions_milliseconds=10_000,
        unused_session_lifetime_milliseconds=30_000,
        **more,
    )
    logging.getLogger("asyncio").addFilter(_page_went_away)
    # What is loaded by now stays: looking it through for garbage would only make hands wait.
    gc.collect()
    GARBAGE.stands()
    for address in addresses(host, port):
        tell(address)
    server.start()
    for period, beat in {**beats, TIDY_S: GARBAGE.tidy}.items():
        PeriodicCallback(beat, 1000.0 * period).start()
    # Told to end, it ends after what it is doing: an interruption may come where Python has nobody to hand it to.
    for number in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError, ValueError, RuntimeError):
            server.io_loop.asyncio_loop.add_signal_handler(number, server.io_loop.stop)
    with contextlib.suppress(KeyboardInterrupt):
        server.io_loop.start()
    server.stop()


def own_names(host: str, port: int) -> list[str]:
    """The names (host:port) under which a page of this server may open its socket: its own, and no other."""
    names = {"localhost", "127.0.0.1", *(address.split("/")[2].rsplit(":", 1)[0] for address in addresses(host, port))}
    if host in ("0.0.0.0", "::"):
        names.add(socket.gethostname())
    return [f"{name}:{port}" for name in sorted(names)]


def _as_asked(names: Sequence[str]) -> frozenset[str]:
    """The same names as browsers write them in a request: without the port that goes without saying."""
    return frozenset(name.lower() for name in names) | {
        name.lower().rpartition(":")[0] for name in names if name.endswith((":80", ":443"))
    }


def _free_port(host: str) -> int:
    with socket.socket() as probe:
        probe.bind((host, 0))
        return int(probe.getsockname()[1])
