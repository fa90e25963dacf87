"""The run of a crew: one seat that nobody looks at, with the run, its journal and its clock, and the crew's members.

Staff see it as one place of the class, and do with it what they do with any run. Its members look at it and act on it
from seats of their own (``crew_seat.py``).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields

from trainer.classroom import journal as journals
from trainer.classroom.access import Who
from trainer.classroom.journal import Journal
from trainer.classroom.place import ClassSeat
from trainer.console.boards import Boards
from trainer.console.crew_board import CrewRow
from trainer.console.presenter import Patch
from trainer.console.run import Start
from trainer.drills.partners import Partners
from trainer.drills.schema import Drill
from trainer.session.evidence import CrewList, Manning
from trainer.simulator import Session
from trainer.wording import worded

CREW = 0
"""The number of no person: a crew is several."""
CREW_SAYS = "Crew"
MOST_CHANGES = 900
"""So often stations may change hands in a run; its evidence lists each change."""


@dataclass
class Member:
    """Who has a post: the number of the place that the member came from, and who that is."""

    post: str
    number: str
    name: str
    role: str
    person: int = CREW
    """Number in the records; ``CREW`` for a guest."""
    ready: bool = False
    """Whether the briefing has been read."""
    away: bool = True
    """Whether no page of the member's is open."""
    left_at: float | None = None
    """Since when, by the clock of the class, s; None for one who is here, or of an earlier process."""


MEMBER = frozenset(one.name for one in fields(Member))
"""What is kept of a member; what another version kept beside it is passed over."""


