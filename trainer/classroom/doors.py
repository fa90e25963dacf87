"""The doors: logging in, joining a class, choosing a secret, logging out; and what every plain page is held to."""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import Callable
from typing import Any, ClassVar, TypeVar
from urllib.parse import urlsplit

from sqlalchemy.orm import Session
from tornado.httputil import HTTPInputError, ParseBodyConfig, ParseMultipartConfig, parse_body_arguments
from tornado.web import HTTPError, RequestHandler

from trainer.classroom import beside, paper
from trainer.classroom.access import DEVICE_DAYS, Access, DeniedError, Who, pair_of
from trainer.classroom.gate import COOKIE, known_host, language_of
from trainer.classroom.worker import WorkerError
from trainer.console import guide_page
from trainer.console.in_language import whole_page
from trainer.drawing import forms
from trainer.drawing.markup import el, without_bidi
from trainer.records.database import RecordsAwayError, RecordsDamagedError
from trainer.records.logins import LOGIN_HOURS

LONGEST_FIELD = 20_000
AWAY = "The records cannot be reached now. Drills go on, and what is done is kept until they are back."
WAY = "trainer_way"
DEVICE = "trainer-device"
MOST_WAITING = 8
"""Tries of one name from one address that wait long at once."""
SHORT_S = 2.0

T = TypeVar("T")


class Door(RequestHandler):
    """A plain page: by role, with the token against forged forms, safe headers and plain errors.

    ``roles`` says who may have it; empty means everybody. ``desk`` is whatever the page works on.
    """

    roles: ClassVar[tuple[str, ...]] = ()
    streamed: ClassVar[bool] = False
    access: Access
    desk: Any
    who: Who | None

    def initialize(self, access: Access, desk: Any = None) -> None:
        """Take what this page works on; tornado calls it by this name before each request."""
        self.access = access
        self.desk = desk
        self.who = None

    def set_default_headers(self) -> None:
        """No framing by others, no guessing of types, nothing from elsewhere, nothing kept."""
        self.set_header("X-Content-Type-Options", "nosniff")
        self.set_header("X-Frame-Options", "SAMEORIGIN")
        self.set_header("Referrer-Policy", "same-origin")
        self.set_header("Cache-Control", "no-store")
        self.set_header(
            "Content-Security-Policy",
            "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'self'; "
            "form-action 'self'; base-uri 'none'; object-src 'none'; script-src 'self'",
        )

    def prepare(self) -> None:
        """Find out who asks, whether they may, and whether the form came from here; HTTPError 403, 421 or a way to the
        log-in."""
        known_host(self)
        self.who = self.access.who(self.get_cookie(COOKIE))
        if self.request.method == "POST" and not self.streamed:
            self.check_origin_and_token()
        if self.roles and (self.who is None or self.who.role not in self.roles or self.who.setting):
            if self.request.method == "GET" and self.who is None:
                self.redirect("/login")
                return
            raise HTTPError(403, reason="This page is not for you")

    def check_origin_and_token(self) -> None:
        """HTTPError 403 for a form that was not made by a page of this server."""
        origin = self.request.headers.get("Origin")
        if origin is not None and urlsplit(origin).netloc != self.request.host:
            raise HTTPError(403, reason="This form came from another site")
        self.check_xsrf_cookie()

    @property
    def somebody(self) -> Who:
        """Who asks, on pages that have roles; HTTPError 403 when it is nobody with a log-in."""
        if self.who is None:
            raise HTTPError(403)
        return self.who

    def text(self, name: str, default: str = "") -> str:
        """A field of the form without controls of direction, cut to the longest that is taken; ``default`` when it is
        not there."""
        return without_bidi(self.get_argument(name, default))[:LONGEST_FIELD]

    @property
    def language(self) -> str:
        """The language chosen on the first page in this browser, else the first that the browser asks for, if it is
        there; English otherwise."""
        return language_of(self.request)

    def number(self, text: str) -> int:
        """A whole number of a path or field, nine digits at most; HTTPError 404 for anything else."""
        if not text.isascii() or not text.isdigit() or len(text) > 9:
            raise HTTPError(404)
        return int(text)

    def show(self, title: str, *content: Any, head: str = "") -> None:
        """Write a page of this title with this content, escaped unless it is markup, as the whole answer."""
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.write(whole_page(paper.page(title, *content, who=self.who, head=head), self.language))

    def form(self, action: str, button: str, *content: Any, **attributes: object) -> Any:
        """A form that posts to ``action``, with its button and the token that shows that it came from here."""
        return paper.form(action, self.xsrf_form_html(), button, *content, **attributes)

    def write_error(self, status_code: int, **kwargs: Any) -> None:
        """One plain sentence; the reason of an error of ours is in the log only."""
        error = kwargs.get("exc_info", (None, None, None))[1]
        if isinstance(error, RecordsDamagedError):
            self.set_status(503)
            said = f"The records cannot be used: {error}."
        elif isinstance(error, WorkerError):
            self.set_status(503)
            said = f"Not done: {error}."
        elif isinstance(error, RecordsAwayError):
            self.set_status(503)
            said = AWAY
        elif status_code == 404:
            said = "There is nothing here."
        elif status_code == 403:
            said = "You have no access to this, or the page has expired: go back, reload it and try again."
        elif status_code == 429:
            said = (
                "Too many tries under this name at once. Use a browser that you have come in with before, or ask the "
                "instructor for a link for this one."
            )
        elif status_code < 500:
            said = f"{getattr(error, 'reason', None) or 'That could not be understood'}."
        else:
            said = "Something went wrong here. The reason is in the server's log."
        self.finish(whole_page(paper.page("Panel trainer", paper.told(said, "alert"), who=self.who), self.language))

    def let_in(self, cookie: str) -> None:
        """Set the log-in cookie: out of reach of scripts and of other sites."""
        self.set_cookie(
            COOKIE,
            cookie,
            httponly=True,
            samesite="Strict",
            secure=self.request.protocol == "https",
            max_age=int(LOGIN_HOURS * 3600),
        )
        who = self.access.who(cookie)
        if who is not None:
            # A web server before several processes leads one person always to the same one by this.
            way = hashlib.sha256(f"way {who.person}".encode()).hexdigest()[:12]
            secure = self.request.protocol == "https"
            self.set_cookie(WAY, way, httponly=True, samesite="Strict", secure=secure)
            self.keep_device(who.name)

    def keep_device(self, name: str) -> None:
        """From now on this browser is one that this person has come in with."""
        self.set_cookie(
            DEVICE,
            self.access.device(name),
            httponly=True,
            samesite="Strict",
            secure=self.request.protocol == "https",
            max_age=DEVICE_DAYS * 86400,
        )

    async def ask(self, work: Callable[[Session], T]) -> T:
        """Work on the records, beside the running sessions; committed at its end."""
        return await beside.ask(self.access.records, work)

    async def look(self, work: Callable[[Session], T]) -> T:
        """Only read the records, beside the running sessions and beside whoever writes."""
        return await beside.look(self.access.records, work)

    async def slowly(self, work: Callable[[], T]) -> T:
        """Work that takes a while (hashing, re-computing), beside the running sessions."""
        return await beside.slowly(work)


