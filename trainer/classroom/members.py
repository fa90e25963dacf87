"""Several server processes over the same records: one roster, and words of an instructor that reach every run.

A thread of its own exchanges with the records; everything that touches runs or pages happens on the server's loop.
While the records are away each process goes on with its own class, and the others drop out of the roster.
"""

from __future__ import annotations

import logging
import re
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, TypeVar

from trainer.classroom.access import Who
from trainer.classroom.crew_lead import CrewLead
from trainer.classroom.desk_readings import place_readings, row_readings
from trainer.classroom.roster import FarPlace, Place
from trainer.console.message import Message
from trainer.console.reading import Reading
from trainer.records import logins, members
from trainer.records.database import Records, RecordsAwayError, RecordsError

log = logging.getLogger("trainer.classroom")

NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,19}")
BEAT_S = 0.3
ALL = "*"
"""Instead of a place's number: somebody looks at all of them at once."""
GONE_S = 6.0
"""A process that told nothing new for so long is gone."""
ANSWER_S = 8.0
"""So long a word may take; then its sender hears that nobody answered."""

Hear = Callable[[str, str], None]
"""Called on the loop with (what was said, done or refused)."""
T = TypeVar("T")


@dataclass
class _Sent:
    receiver: str
    person: int
    message: Message
    hear: Hear
    at: float


