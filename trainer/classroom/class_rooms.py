"""All places of a classroom: found by a tab's token and its person, taken up again after a crash, handed in."""

from __future__ import annotations

import hashlib
import json
import logging
import time
import uuid
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.classroom import journal as journals
from trainer.classroom.access import Who
from trainer.classroom.crew_lead import CrewLead
from trainer.classroom.crew_seat import CrewSeat
from trainer.classroom.crews import Crews
from trainer.classroom.journal import Journal
from trainer.classroom.place import LEFT, ClassSeat
from trainer.classroom.recorded import RecordedSeat
from trainer.classroom.room import ClassBoards
from trainer.classroom.rooms import MOST_SEATS, Rooms, drills_now, fitted_plants, shipped_seat
from trainer.classroom.roster import Place
from trainer.classroom.starts import StartError
from trainer.console.progress import Attempt
from trainer.console.run import Start
from trainer.console.seat import Seat
from trainer.drills import library
from trainer.drills.schema import Drill
from trainer.learn.standing import Assigned
from trainer.records.attempts import Arrival
from trainer.session import evidence, signing
from trainer.simulator import Session

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

log = logging.getLogger("trainer.classroom")

LEFT_S = 60.0
"""So long a check goes on without its page; then it has been left."""
RETURN_S = 900.0
"""So long a check that stood still when the server ended waits for its trainee."""
SEARCH_S = 60.0
MOST_OF_ONE = 6
"""So many seats one person has: a seat a tab."""
NO_ROOM = "ended by the server: too many other seats were taken"
NOT_BACK = "broken off: the server was away and the trainee did not come back"


