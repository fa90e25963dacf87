"""A trainee's place in a classroom: the seat, who sits there, and what staff may do with it.

``ClassSeat`` is the console's seat with a journal under it and an instructor above it. What staff do shows on the
trainee's page at its next beat; nothing here knows of a page.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from trainer.classroom import journal as journals
from trainer.classroom.access import Who
from trainer.classroom.journal import Journal
from trainer.classroom.planned import Planned, Trigger
from trainer.classroom.ramps import Ramp
from trainer.classroom.room import corner, named, shown_together
from trainer.classroom.watch import WAITED, Watch
from trainer.console import debrief, guided
from trainer.console.boards import Boards
from trainer.console.message import Message
from trainer.console.presenter import Patch, Presenter, joined
from trainer.console.progress import Attempt
from trainer.console.reading import Reading
from trainer.console.rerun import cut
from trainer.console.run import Start
from trainer.console.seat import LONGEST_GAP, Seat
from trainer.console.skip import Skip
from trainer.console.told import Teller
from trainer.console.trends import History
from trainer.constants import HAIR, SCAN, TICKS_PER_SECOND
from trainer.drawing.markup import Markup, el
from trainer.drills.language import ExpressionError
from trainer.drills.lesson_plan import trigger
from trainer.drills.schema import Drill
from trainer.learn.standing import Assigned
from trainer.session.interventions import INSTRUCTOR
from trainer.simulator import Session
from trainer.wording import written

log = logging.getLogger("trainer.classroom")

MOST_REQUESTS = 20
MOST_TOLD = 50
LONGEST_TEXT = 500
MOST_SNAPSHOTS = 120
FROZEN = "The instructor has frozen the run; wait for the word to go on."
STANDS = "In a check only staff stop the clock, and its pace is fixed."
ASKED_CHECK = "A check is started or allowed by staff. Your request is on the instructor's desk."
ELSEWHERE = "A check of yours is under way on another page. Go on there first."
AWAY = "the server was away"
STUCK = "The server cannot write to its disk ({}). The run is frozen and continues when it can; no action is lost."
UNSAVED = "The run before is not saved yet ({}). It is tried again every second; start when the disk has room."
UNKEPT = "This run is not kept on disk: {}."
MINE = (
    "Download evidence gives a file that no one signed. The one to hand over, with name, date and this classroom's "
    "signature, is under My attempts, in the corner of the class."
)
CAUSE_KEPT = "Ended early: its evidence names what was wrong, and the next check may ask the same. Ask an assessor."
AGAIN_S = 0.5
"""So often a disk that took nothing is tried again."""
LEFT = "left by the trainee: the page was closed"


@dataclass
class Kept:
    """A snapshot to go back to."""

    tick: int
    label: str
    state: str

    @property
    def t(self) -> float:
        """When it was taken, s from the start of the run."""
        return self.tick / TICKS_PER_SECOND


@dataclass
class Request:
    """Something a trainee asks somebody to do."""

    number: int
    t: float
    text: str
    answer: str = ""
    """What staff made of it, as its trainee reads it: done, declined, answered; empty while it waits."""
    what: tuple[str, str, str] | None = None
    """The control that was asked for and where to (verb, target, value); None when the words name none."""

    @property
    def answered(self) -> bool:
        """Whether staff have done, declined or answered it: then it waits no longer."""
        return bool(self.answer)


@dataclass(frozen=True)
class Wish:
    """A check that a trainee asks to be allowed."""

    drill: str
    title: str
    message: Message


@dataclass
class Told:
    """What staff told a trainee."""

    t: float
    by: str
    text: str


@dataclass
class Talk:
    """What was said and noted beside a run."""

    requests: list[Request] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    notes: list[tuple[float, str, str]] = field(default_factory=list)
    did: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Before:
    """A practice run as it stood before staff ended it, began it again, or turned it back: the way back to there."""

    state: str
    drill: Drill | None
    title: str
    t: float
    """The time of the run, s."""
    history: History
    talk: Talk
    rewinds: int
    snapshots: Sequence[Kept]
    planned: Sequence[Planned]


@dataclass
class CrewDoor:
    """What the first page shows of the class's crews, and how somebody opens one or joins."""

    ask: Callable[[Message], Patch | str]
    """Open or join as a message of the page says; a sentence says why not."""
    section: Callable[[], Markup]
    """The drills for a crew."""
    open_now: Callable[[], Markup]
    """The crews that can be joined now."""
    version: Callable[[], int]
    """Counts what changes there."""


