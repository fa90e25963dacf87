"""A member's seat in a crew: the boards of the own post, and nothing said or done for anybody else.

The run belongs to the crew's lead (``crew_lead.py``). Whatever the page sends is done in the name of the post that the
server gave it; a message that names another is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from trainer import languages
from trainer.classroom.crew_lead import CrewLead
from trainer.classroom.journal import Journal
from trainer.classroom.place import ClassSeat
from trainer.classroom.room import ClassBoards, corner
from trainer.console import crew_board, debrief, named, shell, walk
from trainer.console.boards import Boards
from trainer.console.hold import Hold
from trainer.console.message import Message
from trainer.console.presenter import Patch, Presenter
from trainer.console.reading import Reading
from trainer.console.trends import History
from trainer.drawing.markup import el
from trainer.drills.schema import Drill
from trainer.hydraulics.catalogue import Signal
from trainer.hydraulics.machine import Machine
from trainer.session import evidence
from trainer.session.commands import OPERATE
from trainer.session.crewing import Post
from trainer.session.sheets import ShareData, SheetData
from trainer.session.walking import Walking
from trainer.simulator import Session
from trainer.units import System

FORGED = "You act and speak for your own station only: {}."
PACED = "A crew's run goes by the clock: its pace is fixed."
LEAVES = "Leave"
LEAVES_NOW = "Leave now?"
NO_TAKING_OVER = "A crew's run cannot be taken over by one person. Start the drill again with a crew."
#: Messages of the page that a member of a running crew may send; all others do nothing.
HEARD = (
    "begin", "brief", "pause", "units", "language", "theme", "card", "finish", "walk", "holding", "gone", "request",
    "diagnosis", "seek", "suspect", "suspect-fault", "report-fault", "looks", "evidence",
)  # fmt: skip
#: Messages by which a member goes on to something else when the run is over.
ONWARD = ("leave", "again", "start", "learn", "progress")


class PostHistory(History):
    """The samples of the charts, of instruments that the post sees; the others stay empty."""

    def __init__(self, post: Post, signals: Mapping[str, Signal]) -> None:
        super().__init__()
        self._hidden = [tag for tag in self.tags if tag not in signals or not post.sees(signals[tag])]

    def _columns(self, samples: Sequence[tuple[float, ...]], truth: bool = False) -> dict[str, list[float | None]]:
        columns = super()._columns(samples, truth)
        if not truth:
            columns.update({tag: [None] * len(samples) for tag in self._hidden})
        return columns


class OnFoot:
    """A crew's run as the member sees it who walks from station to station."""

    def __init__(self, run: Session, post: str) -> None:
        self._run, self._post = run, post

    @property
    def walking(self) -> Walking | None:
        """Where the member is who walks; None for one who stays at the own post."""
        return self._run.crewing.walkers.get(self._post) if self._run.crewing is not None else None

    @property
    def tick(self) -> int:
        """The tick of the crew's run, by which the way on foot is counted."""
        return self._run.tick

    def submit(self, command: dict[str, object]) -> str | None:
        """Carry out a command in the member's name; the sentence why not, if not."""
        return self._run.submit({**command, "by": self._post})