class Upload(Door):
    """A page that takes more than a form: staff only, looked at before the first byte of the body is taken.

    ``largest`` is how much, ``parts`` how many fields and files. A class of this kind is decorated with the server's
    ``stream_request_body``.
    """

    streamed = True
    largest: ClassVar[int] = 64_000
    parts: ClassVar[int] = 10
    longest_s: ClassVar[float] = 600.0

    def prepare(self) -> None:
        """Find out who asks before a body is taken, then allow as much of one as this page takes."""
        super().prepare()
        if self.request.method == "POST" and not self._finished:
            self._sent = bytearray()
            connection: Any = self.request.connection
            connection.set_max_body_size(self.largest)
            connection.set_body_timeout(self.longest_s)

    def data_received(self, chunk: bytes) -> None:
        """Keep a part of the body; tornado calls it by this name as the parts come."""
        self._sent += chunk

    def take_form(self) -> None:
        """The body is whole: its fields and files are there, and its token is looked at."""
        request = self.request
        request.body = bytes(self._sent)
        kind = request.headers.get("Content-Type", "")
        bounds = ParseBodyConfig(multipart=ParseMultipartConfig(max_parts=self.parts))
        try:
            parse_body_arguments(
                kind, request.body, request.body_arguments, request.files, request.headers, config=bounds
            )
        except HTTPInputError as error:
            many = "too many parts" in str(error)
            raise HTTPError(400, reason="Too many files at once: send fewer at a time" if many else None) from error
        for name, values in request.body_arguments.items():
            request.arguments.setdefault(name, []).extend(values)
        self.check_origin_and_token()