class Members:
    """What this process, called ``name``, tells the others and hears from them.

    ``places`` gives the own places, ``glance`` what the wall of a class shows of one; ``do`` carries out a word on the
    loop: (message, who, number of the place or None for all) to (done or refused, sentence).
    """

    def __init__(
        self,
        name: str,
        records: Records,
        places: Callable[[], list[Place]],
        do: Callable[[Mapping[str, object], Who, str | None], tuple[str, str]],
        glance: Callable[[Place], Message] = lambda place: {},
    ) -> None:
        self.name = name
        self.codes: dict[str, str] = {}
        self.told = False
        """Whether ``codes`` is what the records said last."""
        self._records = records
        self._places = places
        self._do = do
        self._glance = glance
        self._beat = time.time_ns()
        self._news: dict[str, object] = {"seats": [], "looks": []}
        self._far: dict[str, FarPlace] = {}
        self._live: tuple[str, ...] = ()
        self._seen: dict[str, tuple[int, float]] = {}
        self._asked: frozenset[str] = frozenset()
        self._looks: dict[int, tuple[str, float]] = {}
        self._outgoing: SimpleQueue[_Sent] = SimpleQueue()
        self._came: SimpleQueue[members.Heard] = SimpleQueue()
        self._done: SimpleQueue[members.Answer] = SimpleQueue()
        self._back: SimpleQueue[members.Answer] = SimpleQueue()
        self._waiting: dict[int, _Sent] = {}
        self._lost: SimpleQueue[_Sent] = SimpleQueue()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="members", daemon=True)

    def start(self) -> None:
        """Begin to tell the other processes and to hear them, in a thread of its own, three times a second."""
        self._thread.start()

    def stop(self) -> None:
        """Stop telling and hearing: this process leaves the others' rosters; waits 5 s at most for the thread."""
        self._stop.set()
        self._thread.join(5.0)

    # On the loop

    def far(self) -> list[FarPlace]:
        """The places that the other processes serve, as they told them last; empty while this one is alone."""
        return list(self._far.values())

    def place(self, number: str) -> FarPlace | None:
        """The place of this number at another process; None when none of them serves it."""
        return self._far.get(number)

    def look(self, page: int, number: str | None) -> None:
        """This page has chosen this place: whoever serves it tells more about it."""
        if number is not None and number in self._far:
            self._looks[page] = (number, time.monotonic())

    def look_at_all(self, page: int) -> None:
        """This page shows the whole class: the others tell how each of their runs stands."""
        self._looks[page] = (ALL, time.monotonic())

    def send(self, far: FarPlace, message: Message, who: Who, hear: Hear) -> None:
        """Say something to a run at another process; ``hear`` is told what came of it."""
        self._outgoing.put(_Sent(far.member, who.person, {**message, "seat": far.number}, hear, time.monotonic()))

    def send_all(self, message: Message, who: Who, hear: Hear) -> None:
        """Send a message to every run at every other process; ``hear`` gets what each of them answers."""
        for member in self._live:

            def heard(said: str, kind: str, member: str = member) -> None:
                hear(f"At {member}: {said}", kind)

            self._outgoing.put(_Sent(member, who.person, message, heard, time.monotonic()))

    def beat(self) -> None:
        """Carry out what came, tell what was answered, and note what there is to tell."""
        for word in drained(self._came):
            who = Who(word.person, word.name, word.role)
            number = word.message.get("seat")
            kind, said = self._do(word.message, who, None if number is None else str(number))
            self._done.put(members.Answer(word.number, kind, said))
        for answer in drained(self._back):
            sent = self._waiting.pop(answer.number, None)
            if sent is not None:
                sent.hear(answer.said, answer.kind)
        for sent in drained(self._lost):
            sent.hear("not done: the records cannot be reached, and with them the other server", "refused")
        now = time.monotonic()
        for number, sent in list(self._waiting.items()):
            if now - sent.at > ANSWER_S:
                del self._waiting[number]
                sent.hear(f"the server {sent.receiver} has not answered; look before you say it again", "refused")
        self._looks = {page: look for page, look in self._looks.items() if now - look[1] < 3.0}
        self._news = {
            "seats": [self._told(place) for place in self._places()],
            "looks": sorted({number for number, _ in self._looks.values()}),
        }

    def _told(self, place: Place) -> dict[str, object]:
        told: dict[str, object] = {
            "number": place.number,
            "name": place.name,
            "plant": place.plant,
            "away": place.away,
            "row": row_readings(place, None),
        }
        if place.number in self._asked:
            told["about"] = place_readings(place)
        if ALL in self._asked:
            told["card"] = self._glance(place)
        if isinstance(place.seat, CrewLead):
            told["crew"] = place.seat.offers()
        return told

    # In the thread

    def _run(self) -> None:
        away = False
        while not self._stop.wait(BEAT_S):
            try:
                self._turn()
                away = False
            except RecordsAwayError as error:
                self._alone(error if not away else None)
                away = True
            except Exception:
                self._alone(None)
                log.exception("the other servers could not be told")
        try:
            with self._records.work() as session:
                members.leave(session, self.name)
        except RecordsAwayError:
            log.debug("the records are away; the others see by themselves that this process is gone")

    def _alone(self, error: RecordsAwayError | None) -> None:
        if error is not None:
            log.warning("%s; the other servers are out of reach", error)
        self._far, self._live, self._seen = {}, (), {}
        for sent in drained(self._outgoing):
            # Said late it might do harm: it is not said at all.
            self._lost.put(sent)

    def _turn(self) -> None:
        self._beat += 1
        answers = list(drained(self._done))
        outgoing = list(drained(self._outgoing))
        try:
            with self._records.work() as session:
                members.tell(session, self.name, self._beat, self._news)
                members.answer(session, answers)
                numbered = [
                    (members.send(session, self.name, sent.receiver, sent.person, sent.message), sent)
                    for sent in outgoing
                ]
                came = members.take(session, self.name)
                back = members.answers(session, self.name)
                told = members.others(session, self.name)
                codes = logins.open_codes(session)
        except Exception:
            for answer in answers:
                self._done.put(answer)
            for sent in outgoing:
                self._lost.put(sent)
            raise
        self.codes, self.told = codes, True
        self._waiting |= dict(numbered)
        self._learn(told)
        for word in came:
            self._came.put(word)
        for answer in back:
            self._back.put(answer)

    def _learn(self, told: Mapping[str, tuple[int, dict[str, Any]]]) -> None:
        now = time.monotonic()
        for name, (beat, _) in told.items():
            if name not in self._seen or self._seen[name][0] != beat:
                self._seen[name] = (beat, now)
        live = {name: news for name, (_, news) in told.items() if now - self._seen[name][1] < GONE_S}
        far: dict[str, FarPlace] = {}
        for name, news in live.items():
            for seat in news["seats"]:
                place = _far(name, seat)
                if place.number not in far or far[place.number].away:
                    far[place.number] = place
        self._far, self._live = far, tuple(sorted(live))
        self._asked = frozenset(number for news in live.values() for number in news["looks"])


def _far(member: str, seat: Mapping[str, Any]) -> FarPlace:
    row: dict[str, Reading] = seat["row"]
    about: dict[str, Reading] = seat.get("about", {})
    card, crew = seat.get("card", {}), seat.get("crew", {})
    return FarPlace(member, seat["number"], seat["name"], seat["plant"], seat["away"], row, about, card, crew)


def drained(queue: SimpleQueue[T]) -> Iterable[T]:
    """Everything that is in a queue at this moment, first in first out, without waiting for more."""
    while True:
        try:
            yield queue.get_nowait()
        except Empty:
            return


def own_outbox(folder: Path, name: str | None) -> Path:
    """The folder of a process's outbox: of its own, so that two processes over one data folder write nothing twice.

    RecordsError for a name that is none.
    """
    if name is not None and not NAME.fullmatch(name):
        raise RecordsError(f"{name!r} is no name of a server process: small letters, digits, dashes, at most 20")
    return folder / "outbox" / name if name else folder / "outbox"
