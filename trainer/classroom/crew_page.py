"""``/crews``: several people on one run: choose a drill, put people at its stations, start; who is where now."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

import panel as pn
from panel.viewable import Viewable
from param.parameterized import Event

from trainer.classroom.access import Who
from trainer.classroom.crew_lead import CrewLead
from trainer.classroom.crew_seat import CrewSeat
from trainer.classroom.crews import Crews
from trainer.classroom.elsewhere import elsewhere
from trainer.classroom.instructor import LONGEST_REASON, RefusedError
from trainer.classroom.roster import Place
from trainer.classroom.staff_page import StaffPage, by_title, html, offer_by_name, put, row, typed
from trainer.classroom.staff_table import Cell, fill, table
from trainer.classroom.start_class import MODES
from trainer.console import debrief
from trainer.drawing.markup import Markup, el
from trainer.drills.schema import CrewPost

ABOUT = (
    "Choose a drill and who stands at each station; the computer plays the others. The clock starts when every member "
    "has read the briefing. A crew is one run: under Class it is frozen, given faults, watched and ended as any run."
)
EMPTY = "No crew is open. Trainees open one from their first page, or it is started here."
COMPUTER = "Computer"
NOBODY = "computer"
"""What is chosen for a station that no person has; a field takes no empty choice, and a place's number is no word."""
MOST_POSTS = 12
MOST_SEED = 2**31


