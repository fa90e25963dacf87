"""``/glance``: the class at a glance, a drill for all, and for one trainee what is true, what was done, and faults."""

from __future__ import annotations

import asyncio

import panel as pn
from panel.io import hold
from panel.viewable import Viewable

from trainer import units
from trainer.classroom.access import Who
from trainer.classroom.chosen_page import ChosenPage
from trainer.classroom.class_screen import KINDS, RUN, TWO
from trainer.classroom.fault_panel import FaultPanel, seconds
from trainer.classroom.glance import Glance, PreventerState
from trainer.classroom.instructor import RefusedError
from trainer.classroom.live_page import EMPTY
from trainer.classroom.request_panel import RequestPanel
from trainer.classroom.staff_page import WRAPS, Deed, by_title, html, offer_by_name, put, row, typed
from trainer.classroom.staff_talk import StaffTalk
from trainer.classroom.start_class import FREE, StartClass
from trainer.classroom.wall import MOST_CARDS, Shown, Wall
from trainer.drawing.markup import Markup, el, join, plain_table

#: What is about the chosen trainee stays in sight beside a long wall.
SIDE = {"position": "sticky", "top": "8px", "max-height": "calc(100vh - 16px)", "overflow-y": "auto"}
AT_ONCE = 5
"""So many runs are looked at before the server turns to what else there is."""


class ClassAtAGlance(ChosenPage):
    """The wall, and one trainee of it. Faults and practice are an instructor's; the desk asks for the role."""

    path, title, renew_s, wide = "glance", "Class at a glance", 1.0, True

    def lay_out(self) -> list[Viewable]:
        """What starts a drill, the wall, and below it what is about the chosen trainee."""
        self._everybody: list[Shown] = []
        self.wall = Wall(self._choose)
        self.choose(units_px=150, reason_px=200)
        self.faults = FaultPanel(self, self.send_chosen)
        self.start = StartClass(
            self,
            self.send,
            lambda: self._everybody,
            lambda: typed(self.trainee),
            by_title(self.room.rooms.drills) | {"Free practice": FREE},
        )
        self.talk = StaffTalk(self)
        self.question = self.start.question
        self.requests = RequestPanel(self, self.send, self.question.begin)
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
                self.button("Stop the clock", self.clock("freeze")),
                self.button("Resume", self.clock("resume")),
                self.button("End", self.end),
                self.take_back,
            ),
            row(
                self.reason,
                self.button("Stop the clock of all", self.clock("freeze", everybody=True)),
                self.button("Resume all", self.clock("resume", everybody=True)),
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
            pn.Row(wall, side, styles={**WRAPS, "align-items": "flex-start"}, sizing_mode="stretch_width"),
        ]

    async def load(self) -> None:
        """Read how the runs stand now, here and at the other servers, and show it."""
        everybody = []
        for at, place in enumerate(self.everyone()):
            one = Shown(place.number, place.name, place.watch, self.room.glances.of(place))
            everybody.append(one)
            if at < MOST_CARDS:
                self.wall.draw(one, typed(self.trainee), self.shown_in)
            if at % AT_ONCE == AT_ONCE - 1:
                self.wall.stand()
                # The runs go on between.
                await asyncio.sleep(0)
        self._everybody = everybody
        for field in (self.trainee, self.beside):
            offer_by_name(field, [(one.name, one.number) for one in self._everybody])
        self._show()
        await self.talk.load()

    def _choose(self, number: str) -> None:
        if self.still() and number in [one.number for one in self._everybody]:
            self.trainee.value = number
            self._show()

    def _show(self) -> None:
        if not self.still():
            return
        # All that changes in one message.
        with hold(self._document):
            self._show_all()

    def _show_all(self) -> None:
        number = typed(self.trainee)
        system = self.shown_in
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
            return self.send_chosen({"page": "together", "off": off}, who)

        return do

    async def _point(self, who: Who) -> str | None:
        return self.send_chosen({"page": "point", "value": str(seconds(typed(self.moment)))}, who)

    async def _take_back(self, who: Who) -> str | None:
        return self.send_chosen({"page": "undo"}, who)


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
