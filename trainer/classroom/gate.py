"""The gate before every live page and its WebSocket: under which name, with whose session, and who may pass."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping
from typing import Any

from bokeh.application.application import SessionContext
from bokeh.application.handlers.handler import Handler
from bokeh.document import Document
from bokeh.server.auth_provider import AuthProvider
from bokeh.util.token import get_token_payload
from tornado.httputil import HTTPServerRequest
from tornado.web import HTTPError, RequestHandler
from tornado.websocket import WebSocketHandler

from trainer.classroom.access import Access, Who
from trainer.classroom.held import Held
from trainer.classroom.limits import Limit
from trainer.languages import ENGLISH, languages

COOKIE = "trainer-login"
LOGIN = "login"
"""The key under which the name of a page's log-in stands in its session token."""
ORIGIN = "origin"
"""The key under which the address of the server stands there, as the page's browser calls it."""
LANGUAGE = "trainer-language"
"""The cookie in which the first page keeps the language (``board.js``), and its key in the session token."""
UNWANTED = 1008
"""RFC 6455, 7.4.1: a socket closed for breaking the rules of who gets what."""
HOSTS = "trainer_hosts"
"""The server's setting with the names (host:port) under which it may be asked; without it, under any."""

#: The roles that a live page is for.
PAGES: Mapping[str, tuple[str, ...]] = {
    "/instructor": ("instructor",),
    **dict.fromkeys(("/people", "/drills", "/lessons", "/crews", "/classes", "/courses", "/trail"), ("instructor",)),
    **dict.fromkeys(
        (
            "/watch",
            "/live",
            "/glance",
            "/run",
            "/screen",
            "/queue",
            "/attempts",
            "/attempt",
            "/person",
            "/currency",
            "/competency",
            "/agreement",
            "/import",
            "/post",
        ),
        ("instructor", "assessor"),
    ),
}
ANYBODY = ("trainee", "instructor", "assessor")
#: The page of trainees and its socket. Every other path that is not named is nobody's.
OPEN = ("/", "/ws")
#: What staff show to a whole class: for whoever has joined it.
JOINED = "/together"
#: What a visitor may never choose: the session of a page is made by this server.
_CHOSEN = ("bokeh-session-id", "bokeh-token")
#: Ways in of the page library that no page here uses.
_UNUSED = ("/autoload.js", "/metadata")


def roles_for(path: str) -> tuple[str, ...]:
    """The roles that may open the live page of this path, whatever of it (document, socket, script); none for a path
    that no page here has."""
    for page, roles in PAGES.items():
        if path == page or path.startswith(page + "/"):
            return roles
    if path == JOINED or path.startswith(JOINED + "/"):
        return ANYBODY
    return ANYBODY if path in OPEN else ()


def known_host(handler: RequestHandler) -> None:
    """HTTPError 421 when the request names this server otherwise than it is called: a page of another site whose
    name was bent to this address."""
    hosts: Collection[str] | None = handler.settings.get(HOSTS)
    if hosts is not None and handler.request.host.lower() not in hosts:
        raise HTTPError(421, reason="This server is not called so")


class Holder(Handler):
    """Writes into each page's session token whose log-in it was made for; the token is signed by the server. Counts
    the pages of each."""

    def __init__(self, access: Access, held: Held) -> None:
        super().__init__()
        self._access, self._held = access, held

    def modify_document(self, doc: Document) -> None:
        """Leave the document as it is: the page itself is made by another handler."""

    def process_request(self, request: Any) -> dict[str, Any]:
        """What goes into the page's signed token: the name of the log-in, never the cookie, the page's origin and its
        language."""
        cookie = request.cookies.get(COOKIE)
        login = self._access.login(getattr(cookie, "value", cookie))
        address = f"{request.protocol}://{request.host}"
        return {LOGIN: login, ORIGIN: address, LANGUAGE: language_of(request)}

    async def on_session_created(self, session_context: SessionContext) -> None:
        """Count a page for the account whose log-in it was made with; a guest's for nobody."""
        who = self._access.holder(str(session_context.token_payload.get(LOGIN, "")))
        if who is not None:
            self._held.made(session_context.id, who)

    async def on_session_destroyed(self, session_context: SessionContext) -> None:
        """Count a page no longer, half a minute after its last socket was closed."""
        self._held.gone(session_context.id)


