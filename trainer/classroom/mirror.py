"""A trainee's console as staff watch it, live or from the records: the same boards, with hands that do nothing."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping

import panel as pn
from bokeh.document import Document

from trainer import naming
from trainer.classroom.access import Access
from trainer.classroom.channel import Channel, Channels
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.gate import admits, login_of
from trainer.classroom.live import every, modest
from trainer.classroom.place import ClassSeat
from trainer.classroom.quick import Wire
from trainer.classroom.turns import Turns
from trainer.console import debrief
from trainer.console.in_units import in_units
from trainer.console.message import Message
from trainer.console.pages import Page
from trainer.console.presenter import Patch, Presenter
from trainer.console.reading import Reading
from trainer.console.seat import Seat
from trainer.console.shell import OF_SOME, VIEWS
from trainer.console.trends import History
from trainer.console.walk import ON_THE_WAY
from trainer.drawing.markup import el
from trainer.records import attempts
from trainer.records.database import Records, RecordsAwayError
from trainer.session import evidence

BEAT_MS = 200
_NUMBER = re.compile(r"[0-9a-f]{20}")
_ATTEMPT = re.compile(r"[0-9]{1,9}")
#: What a watcher may do: change what is looked at, never what happens.
ONLY = "you are only watching; the controls are the trainee's."
_SIGHTS = {**dict((*VIEWS, *OF_SOME)), ON_THE_WAY: "on the way"}
HARMLESS = ("units", "theme", "card", "brief", "begin", "looks")


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

    def hello(self, theme: object = "light", brought: Mapping[str, object] | None = None) -> Patch:
        """Everything, for a page that has just opened."""
        self.theme = "dark" if theme == "dark" else "light"
        return self._adopt()

    def handle(self, message: Message) -> Patch:
        """Only what changes nothing for the trainee; of anything else it is said that it does nothing."""
        if message.get("page") in HARMLESS:
            return super().handle(message)
        why: Reading = {"html": debrief.refusal(ONLY)}
        return {"messages": {"readings": {"page.refusal": why, "page.says": {"state": "refused"}}}}

    def _go(self, _: Message) -> Patch:
        self._briefing = self._reading = False
        return self._presenter.patch() if self._presenter else {}

    def _texts(self) -> dict[str, Reading]:
        texts = self.watched._texts()
        own = super()._texts()
        for key in ("page.card", "page.card_text", "page.brief", "page.units"):
            if key in own:
                texts[key] = own[key]
        if texts:
            name = self.watched.who.name if self.watched.who else "a guest"
            # The watcher's page turns where the trainee's does, and may look elsewhere until that turns again.
            view = str(texts.setdefault("page.view", {"state": self.watched.looks_at or "driller"}).get("state"))
            at = f": {_SIGHTS.get(view, naming.station(view))}" if self.watched.page == "console" else ""
            texts["page.mode"] = {"text": f"{self.mode}, watching {name}{at}"}
            texts["page.talk"] = {"html": self.watched.said_to(name)}
            if texts["page.pause"]["text"] == "Resume":
                texts["page.pause"] = {"text": "Paused"}
            texts["page.paced"] = texts["page.ends"] = {"state": "off"}
            texts["page.sound"] = texts["page.noise"] = {"state": "off"}
        return texts


class MirrorLive:
    """One open page of somebody who watches; ``watched`` makes what it shows, and is asked for staff only. It raises
    LookupError with a sentence where there is nothing to be shown."""

    def __init__(self, watched: Callable[[], Seat], access: Access, document: Document, channel: Channel) -> None:
        self._access = access
        self._login = channel.login
        self.page = Page(watching=True)
        self._wire = Wire(self.page, document, channel)
        self.seat: Seat | None = None
        self._why = ""
        if self._may():
            try:
                self.seat = watched()
            except LookupError as why:
                self._why = str(why)
        # Nothing is shown before the page has said hello: what came before its socket it would miss.
        self._greeted = False
        self._last = time.monotonic()
        self._turns = Turns()
        self.page.listen(self.hear)
        channel.hear, channel.again = self.hear, self.retell

    def retell(self) -> None:
        """Tell the page everything once more."""
        self._turns.ask({"page": "hello"}, self._tell)

    def _tell(self) -> None:
        if self.seat is not None and self._greeted and self._may():
            self._wire.send(in_units(self.seat.first(), self.seat.words_in))

    def _may(self) -> bool:
        return admits(self._access.holder(self._login), "/watch", open_practice=False)

    def hear(self, message: object) -> None:
        """A message from the browser, heard in its turn."""
        if modest(message) and isinstance(message, Mapping):
            self._turns.ask(message, lambda: self._heard(message))

    def _heard(self, message: Message) -> None:
        if not self._may():
            return
        hello, seat = message.get("page") == "hello", self.seat
        self._greeted |= hello
        if seat is None:
            if hello and self._why:
                self._wire.send({"chooser": {"markup": el("p", {"class": "soft"}, self._why)}}, greet=True)
            return
        patch = seat.hello(message.get("theme")) if hello else seat.handle(message)
        self._wire.send(in_units(patch, seat.words_in), greet=hello)

    def beat(self) -> None:
        """Show what changed."""
        self._turns.go_on()
        now = time.monotonic()
        elapsed, self._last = now - self._last, now
        if self.seat is not None and self._greeted and self._may():
            self._wire.send(in_units(self.seat.tick(elapsed), self.seat.words_in))


def _live(rooms: ClassRooms, number: str) -> Seat:
    place = rooms.place(number) if _NUMBER.fullmatch(number) else None
    if place is None:
        raise LookupError("This console is not open any more.")
    return MirrorSeat(place.seat)


def _kept(rooms: ClassRooms, records: Records, number: str) -> Seat:
    """An attempt of the records, to be looked back on."""
    try:
        with records.look() as session:
            attempt = attempts.get(session, int(number)) if _ATTEMPT.fullmatch(number) else None
            if attempt is None:
                raise LookupError("There is no such attempt.")
            document = evidence.parse(attempt.evidence)
            whose = f"{attempt.person.name}, attempt {attempt.id}"
            notes = [(note.t, f"{note.author}: {note.text}") for note in attempt.notes]
    except RecordsAwayError as error:
        raise LookupError("The records cannot be reached now; try again in a minute.") from error
    try:
        return rooms.look_back(document, whose, notes)
    except (ValueError, OSError) as error:
        raise LookupError(f"This attempt cannot be replayed here: {error}.") from error


class TogetherLive(MirrorLive):
    """One open page of somebody to whom staff show a run of the class; it holds while staff show it."""

    def __init__(self, rooms: ClassRooms, access: Access, document: Document, channel: Channel) -> None:
        self._rooms, self._number = rooms, rooms.together
        super().__init__(lambda: _together(rooms), access, document, channel)

    def _may(self) -> bool:
        who = self._access.holder(self._login)
        if who is None or self._rooms.checks(who.person) or not admits(who, "/together", open_practice=False):
            # In a check nobody looks over to another's run.
            return False
        shared = self._rooms.shared()
        return shared is not None and shared.number == self._number


def _together(rooms: ClassRooms) -> Seat:
    place = rooms.shared()
    if place is None:
        raise LookupError("Nothing is shown to the class now.")
    return MirrorSeat(place.seat)


def together_page(rooms: ClassRooms, access: Access, channels: Channels) -> Callable[[], object]:
    """The function that makes the page on which a trainee sees what staff show to the class."""

    def page() -> object:
        document = pn.state.curdoc
        channel = channels.new(login_of(document))
        live = TogetherLive(rooms, access, document, channel)
        every(BEAT_MS, live.beat)
        pn.state.on_session_destroyed(lambda _: channels.forget(channel))
        return live.page.template

    return page


def watch_page(rooms: ClassRooms, access: Access, channels: Channels) -> Callable[[], object]:
    """The function that makes a watcher's page for each visit; ``?seat=`` says whose console, ``?attempt=`` which
    attempt of the records."""

    def page() -> object:
        given = {
            name: pn.state.session_args.get(name, [b""])[0].decode("ascii", "replace") for name in ("seat", "attempt")
        }
        document = pn.state.curdoc
        channel = channels.new(login_of(document))

        def watched() -> Seat:
            if given["attempt"]:
                return _kept(rooms, access.records, given["attempt"])
            return _live(rooms, given["seat"])

        live = MirrorLive(watched, access, document, channel)
        every(BEAT_MS, live.beat)
        pn.state.on_session_destroyed(lambda _: channels.forget(channel))
        return live.page.template

    return page
