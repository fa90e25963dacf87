"""``/glance``: the class at a glance, a drill for all, and for one trainee what is true, what was done, and faults."""

from __future__ import annotations

import asyncio

import panel as pn
from panel.viewable import Viewable

from trainer import units
from trainer.classroom.access import Who
from trainer.classroom.class_screen import KINDS, RUN, TWO
from trainer.classroom.cut_short import Beginning
from trainer.classroom.fault_panel import FaultPanel, seconds
from trainer.classroom.glance import Glance, PreventerState
from trainer.classroom.instructor import LONGEST_REASON, RefusedError
from trainer.classroom.live_page import EMPTY
from trainer.classroom.request_panel import RequestPanel
from trainer.classroom.roster import AnyPlace, FarPlace, Place
from trainer.classroom.staff_page import Deed, StaffPage, by_title, html, offer_by_name, put, row, typed
from trainer.classroom.staff_talk import StaffTalk
from trainer.classroom.start_class import FREE, StartClass
from trainer.classroom.wall import MOST_CARDS, Shown, Wall
from trainer.console.message import Message
from trainer.drawing.markup import Markup, el, join, plain_table

#: What is about the chosen trainee stays in sight beside a long wall.
SIDE = {"position": "sticky", "top": "8px", "max-height": "calc(100vh - 16px)", "overflow-y": "auto"}
AT_ONCE = 5
"""So many runs are looked at before the server turns to what else there is."""
UNITS = {"Field units": "field", "Metric units": "metric"}


class ClassAtAGlance(StaffPage):
    """The wall, and one trainee of it. Faults and practice are an instructor's; the desk asks for the role."""

    path, title, renew_s, wide = "glance", "Class at a glance", 1.0, True

    def lay_out(self) -> list[Viewable]:
        """What starts a drill, the wall, and below it what is about the chosen trainee."""
        self._everybody: list[Shown] = []
        self.wall = Wall(self._choose)
        self.trainee = pn.widgets.Select(label="Trainee", width=200)
        self.trainee.param.watch(lambda _: self._show(), "value")
        self.system = pn.widgets.Select(label="Units", options=UNITS, width=150)
        self.system.param.watch(lambda _: self._show(), "value")
        self.reason = pn.widgets.TextInput(label="Reason (in a check)", max_length=LONGEST_REASON, width=200)
        self.faults = FaultPanel(self, self._chosen_or_all)
        self.start = StartClass(
            self,
            self._send,
            lambda: self._everybody,
            lambda: typed(self.trainee),
            by_title(self.room.rooms.drills) | {"Free practice": FREE},
        )
        self.talk = StaffTalk(self)
        self.requests = RequestPanel(self, self._send, self.start.question.begin)
        self.screen = pn.widgets.Select(label="Class screen", options=KINDS, width=250)
        self.beside = pn.widgets.Select(label="Second run", width=200)
        self.moment = pn.widgets.TextInput(label="Moment of the debrief (m:ss)", placeholder="4:10", width=190)
        self.codes, self.run, self.more = html(Markup("")), html(Markup("")), html(Markup(""))
        wall = pn.Column(
            self.wall.view, self.more, styles={"flex": "1 1 500px", "min-width": "0"}, sizing_mode="stretch_width"
        )
        self.take_back = self.button("Take back", self._take_back, "instructor")
        self.take_back.visible = False
        side = pn.Column(
            self.requests.view,
            row(
                self.trainee,
                self.button("Stop the clock", self._clock("freeze")),
                self.button("Resume", self._clock("resume")),
                self.button("End", self._end),
                self.take_back,
            ),
            row(
                self.reason,
                self.button("Stop the clock of all", self._clock("freeze", everybody=True)),
                self.button("Resume all", self._clock("resume", everybody=True)),
            ),
            self.faults.view,
            self.run,
            self.talk.view,
            html(el("h2", {}, "Class screen and units")),
            row(self.screen, self.beside),
            row(
                self.button("Show on the class screen", self._project),
                self.button("Show on every page", self._together(off=False), "instructor"),
                self.button("Take from every page", self._together(off=True), "instructor"),
            ),
            row(self.moment, self.button("Point at it", self._point, "instructor"), self.system),
            styles={"flex": "1 1 500px", "max-width": "580px", "min-width": "0"} | SIDE,
            sizing_mode="stretch_width",
        )
        return [
            self.codes,
            self.start.view,
            pn.Row(wall, side, styles={"flex-wrap": "wrap", "align-items": "flex-start"}, sizing_mode="stretch_width"),
        ]

    async def load(self) -> None:
        """Read how the runs stand now, here and at the other servers, and show it."""
        members = self.room.desk.members
        if members is not None:
            members.look_at_all(id(self))
        everybody = []
        for at, place in enumerate(self.room.desk.places()):
            if at % AT_ONCE == AT_ONCE - 1:
                # The runs go on between.
                await asyncio.sleep(0)
            everybody.append(Shown(place.number, place.name, place.watch, self._glance(place)))
        self._everybody = everybody
        for field in (self.trainee, self.beside):
            offer_by_name(field, [(one.name, one.number) for one in self._everybody])
        self._show()
        await self.talk.load()

    def _glance(self, place: AnyPlace) -> Glance:
        return Glance.read(place.card) if isinstance(place, FarPlace) else self.room.glances.of(place)

    def _choose(self, number: str) -> None:
        if self.still() and number in [one.number for one in self._everybody]:
            self.trainee.value = number
            self._show()

    def _show(self) -> None:
        """Bring everything up to date with what was read last."""
        if not self.still():
            return
        number = typed(self.trainee)
        system: units.System = "metric" if self.system.value == "metric" else "field"
        self.wall.show(self._everybody, number, system)
        self.requests.show(self._everybody)
        glance = next((one.glance for one in self._everybody if one.number == number), Glance())
        more = len(self._everybody) - MOST_CARDS
        put(self.more, el("p", {}, _more(more) if self._everybody else EMPTY))
        codes = ", ".join(f"{title}: {code}" if title else code for title, code in self.room.desk.codes.items())
        put(self.codes, el("p", {}, "Trainees join with ", el("b", {}, codes), ".") if codes else Markup(""))
        link = el(
            "p", {}, el("a", {"href": f"/run?seat={number}"}, "Open the chosen run"), ": drawings, trends, changes."
        )
        put(self.run, join(link if number else Markup(""), chosen_run(glance, system)))
        self.faults.show(self.room.desk.place(number), glance)
        label = f"Take back: {glance.before}"
        if self.take_back.label != label or self.take_back.visible != bool(glance.before):
            self.take_back.param.update(label=label, visible=bool(glance.before))

    # What is done

    async def _project(self, who: Who) -> Markup:
        """Choose what the projected screen shows, for whoever has it open."""
        kind, number = typed(self.screen), typed(self.trainee)
        if kind in (RUN, TWO) and self.room.desk.place(number) is None:
            raise RefusedError("choose a trainee first")
        screen = self.room.screen
        screen.kind, screen.number, screen.other = kind, number, typed(self.beside)
        opens = el("a", {"href": "/screen", "target": "_blank"}, "Open the class screen")
        return join("On the class screen now. ", opens, " in a window of its own.")

    def _together(self, off: bool) -> Deed:
        async def do(who: Who) -> str | None:
            return self._chosen_or_all({"page": "together", "off": off}, who)

        return do

    async def _point(self, who: Who) -> str | None:
        return self._chosen_or_all({"page": "point", "value": str(seconds(typed(self.moment)))}, who)

    def _send(self, message: Message, who: Who, number: str) -> str | None:
        said = self.room.desk.do(message, who, number, self.heard)
        if isinstance(place := self.room.desk.place(number), Place):
            self.room.glances.forget(place)
        return said

    def _chosen_or_all(self, message: Message, who: Who) -> str | None:
        return self._send(message, who, typed(self.trainee)) or "Sent to the other server."

    def _clock(self, deed: str, everybody: bool = False) -> Deed:
        async def do(who: Who) -> str | None:
            message = {"page": deed, "reason": typed(self.reason)}
            said = self._chosen_or_all(message | ({"to": "all"} if everybody else {}), who)
            self.reason.value = ""
            return said

        return do

    async def _end(self, who: Who) -> str | None:
        """End the run of the chosen one: a check with its reason, another run once it is said what is lost."""
        number, reason = typed(self.trainee), typed(self.reason)
        said = await self.start.question.begin(Beginning({"page": "end", "reason": reason}, "End", (number,)), who)
        self.reason.value = ""
        return said

    async def _take_back(self, who: Who) -> str | None:
        return self._chosen_or_all({"page": "undo"}, who)