class CrewBoards(ClassBoards):
    """The console's boards as a member sees them: those of the own stations, and the crew's talk line."""

    def __init__(self, name: str | None, everybody: Boards, lead: CrewLead, post: str) -> None:
        super().__init__(name, everybody)
        self._lead, self._post = lead, post

    def draw(
        self, machine: Machine, plant: str, drill: Drill | None, system: System, truth: bool = True
    ) -> dict[str, str]:
        """Markup by board name; boards of other stations are empty, so that their readings go nowhere."""
        run = self._lead.run
        crew = run.crewing if run is not None else None
        if drill is None or crew is None:
            return super().draw(machine, plant, drill, system, truth)
        post, here = crew.posts[self._post], crew.at(self._post, run.tick if run is not None else 0)
        signals = machine.signals
        read = [one for one in drill.reading if one.tag not in signals or post.sees(signals[one.tag])]
        drawn = super().draw(machine, plant, drill.model_copy(update={"reading": read}), system, False)
        own = crew_board.views_at(post.at)
        others = [view for view, _ in (*shell.VIEWS, *shell.OF_SOME) if view not in own]
        without = [*others, *self.lacking(machine, plant, system)]
        further = {at: panel.name for at, panel in self.rig(plant).plant.further.items() if at in post.at}
        for name in drawn:
            if not crew_board.seen_at(name, here):
                drawn[name] = el("div", {}, "")
        drawn["header"] = shell.header(post.walks, further, without)
        drawn["brief"] = shell.brief(drill, crew_board.tasks(drill, post.id), not self.rig(plant).pods)
        drawn["messages"] = shell.messages(sequences=False)
        drawn["walk"] = walk.on_the_way(alone=False)
        drawn["crew"] = crew_board.board(crew, post.id, system)
        if "room" in drawn and self._name is not None:
            # Who asks for a hand asks a member of the crew.
            drawn["room"] = corner(self._name, running=False)
        return drawn


