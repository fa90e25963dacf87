"""The instructor's desk: every message of the page, held against the rules and carried out on one place or all.

In a check the desk is restricted to what does not help or change the run: freeze, resume, end, note, and an
assistant's hand that the trainee asked for. Everything goes into the trail.
"""

from __future__ import annotations

import json
import logging
import secrets
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime

from trainer import naming, units
from trainer.classroom import skeleton
from trainer.classroom.access import Access, Who
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.members import Hear, Members
from trainer.classroom.place import Request
from trainer.classroom.roster import AnyPlace, FarPlace, Place, merged
from trainer.classroom.starts import StartError, Starts, built_in, practice
from trainer.console import debrief, shell
from trainer.console.chooser import SEED_LIMIT
from trainer.console.message import Message
from trainer.console.told import Teller
from trainer.constants import HAIR
from trainer.drills.lesson_plan import in_words
from trainer.drills.schema import DrillError
from trainer.records import logins
from trainer.records.database import RecordsAwayError
from trainer.records.outbox import Outbox
from trainer.records.tables import Person
from trainer.session.interventions import ASSISTANT, INSTRUCTOR
from trainer.simulator import PlantError, Session
from trainer.wording import written

log = logging.getLogger("trainer.classroom")

#: What an instructor may do while somebody is being checked.
IN_A_CHECK = ("freeze", "resume", "end", "note", "grant", "decline", "answer", "select", "start")
#: What an assessor may do: start, allow, stop, end and note a check, and nothing that changes a run.
OF_ASSESSORS = ("start", "allow", "freeze", "resume", "end", "note")

#: The well and the weather: variables that an instructor may set, where the plant has them.
CHANGES: tuple[tuple[str, str], ...] = (
    ("well.formation_pressure", "Formation pressure at the bottom"),
    ("well.pit_volume", "Mud in the pits"),
    ("ambient.surface", "Air temperature"),
    ("ambient.sea", "Sea temperature"),
    ("weather.wind_from", "Wind from"),
)
#: What takes something from a run that is under way: it is done only once somebody has agreed.
LOSES = ("reset", "back", "rewind", "end")
WAY_BACK = "Take it back leads back to this moment, until another run begins there."
MOST_LATELY = 8
LONGEST_RAMP = 3600.0
LONGEST_RUN = 86_400.0
LONGEST_CONDITION = 300
LONGEST_REASON = 300
DONE = "Done"


class RefusedError(Exception):
    """Something the desk does not do; one sentence."""


class CutsShortError(RefusedError):
    """What would end a run that is under way; the sentence says what is lost. ``cut`` in a message agrees to it."""


