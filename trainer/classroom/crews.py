"""The crews of a class: who opens one, who joins which station, and what becomes of a crew that is left."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Protocol, cast

from trainer.classroom import journal as journals
from trainer.classroom.access import Who
from trainer.classroom.crew_lead import CREW, CrewLead, Member
from trainer.classroom.crew_seat import CrewBoards, CrewSeat
from trainer.classroom.journal import Journal
from trainer.classroom.place import ClassSeat, CrewDoor
from trainer.classroom.roster import FarPlace, Place
from trainer.console.boards import Boards
from trainer.console.crew_board import COMPUTER
from trainer.console.message import Message
from trainer.console.presenter import Patch
from trainer.console.run import Start
from trainer.console.shell import button
from trainer.drawing.markup import Markup, el, join
from trainer.drills import library
from trainer.drills.schema import Drill, DrillError

log = logging.getLogger("trainer.classroom")

MOST_CREWS = 40
"""So many crews run in one process at a time."""
AWAY_S = 60.0
"""A member whose page stays away so long, s, gives the post to the computer. As long as a check waits."""
GONE = "This crew's run is over or has been closed. Open another."


class Shows(Protocol):
    """A page of the class that can be turned from one seat to another."""

    seat: object


def crew_drills() -> dict[str, Drill]:
    """The drills for several people by id; a file that is wrong is left out, and the log says so."""
    found = {}
    for name, path in sorted(library.crewed().items()):
        try:
            found[name] = library.load_file(path)
        except DrillError as error:
            log.warning("left out: %s", error)
    return found


class Crews:
    """Every crew of this process. ``places`` are all places of the class by number: those of crews are among them."""

    def __init__(self, places: dict[str, Place], start: Start, boards: Boards, folder: Path | None) -> None:
        self._places, self._start, self._boards, self._folder = places, start, boards, folder
        self.drills = crew_drills()
        self.hand_in: Callable[[ClassSeat], Callable[[], None] | None] = lambda seat: None
        self.version = 0
        """Counts what is to be seen of crews on the first page."""
        self.far: Callable[[], Sequence[FarPlace]] = lambda: ()
        """What the other processes of the class serve."""
        self._far_crews: list[FarPlace] = []

    def leads(self) -> Iterator[CrewLead]:
        """Every crew of this process, in the order in which they were opened."""
        return (place.seat for place in self._places.values() if isinstance(place.seat, CrewLead))

    def find(self, number: str) -> CrewLead | None:
        """The crew of this number; None when there is none, or none any more."""
        place = self._places.get(number)
        return place.seat if place is not None and isinstance(place.seat, CrewLead) else None

    # Opening and joining

    def begin(self, drill: str, mode: str, seed: int, by: str = "", joined: str = "") -> CrewLead | str:
        """Open a crew's run, its clock standing until each briefing is read; the sentence why not, if not."""
        if drill not in self.drills:
            return "There is no such drill for a crew."
        if len(list(self.leads())) >= MOST_CREWS:
            return f"{MOST_CREWS} crews are open already. Close one first."
        lead = self._new(secrets.token_hex(10))
        lead.who = Who(CREW, "Crew", "trainee", joined=joined)
        refused = lead.begin_for(drill, mode, seed, by)
        if refused is not None:
            return refused
        self._places[lead.number] = Place(lead.number, lead)
        self.version += 1
        return lead

    def _new(self, number: str) -> CrewLead:
        path = self._folder / f"{number}.jsonl" if self._folder is not None else None
        lead = CrewLead(self._start, self.drills, self._boards, Journal(path), number)
        lead.hand_in = self.hand_in
        return lead

    def join(self, place: Place, lead: CrewLead, post: str) -> str | None:
        """Give somebody a post and turn their page to it; the sentence why not, if not."""
        own = place.seat
        if isinstance(own, CrewLead | CrewSeat) or own.under_way:
            return f"{place.name} is in a run already."
        who = own.who
        member = Member(
            post,
            place.number,
            place.name,
            who.role if who is not None else "",
            who.person if who is not None else CREW,
            away=place.page is None,
        )
        refused = lead.join(member)
        if refused is None:
            if who is not None and lead.who is not None and not lead.who.joined:
                # A crew that staff opened is of the class of whom they put there first.
                lead.who = replace(lead.who, joined=who.joined)
            self._turn(place, self._seat(lead, post, own))
        return refused

    def _seat(self, lead: CrewLead, post: str, own: ClassSeat) -> CrewSeat:
        name = own.who.name if own.who is not None else None
        return CrewSeat(lead, post, CrewBoards(name, self._boards, lead, post), own, self.leave)

    def _turn(self, place: Place, seat: ClassSeat) -> None:
        place.seat = seat
        if place.page is not None:
            cast(Shows, place.page).seat = seat
            seat._anew = True
        self.version += 1

    def leave(self, seat: CrewSeat) -> Patch:
        """A member goes back to the own seat; the first page shows. A crew that nobody is left of is over."""
        seat.lead.part(seat.post)
        place = next((place for place in self._places.values() if place.seat is seat), None)
        own = seat.home
        own.attempts, own.units, own.language, own.theme = seat.attempts, seat.units, seat.language, seat.theme
        if place is not None:
            self._turn(place, own)
        self._close_if_left(seat.lead)
        return own.first()

    def send_home(self, lead: CrewLead, post: str, keep: bool = False) -> None:
        """Take a member off a post on the word of staff; ``keep``: the crew stays, even with nobody left."""
        member = lead.members.get(post)
        place = self._places.get(member.number) if member is not None else None
        seat = place.seat if place is not None else None
        lead.part(post)
        if place is not None and isinstance(seat, CrewSeat) and seat.lead is lead:
            self._turn(place, seat.home)
        if not keep:
            self._close_if_left(lead)

    def _close_if_left(self, lead: CrewLead) -> None:
        if lead.members:
            return
        lead.close("left by every member of the crew")
        if lead.number in self._places:
            del self._places[lead.number]
        self.version += 1

    def back(self, place: Place) -> None:
        """Somebody who came back after the server was away finds the own post again."""
        if isinstance(place.seat, CrewLead | CrewSeat):
            return
        for lead in self.leads():
            for post, member in lead.members.items():
                if member.number == place.number:
                    self._turn(place, self._seat(lead, post, place.seat))
                    return

    def take_up(self) -> None:
        """Go on with the crews of an earlier process, their clocks standing until a member resumes."""
        for path in sorted(self._folder.glob("*.jsonl")) if self._folder is not None else ():
            try:
                kept = journals.read(path) if _of_a_crew(path) else None
            except OSError as error:
                log.warning("the journal %s could not be looked at: %s", path.name, error)
                continue
            if kept is not None:
                lead = self._new(path.stem)
                lead.take_up(kept)
                self._places[lead.number] = Place(lead.number, lead)

    def attend(self, now: float) -> None:
        """Note which members look at their pages, at ``now`` s: a crew is there as long as one of them is.

        Who stays away while others are there leaves the post to the computer, and can join again.
        """
        for lead in list(self.leads()):
            for member in lead.members.values():
                place = self._places.get(member.number)
                open_page = place is not None and place.page is not None
                member.left_at = None if open_page else now if member.left_at is None else member.left_at
                if member.away == open_page:
                    member.away = not open_page
                    lead.version += 1
            here = any(not member.away for member in lead.members.values())
            for member in list(lead.members.values()) if here and lead.page == "console" else ():
                if member.left_at is not None and now - member.left_at >= AWAY_S:
                    lead.lost(member.post)
                    self.send_home(lead, member.post, keep=True)
            place = self._places[lead.number]
            place.page = lead if here else None
            if here:
                place.left_at = None
            if lead.page != "console" and not lead.members:
                del self._places[lead.number]

    # What a trainee's first page shows

    def door(self, number: str) -> CrewDoor:
        """What the first page at a place shows of the crews, and how who sits there opens one or joins."""
        return CrewDoor(
            lambda message: self._ask(number, message),
            self.section,
            lambda: self.open_now(self._places.get(number)),
            self._count,
        )

    def _count(self) -> int:
        """The version, one higher when the crews at other processes have changed."""
        crews = [one for one in self.far() if one.crew.get("drill")]
        if [one.crew for one in crews] != [one.crew for one in self._far_crews]:
            self.version += 1
        self._far_crews = crews
        return self.version

    def _ask(self, number: str, message: Message) -> Patch | str:
        place = self._places.get(number)
        if place is None:
            return GONE
        post = str(message.get("post") or "")
        if message.get("page") == "crew-open":
            drill = self.drills.get(str(message.get("drill")))
            if drill is None or post not in [one.id for one in drill.post]:
                return "There is no such station."
            joined = place.seat.who.joined if place.seat.who is not None else ""
            opened = self.begin(drill.id, "practice", secrets.randbelow(10_000), joined=joined)
            if isinstance(opened, str):
                return opened
            lead: CrewLead | None = opened
        else:
            lead = self.find(str(message.get("crew")))
        if lead is None or lead.page != "console" or not _of_one_class(place, lead):
            return GONE
        refused = self.join(place, lead, post)
        return refused if refused is not None else place.seat.first()

    def open_now(self, place: Place | None = None) -> Markup:
        """The crews with a free station, each station to join by one press; empty markup for none.

        place: who looks, who is shown the crews of the own class only.
        """
        open_crews = [lead for lead in self.leads() if lead.page == "console" and lead.run and lead.unmanned]
        rows = [_open_row(lead) for lead in open_crews if place is None or _of_one_class(place, lead)]
        rows += [_far_row(one) for one in self._far_crews if one.crew["joined"] in ("", _class_of(place))]
        if not rows:
            return Markup("")
        return el(
            "section", {"class": "crews-open", "aria-label": "Open crews"}, el("h2", {}, "Open crews"), join(*rows)
        )

    def section(self) -> Markup:
        """The drills for a crew, each station to open one at by one press."""
        return el(
            "details",
            {"class": "crews choose-fold"},
            el("summary", {"class": "choose-group"}, el("h2", {}, "Crew drills")),
            el(
                "p",
                {},
                "Several people share one run, each at a station. Choose your station to open a crew; others then join "
                "it from this page. The computer plays the stations that are left.",
            ),
            el("ul", {"class": "choose-list"}, [_tile(drill) for drill in self.drills.values()]),
        )