class ClassRooms(Rooms):
    """Places by token *and* person: whoever learns another's token still sits at a place of their own."""

    def __init__(
        self,
        journals_in: Path | None,
        hand_in: Callable[[Arrival], None],
        start: Start | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__()
        shipped = shipped_seat()
        self.drills: dict[str, Drill] = dict(shipped.drills)
        self.start: Start = start or _start
        self._boards = shipped.boards
        self._folder = journals_in
        if journals_in is not None:
            journals_in.mkdir(parents=True, exist_ok=True, mode=0o700)
            journals.tidy(journals_in)
        self._arrive = hand_in
        self._clock = clock
        self._attended = clock()
        self._searched = -SEARCH_S
        self.key: Ed25519PrivateKey | None = signing.configured_key()
        """The key that the classroom signs with; None where it has none."""
        self.recorded: Callable[[Who], list[Attempt]] = lambda who: []
        self.assigned_to: Callable[[Who], list[Assigned]] = lambda who: []
        self._places: dict[str, Place] = {}
        self.barred: Callable[[Who, str], str | None] = lambda who, drill: None
        """Why a trainee may not start a drill without staff, by the rule of their class; None where they may."""
        self.together = ""
        """The place whose run or debrief every trainee's page shows now, by number; empty for none."""
        self.crews = Crews(self._places, self.start, self._boards, journals_in)
        self.crews.hand_in = self._hand_in_crew
        self.crews.take_up()

    # What a live page uses

    def take(self, token: str, page: object) -> Seat:
        """The seat of this tab and person; a new one, or one taken up from its journal, if there is none."""
        who: Who | None = getattr(page, "who", None)
        number = place_number(token, who)
        place = self._places.pop(number, None)
        if place is not None and place.seat.journal.overtaken:
            # The run went on at another process meanwhile: what this one remembers is old.
            place = None
        if place is None:
            self._make_room()
            self._make_room_of(who)
            place = self._new(number, who)
        place.page, place.left_at = page, None
        self._places[number] = place  # moved to the end: taken most recently
        self.crews.back(place)
        return place.seat

    def look_back(self, document: evidence.Evidence, whose: str, notes: Sequence[tuple[float, str]]) -> Seat:
        """A seat in which staff look back on an attempt that was kept; ValueError when it cannot be run here."""
        return RecordedSeat(self.start, self.drills, self._boards, document, whose, notes)

    def holds(self, seat: Seat, page: object) -> bool:
        """Whether ``page`` is the one that drives ``seat``."""
        return any(place.page is page for place in self._places.values() if place.seat is seat)

    def leave(self, seat: Seat, page: object) -> None:
        """The page is gone; the seat stays for when it comes back."""
        for place in self._places.values():
            if place.seat is seat and place.page is page:
                place.page, place.left_at = None, self._clock()

    def attend(self) -> None:
        """Once a second: a check goes on while nobody looks at it, and is over when its page stays away.

        Nobody wins time for thinking by closing the page, and nobody leaves a spoilt check without a trace.
        """
        now = self._clock()
        elapsed, self._attended = now - self._attended, now
        self.crews.attend(now)
        if now - self._searched >= SEARCH_S:
            self._searched = now
            self._break_off()
            # Another process over the same data folder may have taken one in.
            self.look_up_drills()
        for place in list(self._places.values()):
            seat = place.seat
            if seat.unsaved:
                seat.settle()
            if place.page is not None or not seat.checked:
                continue
            if place.left_at is None:
                place.left_at = now
            stood = seat.paused
            away = now - place.left_at
            if away >= (RETURN_S if stood else LEFT_S):
                seat.leave_check(NOT_BACK if stood else LEFT)
            elif not stood:
                try:
                    seat.tick(elapsed)
                except Exception:
                    log.exception("a check whose page is away could not go on")

    def _break_off(self) -> None:
        """Hand in the checks of earlier processes that nobody came back to, and keep alive those that stand here."""
        if self._folder is None:
            return
        for path in sorted(self._folder.glob("*.jsonl")):
            place = self._places.get(path.stem)
            try:
                if place is not None:
                    path.touch()
                elif time.time() - path.stat().st_mtime >= RETURN_S and (who := journals.holder_of_check(path)):
                    place = self._new(path.stem, Who(who["person"], who["name"], who["role"]))
                    place.seat.leave_check(NOT_BACK)
            except (OSError, KeyError, TypeError, ValueError) as error:
                log.warning("the journal %s could not be looked at: %s", path.name, error)

    def _make_room(self) -> None:
        """Give up the place left longest when there are too many; never one with a check."""
        if len(self._places) >= MOST_SEATS:
            self._give_up(place for place in self._places.values() if place.page is None)

    def _make_room_of(self, who: Who | None) -> None:
        """The same when one person has too many; one that is looked at, if need be."""
        own = [place for place in self._places.values() if who is not None and place.seat.who == who]
        if len(own) >= MOST_OF_ONE:
            self._give_up(sorted(own, key=lambda place: place.page is not None))

    def _give_up(self, places: Iterable[Place]) -> None:
        # A member of a crew goes with the crew.
        kept = (CrewLead, CrewSeat)
        place = next((one for one in places if not one.seat.checked and not isinstance(one.seat, kept)), None)
        if place is not None:
            del self._places[place.number]
            place.seat.close(NO_ROOM)

    # What staff use

    def places(self) -> list[Place]:
        """Every place, by name: a crew is one place, whoever is in it."""
        shown = [place for place in self._places.values() if not isinstance(place.seat, CrewSeat)]
        return sorted(shown, key=lambda place: (place.name.casefold(), place.number))

    def place(self, number: str) -> Place | None:
        """The place of this number."""
        return self._places.get(number)

    def checks(self, person: int) -> bool:
        """Whether a check of this person's is under way in this process."""
        return any(place.seat.checked and person in place.seat.persons for place in self.places())

    def start_for(self, place: Place, run: Session) -> None:
        """Put a run that was built elsewhere into a place; StartError for a crew, whose stations it does not have."""
        if isinstance(place.seat, CrewLead):
            raise StartError("a crew begins its own drills only: end its run under Crews first")
        place.seat.put_in(run, self.drills.get(run.identity.drill) if run.identity.drill else None)

    def look_up_drills(self) -> None:
        """Offer the drills there are now, at every place."""
        found = drills_now(self.drills)
        if found != self.drills:
            # The same dictionary in every seat.
            self.drills.clear()
            self.drills.update(found)

    def forget_drawings(self, plant: str) -> None:
        """A plant file was written anew: its boards are drawn again for the next run."""
        self._boards.forget(plant)

    def close(self) -> None:
        """The server ends: journals stay, so that the next one takes the runs up."""
        for place in self._places.values():
            run = place.seat.run
            if isinstance(run, Session) and place.seat.page == "console":
                place.seat.journal.keep(run, snapshot=True)

    # Inside

    def _new(self, number: str, who: Who | None) -> Place:
        path = self._folder / f"{number}.jsonl" if self._folder is not None else None
        name = who.name if who else None
        seat = ClassSeat(self.start, self.drills, ClassBoards(name, self._boards), Journal(path))
        seat.who, seat.hand_in, seat.recorded = who, self._hand_in, self.recorded
        seat.assigned_to = self.assigned_to
        seat.busy = lambda: self._in_a_check(seat)
        seat.barred = lambda drill: self.barred(who, drill) if who is not None and who.role == "trainee" else None
        seat.together = lambda: self._shown_to(seat)
        seat.crew_door = self.crews.door(number)
        seat.fitted, seat.plans = fitted_plants, who is None or who.role != "trainee"
        if path is not None and path.exists():
            kept = journals.read(path)
            if kept is not None:
                seat.take_up(kept)
        return Place(number, seat)

    def _shown_to(self, seat: ClassSeat) -> str:
        """What is shown to this seat's trainee beside their own page, in words: never their own run."""
        place = self.shared()
        return f"{place.name}, {place.seat.ran}" if place is not None and place.seat is not seat else ""

    def shared(self) -> Place | None:
        """The place that staff show to the whole class now; None for none, and while a check is under way there."""
        place = self._places.get(self.together)
        return place if place is not None and not place.seat.checked else None

    def _in_a_check(self, seat: ClassSeat) -> bool:
        """Whether the trainee of this seat is in a check at another one."""
        who = seat.who
        others = [place.seat for place in self._places.values() if place.seat is not seat and place.seat.checked]
        return who is not None and any(who.person in other.persons for other in others)

    def _hand_in(self, seat: ClassSeat) -> Callable[[], None] | None:
        """What hands in the run that is over, as it is now; None for one that is nobody's attempt."""
        run = seat.run
        # A guest's run belongs to nobody, and one in which nobody did anything is no attempt.
        if seat.who is None or not isinstance(run, Session) or run.identity.drill is None or run.tick == 0:
            return None
        if run.identity.drill in library.guided():
            return None
        arrival = self._arrival(seat, run, seat.who.name, seat.who.role)
        return lambda: self._arrive(arrival)

    def _hand_in_crew(self, seat: ClassSeat) -> Callable[[], None] | None:
        """What hands in a crew's run: a copy for each member known by name, who was at a post to the end or before."""
        run = seat.run
        if not isinstance(seat, CrewLead) or not isinstance(run, Session) or run.tick == 0:
            return None
        posts = {one.name: one for one in seat.manning if one.name and one.role}
        arrivals = [self._arrival(seat, run, one.name, one.role, seat.crew_list(one.post)) for one in posts.values()]

        def all_arrive() -> None:
            # One that arrived stays so when the disk fills before the next: its key is known.
            for arrival in arrivals:
                self._arrive(arrival)

        return all_arrive if arrivals else None

    def _arrival(
        self, seat: ClassSeat, run: Session, name: str, role: str, crew: evidence.CrewList | None = None
    ) -> Arrival:
        """A run that is over, with its evidence in the name of one person, on its way into the records."""
        now = datetime.now(UTC)
        document = evidence.make(
            run,
            name=name,
            role=role,
            date=now.isoformat(timespec="seconds"),
            key=self.key,
            custody=seat.watch.custody(seat.rewinds, seat.interventions()),
            crew=crew,
        )
        return Arrival(
            key=uuid.uuid4().hex,
            evidence=json.dumps(document.record(), ensure_ascii=False),
            person=name,
            at=now,
            rewinds=seat.rewinds,
            notes=list(seat.talk.notes),
        )


def place_number(token: str, who: Who | None) -> str:
    """The number of a place: tells neither token nor person."""
    return hashlib.sha256(f"{token}:{who.person if who else ''}".encode()).hexdigest()[:20]


def _start(drill: str | None, plant: str | None, seed: int, mode: str) -> Session:
    return Session.start(drill, plant=plant, seed=seed, mode=mode)