class InstructorControls:
    """Carries out what an instructor says. ``chosen`` is the place that single-place messages are about."""

    def __init__(self, rooms: ClassRooms, access: Access, outbox: Outbox, starts: Starts) -> None:
        self.rooms = rooms
        self.access = access
        self.outbox = outbox
        self.starts = starts
        self.codes: dict[str, str] = {}
        """The codes that are open by the name of their class."""
        self.draw: Callable[[str, str], int] = lambda person, drill: secrets.randbelow(SEED_LIMIT)
        """A variation for a person's check of a drill that was not theirs before."""
        self.lately: deque[str] = deque(maxlen=MOST_LATELY)
        """What staff did last at this server, in words, the latest first: one sees what another does."""
        self.members: Members | None = None
        """The other server processes, where there are any."""
        self._acts: dict[str, Callable[[Place, Mapping[str, object], Who], str]] = {
            "freeze": self._freeze,
            "resume": self._resume,
            "pace": self._pace,
            "rewind": self._rewind,
            "back": self._back,
            "reset": self._reset,
            "undo": self._undo,
            "end": self._end,
            "start": self._start,
            "allow": self._allow,
            "start_from": self._start_from,
            "save_start": self._save_start,
            "delete_start": self._delete_start,
            "together": self._together,
            "point": self._point,
            "tell": self._tell,
            "note": self._note,
            "fault": self._fault,
            "clear": self._clear,
            "put": self._put,
            "operate": self._operate,
            "grant": self._grant,
            "decline": self._decline,
            "answer": self._answer,
            "skeleton": self._skeleton,
        }

    def look_up_codes(self) -> None:
        """Find the class codes that are open, if the records can tell."""
        with self.access.records.look() as session:
            self.codes = logins.open_codes(session)

    def places(self) -> list[AnyPlace]:
        """Everybody, at this process and others, by name."""
        return merged(self.rooms.places(), self.members.far() if self.members is not None else [])

    def place(self, number: str | None) -> AnyPlace | None:
        """The place of this number, wherever it is served."""
        if number is None:
            return None
        here = self.rooms.place(number)
        far = self.members.place(number) if self.members is not None else None
        return far if far is not None and (here is None or (here.away and not far.away)) else here

    def do(self, message: Message, who: Who, chosen: str | None, hear: Hear | None = None) -> str | None:
        """Carry out a message; a sentence about what was done. RefusedError with the reason why not.

        What another process has to do is sent there: then None, and ``hear`` is told later what came of it.
        """
        deed = str(message.get("page"))
        if not who.staff or (who.role != "instructor" and deed not in OF_ASSESSORS):
            raise RefusedError("only an instructor does that")
        if deed in ("open_class", "close_class"):
            title = message.get("title")
            return self._class(deed == "open_class", who, None if title is None else logins.class_title(str(title)))
        act = self._acts.get(deed)
        if act is None:
            raise RefusedError(f"this desk does not know {deed[:40]!r}")
        if message.get("to") == "all":
            if self.members is not None and hear is not None:
                self.members.send_all(message, who, hear)
            return self._all(deed, act, message, who)
        place = self.place(chosen)
        if place is None:
            raise RefusedError("choose a trainee in the roster first")
        if isinstance(place, FarPlace):
            if self.members is None or hear is None:
                raise RefusedError("this run has moved to another server; try again")
            self.members.send(place, message, who, hear)
            return None
        return self._one(deed, act, place, message, who)

    def carry_out(self, message: Message, who: Who, number: str | None) -> tuple[str, str]:
        """A word that came from another process: (done or refused, sentence)."""
        if number is None and message.get("to") != "all":
            return "refused", "no one was chosen"
        try:
            return "done", str(self.do(message, who, number))
        except CutsShortError as error:
            return "asks", str(error)
        except RefusedError as error:
            return "refused", str(error)
        except Exception:
            log.exception("a word from another server could not be carried out")
            return "refused", "something went wrong; the reason is in that server's log"

    def _all(
        self, deed: str, act: Callable[[Place, Mapping[str, object], Who], str], message: Message, who: Who
    ) -> str:
        done, refused = 0, []
        if deed in ("start", "start_from", *LOSES) and message.get("cut") is not True:
            ends = [lost(one, deed) for one in self.rooms.places() if one.seat.under_way and not one.seat.checked]
            if ends:
                raise CutsShortError("\n".join(ends))
        for place in self.rooms.places():
            try:
                self._one(deed, act, place, message, who)
                done += 1
            except RefusedError as error:
                refused.append(f"{place.name}: {error}")
        if refused and not done:
            raise RefusedError("; ".join(refused[:3]))
        said = f"{deed.capitalize()}: done for {done}" + (f"; not for {'; '.join(refused[:3])}" if refused else "")
        unread = [place.name for place in self.rooms.places() if place.seat.unbegun] if deed == "resume" else []
        return f"{said}. {has_not_begun(unread)}" if unread else said

    def _one(
        self,
        deed: str,
        act: Callable[[Place, Mapping[str, object], Who], str],
        place: Place,
        message: Message,
        who: Who,
    ) -> str:
        checked = place.seat.mode == "check" and place.seat.page == "console" and place.run is not None
        asked = deed == "operate" and message.get("by") == ASSISTANT
        detail = {key: value for key, value in message.items() if key not in ("page", "to")}
        if checked and deed not in IN_A_CHECK and not asked:
            self._trail(who, f"refused: {deed}", place, detail)
            raise RefusedError("a check is under way: the desk neither helps nor changes anything until it is over")
        if deed in LOSES and message.get("cut") is not True and place.seat.under_way and not checked:
            raise CutsShortError(lost(place, deed))
        try:
            said = act(place, message, who)
        except (StartError, DrillError, PlantError) as error:
            raise RefusedError(str(error).splitlines()[0]) from error
        self._trail(who, deed, place, detail)
        if deed not in ("skeleton", "note"):
            self.lately.appendleft(f"{datetime.now(UTC):%H:%M:%S} UTC, {who.name}: {said}")
        return said

    def _trail(self, who: Who, deed: str, place: Place, detail: Mapping[str, object]) -> None:
        at = f" at {debrief.clock(place.run.time)}" if place.run is not None else ""
        self.outbox.log(who.name, who.role, deed, f"{place.name}{at}", json.dumps(detail)[:2000] if detail else "")

    @staticmethod
    def _asked(place: Place, what: tuple[str, str, str]) -> Request:
        """The request for this very control and position that waits; RefusedError when there is none."""
        waiting = [one for one in place.seat.talk.requests if not one.answered]
        for request in waiting:
            if request.what == what:
                return request
        if near := next((one for one in waiting if one.what is not None and one.what[:2] == what[:2]), None):
            raise RefusedError(f"not requested so: the request is {near.text!r}")
        raise RefusedError("the trainee has not requested that; only a requested control is operated as asked")

    def _class(self, opened: bool, who: Who, title: str | None) -> str:
        """Open a class by its name, or close it; without a name, all are closed."""
        try:
            with self.access.records.work() as session:
                person = session.get(Person, who.person)
                if person is None:
                    raise RefusedError("you are no longer in the records")
                code = ""
                if opened:
                    code = logins.open_class(session, person, title or "")
                else:
                    logins.close_class(session, title)
                self.codes = logins.open_codes(session)
        except RecordsAwayError as error:
            raise RefusedError(str(error)) from error
        self.outbox.log(who.name, who.role, "class opened" if opened else "class closed", title or "")
        name = f" {title}" if title else ""
        if opened:
            return f"Trainees join the class{name} with {code}"
        return f"The class{name} is closed: no one can join it any more" if self.codes else "No one can join any more"

    # What can be done

    def _freeze(self, place: Place, message: Message, who: Who) -> str:
        reason = " ".join(str(message.get("reason") or "").split())[:LONGEST_REASON]
        if place.seat.checked and not reason:
            raise RefusedError("in a check the clock is stopped for a reason, which stands in the record: enter it")
        place.seat.freeze(True, who.name, reason)
        return f"{place.name}: frozen"

    def _resume(self, place: Place, _: Message, who: Who) -> str:
        place.seat.freeze(False)
        place.seat.paused = False
        return f"{place.name}: goes on" + (f". {has_not_begun([place.name])}" if place.seat.unbegun else "")

    def _pace(self, place: Place, message: Message, who: Who) -> str:
        value = str(message.get("value"))
        if value not in shell.PACES:
            raise RefusedError(f"the pace is one of {', '.join(shell.PACES)}")
        place.seat.scale(float(value))
        return f"{place.name}: {value} times as fast as the clock"

    def _rewind(self, place: Place, message: Message, who: Who) -> str:
        tick = str(message.get("tick"))
        kept = next((one for one in place.seat.snapshots if str(one.tick) == tick), None)
        if kept is None:
            raise RefusedError("there is no snapshot of that moment")
        place.seat.rewind(kept)
        return f"{place.name}: back at {debrief.clock(kept.t)}"

    def _back(self, place: Place, message: Message, who: Who) -> str:
        seconds = _number(message.get("value"), 0.0, 36_000.0, "time")
        before = self._run(place).time - seconds
        kept = [one for one in place.seat.snapshots if one.t <= max(before, 0.0) + HAIR]
        if not kept:
            raise RefusedError("there is no snapshot of that moment")
        place.seat.rewind(kept[-1])
        return f"{place.name}: back at {debrief.clock(kept[-1].t)}"

    def _reset(self, place: Place, _: Message, who: Who) -> str:
        self._told(place.seat.reset())
        return f"{place.name}: begins again"

    def _undo(self, place: Place, _: Message, who: Who) -> str:
        self._told(place.seat.take_back())
        return f"{place.name}: back in {place.seat.ran} at {debrief.clock(self._run(place).time)}"

    def _end(self, place: Place, message: Message, who: Who) -> str:
        if place.run is None or place.seat.page != "console":
            raise RefusedError("nothing is running there")
        if place.seat.checked and message.get("to") == "all":
            raise RefusedError("a check is ended by itself: choose it, and enter the reason")
        reason = " ".join(str(message.get("reason") or "").split())[:LONGEST_REASON]
        if place.seat.checked and not reason:
            raise RefusedError("a check is ended for a reason, which stands in the record: enter it")
        place.seat.stop(f"{who.name}: {reason}" if reason else who.name)
        return f"{place.name}: the run ends"

    def _start(self, place: Place, message: Message, who: Who) -> str:
        seed = str(message.get("seed") or "0").strip()
        if not seed.isascii() or not seed.isdigit() or len(seed) > 9:
            raise RefusedError("the seed is a whole number, such as 7")
        drill = str(message.get("drill") or "")
        if message.get("mode") == "check" or who.role != "instructor":
            return self._check(place, drill, message, who)
        self._free(place, message)
        self._told(place.seat.begin_for(drill, "practice", int(seed), who.name))
        return f"{place.name}: {place.seat.ran} started"

    def _allow(self, place: Place, message: Message, who: Who) -> str:
        wish = place.seat.wish
        if wish is None:
            raise RefusedError("no check is requested there")
        return self._check(place, wish.drill, message, who)

    def _check(self, place: Place, drill: str, message: Message, who: Who) -> str:
        """Start a check: its variation is drawn here, whatever anybody asked for."""
        if drill not in self.rooms.drills:
            raise RefusedError("a check is of a drill: choose one")
        self._free(place, message)
        seed = self.draw(place.seat.who.name if place.seat.who else "", drill)
        self._told(place.seat.begin_for(drill, "check", seed, who.name))
        return f"{place.name}: the check {place.seat.ran} waits for Begin"

    @staticmethod
    def _free(place: Place, message: Message) -> None:
        """A check goes on until it is ended; another run is cut short only with that word."""
        if place.seat.checked:
            raise RefusedError("a check is under way there: end it first, with a reason")
        if place.seat.under_way and message.get("cut") is not True:
            raise CutsShortError(lost(place))

    def _start_from(self, place: Place, message: Message, who: Who) -> str:
        name = str(message.get("start") or "")
        self._free(place, message)
        if name.startswith("saved:"):
            run = self.starts.run(name.removeprefix("saved:"))
        else:
            run = practice(str(message.get("plant") or place.seat.plant)[:80], name)
        self.rooms.start_for(place, run)
        return f"{place.name}: begins from {starting_point(name)}"

    def _save_start(self, place: Place, message: Message, who: Who) -> str:
        name = str(message.get("name") or "").strip()
        self.starts.save(name, self._run(place))
        return f"Saved as {name}"

    def _delete_start(self, place: Place, message: Message, who: Who) -> str:
        name = str(message.get("start") or "").removeprefix("saved:")
        if name not in self.starts.saved():
            raise RefusedError("there is no saved state of that name")
        self.starts.delete(name)
        return f"{name}: deleted"

    def _together(self, place: Place, message: Message, who: Who) -> str:
        """Show this run or debrief on every trainee's page, or with ``off`` none any more."""
        if message.get("off") is True:
            self.rooms.together = ""
            return "Nothing is shown on the trainees' pages any more"
        if place.seat.checked:
            raise RefusedError("a check is under way there: it is shown to no one")
        self.rooms.together = place.number
        return f"{place.name}: {place.seat.ran} is shown on every trainee's page, but in a check"

    def _point(self, place: Place, message: Message, who: Who) -> str:
        t = _number(message.get("value"), 0.0, LONGEST_RUN, "time")
        self._told(place.seat.point(t))
        return f"{place.name}: the debrief is at {debrief.clock(t)}"

    def _tell(self, place: Place, message: Message, who: Who) -> str:
        place.seat.tell(who.name, str(message.get("text") or ""))
        return f"{place.name}: told"

    def _note(self, place: Place, message: Message, who: Who) -> str:
        self._run(place)
        place.seat.note(who.name, str(message.get("text") or "Marked"))
        return f"{place.name}: noted"

    def _fault(self, place: Place, message: Message, who: Who) -> str:
        severity = _number(message.get("severity"), 0.0, 100.0, "severity") / 100.0
        over = _number(message.get("over") or 0.0, 0.0, LONGEST_RAMP, "time")
        fault = str(message.get("fault"))
        given = message.get("at")
        at = None if given is None else _number(given, 0.0, LONGEST_RUN, "time")
        if at is not None and place.run is not None and at <= place.run.time:
            now = debrief.clock(place.run.time)
            raise RefusedError(f"{debrief.clock(at)} has passed, the run is at {now}: leave the time empty for now")
        when = str(message.get("when") or "").strip()[:LONGEST_CONDITION]
        self._told(place.seat.ramp(fault, severity, over, at, when))
        within = (f" in {over:g} s" if over else "") + ("" if at is None else f" from {debrief.clock(at)} on")
        if when:
            within += f", when {in_words(when, self._run(place).machine, place.seat.drill)}"
        return f"{place.name}: {_fault_words(place, fault)} to {100.0 * severity:g} %{within}"

    def _clear(self, place: Place, message: Message, who: Who) -> str:
        fault = str(message.get("fault"))
        self._told(place.seat.ramp(fault, 0.0, 0.0))
        return f"{place.name}: {_fault_words(place, fault)} cleared"

    def _put(self, place: Place, message: Message, who: Who) -> str:
        variable = str(message.get("variable"))
        signal = self._run(place).machine.signals.get(variable)
        if variable not in dict(CHANGES) or signal is None:
            raise RefusedError("that cannot be set from here")
        value = _number(message.get("value"), signal.low, signal.high, "value", signal.unit)
        self._told(place.seat.intervene("put", variable, value, INSTRUCTOR))
        return written(f"{place.name}: {dict(CHANGES)[variable]}: {value:g} {units.symbol(signal.unit)}".rstrip())

    def _operate(self, place: Place, message: Message, who: Who) -> str:
        do, _, target = str(message.get("what")).partition(" ")
        operable = self._run(place).machine.operables.get((do, target))
        if operable is None:
            raise RefusedError("the plant has no such control")
        value: float | str | None = str(message.get("value") or "").strip() or None
        if value is not None and not (operable.values and isinstance(operable.values[0], str)):
            value = _number(value, -1e9, 1e9, "value", operable.unit)
        by = ASSISTANT if message.get("by") == ASSISTANT else INSTRUCTOR
        request = self._asked(place, (do, target, str(value or ""))) if by == ASSISTANT else None
        self._told(place.seat.intervene(do, target, value, by))
        if request is not None:
            request.answer = DONE
            return f"{place.name}: done as asked: {request.text}"
        return f"{place.name}: {Teller(self._run(place).machine, place.seat.drill, 'field').words(do, target, value)}"

    def _grant(self, place: Place, message: Message, who: Who) -> str:
        """Do what a request asks for, with an assistant's hand."""
        request = self._waiting(place, message)
        if request.what is None:
            raise RefusedError(f"{request.text!r} names no control: answer it, or operate the control yourself")
        do, target, value = request.what
        self._told(place.seat.intervene(do, target, value or None, ASSISTANT))
        request.answer = DONE
        return f"{place.name}: done as asked: {request.text}"

    def _decline(self, place: Place, message: Message, who: Who) -> str:
        request = self._waiting(place, message)
        request.answer = self._answered("Declined", place, message, who)
        return f"{place.name}: declined: {request.text}"

    def _answer(self, place: Place, message: Message, who: Who) -> str:
        request = self._waiting(place, message)
        if request.what is not None:
            raise RefusedError("nothing was operated: do it, or decline it")
        request.answer = self._answered("Answered", place, message, who)
        return f"{place.name}: answered: {request.text}"

    @staticmethod
    def _answered(verb: str, place: Place, message: Message, who: Who) -> str:
        """What the trainee reads of an answer, with the word that goes with it."""
        word = " ".join(str(message.get("text") or "").split())[:LONGEST_REASON]
        if word and place.seat.checked:
            raise RefusedError("in a check staff say nothing to the trainee: leave the word out")
        return f"{verb} by {who.name}, “{word}”" if word else verb

    @staticmethod
    def _waiting(place: Place, message: Message) -> Request:
        """The request of this number that waits; RefusedError when there is none."""
        for request in place.seat.talk.requests:
            if str(request.number) == str(message.get("number")):
                if request.answered:
                    raise RefusedError(f"{request.text!r} was answered already")
                return request
        raise RefusedError("there is no such request")

    def _skeleton(self, place: Place, message: Message, who: Who) -> str:
        return skeleton.build(self._run(place), str(message.get("name") or "").strip()[:80] or "New drill")

    # Helpers

    @staticmethod
    def _run(place: Place) -> Session:
        if not isinstance(place.run, Session):
            raise RefusedError("nothing is running there")
        return place.run

    @staticmethod
    def _told(refusal: str | None) -> None:
        if refusal is not None:
            raise RefusedError(refusal)

    def starting_points(self, place: AnyPlace | None) -> list[tuple[str, str]]:
        """(value, words) of every starting point: the plant's own and those saved."""
        machine = place.machine if place is not None else None
        own = built_in(machine) if machine is not None else []
        return [
            *((name, naming.title(name)) for name in own),
            *((f"saved:{name}", f"Saved: {name}") for name in self.starts.saved()),
        ]