class CrewsPage(StaffPage):
    """The page that starts crews, and changes who stands at which station."""

    path, title, renew_s, roles = "crews", "Crews", 1.0, ("instructor",)

    def lay_out(self) -> list[Viewable]:
        """The widgets that start a crew, the table of crews, and what is done with one of them."""
        self.drill = pn.widgets.Select(label="Drill", options=by_title(self.crews.drills), width=380)
        self.drill.param.watch(self._other_drill, "value")
        self.mode = pn.widgets.Select(label="Mode", options=MODES, width=120)
        self.seed = pn.widgets.TextInput(label="Variation (practice)", value="0", width=120)
        self.mode.param.watch(self._of_check, "value")
        self.stations = [
            pn.widgets.Select(
                label=f"Station {n + 1}",
                options={COMPUTER: NOBODY},
                value=NOBODY,
                width=200,
            )
            for n in range(MOST_POSTS)
        ]
        self.chosen = row()
        self.open = table(
            {
                "crew": "Crew",
                "drill": "Drill",
                "stations": "Stations",
                "time": "Time",
                "state": "State",
                "watch": "Console",
            },
            links=("watch",),
            long=("crew", "drill", "stations", "state"),
            widths={"time": "10%", "watch": "13%"},
            new_tab=True,
            empty=EMPTY,
        )
        self.crew = pn.widgets.Select(label="Crew", options={}, width=300)
        self.crew.param.watch(self._other_crew, "value")
        self.post = pn.widgets.Select(label="Station", options={}, width=200)
        self.person = pn.widgets.Select(label="Person", options={COMPUTER: NOBODY}, value=NOBODY, width=220)
        self.reason = pn.widgets.TextInput(label="Reason", max_length=LONGEST_REASON, width=300)
        self.elsewhere = html(Markup(""))
        self._other_drill()
        return [
            html(el("p", {}, ABOUT)),
            self.elsewhere,
            row(self.drill, self.mode, self.seed),
            self.chosen,
            row(self.button("Fill the stations", self._fill), self.button("Start the crew", self._start)),
            html(el("h2", {}, "Crews now")),
            self.open,
            row(self.crew, self.post, self.person, self.button("Put at the station", self._put)),
            row(self.reason, self.button("End the run", self._end)),
        ]

    @property
    def crews(self) -> Crews:
        """The crews of this server's class, those opened by trainees among them."""
        return self.room.rooms.crews

    def _posts(self) -> Sequence[CrewPost]:
        drill = self.crews.drills.get(typed(self.drill))
        return drill.post if drill is not None else ()

    def _free(self) -> list[Place]:
        """Who can be put at a station: everybody who is in no run."""
        places = self.room.rooms.places()
        return [one for one in places if not isinstance(one.seat, CrewLead | CrewSeat) and not one.seat.under_way]

    async def load(self) -> None:
        """Fill the fields with who can be chosen, and the table with how the crews stand now."""
        put(self.elsewhere, elsewhere(self.crews.far(), self.path))
        people = [(place.name, place.number) for place in self._free()]
        for choice in (*self.stations, self.person):
            chosen = choice.value
            names = [name for name, _ in people]
            options = {COMPUTER: NOBODY} | {
                name if names.count(name) == 1 else f"{name}, {number[:4]}": number for name, number in people
            }
            if options != choice.options:
                choice.param.update(options=options, value=chosen if chosen in options.values() else NOBODY)
        leads = list(self.crews.leads())
        fill(self.open, map(_row, leads))
        offer_by_name(self.crew, [(lead.who.name if lead.who else lead.number, lead.number) for lead in leads])
        self._other_crew()

    def _other_drill(self, _: Event | None = None) -> None:
        posts = self._posts()
        for n, choice in enumerate(self.stations):
            if n < len(posts):
                choice.label = posts[n].title
        self.chosen.objects = self.stations[: len(posts)]

    def _of_check(self, event: Event) -> None:
        """A check draws its own variation."""
        self.seed.disabled = event.new == "check"

    def _other_crew(self, _: Event | None = None) -> None:
        lead = self.crews.find(typed(self.crew))
        titles = (
            {post.title: post.id for post in lead.drill.post} if lead is not None and lead.drill is not None else {}
        )
        if titles != self.post.options:
            kept = self.post.value if self.post.value in titles.values() else next(iter(titles.values()), None)
            self.post.param.update(options=titles, value=kept)

    # What can be done

    async def _fill(self, who: Who) -> str | None:
        """Put those who wait at the stations that are left, by name."""
        taken = {choice.value for choice in self.stations}
        waiting = [place.number for place in self._free() if place.number not in taken and not place.away]
        for choice, _ in zip(self.stations, self._posts(), strict=False):
            if choice.value == NOBODY and waiting:
                choice.value = waiting.pop(0)
        return None

    async def _start(self, who: Who) -> str | None:
        posts, mode = self._posts(), typed(self.mode)
        chosen = [(post, typed(choice)) for post, choice in zip(posts, self.stations, strict=False)]
        people = [number for _, number in chosen if number != NOBODY]
        if not people:
            raise RefusedError("a crew has at least one person: choose who stands at a station")
        if len(set(people)) < len(people):
            raise RefusedError("one person cannot stand at two stations")
        seed = self._seed(mode)
        lead = self.crews.begin(typed(self.drill), mode, seed, who.name)
        if isinstance(lead, str):
            raise RefusedError(lead.rstrip(".").lower())
        refused = [why for post, number in chosen if number != NOBODY and (why := self._join(lead, post.id, number))]
        for choice in self.stations:
            choice.value = NOBODY
        self._trail(who, "crew started", lead)
        said = f"{lead.who.name if lead.who else 'The crew'}: the clock starts when all have read the briefing."
        return f"{said} {' '.join(refused)}".strip()

    def _seed(self, mode: str) -> int:
        if mode == "check":
            return secrets.randbelow(MOST_SEED)
        given = typed(self.seed) or "0"
        if not given.isascii() or not given.isdigit() or len(given) > 9:
            raise RefusedError("the variation is a whole number, such as 7")
        return int(given)

    def _join(self, lead: CrewLead, post: str, number: str) -> str | None:
        place = self.room.rooms.place(number)
        return "A person that was chosen is not here any more." if place is None else self.crews.join(place, lead, post)

    def _chosen(self) -> CrewLead:
        lead = self.crews.find(typed(self.crew))
        if lead is None:
            raise RefusedError("choose a crew")
        return lead

    async def _put(self, who: Who) -> str | None:
        lead, post, number = self._chosen(), typed(self.post), typed(self.person)
        member = lead.members.get(post)
        if member is not None:
            self.crews.send_home(lead, post, keep=True)
        if number != NOBODY and (refused := self._join(lead, post, number)):
            raise RefusedError(refused.rstrip("."))
        self._trail(who, "crew changed", lead)
        return "Done: the crew list shows who stands there now."

    async def _end(self, who: Who) -> str | None:
        lead, reason = self._chosen(), typed(self.reason)
        if lead.page != "console":
            raise RefusedError("this crew's run is over")
        if lead.checked and not reason:
            raise RefusedError("a check is ended for a reason, which stands in the record: enter it")
        lead.stop(f"{who.name}: {reason}" if reason else who.name)
        lead.drive()
        self.reason.value = ""
        self._trail(who, "crew ended", lead)
        return "The crew's run has ended."

    def _trail(self, who: Who, deed: str, lead: CrewLead) -> None:
        there = ", ".join(f"{post}: {member.name}" for post, member in lead.members.items())
        self.room.outbox.log(who.name, who.role, deed, lead.drill.title if lead.drill else "", there[:2000])


def _row(lead: CrewLead) -> dict[str, Cell]:
    run = lead.run
    state = "over" if lead.page != "console" else "frozen" if lead.frozen else "paused" if lead.paused else "runs"
    if lead.unbegun:
        waits = ", ".join(member.name for member in lead.unready)
        state = f"briefing: {waits}" if waits else "waits"
    titles = {post.id: post.title for post in lead.drill.post} if lead.drill is not None else {}
    there = [f"{one.title}: {one.name or COMPUTER.lower()}" for one in lead.rows()]
    return {
        "crew": ", ".join(member.name for member in lead.members.values()) or COMPUTER,
        "drill": lead.drill.title if lead.drill is not None else "",
        "stations": "\n".join(there) if titles else "",
        "time": debrief.clock(run.time) if run is not None else "",
        "state": state,
        "watch": ("Watch", f"watch?seat={lead.number}"),
    }