class ClassSeat(Seat):
    """A seat that keeps a journal, can be frozen and rewound, and hands its run in when it is over."""

    def __init__(self, start: Start, drills: Mapping[str, Drill], boards: Boards, journal: Journal) -> None:
        super().__init__(start, drills, boards)
        self.journal = journal
        self.who: Who | None = None
        self.frozen = False
        self.talk = Talk()
        self.rewinds = 0
        self.snapshots: list[Kept] = []
        self.ramps: list[Ramp] = []
        self.planned: list[Planned] = []
        """What is to happen to this run by itself; forgotten when another begins."""
        self.before: Before | None = None
        """What staff can take back: the run as it was before they changed it last."""
        self.hand_in: Callable[[ClassSeat], Callable[[], None] | None] = lambda seat: None
        self.recorded: Callable[[Who], list[Attempt]] = lambda who: []
        self.assigned_to: Callable[[Who], list[Assigned]] = lambda who: []
        self.busy: Callable[[], bool] = lambda: False
        """Whether this person is in a check at another seat: then nothing begins here, where a coach would help."""
        self.barred: Callable[[str], str | None] = lambda drill: None
        """Why the trainee here may not start this drill without staff; None where they may."""
        self.together: Callable[[], str] = lambda: ""
        """Whose debrief staff show to the whole class now, in words; empty for none."""
        self._together = ""
        self.crew_door: CrewDoor | None = None
        self._crews_seen = -1
        self._handed_in = True
        self.watch = Watch()
        self.wish: Wish | None = None
        self.stuck = ""
        """Why the disk takes nothing, while the run waits for it."""
        self._unwritten = 0.0
        self._owed: Callable[[], None] | None = None
        self.unsaved = ""
        """Why the run that is over is not saved yet."""
        self._allowed_by = self._ended_by = ""
        self._why = ("", "")
        self.looks_at = ""
        """The view that the trainee has in sight, as their page last said."""
        self.score: float | None = None
        """The score of the run that was handed in last."""
        self._anew = False
        self._turned = ""
        """Why this run has taken the place of another, where staff ended that."""
        self._stop = ""
        self._news: tuple[object, ...] = ()

    # What drives the seat

    def tick(self, elapsed: float) -> Patch:
        """As the console's seat, but a frozen clock stands, and what staff did shows, or show to the whole class."""
        together = "" if self.checked else self.together()
        patch = self._pass(elapsed)
        if together != self._together:
            self._together = together
            patch = joined(patch, {"room": {"readings": {"page.together": {"html": shown_together(together)}}}})
        return patch

    def _pass(self, elapsed: float) -> Patch:
        if self._stop:
            by, self._stop = self._stop, ""
            self.watch.ends(f"ended by {by}", by_staff=True)
            return self._finish()
        if self._anew:
            self._anew = False
            return self._dressed() if self._presenter is not None else self.first()
        if self.stuck:
            return self._try_again(elapsed)
        if self.page == "chooser":
            return self._crews_news()
        self._ramp()
        self._plan()
        if self._still(elapsed):
            return {}
        patch = super().tick(0.0 if self.frozen else elapsed)
        return patch if self._keep() else self._unconfirmed()

    def _try_again(self, elapsed: float) -> Patch:
        """A run that waits for the disk: it goes on, and shows everything, once all is written."""
        self._unwritten += elapsed
        if self._unwritten < AGAIN_S:
            return {}
        self._unwritten = 0.0
        if not self._keep():
            return self._unconfirmed()
        return self._dressed() if self._presenter is not None and self.page == "console" else self.first()

    def _unconfirmed(self) -> Patch:
        """What the page shows instead of an effect that is not on disk."""
        self._due = 0.0
        why: Reading = {"html": debrief.refusal(STUCK.format(self.stuck))}
        return {
            "messages": {"readings": {"page.refusal": why, "page.says": {"state": "refused"}}},
            "header": {"readings": {"page.pause": {"text": "Frozen"}, "page.running": {"state": "off"}}},
        }

    def _crews_news(self) -> Patch:
        """What has changed of the class's crews, for a first page that is open."""
        door = self.crew_door
        if door is None or door.version() == self._crews_seen:
            return {}
        self._crews_seen = door.version()
        return {"chooser": {"readings": {"page.crews": {"html": door.open_now()}}}}

    def crew_section(self) -> Markup | None:
        """The drills for a crew as markup; None where the place belongs to no class."""
        return self.crew_door.section() if self.crew_door is not None else None

    @property
    def persons(self) -> set[int]:
        """The numbers in the records of the people who sit here; none for a guest."""
        return {self.who.person} if self.who is not None else set()

    @property
    def checked(self) -> bool:
        """Whether a trainee's check is under way here: then the clock is the staff's."""
        return (
            self.mode == "check"
            and self.page == "console"
            and self.run is not None
            and self.who is not None
            and self.who.role == "trainee"
        )

    @property
    def under_way(self) -> bool:
        """Whether a run is under way here, which the start of another one would end."""
        return self.page == "console" and self.run is not None and not self._stop

    @property
    def ran(self) -> str:
        """The title of the drill that is run here, or that it is free practice."""
        return self.drill.title if self.drill is not None else "Free practice"

    @property
    def unbegun(self) -> bool:
        """Whether a run waits here for its trainee to press Begin."""
        return self.page == "console" and self.run is not None and not self._begun

    def _look_at_the_clock(self) -> None:
        """Tell the watch of a standstill that has begun or ended, whoever caused it."""
        if self.page != "console" or self.run is None or (not self._begun and self.mode != "check"):
            return
        waits = not self._begun and not self.frozen and not self.stuck
        stands = waits or self.frozen or self.paused or self._briefing or bool(self.stuck)
        if self.watch.standing and self.watch.waiting != waits:
            # The wait before Begin has its own cause, as what comes between or follows.
            self.watch.goes_on()
            self.journal.note(k="watch", watch=self.watch.record())
        if stands and not self.watch.standing:
            by, reason = self._why if self.frozen else (self.who.name if self.who else "the trainee", "paused")
            if waits:
                reason = WAITED
            if self.stuck:
                by, reason = "the server", f"the disk took nothing: {self.stuck}"
            self.watch.stands(self.run.time, by, reason)
            self.journal.note(k="watch", watch=self.watch.record())
        elif not stands and self.watch.standing:
            self.watch.goes_on()
            self.journal.note(k="watch", watch=self.watch.record())

    def _still(self, elapsed: float) -> bool:
        """Whether this beat brings no scan and nothing was said: a class of forty has no time to look twice."""
        news = (len(self.talk.told), len(self.talk.requests), self.frozen, self.paused, self._briefing, self.pace)
        if self.run is None or news != self._news or self.paused or self.frozen or self._skip is not None:
            self._news = news
            return False
        due = self._due + min(max(elapsed, 0.0), LONGEST_GAP) * self.pace
        if due >= SCAN - HAIR:
            return False
        self._due = due
        return True

    def _plan(self) -> None:
        """Let what is planned happen, where it is time."""
        run = self.run
        if isinstance(run, Session) and self.page == "console" and self.planned and not self.frozen:
            for one in self.planned:
                if one.done_at is None and one.trigger.due(run, self.drill):
                    one.do(run)

    def _ramp(self) -> None:
        run = self.run
        if not isinstance(run, Session) or not self.ramps:
            return
        for ramp in self.ramps:
            if ramp.waits is not None and ramp.waits.due(run, self.drill):
                ramp.waits, ramp.begin = None, run.time
            severity = ramp.due(run.time)
            if severity is not None:
                run.intervene("fault", ramp.fault, severity)
        self.ramps = [ramp for ramp in self.ramps if not ramp.over_at(run.time)]

    def skipped(self, wait: Skip) -> None:
        """Into the record, at its beginning and at its end, so that a crash in between hides nothing."""
        self.watch.skips_wait(wait.wait.title, wait.start, wait.run.time)
        self.journal.note(k="watch", watch=self.watch.record())

    def first(self) -> Patch:
        """As the console's seat, with the corner of the classroom for who has joined."""
        patch = super().first()
        self._together = ""
        if self._presenter is None and self.who is not None:
            patch["room"] = {"markup": corner(self.who.name, running=False)}
        if self._presenter is None and self.page == "chooser":
            self._crews_seen = -1
            patch = joined(patch, self._crews_news())
        return patch

    def handle(self, message: Message) -> Patch:
        """As the console's seat; what the message did is in the journal before the patch goes out."""
        page = message.get("page")
        if page == "looks":
            # For whoever watches; the run does not know of it.
            self.looks_at = str(message.get("value"))[:40]
            return {}
        if self.stuck and self.page == "console" and page not in ("units", "theme", "card", "hello"):
            return self._unconfirmed()
        if page is None and self.frozen and self.page == "console" and not self._lets_go(message):
            return self._refuse(FROZEN)
        if self.checked and (page == "pace" or (page == "pause" and not self.paused)):
            return self._refuse(STANDS)
        if self.checked and page == "pause" and self.frozen:
            return self._refuse(FROZEN)
        if page in ("crew-open", "crew-join"):
            return self._at_the_door(message)
        if page == "request":
            return self._request(str(message.get("text") or ""))
        if page == "evidence" and self.page != "sheet":
            # The sheet of a run that goes on would tell what no instrument shows.
            return {}
        patch = super().handle(message)
        return patch if self._keep() else self._unconfirmed()

    def _keep(self) -> bool:
        """Bring the journal up to the run; False, and the run is stuck, when the disk does not take it."""
        run = self.run
        if isinstance(run, Session) and self.page == "console":
            if not self.snapshots or run.tick - self.snapshots[-1].tick >= journals.SNAPSHOT_EVERY_TICKS:
                self.snapshot("")
            written = self.journal.keep(run)
            if not written and self.who is None:
                # One's own machine: practice goes on, and says that it is not kept.
                self._noted, written = UNKEPT.format(self.journal.trouble), True
            self.stuck = "" if written else self.journal.trouble or "it does not answer"
        else:
            self.stuck = ""
        self._look_at_the_clock()
        return not self.stuck

    def _begin(self, message: Message) -> Patch:
        drill = self.drills.get(str(message.get("drill") or ""))
        if message.get("mode") == "check" and drill is not None and not self._may_check():
            self.wish = Wish(drill.id, drill.title, dict(message))
            # On whichever page it was asked.
            return {**self._tell(ASKED_CHECK), "sheet": {"readings": {"page.working": {"text": ASKED_CHECK}}}}
        if self.unsaved:
            return self._tell(UNSAVED.format(self.unsaved))
        if self.busy():
            return self._tell(ELSEWHERE)
        if not self._allowed_by and (why := self.barred(str(message.get("drill") or ""))):
            return self._tell(why)
        before = self.run
        patch = super()._begin(message)
        if self.run is not before:
            self.begun()
        return patch

    def gives_way(self) -> str | None:
        """Hand in what is left for another run; the sentence why that has to wait, while the disk does not take it."""
        left = f"left by the {self.who.role if self.who else 'trainee'}"
        self.close(f"{f'ended by {self._ended_by}' if self._ended_by else left} for another run")
        return UNSAVED.format(self.unsaved) if self.unsaved else None

    def _may_check(self) -> bool:
        """Whether a check may begin here now: a trainee's only with the word of staff."""
        return bool(self._allowed_by) or self.who is None or self.who.role != "trainee"

    def begun(self) -> None:
        """A run has just begun in this seat."""
        self.talk, self.snapshots, self.rewinds, self.frozen = Talk(), [], 0, False
        self.ramps, self.planned, self.before = [], [], None
        self._handed_in, self._stop, self.wish, self._turned = False, "", None, ""
        self.watch = Watch(self._allowed_by)
        if self.mode == "check":
            self._origin = (
                f", started by {self._allowed_by}" if self._allowed_by else ", on your own: no one confirms it"
            )
        if isinstance(self.run, Session):
            who = {"person": self.who.person, "name": self.who.name, "role": self.who.role} if self.who else None
            self.journal.start(self.run, {"paused": self.paused, "who": who, "watch": self.watch.record()})
            self.snapshot("Start")

    def go_on(self, run: Session, history: History, said: str) -> Patch:
        """As the console's seat, with a journal of its own."""
        patch = super().go_on(run, history, said)
        self.begun()
        return patch

    def remarks(self) -> list[tuple[float, str]]:
        """The moments that staff noted in this run."""
        return [(t, f"{text} ({by})") for t, text, by in self.talk.notes]

    def past(self, kept: str) -> list[Attempt]:
        """The attempts before: a person's own from the records, a guest's from the browser."""
        return self.recorded(self.who) if self.who is not None else super().past(kept)

    def assigned(self) -> list[Assigned]:
        """What the records say is assigned to this person; nothing to a guest."""
        return self.assigned_to(self.who) if self.who is not None else []

    @property
    def ended_by_staff(self) -> bool:
        """Whether staff ended this run, with a reason that stands in the record."""
        return self.watch.by_staff

    def _hand_over(self, message: Message) -> Patch:
        """The evidence, but not of a check broken off by its trainee that would name the cause."""
        own = self.who is not None and self.who.role == "trainee" and not self.ended_by_staff
        sheet = self.run.sheet() if own and isinstance(self.run, Session) else None
        if sheet is not None and debrief.names_cause(sheet, self.mode, debrief.causes(self.drill)):
            return {"sheet": {"readings": {"page.working": {"text": CAUSE_KEPT}}}}
        return super()._hand_over(message)

    def keeps(self) -> bool:
        """A machine of the classroom is used by many: it keeps nothing of who is known."""
        return self.who is None

    def _over(self, run: Session) -> None:
        mine = self.who is not None and self.who.role == "trainee" and self.mode == "check"
        ended = f"How it ended: {self.watch.ending}. It is to sign: an assessor decides. " if self.watch.ending else ""
        self.about_evidence = f"{ended}{MINE}" if mine else ""
        super()._over(run)

    def _finish(self) -> Patch:
        over = self.run is not None and self.run.finished
        how = "the drill came to its end" if over else f"ended by the {self.who.role if self.who else 'trainee'}"
        if self.mode == "check" and self.run is not None and not self._handed_in:
            # The page says how it ended.
            self.watch.ends(how)
        patch = super()._finish()
        self.close(how)
        return patch

    def _leave(self, message: Message) -> Patch:
        self.close(f"left by the {self.who.role if self.who else 'trainee'}")
        return super()._leave(message)

    def leave_check(self, how: str) -> None:
        """A check whose page stays away is over; the page that comes back finds its sheet."""
        if self.checked:
            self.watch.ends(how)
            self._finish()
            self._anew = True

    def interventions(self) -> list[str]:
        """What others than the trainee did to the run, in plain words."""
        run = self.run
        if not isinstance(run, Session):
            return []
        deeds = Teller(run.machine, self.drill, "field").deeds(run.log)
        return [f"{debrief.clock(deed.t)} {deed.by}: {deed.text}" for deed in deeds if not deed.mine]

    def close(self, how: str = "left") -> None:
        """The run is over or left: it is handed in, once, with how it ended."""
        if self.run is None or self._handed_in:
            return
        self._handed_in = True
        self.watch.ends(how)
        if self.journal.overtaken:
            # Another process has taken this run up, and hands it in.
            return
        self.score = float(self.run.sheet().get("score", 0.0))
        self.stuck = ""
        self._owed = self.hand_in(self)
        self.settle()

    def settle(self) -> None:
        """Hand the run in that is over; what the disk does not take now is tried again by whoever attends the class."""
        if self._owed is not None:
            try:
                self._owed()
            except OSError as error:
                if not self.unsaved:
                    log.error("a run could not be handed in: %s", error)
                self.unsaved = error.strerror or str(error)
                return
        self._owed, self.unsaved = None, ""
        self.journal.end()

    def _at_the_door(self, message: Message) -> Patch:
        """Open a crew or join one, from the first page."""
        if self.crew_door is None or self.page != "chooser":
            return {}
        if self.unsaved:
            return self._tell(UNSAVED.format(self.unsaved))
        if self.busy():
            return self._tell(ELSEWHERE)
        answer = self.crew_door.ask(message)
        return self._tell(answer) if isinstance(answer, str) else answer

    # What a trainee says

    def _request(self, text: str) -> Patch:
        text = _line(text)
        if (
            text
            and self.run is not None
            and len([one for one in self.talk.requests if not one.answered]) < MOST_REQUESTS
        ):
            number = len(self.talk.requests) + 1
            self.talk.requests.append(Request(number, self.run.time, text, what=_named(self.run, text)))
            self._noted = f"Asked at {debrief.clock(self.run.time)}: {text}"
        return self._presenter.patch() if self._presenter else {}

    # What staff do

    def freeze(self, frozen: bool, by: str = INSTRUCTOR, reason: str = "") -> None:
        """Stop the clock for the trainee, with a reason for the record, or let it go on."""
        self.frozen, self._why = frozen, (by, reason or "frozen")
        self._look_at_the_clock()

    def scale(self, pace: float) -> None:
        """Let simulated time run faster or slower than the clock."""
        self.pace = pace
        if self._presenter is not None:
            self._presenter.history.pace = pace

    def point(self, t: float) -> str | None:
        """Lead the debrief here to a moment of the run, s; the sentence why not, if not."""
        if self.page not in ("sheet", "replay") or self.after is None:
            return "there is no debrief there yet: the run has to be over"
        self.handle({"page": "seek" if self.page == "replay" else "replay", "value": f"{t:g}"})
        self._anew = True
        return None

    def tell(self, by: str, text: str) -> None:
        """Say something to the trainee."""
        if text := _line(text):
            self.talk.told.append(Told(self.run.time if self.run else 0.0, by, text))
            del self.talk.told[:-MOST_TOLD]

    def note(self, by: str, text: str) -> None:
        """Mark this moment for the debrief."""
        if (text := _line(text)) and self.run is not None:
            # Not on the trainee's trends: what staff think of a moment is for afterwards.
            self.talk.notes.append((self.run.time, text, by))

    def begin_for(self, drill: str, mode: str, seed: int, by: str = "") -> str | None:
        """Start a drill for the trainee on the word of ``by``; the sentence why not, if not."""
        before, way_back = self.run, self._as_it_is()
        cut = f"{self.ran} ended at {debrief.clock(before.time)}. " if before is not None and self.under_way else ""
        self._allowed_by, self._ended_by = by, by or INSTRUCTOR
        try:
            self.handle({"page": "start", "drill": drill, "mode": mode, "seed": str(seed)})
        finally:
            self._allowed_by = self._ended_by = ""
        if self.run is before or self.run is None:
            stuck = STUCK.format(self.stuck) if self.stuck else ""
            return stuck or self._status or "the drill did not start"
        self.before = way_back
        if by and cut:
            self.tell(by, f"{cut}This one begins instead.")
            self._turned = f"{by}: {cut}This one begins instead."
        self._anew = True
        return None

    def put_in(self, run: Session, drill: Drill | None) -> None:
        """Go on with this run from now on, its clock standing until the trainee or the instructor lets it go."""
        way_back = self._as_it_is()
        self.close()
        self._take(run, drill)
        self.paused = False
        self.begun()
        self.before = way_back

    def _as_it_is(self) -> Before | None:
        """The practice run under way here, to come back to; None where there is none, and never of a check."""
        run = self.run
        if not isinstance(run, Session) or not self.under_way or self.mode == "check":
            return None
        history = self._presenter.history if self._presenter is not None else History()
        planned = [replace(one) for one in self.planned]
        state = journals.pack(run.snapshot())
        kept = list(self.snapshots)
        return Before(state, self.drill, self.ran, run.time, history, self.talk, self.rewinds, kept, planned)

    def take_back(self) -> str | None:
        """Go back to the run as it was before staff changed it last; the sentence why not, if not.

        What was handed in of it meanwhile stays in the records, and the run says that it was turned back."""
        before = self.before
        if before is None:
            return "there is nothing to take back"
        self.close("left for the run before")
        self._take(Session.restore(journals.unpack(before.state)), before.drill, before.history)
        self.paused = False
        self.begun()
        self.talk, self.rewinds = before.talk, before.rewinds + 1
        self.snapshots, self.planned = list(before.snapshots), list(before.planned)
        for _ in range(self.rewinds):
            self.journal.note(k="rewound")
        return None

    def take_up(self, kept: journals.Kept) -> None:
        """Go on with a run of an earlier process, its clock standing until the trainee resumes."""
        run = kept.session
        name = run.identity.drill
        self._take(run, self.drills.get(name) or guided.find(name) if name else None)
        self.paused, self._handed_in = not run.finished, False
        watched = kept.start.get("watch")
        for record in kept.notes:
            if record.get("k") == "rewound":
                self.rewinds += 1
            if record.get("k") == "watch":
                watched = record.get("watch")
        self.watch = Watch.taken_up(watched if isinstance(watched, dict) else {}, run.time, kept.away_s, AWAY)
        self.journal.take_up(kept)
        self.snapshot("Taken up")

    def _take(self, run: Session, drill: Drill | None, history: History | None = None) -> None:
        self.run, self.drill, self.plant, self.mode = run, drill, run.identity.plant, run.identity.mode
        self.page, self._briefing, self._reading, self._begun = "console", False, False, True
        self.after = None
        self._due, self._refused, self._ending, self._skip = 0.0, None, None, None
        self._noted = self._status = self._card = self._sheet = self._origin = ""
        self._presenter = Presenter(run, self.units, {}, self._texts, history or History())
        self._anew = True

    def rewind(self, kept: Kept) -> None:
        """Turn the clock back to a snapshot. What was done after it is gone, unless it is taken back, and the records
        say so."""
        self.before = self._as_it_is() or self.before
        run = Session.restore(journals.unpack(kept.state))
        self.ramps = []
        for one in self.planned:
            one.turned_back(run.time)
        old = self._presenter.history if self._presenter is not None else History()
        history = cut(old, run.time, run.machine.signals, self.units)
        history.happened, history.pace = old.happened, old.pace
        self.snapshots = [one for one in self.snapshots if one.tick <= kept.tick]
        self._take(run, self.drill, history)
        self.rewinds += 1
        self._handed_in = False
        self.journal.back(run)
        self.journal.note(k="rewound")

    def intervene(self, do: str, target: str, value: float | str | None, by: str) -> str | None:
        """Change something in the plant for the trainee; the sentence why not, if not. In the journal at once."""
        run = self.run
        if not isinstance(run, Session) or self.page != "console":
            return "nothing is running there"
        refusal = run.intervene(do, target, value, by)
        self._keep()
        return refusal

    def ramp(self, fault: str, severity: float, over: float, at: float | None = None, when: str = "") -> str | None:
        """Let a fault grow or fade to a severity within ``over`` simulated seconds, from ``at`` (s of the run) on, or
        from when a condition of the drill language holds.

        None: from now on. What has not begun is forgotten when the run ends or is turned back."""
        run = self.run
        if not isinstance(run, Session) or self.page != "console":
            return "nothing is running there"
        self.ramps = [one for one in self.ramps if one.fault != fault]
        first = run.machine.read(f"fault.{fault}") if fault in run.machine.faults else 0.0
        if when and fault in run.machine.faults:
            try:
                trigger(when, run.machine, self.drill)
            except ExpressionError as error:
                return str(error)
            self.ramps.append(Ramp.waiting(fault, first, severity, over, Trigger(when=when)))
            return None
        if at is not None and at > run.time:
            if fault not in run.machine.faults:
                return f"there is no fault {fault!r}"
            self.ramps.append(Ramp(fault, first, severity, at, over))
            return None
        if over <= 0.0:
            return self.intervene("fault", fault, severity, INSTRUCTOR)
        refusal = self.intervene("fault", fault, first, INSTRUCTOR)
        if refusal is None:
            self.ramps.append(Ramp(fault, first, severity, run.time, over, run.time))
        return refusal

    def reset(self) -> str | None:
        """Begin the same run again; a check never, since its variation is known by then."""
        identity = self.run.identity if isinstance(self.run, Session) else None
        if identity is None:
            return "nothing is running there"
        if identity.mode == "check":
            return "a check is not begun again: start a new one, which draws another variation"
        planned = [replace(one, done_at=None, refused="") for one in self.planned]
        refusal = self.begin_for(identity.drill or "", identity.mode, identity.seed)
        if refusal is None:
            # A lesson goes on in the run that begins again.
            self.planned = planned
        return refusal

    def stop(self, by: str = INSTRUCTOR) -> None:
        """End the run; the score sheet shows at the next beat."""
        self.before = self._as_it_is() or self.before
        self._stop = by if self.run is not None and self.page == "console" else ""

    def snapshot(self, label: str) -> None:
        """Keep the present moment to go back to; older ones thin out."""
        run = self.run
        if not isinstance(run, Session):
            return
        self.snapshots.append(Kept(run.tick, label or debrief.clock(run.time), journals.pack(run.snapshot())))
        if len(self.snapshots) > MOST_SNAPSHOTS:
            # Every other one of the older half, so that the whole run can still be gone back to.
            half = MOST_SNAPSHOTS // 2
            self.snapshots = self.snapshots[:half:2] + self.snapshots[half:]

    # What the page shows

    def _texts(self) -> dict[str, Reading]:
        texts = super()._texts()
        if texts:
            # In a check the clock and its pace are the staff's.
            texts["page.paced"] = {"state": "off" if self.checked else "on"}
            texts["page.crew"] = {"state": "off"}
        if texts and (self.frozen or self.stuck):
            texts["page.pause"] = {"text": "Frozen"}
            texts["page.running"] = {"state": "off"}
        told = self.talk.told[-1] if self.talk.told else None
        messages = self.run.referee.messages if self.run else None
        if texts and told is not None and (not messages or told.t >= messages[-1][0]):
            texts["page.told"] = {"text": f"{told.by}: {told.text}"}
        if texts and self.frozen and self._why[1] not in ("", "frozen"):
            by, reason = self._why
            texts["page.told"] = {"text": f"{by} stopped the clock: {reason}"}
        if texts:
            texts["page.room"] = {"html": self._room()}
        return texts

    def _situation(self) -> str:
        return "\n".join(filter(None, (self._turned, super()._situation())))

    def _room(self) -> Markup:
        told = [el("li", {}, el("strong", {}, f"{one.by}: "), one.text) for one in self.talk.told[-5:]]
        asked = [
            el("li", {}, f"{one.answer or f'Asked at {debrief.clock(one.t)}'}: {one.text}")
            for one in self.talk.requests[-5:]
        ]
        return el("ul", {}, told, asked)


def _named(run: Session, text: str) -> tuple[str, str, str] | None:
    """The control that a request names, in the very words that were offered."""
    folded = text.casefold()
    return next((what for words, what in named(run.machine).items() if words.casefold() == folded), None)


def _line(text: str) -> str:
    """One line of a sensible length, without control characters."""
    plain = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    return written(plain[:LONGEST_TEXT])
