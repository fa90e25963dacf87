"""A trainee's place in a classroom: the seat, who sits there, and what staff may do with it.

``ClassSeat`` is the console's seat with a journal under it and an instructor above it. What staff do shows on the
trainee's page at its next beat; nothing here knows of a page.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from trainer.classroom import journal as journals
from trainer.classroom.access import Who
from trainer.classroom.journal import Journal
from trainer.classroom.ramps import Ramp
from trainer.classroom.room import corner
from trainer.console import debrief
from trainer.console.boards import Boards
from trainer.console.presenter import Patch, Presenter
from trainer.console.progress import Attempt
from trainer.console.reading import Reading
from trainer.console.rerun import cut
from trainer.console.run import Run, Start
from trainer.console.seat import LONGEST_GAP, SCAN, Seat
from trainer.console.trends import History
from trainer.drawing.markup import Markup, el
from trainer.drills.schema import Drill
from trainer.session.interventions import INSTRUCTOR
from trainer.simulator import Session

log = logging.getLogger("trainer.classroom")

MOST_REQUESTS = 20
MOST_TOLD = 50
LONGEST_TEXT = 500
MOST_SNAPSHOTS = 120
FROZEN = "The instructor has frozen the run; wait for the word to go on."


@dataclass
class Kept:
    """A snapshot to go back to."""

    tick: int
    label: str
    state: str


@dataclass
class Request:
    """Something a trainee asks somebody to do."""

    number: int
    t: float
    text: str
    done: bool = False


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
        self.hand_in: Callable[[ClassSeat], None] = lambda seat: None
        self.recorded: Callable[[Who], list[Attempt]] = lambda who: []
        self._handed_in = True
        self.score: float | None = None
        """The score of the run that was handed in last."""
        self._anew = self._stop = False
        self._news: tuple[object, ...] = ()

    # What drives the seat

    def tick(self, elapsed: float) -> Patch:
        """As the console's seat, but a frozen clock stands, and what staff did shows."""
        if self._stop:
            self._stop = False
            return self._finish()
        if self._anew:
            self._anew = False
            return self._dressed() if self._presenter is not None else self.first()
        self._ramp()
        if self._still(elapsed):
            return {}
        patch = super().tick(0.0 if self.frozen else elapsed)
        self._keep()
        return patch

    def _still(self, elapsed: float) -> bool:
        """Whether this beat brings no scan and nothing was said: a class of forty has no time to look twice."""
        news = (len(self.talk.told), len(self.talk.requests), self.frozen, self.paused, self._briefing, self.pace)
        if self.run is None or news != self._news or self.paused or self.frozen:
            self._news = news
            return False
        due = self._due + min(max(elapsed, 0.0), LONGEST_GAP) * self.pace
        if due >= SCAN - 1e-9:
            return False
        self._due = due
        return True

    def _ramp(self) -> None:
        run = self.run
        if not isinstance(run, Session) or not self.ramps:
            return
        for ramp in self.ramps:
            severity = ramp.due(run.time)
            if severity is not None:
                run.intervene("fault", ramp.fault, severity)
        self.ramps = [ramp for ramp in self.ramps if not ramp.over_at(run.time)]

    def first(self) -> Patch:
        """As the console's seat, with the corner of the classroom for who has joined."""
        patch = super().first()
        if self._presenter is None and self.who is not None:
            patch["room"] = {"markup": corner(self.who.name, running=False)}
        return patch

    def handle(self, message: Mapping[str, Any]) -> Patch:
        """As the console's seat; what the message did is in the journal before the patch goes out."""
        page = message.get("page")
        if page is None and self.frozen and self.page == "console" and not self._lets_go(message):
            return self._refuse(FROZEN)
        if page == "request":
            return self._request(str(message.get("text") or ""))
        if page == "evidence" and self.page != "sheet":
            # The sheet of a run that goes on would tell what no instrument shows.
            return {}
        patch = super().handle(message)
        self._keep()
        return patch

    def _keep(self) -> None:
        run = self.run
        if isinstance(run, Session) and self.page == "console":
            if not self.snapshots or run.tick - self.snapshots[-1].tick >= journals.SNAPSHOT_EVERY_TICKS:
                self.snapshot("")
            self.journal.keep(run)

    def _begin(self, message: Mapping[str, Any]) -> Patch:
        before = self.run
        patch = super()._begin(message)
        if self.run is not before:
            self.begun()
        return patch

    def begun(self) -> None:
        """A run has just begun in this seat."""
        self.talk, self.snapshots, self.rewinds, self.frozen, self.ramps = Talk(), [], 0, False, []
        self._handed_in = self._stop = False
        if isinstance(self.run, Session):
            self.journal.start(self.run, {"paused": self.paused})
            self.snapshot("Start")

    def go_on(self, run: Run, history: History, said: str) -> Patch:
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

    def keeps(self) -> bool:
        """A machine of the classroom is used by many: it keeps nothing of who is known."""
        return self.who is None

    def _finish(self) -> Patch:
        patch = super()._finish()
        self.close()
        return patch

    def _leave(self, message: Mapping[str, Any]) -> Patch:
        self.close()
        return super()._leave(message)

    def close(self) -> None:
        """The run is over or left: it is handed in, once."""
        if self.run is None or self._handed_in:
            return
        self._handed_in = True
        if self.journal.overtaken:
            # Another process has taken this run up, and hands it in.
            return
        self.score = float(self.run.sheet().get("score", 0.0))
        try:
            self.hand_in(self)
        except (OSError, ValueError):
            # The journal stays, so that the run is not lost with the disk's trouble.
            log.exception("a run could not be handed in")
            return
        self.journal.end()

    # What a trainee says

    def _request(self, text: str) -> Patch:
        text = _line(text)
        if text and self.run is not None and len([one for one in self.talk.requests if not one.done]) < MOST_REQUESTS:
            number = len(self.talk.requests) + 1
            self.talk.requests.append(Request(number, self.run.time, text))
            self._noted = f"Asked: {text}"
        return self._presenter.patch() if self._presenter else {}

    # What staff do

    def freeze(self, frozen: bool) -> None:
        """Stop the clock for the trainee, or let it go on."""
        self.frozen = frozen

    def scale(self, pace: float) -> None:
        """Let simulated time run faster or slower than the clock."""
        self.pace = pace
        if self._presenter is not None:
            self._presenter.history.pace = pace

    def tell(self, by: str, text: str) -> None:
        """Say something to the trainee."""
        if text := _line(text):
            self.talk.told.append(Told(self.run.time if self.run else 0.0, by, text))
            del self.talk.told[:-MOST_TOLD]

    def note(self, by: str, text: str) -> None:
        """Mark this moment for the debrief."""
        if (text := _line(text)) and self.run is not None:
            self.talk.notes.append((self.run.time, text, by))
            if self._presenter is not None:
                self._presenter.history.mark(self.run.time, f"Note: {text}")

    def begin_for(self, drill: str, mode: str, seed: int) -> str | None:
        """Start a drill for the trainee; the sentence why not, if not."""
        before = self.run
        self.close()
        self.handle({"page": "start", "drill": drill, "mode": mode, "seed": str(seed)})
        if self.run is before or self.run is None:
            return self._status or "the drill did not start"
        self._anew = True
        return None

    def put_in(self, run: Session, drill: Drill | None) -> None:
        """Go on with this run from now on, its clock standing until the trainee or the instructor lets it go."""
        self._take(run, drill)
        self.paused = False
        self.begun()

    def take_up(self, kept: journals.Kept) -> None:
        """Go on with a run of an earlier process, its clock standing until the trainee resumes."""
        run = kept.session
        drill = self.drills.get(run.identity.drill) if run.identity.drill else None
        self._take(run, drill)
        self.paused, self._handed_in = not run.finished, False
        for record in kept.notes:
            if record.get("k") == "rewound":
                self.rewinds += 1
        self.journal.take_up(kept)
        self.snapshot("Taken up")

    def _take(self, run: Session, drill: Drill | None, history: History | None = None) -> None:
        self.run, self.drill, self.plant, self.mode = run, drill, run.identity.plant, run.identity.mode
        self.page, self._briefing, self._begun = "console", False, True
        self.after = None
        self._due, self._refused, self._ending = 0.0, None, None
        self._noted = self._status = self._card = self._sheet = self._origin = ""
        self._presenter = Presenter(run, self.units, {}, self._texts, history or History())
        self._anew = True

    def rewind(self, kept: Kept) -> None:
        """Turn the clock back to a snapshot. What was done after it is gone, and the records say so."""
        run = Session.restore(journals.unpack(kept.state))
        self.ramps = []
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

    def ramp(self, fault: str, severity: float, over: float) -> str | None:
        """Let a fault grow or fade to a severity within ``over`` simulated seconds."""
        run = self.run
        if not isinstance(run, Session) or self.page != "console":
            return "nothing is running there"
        self.ramps = [one for one in self.ramps if one.fault != fault]
        first = run.machine.read(f"fault.{fault}") if fault in run.machine.faults else 0.0
        if over <= 0.0:
            return self.intervene("fault", fault, severity, INSTRUCTOR)
        refusal = self.intervene("fault", fault, first, INSTRUCTOR)
        if refusal is None:
            self.ramps.append(Ramp(fault, first, severity, run.time, over, run.time))
        return refusal

    def reset(self) -> str | None:
        """Begin the same run again."""
        identity = self.run.identity if isinstance(self.run, Session) else None
        if identity is None:
            return "nothing is running there"
        return self.begin_for(identity.drill or "", identity.mode, identity.seed)

    def stop(self) -> None:
        """End the run; the score sheet shows at the next beat."""
        self._stop = self.run is not None and self.page == "console"

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
        if texts and self.frozen:
            texts["page.pause"] = {"text": "Frozen"}
            texts["page.running"] = {"state": "off"}
        told = self.talk.told[-1] if self.talk.told else None
        messages = getattr(self.run.referee, "messages", None) if self.run else None
        if texts and told is not None and (not messages or told.t >= messages[-1][0]):
            texts["page.told"] = {"text": f"{told.by}: {told.text}"}
        if texts:
            texts["page.room"] = {"html": self._room()}
        return texts

    def _room(self) -> Markup:
        told = [el("li", {}, el("strong", {}, f"{one.by}: "), one.text) for one in self.talk.told[-5:]]
        asked = [el("li", {}, f"{'Done' if one.done else 'Asked'}: {one.text}") for one in self.talk.requests[-5:]]
        return el("ul", {}, told, asked)


def _line(text: str) -> str:
    """One line of a sensible length, without control characters."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())[:LONGEST_TEXT]