def _tile(drill: Drill) -> Markup:
    presses = [
        button(
            post.title,
            {"page": "crew-open", "drill": drill.id, "post": post.id},
            aria_label=f"Open {drill.title} as {post.title}",
        )
        for post in drill.post
    ]
    return el(
        "li",
        {"class": "tile"},
        el("h3", {}, drill.title),
        el("p", {"class": "fill"}, drill.purpose),
        el("div", {"class": "drill-start"}, presses),
    )


def _open_row(lead: CrewLead) -> Markup:
    drill = lead.drill
    assert drill is not None
    titles: Mapping[str, str] = {post.id: post.title for post in drill.post}
    there = ", ".join(f"{titles[post]}: {member.name}" for post, member in lead.members.items()) or COMPUTER
    presses = [
        button(
            f"Join as {titles[post]}",
            {"page": "crew-join", "crew": lead.number, "post": post},
            "tool tool-strong",
            aria_label=f"Join {drill.title} as {titles[post]}",
        )
        for post in lead.unmanned
    ]
    return el(
        "div",
        {"class": "crew-row"},
        el("p", {}, el("strong", {}, drill.title), f" ({lead.mode}). {there}"),
        el("div", {"class": "drill-start"}, presses),
    )


def _far_row(one: FarPlace) -> Markup:
    """A crew at another process: a run is where its crew was opened, so who joins goes there."""
    crew = one.crew
    return el(
        "div",
        {"class": "crew-row"},
        el("p", {}, el("strong", {}, crew["drill"]), f" {crew['there'] or COMPUTER}. Free: {crew['free']}."),
        el("p", {}, el("a", {"href": f"/at/{one.member}/"}, f"To the server of this crew, {one.member}"), ", to join."),
    )


def _class_of(place: Place | None) -> str:
    return place.seat.who.joined if place is not None and place.seat.who is not None else ""


def _of_one_class(place: Place, lead: CrewLead) -> bool:
    """Whether somebody may join a crew: one of the own class, or one that is of no named class."""
    return (lead.who.joined if lead.who is not None else "") in ("", _class_of(place))


def _of_a_crew(path: Path) -> bool:
    """Whether a journal is that of a crew: its first record of the crew stands near its head."""
    with path.open("rb") as file:
        head = file.read(400_000)
    return b'"k":"crew"' in head