def login_of(document: Document) -> str:
    """The name of the log-in that a live page was made for; empty for a guest's."""
    context = document.session_context
    return str(context.token_payload.get(LOGIN, "")) if context is not None else ""


def origin_of(document: Document) -> str:
    """The scheme and name under which the browser of a live page reached this server; empty outside one."""
    context = document.session_context
    return str(context.token_payload.get(ORIGIN, "")) if context is not None else ""


def told_in(document: Document) -> str:
    """The id of the language of a live page, as its browser had it when the page was made; English for a document that
    is no page."""
    context = document.session_context
    return str(context.token_payload.get(LANGUAGE, ENGLISH)) if context is not None else ENGLISH


def language_of(request: HTTPServerRequest) -> str:
    """The language chosen on the first page in this browser, else the first that the browser asks for, if it is there;
    English otherwise."""
    asked = request.headers.get("Accept-Language", "").partition(",")[0].partition(";")[0].strip()
    cookie = request.cookies.get(LANGUAGE)
    chosen = cookie.value if cookie is not None and cookie.value else asked
    return chosen if chosen in languages() else ENGLISH


class Gate(AuthProvider):
    """Asked by the server for each document, socket and script that it serves.

    ``open_practice``: the trainee's page needs no joining, as on one's own machine.
    """

    def __init__(self, access: Access, open_practice: bool) -> None:
        self._access = access
        self.open_practice = open_practice
        self._opened = Limit(120, 120.0)
        self.held = Held(self._admitted)
        super().__init__()

    @property
    def get_user(self) -> Callable[[Any], str | None]:
        """The function by which the server asks who may have a page: a name, or None for nobody."""
        return self._user

    @property
    def login_url(self) -> str:
        """The path of the page to which those are sent who may not have the one they asked for."""
        return "/login"

    def _admitted(self, login: str, path: str) -> bool | None:
        who = self._access.holder(login)
        if who is None and login and self._access.away:
            return None
        return admits(who, path, self.open_practice)

    def opened(self, socket: WebSocketHandler) -> None:
        """Count a socket that was let in, for the account of its log-in and for its path."""
        login = self._access.login(socket.get_cookie(COOKIE))
        self.held.opened(socket, self._access.holder(login), login, socket.request.path)

    def sweep(self) -> None:
        """Close the sockets of who has logged out or has another role now."""
        self.held.sweep(UNWANTED)

    def _user(self, handler: Any) -> str | None:
        known_host(handler)
        request = handler.request
        if any(name in request.arguments for name in _CHOSEN) or "Bokeh-Session-Id" in request.headers:
            raise HTTPError(403, reason="The session of a page is made by this server")
        if request.path.endswith(_UNUSED):
            raise HTTPError(404)
        login = self._access.login(handler.get_cookie(COOKIE))
        who = self._access.holder(login)
        if not admits(who, request.path, self.open_practice):
            return None
        if isinstance(handler, WebSocketHandler):
            if _made_for(request) != login:
                # The page behind this socket was made for somebody else.
                return None
            if who is not None and self.held.crowded(who):
                return None
            # Three small writes a message: without this the second waits for the first to be acknowledged.
            request.connection.stream.set_nodelay(True)
        elif who is not None and (self.held.full(who) or not self._opened.spend(str(who.person))):
            # Each page is made anew, which takes the server a while, and held.
            raise HTTPError(429, reason="Too many pages at once")
        return who.name if who else "guest"


def _made_for(request: Any) -> str | None:
    """The log-in that the page of a socket was made for, by its token; whether the token is ours is looked at later."""
    offered = [part.strip() for part in request.headers.get("Sec-WebSocket-Protocol", "").split(",")]
    try:
        return str(get_token_payload(offered[1]).get(LOGIN, ""))
    except (IndexError, ValueError, KeyError, TypeError, json.JSONDecodeError):
        return None


def admits(who: Who | None, path: str, open_practice: bool) -> bool:
    """Whether this person's role may have the live page of this path; nobody's only where practice is open to all."""
    roles = roles_for(path)
    if who is None:
        return open_practice and roles is ANYBODY
    return who.role in roles and not who.setting