class LogIn(Door):
    """``/login``: staff by name and secret, trainees by class code."""

    waiting: ClassVar[dict[str, int]] = {}

    def get(self, told: str = "") -> None:
        """Write the door's two forms: join with a class's code, log in with a secret; ``told`` stands above them."""
        join = self.form(
            "/join",
            "Join",
            forms.field("name", "Your name", required="required", maxlength=80, autocomplete="name"),
            # A QR code on the wall brings the code along.
            forms.field(
                "code",
                "Class code",
                value=self.get_query_argument("code", "")[:20],
                required="required",
                maxlength=20,
                autocomplete="off",
            ),
            forms.field("number", "Personal number (when you have joined before)", maxlength=6, inputmode="numeric"),
            **{"class": "tall"},
        )
        log_in = self.form(
            "/login",
            "Log in",
            forms.field("name", "Name", required="required", maxlength=80, autocomplete="username"),
            forms.field("secret", "Password", "password", required="required", autocomplete="current-password"),
            **{"class": "tall"},
        )
        here = f"You are logged in as {self.who.name} ({self.who.role})." if self.who else ""
        self.show(
            "Sign in",
            paper.told(told, "alert"),
            paper.told(here),
            el("h2", {}, "Join a class"),
            join,
            el("h2", {}, "Instructors and assessors"),
            log_in,
        )

    async def wait(self, seconds: float, name: str) -> None:
        """Let a try wait its turn. Only so many of one name from one address wait long; no one else is refused for it,
        and a short wait is never refused. A browser that the name's holder came in with has places of its own."""
        if seconds <= 0.0:
            return
        pair, device = pair_of(name, str(self.request.remote_ip)), self.get_cookie(DEVICE)
        known = self.access.knows(device, name)
        if known:
            pair += f"\n{device}"
        if (known or seconds > SHORT_S) and self.waiting.get(pair, 0) >= MOST_WAITING:
            raise HTTPError(429)
        self.waiting[pair] = self.waiting.get(pair, 0) + 1
        try:
            await asyncio.sleep(seconds)
        finally:
            self.waiting[pair] -= 1
            if not self.waiting[pair]:
                del self.waiting[pair]

    async def post(self) -> None:
        """Log in by name and secret, after the delay that wrong guesses have earned; a wrong one is told on the same
        page."""
        name, secret = self.text("name"), self.text("secret")
        origin = str(self.request.remote_ip)
        await self.wait(self.access.wait(name, origin, self.get_cookie(DEVICE)), name)
        try:
            cookie = await self.slowly(lambda: self.access.log_in(name, secret, origin))
        except DeniedError as error:
            self.set_status(403)
            self.get(str(error))
            return
        self.let_in(cookie)
        who = self.access.who(cookie)
        self.redirect(
            "/secret" if who and who.setting else "/instructor" if who and who.role == "instructor" else "/attempts"
        )


class Join(LogIn):
    """``/join``: trainees come in with the code of their class, and anew with their personal number."""

    async def post(self) -> None:
        """Join the class of this code; whoever is new is told a personal number, once and never again."""
        name, code, number = self.text("name"), self.text("code"), self.text("number")
        origin = str(self.request.remote_ip)
        await self.wait(self.access.wait_to_join(name, origin, self.get_cookie(DEVICE)), name)
        try:
            cookie, fresh = await self.slowly(lambda: self.access.join(name, code, number, origin))
        except DeniedError as error:
            self.set_status(403)
            self.get(str(error))
            return
        self.let_in(cookie)
        self.who = self.access.who(cookie)
        if fresh is None:
            self.redirect("/")
            return
        self.show(
            "Your personal number",
            el("p", {}, "Keep this number. You need it the next time you join under your name:"),
            el("p", {"class": "code", "data-number": "here"}, fresh),
            el("p", {}, el("a", {"href": "/"}, "Go to the drills")),
        )


class NewBrowser(Door):
    """``/browser/LINK``: this browser is one that the link's person has come in with; nobody is let in by it."""

    def get(self, link: str) -> None:
        """Keep in the browser that staff made it known, and go to the door; HTTPError 400 for a link out of date."""
        name = self.access.linked(link)
        if name is None:
            raise HTTPError(400, reason="This link is out of date: ask the instructor for another")
        self.keep_device(name)
        self.redirect("/login")


class LogOut(Door):
    """``/logout``: by a form, so that no link from elsewhere does it."""

    def get(self) -> None:
        """Ask whether to log out, with a button; who is not logged in is told so."""
        self.show("Log out", self.form("/logout", "Log out") if self.who else paper.told("No one is logged in."))

    def post(self) -> None:
        """End the log-in in the records and not only the cookie, so that a copy of it opens nothing."""
        cookie = self.get_cookie(COOKIE)
        if cookie:
            self.access.log_out(cookie)
        self.clear_cookie(COOKIE)
        self.redirect("/login")


class Secret(Door):
    """``/secret``: choose a secret, at first instead of the one-time one."""

    def get(self, told: str = "") -> None:
        """Write the form for a new secret; HTTPError 403 for trainees, who have none."""
        if self.who is None or self.who.role == "trainee":
            raise HTTPError(403)
        self.show(
            "Choose a password",
            paper.told(told, "alert"),
            el("p", {}, "At least ten characters; a few words that belong to nothing are good."),
            self.form(
                "/secret",
                "Keep it",
                forms.field("secret", "New password", "password", required="required", autocomplete="new-password"),
                forms.field("again", "Once more", "password", required="required", autocomplete="new-password"),
                **{"class": "tall"},
            ),
        )

    async def post(self) -> None:
        """Keep the new secret, end all log-ins that the old one made, and log in anew with it."""
        who, secret = self.who, self.text("secret")
        if who is None or who.role == "trainee":
            raise HTTPError(403)
        if secret != self.text("again"):
            self.get("The two are not the same.")
            return
        try:
            cookie = await self.slowly(lambda: self.access.choose_secret(who, secret))
        except DeniedError as error:
            self.get(str(error))
            return
        self.let_in(cookie)
        self.redirect("/instructor" if who.role == "instructor" else "/attempts")


class GuidePage(Door):
    """``/guide.html``: the guides for trainee, instructor and assessor, for print; open to everybody."""

    def get(self) -> None:
        """Write the guide for print: every board and every word of the trade, from the pages' own texts."""
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.write(guide_page.html())