class CrewSeat(ClassSeat):
    """The seat of one member. ``back`` gives the page its own seat again."""

    def __init__(
        self, lead: CrewLead, post: str, boards: CrewBoards, own: ClassSeat, back: Callable[[CrewSeat], Patch]
    ) -> None:
        self.lead, self.post = lead, post
        super().__init__(lead._start, lead.drills, boards, Journal(None))
        self.who, self.recorded, self.home = own.who, own.recorded, own
        self.units, self.language, self.theme = own.units, own.language, own.theme
        self.attempts, self.brought = own.attempts, own.brought
        self._back = back
        self._handed_in = True
        self._here: tuple[str, ...] = ()
        self._adopt()

    # One clock, one lever and one disk for all

    @property
    def _due(self) -> float:
        return self.lead._due

    @_due.setter
    def _due(self, due: float) -> None:
        if hasattr(self, "_back"):
            self.lead._due = due

    @property
    def _hold(self) -> Hold | None:
        return self.lead._hold

    @_hold.setter
    def _hold(self, hold: Hold | None) -> None:
        if hasattr(self, "_back"):
            self.lead._hold = hold
            self.lead.holder = self.post if hold is not None else ""

    def _keep(self) -> bool:
        kept = self.lead._keep() if self.page == "console" else True
        self.stuck = self.lead.stuck
        return kept

    @property
    def checked(self) -> bool:
        """Never: the check is the crew's, and its lead looks after it."""
        return False

    @property
    def ended_by_staff(self) -> bool:
        """Whether staff ended the crew's run, so that its sheet is shown whole."""
        return self.lead.watch.by_staff

    def close(self, how: str = "left") -> None:
        """Nothing is handed in here: the lead does so for every member."""

    def _adopt(self) -> None:
        """Look at the run that the crew has now."""
        lead, run = self.lead, self.lead.run
        self.run, self.drill, self.plant, self.mode = run, lead.drill, lead.plant, lead.mode
        self.page, self.after, self._begun = "console", None, lead._begun
        self._briefing, self._reading = not lead._begun, False
        self._refused, self._ending, self._card, self._sheet = None, None, "", ""
        self._noted = ""
        if isinstance(run, Session) and run.crewing is not None:
            history = PostHistory(run.crewing.posts[self.post], dict(run.machine.signals))
            self._presenter = Presenter(run, self.units, {}, self._texts, history)
            self._here = run.crewing.at(self.post, run.tick)
            self.walk = walk.Walk(crew_board.views_at(self._at))
        self._follow()

    def _follow(self) -> None:
        lead = self.lead
        self.frozen, self.pace, self.talk, self.stuck = lead.frozen, lead.pace, lead.talk, lead.stuck
        self.watch, self._why, self._turned = lead.watch, lead._why, lead._turned
        self._begun = lead._begun
        # The clock of the crew waits for everybody's briefing.
        self.paused = lead.paused or lead._briefing

    # What drives the seat

    def tick(self, elapsed: float) -> Patch:
        """Let the crew's clock go on, and show what the post sees of it."""
        if self._anew:
            # Staff have put somebody here: the page shows another seat than before.
            self._anew = False
            return self.first()
        if self.page != "console":
            return self.after.tick(elapsed) if self.after is not None else {}
        lead = self.lead
        lead.drive()
        if lead.page == "console" and lead.run is not self.run:
            self._adopt()
            return self.first()
        self._follow()
        if lead.page != "console":
            return self._finish()
        if (here := self._stands()) != self._here:
            # Whoever walks finds other boards where they come to, and none on the way.
            self._here = here
            return self.first()
        return self._presenter.patch() if self._presenter is not None else {}

    def handle(self, message: Message) -> Patch:
        """Do what the page says, in the name of the own post and no other."""
        page = message.get("page")
        if self.page != "console":
            if page in ONWARD:
                patch = self._back(self)
                return patch if page == "leave" else {**patch, **self.home.handle(message)}
            if page == "take-over":
                return self._refuse(NO_TAKING_OVER)
            return super().handle(message)
        self._follow()
        if page is None:
            return self._act(message)
        if page == "pace":
            return self._refuse(PACED)
        if page == "gone":
            return self._hand_gone(message) if self.lead.holder == self.post else {}
        if page == "holding" and self.lead.holder != self.post:
            return {}
        return super().handle(message) if page in HEARD else {}

    def _act(self, message: Message) -> Patch:
        if message.get("by", self.post) != self.post:
            return self._refuse(FORGED.format(f"you are the {crew_board.small(self.title)}"))
        command = {**message, "by": self.post}
        if isinstance(until := message.get("until"), dict):
            command["until"] = {**until, "by": self.post}
        if isinstance(command.get("figure"), str):
            command["figure"] = self._figure(str(command.get("target")), str(command["figure"]))
        if command.get("do") not in OPERATE:
            # Spoken and read where the member stands, wherever on the page.
            command["from"] = self._at[0]
        return super().handle(command)

    def _figure(self, call: str, typed: str) -> object:
        """What was typed into a call, as the page's language writes numbers, in the unit that its field shows."""
        words, run, drill = languages.words(self.language), self.run, self.drill
        figure = typed if words is None else words.typed(typed)
        reading = next((one.figure for one in drill.call if one.id == call), None) if drill is not None else None
        if run is None or reading is None:
            return figure
        return named.in_units(drill, run.machine.signals, reading, figure, self.units)

    def _lets_go(self, message: Message) -> bool:
        return self.lead.holder == self.post and super()._lets_go(message)

    @property
    def title(self) -> str:
        """What the own post is called in the crew list; its id where the run is gone."""
        run = self.lead.run
        return run.crewing.title(self.post) if run is not None and run.crewing is not None else self.post

    @property
    def _at(self) -> tuple[str, ...]:
        run = self.lead.run
        return run.crewing.posts[self.post].at if run is not None and run.crewing is not None else ("driller",)

    def _stands(self) -> tuple[str, ...]:
        run = self.lead.run
        return run.crewing.at(self.post, run.tick) if run is not None and run.crewing is not None else ()

    # Messages of the page

    def _walk(self, message: Message) -> Patch:
        """Go to another station of the own post, for a member who walks."""
        run, view = self.lead.run, str(message.get("value"))
        if run is None or self._presenter is None:
            return {}
        if self.paused or self.frozen:
            return self._refuse("Paused. Press Resume to walk.")
        refused = self.walk.to(OnFoot(run, self.post), view)
        if refused is not None:
            return self._refuse(refused)
        self._keep()
        return self.tick(0.0)

    def _go(self, _: Message) -> Patch:
        self._briefing = self._reading = False
        self.lead.ready(self.post)
        self._follow()
        return self._presenter.patch() if self._presenter else {}

    def _show_brief(self, message: Message) -> Patch:
        # The crew's clock goes on while one of them reads it again.
        self._reading = self._begun
        self._briefing = not self._begun
        return self._presenter.patch() if self._presenter else {}

    def _pause(self, message: Message) -> Patch:
        if not self._begun:
            return self._go(message)
        said = self.lead.handle({"page": "pause"})
        if self.lead.checked and not self.lead.paused:
            return said and self._refuse("In a check only staff stop the clock.")
        self._follow()
        return self._presenter.patch() if self._presenter else {}

    def _request(self, text: str) -> Patch:
        self.lead._request(text)
        return self._presenter.patch() if self._presenter else {}

    def _finish(self) -> Patch:
        """The crew's run is over: its sheet, with the crew's marks and each member's."""
        run, presenter = self.run, self._presenter
        if self.lead.page == "console" and run is not None and run.finished:
            self.lead._finish()
        if run is None or presenter is None or self.lead.page == "console":
            return {}
        self.page, self.stuck, self.frozen = "sheet", "", False
        self._over(run)
        return {**presenter.patch(), **presenter.history.whole(truth=True)}

    def _end(self, _: Message) -> Patch:
        """Leave the post at the second asking; the computer plays it from then on."""
        run = self.run
        if run is None or self._presenter is None:
            return {}
        if self._ending is not None:
            return self._back(self)
        self._ending = run.time
        return self._presenter.patch()

    def scored(self, run: Session) -> SheetData:
        """The crew's sheet, each post with the name of who was there at the end."""
        sheet = super().scored(run)
        names = {row.post: row.name for row in self.lead.rows() if row.name}
        crew: list[ShareData] = [
            {**share, "title": f"{share['title']}: {names.get(share['post'], crew_board.COMPUTER)}"}
            for share in sheet.get("crew") or ()
        ]
        return {**sheet, "crew": crew} if crew else sheet

    def _hand_over(self, _: Message) -> Patch:
        if not isinstance(self.run, Session):
            return {}
        document = evidence.make(self.run, crew=self.lead.crew_list(self.post)).record()
        return {"sheet": {"readings": {"page.evidence": debrief.evidence_file(document)}}}

    # What the page shows

    def first(self) -> Patch:
        """Everything that the page of this post shows, as the crew's run stands now."""
        self._follow()
        return super().first()

    def _texts(self) -> dict[str, Reading]:
        texts = super()._texts()
        run = self.lead.run
        if not texts or self.page != "console" or run is None or run.crewing is None:
            return {**texts, "page.crew": {"state": "off"}} if texts else texts
        names = {post: one.title for post, one in run.crewing.posts.items()}
        views = crew_board.views_at(self._at)
        waits = [member.name for member in self.lead.unready if member.post != self.post]
        texts |= self.walk.texts(OnFoot(run, self.post), False)
        texts |= {
            "page.crew": {"state": "on"},
            "page.crew_post": {"text": self.title},
            "page.crew_list": {"html": crew_board.people(self.lead.rows(), self.post)},
            "page.crew_line": {"html": crew_board.line(run.crewing, self.post, names, self.units)},
            "page.paced": {"state": "off"},
            "page.finish": {"text": LEAVES if self._ending is None else LEAVES_NOW},
            "page.mode": {"text": f"{self.mode}, {crew_board.small(self.title)}"},
        }
        if "page.view" not in texts and views:
            texts["page.view"] = {"state": views[0]}
        if not self._begun and not self._briefing and waits:
            texts["page.told"] = {"text": f"The clock starts when the briefing has been read by: {', '.join(waits)}."}
        return texts
