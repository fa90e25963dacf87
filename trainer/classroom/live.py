"""A trainee's live page in a classroom: known by its cookie, held to its rate, and driven as on one's own machine."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

import panel as pn
from bokeh.document import Document

from trainer.classroom.access import Access, Who
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.gate import COOKIE, admits
from trainer.classroom.limits import Limit
from trainer.classroom.server import BEAT_MS, Live
from trainer.console.board import Message
from trainer.console.pages import Page

log = logging.getLogger("trainer.classroom")

#: A hand on a panel does a few things a second; holding a button sends four.
MESSAGES_A_SECOND = 40
LONGEST_MESSAGE = 20_000


def every(period: int, beat: Callable[[], None]) -> None:
    """Call ``beat`` every ``period`` ms as long as the page is open.

    By the document itself: the callbacks of the page library keep a count of how busy they are, which costs more
    than all the rest of a beat.
    """
    pn.state.curdoc.add_periodic_callback(beat, period)


def cookie_of(document: Document) -> str | None:
    """The log-in cookie that came with the page's request."""
    context = document.session_context
    cookies: dict[str, Any] = getattr(context.request, "cookies", {}) if context is not None else {}
    found = cookies.get(COOKIE)
    # Depending on how the request came, a cookie is a text or a morsel of one.
    return getattr(found, "value", found)


def modest(message: object) -> bool:
    """Whether a message is an object of a size that a page sends."""
    return isinstance(message, dict) and len(repr(message)) <= LONGEST_MESSAGE


class ClassLive(Live):
    """One open page of a trainee. ``who`` is None for a guest where practising is open to everybody."""

    def __init__(self, rooms: ClassRooms, document: Document, access: Access, open_practice: bool) -> None:
        self._access = access
        self._open = open_practice
        self._cookie = cookie_of(document)
        self.who: Who | None = access.who(self._cookie)
        self._rate = Limit(MESSAGES_A_SECOND * 2, 2.0)
        super().__init__(rooms, document, Page(aside=self.who is not None))

    def hear(self, message: Message | object) -> None:
        """A message from the browser: dropped when its sender has logged out, or sends too much."""
        if not modest(message) or not self._rate.spend("page"):
            return
        now = self._access.who(self._cookie)
        if now != self.who or not admits(now, "/", self._open):
            return
        super().hear(message)


def trainee_page(rooms: ClassRooms, access: Access, open_practice: bool) -> Callable[[], Any]:
    """The function that makes a trainee's page for each visit."""

    def page() -> Any:
        live = ClassLive(rooms, pn.state.curdoc, access, open_practice)
        every(BEAT_MS, live.beat)
        pn.state.on_session_destroyed(lambda _: live.left())
        return live.page.template

    return page