def lost(place: Place, deed: str = "start") -> str:
    """What is lost when this is done to the run at this place, in words."""
    seat, run = place.seat, place.run
    at = debrief.clock(run.time) if run is not None else ""
    if deed in ("back", "rewind"):
        return f"{place.name}: {seat.ran} at {at}. What was done since then is taken from it. {WAY_BACK}"
    if deed == "reset":
        return f"{place.name}: {seat.ran} at {at}. It begins again at 0:00. {WAY_BACK}"
    return would_end(place.name, seat.ran, at, None)


def has_not_begun(names: Sequence[str]) -> str:
    """Who still reads the situation, in words: their clocks wait until they press Begin."""
    return f"Begin is not pressed yet by {', '.join(names)}."


def would_end(name: str, drill: str, clock: str, score: float | None) -> str:
    """What is lost of somebody's run when another is started, in words; ``score`` in points, None where not judged."""
    points = "" if score is None else f", {score:.0f} points so far"
    return (
        f"{name}: {drill} at {clock}{points}. It ends there. Under Attempts it is kept as it stands; a guest's run "
        f"is not kept. {WAY_BACK}"
    )


def starting_point(name: str) -> str:
    """A starting point in words: a saved one as it was called, one of the plant's own by its title."""
    return name.removeprefix("saved:") if name.startswith("saved:") else naming.title(name)


def _fault_words(place: Place, fault: str) -> str:
    known = place.machine.faults.get(fault) if place.machine is not None else None
    return known.title if known is not None else fault


def _number(given: object, low: float, high: float, what: str, unit: str = "") -> float:
    """A number from the page, in ``unit``; text may carry another unit of its kind, as ``414 bar`` for psi."""
    text = str(given).strip()
    value: float | None
    try:
        value = float(text)
    except ValueError:
        value = _converted(text, unit)
    if value is None:
        raise RefusedError(f"the {what} is a number, not {text[:20]!r}")
    if not low <= value <= high:
        raise RefusedError(written(f"the {what} is from {low:g} to {high:g} {unit}".rstrip()))
    return value


def _converted(text: str, unit: str) -> float | None:
    """A quantity with a unit of its own, in ``unit``; None when it is none of that kind."""
    try:
        return units.to_unit(units.edge_value(text, unit), unit) if unit in units.UNITS else None
    except ValueError:
        return None