class CrewLead(ClassSeat):
    """A seat that several people share; posts that no person has are played by the computer."""

    def __init__(
        self,
        start: Start,
        drills: Mapping[str, Drill],
        boards: Boards,
        journal: Journal,
        number: str,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(start, drills, boards, journal)
        self.number = number
        self.members: dict[str, Member] = {}
        self.manning: list[Manning] = []
        self.version = 0
        """Counts changes of the crew: who looks at it draws the list again."""
        self.holder = ""
        """The post whose hand is on a lever."""
        self._clock = clock
        self._beat = clock()
        self._partners: Partners | None = None
        self._heard = 0
        """So many calls stand among the messages already."""
        self._named()

    # The crew

    @property
    def posts(self) -> list[str]:
        """The ids of every post of the drill, in the order of its file."""
        return [post.id for post in self.drill.post] if self.drill is not None else []

    @property
    def unmanned(self) -> list[str]:
        """The posts that no person has: the computer plays them once the clock goes."""
        return [post for post in self.posts if post not in self.members]

    @property
    def persons(self) -> set[int]:
        """The numbers of the people in the crew; guests have none and are left out."""
        return {member.person for member in self.members.values() if member.person != CREW}

    @property
    def unready(self) -> list[Member]:
        """The members who still read the briefing; the clock waits for them."""
        return [member for member in self.members.values() if not member.ready]

    def rows(self) -> list[CrewRow]:
        """The crew list: each post with who is there, in the order of the drill's file."""
        found = []
        for post in self.drill.post if self.drill is not None else ():
            member = self.members.get(post.id)
            if member is None:
                found.append(CrewRow(post.id, post.title))
            else:
                found.append(CrewRow(post.id, post.title, member.name, not member.ready, member.away))
        return found

    def offers(self) -> dict[str, str]:
        """The crew as the other processes of a class show it: drill, who is there, free stations and class, in words.

        A crew that cannot be joined any more has the class alone.
        """
        told = {"joined": self.who.joined if self.who is not None else ""}
        drill = self.drill
        if drill is None or self.page != "console" or not self.unmanned:
            return told
        there = [f"{row.title}: {row.name}" for row in self.rows() if row.name]
        free = [row.title for row in self.rows() if not row.name]
        return {**told, "drill": drill.title, "there": ", ".join(there), "free": ", ".join(free)}

    def join(self, member: Member) -> str | None:
        """Give a post to somebody; the sentence why not, if another has it."""
        taken = self.members.get(member.post)
        if member.post not in self.posts:
            return "There is no such station in this crew."
        if taken is not None and taken.number != member.number:
            return f"{taken.name} has that station already. Choose another."
        if self.page != "console" or self.run is None:
            return "This crew's run is over."
        if len(self.manning) >= MOST_CHANGES:
            return "This crew has changed its stations too often. Open another crew."
        member.ready = member.ready or self._begun
        self.members[member.post] = member
        self._man(member.post, member.name, member.role)
        return None

    def lost(self, post: str) -> None:
        """A member has been away for long: the computer takes the post, and the others are told so."""
        member = self.members.get(post)
        if member is not None:
            self.tell(
                CREW_SAYS, f"{member.name} has been away for long. The computer has the station until it is joined."
            )

    def part(self, post: str) -> None:
        """A member leaves a post: the computer plays it from now on, and no lever stays held."""
        if self.members.pop(post, None) is not None and self.page == "console":
            if self.holder == post:
                self._let_go()
            self._man(post, "", "")

    def _man(self, post: str, name: str, role: str) -> None:
        tick = self.run.tick if self.run is not None else 0
        if self.manning and self.manning[-1].post == post and self.manning[-1].tick == tick:
            self.manning.pop()
        else:
            self.manning = [one for one in self.manning if (one.post, one.tick) != (post, tick)]
        self.manning.append(Manning(post=post, name=name, role=role, tick=tick))
        self._changed()

    def _changed(self) -> None:
        self.version += 1
        self._named()
        self.journal.note(k="crew", **self._crew_record())

    def _crew_record(self) -> dict[str, object]:
        return {
            "members": [asdict(member) for member in self.members.values()],
            "manning": [one.model_dump() for one in self.manning],
        }

    def _named(self) -> None:
        """Staff see the crew under the names of its members."""
        names = ", ".join(member.name for member in self.members.values())
        joined = self.who.joined if self.who is not None else ""
        self.who = Who(CREW, f"Crew: {names}" if names else "Crew: computer", "trainee", joined=joined)

    def crew_list(self, post: str = "") -> CrewList:
        """Who was at which post, for the evidence; ``post`` is whose copy it is."""
        manned = {one.post for one in self.manning}
        rest = [Manning(post=one) for one in self.posts if one not in manned]
        return CrewList(post=post, people=[*self.manning, *rest])

    def ready(self, post: str) -> None:
        """A member has read the briefing; the clock starts once all have."""
        member = self.members.get(post)
        if member is not None and not member.ready:
            member.ready = True
            self._changed()
        if not self._begun and not self.unready:
            self.handle({"page": "begin"})

    # The clock

    def drive(self) -> None:
        """Let the time pass that has passed on the wall since the last look, whoever of the crew looks."""
        if self.page == "console" and not self._begun and self.members and not self.unready:
            # Whoever was still reading has left: nobody is waited for any more.
            self.handle({"page": "begin"})
        now = self._clock()
        elapsed, self._beat = now - self._beat, now
        self.tick(elapsed)

    def tick(self, elapsed: float) -> Patch:
        """As any seat of the class, and the computer plays the posts that no person has."""
        patch = super().tick(elapsed)
        run = self.run
        if isinstance(run, Session) and self.page == "console" and self._goes and not run.finished:
            if self._partners is None or self._partners.session is not run:
                self._partners = Partners(run)
            before = len(run.log)
            self._partners.play(self.unmanned)
            if len(run.log) > before:
                self._keep()
            self._listen(run)
        return patch

    def _listen(self, run: Session) -> None:
        """Put the calls of the crew among the messages, for whoever watches or looks back."""
        crew = run.crewing
        if crew is None:
            return
        for one in crew.line[self._heard :]:
            words = worded("{0}: “{1}”", crew.title(one.to), crew.calls[one.call].words(one.figure))
            self._talk.add(one.t, crew.title(one.by), words)
        self._heard = len(crew.line)

    @property
    def _goes(self) -> bool:
        return not (self.paused or self._briefing or self.frozen or self.stuck)

    # What staff do

    def begin_for(self, drill: str, mode: str, seed: int, by: str = "") -> str | None:
        """Start a drill for the crew; the sentence why not, if not: one for one person alone is none for a crew."""
        if drill not in self.drills:
            return "a crew runs drills for a crew only: end its run under Crews, then start another drill for each"
        return super().begin_for(drill, mode, seed, by)

    # What a seat does with a page, which nobody has here

    def _dressed(self) -> Patch:
        return {}

    def first(self) -> Patch:
        """An empty patch: no page shows this seat, only those of its members."""
        return {}

    def begun(self) -> None:
        """The run begins: everybody at a post reads the briefing first."""
        super().begun()
        self._partners = None
        for member in self.members.values():
            member.ready = self._begun
        self._heard = 0
        self.manning = [Manning(post=one.post, name=one.name, role=one.role) for one in self.members.values()]
        self.journal.note(k="crew", number=self.number, **self._crew_record())
        self.version += 1

    def take_up(self, kept: journals.Kept) -> None:
        """Go on with the crew's run of an earlier process; its members are away until they come back."""
        noted = [one for one in kept.notes if one.get("k") == "crew"]
        record = noted[-1] if noted else {}
        self.members = {
            one["post"]: Member(**{**{key: one[key] for key in MEMBER & one.keys()}, "away": True, "left_at": None})
            for one in record.get("members", ())
            if isinstance(one, dict)
        }
        self.manning = [Manning.model_validate(one) for one in record.get("manning", ())]
        super().take_up(kept)
        self._named()
