"""A trainee's live page in a classroom: known by its cookie, held to its rate, and driven as on one's own machine."""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Callable, Mapping, Sequence

import panel as pn
from bokeh.document import Document
from tornado.ioloop import PeriodicCallback

from trainer.classroom.access import Access, Who
from trainer.classroom.channel import DENIED, LONGEST_MESSAGE, Channel, Channels
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.gate import admits, login_of
from trainer.classroom.server import BEAT_MS, Live
from trainer.classroom.turns import Turns
from trainer.console.message import Message
from trainer.console.pages import Page

log = logging.getLogger("trainer.classroom")

AT_ONCE = 8
"""So many pages have their beat before the server looks for what hands did meanwhile."""


def every(period: int, beat: Callable[[], None]) -> None:
    """Call ``beat`` every ``period`` ms as long as the page is open.

    By the server's loop and not by the page's document: most beats change none of its models, and the page library's
    own keep a lock and a count of how busy they are, which costs more than all the rest of a beat.
    """
    beats = _BEATS.setdefault(period, [])
    if not beats:
        # One pulse for all pages: what each does is the same, so the second finds everything warm.
        pulse = _PULSES[period] = PeriodicCallback(lambda: _all(beats), period)
        pulse.start()
    beats.append(beat)

    def left(_: object) -> None:
        beats.remove(beat)
        if not beats:
            _PULSES.pop(period).stop()

    pn.state.on_session_destroyed(left)


_BEATS: dict[int, list[Callable[[], None]]] = {}
_PULSES: dict[int, PeriodicCallback] = {}


async def _all(beats: Sequence[Callable[[], None]]) -> None:
    for at, beat in enumerate(tuple(beats), 1):
        if at % AT_ONCE == 0:
            await asyncio.sleep(0)
        try:
            beat()
        except Exception:
            # One page's trouble is not the others'.
            log.exception("a beat of a page failed")


def modest(message: object) -> bool:
    """Whether a message is an object of a size that a page sends, and of text that can be written and kept."""
    try:
        return (
            isinstance(message, dict)
            and len(text := json.dumps(message, ensure_ascii=False)) <= LONGEST_MESSAGE
            and bool(text.encode())
            and "\\u0000" not in text
        )
    except (TypeError, ValueError, RecursionError):
        # No plain data, or half of a letter (a lone surrogate).
        return False


class ClassLive(Live):
    """One open page of a trainee. ``who`` is None for a guest where practising is open to everybody."""

    def __init__(
        self, rooms: ClassRooms, document: Document, access: Access, open_practice: bool, channel: Channel
    ) -> None:
        self._access = access
        self._open = open_practice
        self._login = channel.login
        self.who: Who | None = access.holder(self._login)
        self._turns = Turns()
        super().__init__(rooms, document, Page(aside=self.who is not None, crews=True), channel)

    def _may(self) -> bool:
        """Whether whom this page was made for is still logged in, and as the same."""
        now = self._access.holder(self._login)
        if now == self.who and admits(now, "/", self._open):
            return True
        self._wire.channel.close(DENIED)
        return False

    def retell(self) -> None:
        """Tell the page everything once more; as seldom as it may ask for that itself."""
        self._turns.ask({"page": "hello"}, super().retell)

    def hear(self, message: Message | object) -> None:
        """A message from the browser, heard in its turn unless its sender has logged out by then."""
        if isinstance(message, Mapping) and modest(message):
            self._turns.ask(message, lambda: self._heard(message))

    def _heard(self, message: Message) -> None:
        if self._may():
            super().hear(message)

    def beat(self) -> None:
        """One beat of the wall clock; nothing is shown to whom the page does not belong any more."""
        self._turns.go_on()
        if self._may():
            super().beat()


def trainee_page(rooms: ClassRooms, access: Access, open_practice: bool, channels: Channels) -> Callable[[], object]:
    """The function that makes a trainee's page for each visit."""

    def page() -> object:
        document = pn.state.curdoc
        channel = channels.new(login_of(document))
        live = ClassLive(rooms, document, access, open_practice, channel)
        every(BEAT_MS, live.beat)

        def left(_: object) -> None:
            channels.forget(channel)
            live.left()

        pn.state.on_session_destroyed(left)
        return live.page.template

    return page
