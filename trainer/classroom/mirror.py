"""A trainee's console as staff watch it: the same boards over the same run, with hands that do nothing."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

import panel as pn
from bokeh.document import Document

from trainer.classroom.access import Access
from trainer.classroom.channel import Channel, Channels
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.gate import admits, login_of
from trainer.classroom.live import Rates, every, modest
from trainer.classroom.place import ClassSeat
from trainer.classroom.quick import Wire
from trainer.console import debrief
from trainer.console.in_units import in_units
from trainer.console.pages import Page
from trainer.console.presenter import Patch, Presenter
from trainer.console.reading import Reading
from trainer.console.seat import Seat
from trainer.console.trends import History

BEAT_MS = 200
_NUMBER = re.compile(r"[0-9a-f]{20}")
#: What a watcher may do: change what is looked at, never what happens.
ONLY = "you are only watching; the controls are the trainee's."
HARMLESS = ("units", "theme", "card", "brief", "begin")


class MirrorSeat(Seat):
    """A seat that shows another's run. It drives nothing."""

    def __init__(self, watched: ClassSeat) -> None:
        super().__init__(watched._start, watched.drills, watched.boards)
        self.watched = watched
        self._seen: object = None

    def tick(self, elapsed: float) -> Patch:
        """What changed at the trainee's since the last look."""
        watched = self.watched
        if watched.shown is not self._seen:
            return self._adopt()
        self.page, self.paused, self.pace, self.mode = watched.page, watched.paused, watched.pace, watched.mode
        return self._presenter.patch() if self._presenter is not None else {}

    def _adopt(self) -> Patch:
        watched = self.watched
        self._seen = self.run = watched.shown
        self.drill, self.plant, self.mode, self.page = watched.drill, watched.plant, watched.mode, watched.page
        if self.run is None:
            self._presenter = None
            return self.first()
        history = History()
        if watched._presenter is not None:
            history.samples = list(watched._presenter.history.samples)
            history.marks = list(watched._presenter.history.marks)
        self._presenter = Presenter(self.run, self.units, {}, self._texts, history)
        return self._dressed()

    def hello(self, theme: object = "light") -> Patch:
        """Everything, for a page that has just opened."""
        self.theme = "dark" if theme == "dark" else "light"
        return self._adopt()

    def handle(self, message: Mapping[str, Any]) -> Patch:
        """Only what changes nothing for the trainee; of anything else it is said that it does nothing."""
        if message.get("page") in HARMLESS:
            return super().handle(message)
        why: Reading = {"html": debrief.refusal(ONLY)}
        return {"messages": {"readings": {"page.refusal": why, "page.says": {"state": "refused"}}}}

    def _go(self, _: Mapping[str, Any]) -> Patch:
        self._briefing = False
        return self._presenter.patch() if self._presenter else {}

    def _texts(self) -> dict[str, Reading]:
        texts = self.watched._texts()
        own = super()._texts()
        for key in ("page.card", "page.card_text", "page.brief", "page.units"):
            if key in own:
                texts[key] = own[key]
        if texts:
            name = self.watched.who.name if self.watched.who else "a guest"
            texts["page.mode"] = {"text": f"{self.mode}, watching {name}"}
            if texts["page.pause"]["text"] == "Resume":
                texts["page.pause"] = {"text": "Paused"}
            texts["page.paced"] = texts["page.ends"] = {"state": "off"}
            texts["page.sound"] = {"state": "off"}
        return texts


class MirrorLive:
    """One open page of somebody who watches."""

    def __init__(self, rooms: ClassRooms, access: Access, document: Document, number: str, channel: Channel) -> None:
        self._access = access
        self._login = channel.login
        self.page = Page(watching=True)
        self._wire = Wire(self.page, document, channel)
        place = rooms.place(number) if _NUMBER.fullmatch(number) and self._may() else None
        self.seat = MirrorSeat(place.seat) if place is not None else None
        # Nothing is shown before the page has said hello: what came before its socket it would miss.
        self._greeted = False
        self._rates = Rates()
        self.page.listen(self.hear)
        channel.hear, channel.again = self.hear, self.retell

    def retell(self) -> None:
        """Tell the page everything once more."""
        if self.seat is not None and self._greeted and self._rates.allow({"page": "hello"}) and self._may():
            self._wire.send(in_units(self.seat.first(), self.seat.words_in))

    def _may(self) -> bool:
        return admits(self._access.holder(self._login), "/watch", open_practice=False)

    def hear(self, message: object) -> None:
        """A message from the browser."""
        seat = self.seat
        if seat is None or not modest(message) or not isinstance(message, Mapping):
            return
        if not self._rates.allow(message) or not self._may():
            return
        hello = message.get("page") == "hello"
        self._greeted |= hello
        patch = seat.hello(message.get("theme")) if hello else seat.handle(message)
        self._wire.send(in_units(patch, seat.words_in), greet=hello)

    def beat(self) -> None:
        """Show what changed."""
        if self.seat is not None and self._greeted and self._may():
            self._wire.send(in_units(self.seat.tick(0.0), self.seat.words_in))


def watch_page(rooms: ClassRooms, access: Access, channels: Channels) -> Callable[[], Any]:
    """The function that makes a watcher's page for each visit; ``?seat=`` says whose console."""

    def page() -> Any:
        given = pn.state.session_args.get("seat", [b""])
        document = pn.state.curdoc
        channel = channels.new(login_of(document))
        live = MirrorLive(rooms, access, document, given[0].decode("ascii", "replace"), channel)
        every(BEAT_MS, live.beat)
        pn.state.on_session_destroyed(lambda _: channels.forget(channel))
        return live.page.template

    return page