def _more(more: int) -> str:
    return f"{more} more stand in the table under Live." if more > 0 else ""


def chosen_run(glance: Glance, system: units.System) -> Markup:
    """What is true beside what the lamps show, the other figures, and the last actions; a sentence without a run."""
    if not glance.figures:
        return el("p", {}, "No run to show.")
    stack = [
        el("tr", {}, el("th", {"scope": "row"}, one.name), el("td", {}, lamps(one)), el("td", {}, really(one)))
        for one in glance.stack
    ]
    figures = [
        el("tr", {}, el("th", {"scope": "row"}, name), el("td", {}, units.show(value, unit, system)))
        for name, value, unit in (*glance.figures, *glance.truths)
    ]
    return el(
        "div",
        {"class": "chosen-run", "style": "display: flex; flex-wrap: wrap; gap: 0 24px; align-items: flex-start"},
        el(
            "section",
            {"style": "flex: 1 0 100%"},
            el("h2", {}, "Last actions"),
            el("ul", {}, [el("li", {}, text) for text in glance.actions] or el("li", {}, "Nothing done yet")),
            el("h2", {}, "As it is"),
        ),
        plain_table(("Preventer", "Lamps", "Really"), stack),
        plain_table((), figures),
    )


def lamps(one: PreventerState) -> str:
    """What the position lamps of a preventer say, in a word; that it has none where it has none."""
    close, opened = one.close_lamp, one.open_lamp
    if close is None and opened is None:
        return "no lamps"
    return "both" if close and opened else "closed" if close else "open" if opened else "none lit"


def really(one: PreventerState) -> str:
    """Where a preventer really stands, in words; closed also where it is shut round the pipe."""
    return "closed" if one.closed else "open" if one.opened else f"{100.0 * one.share:.0f} % closed"
