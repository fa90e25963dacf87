"""``/run``: the chosen run, as it is and as its instruments show it, with values, trends, faults and other changes."""

from __future__ import annotations

import panel as pn
from panel.viewable import Viewable

from trainer import units
from trainer.classroom.access import Who
from trainer.classroom.change_panel import ChangePanel
from trainer.classroom.cut_short import Beginning, CutShort
from trainer.classroom.fault_panel import FaultPanel
from trainer.classroom.glance import Glance
from trainer.classroom.glance_page import UNITS, chosen_run
from trainer.classroom.instructor import LONGEST_REASON
from trainer.classroom.roster import FarPlace, Place
from trainer.classroom.run_view import LiveValues, RunView
from trainer.classroom.staff_page import Deed, StaffPage, html, offer_by_name, put, row, typed
from trainer.console.message import Message
from trainer.drawing.markup import Markup, el
from trainer.simulator import Session


class ChosenRun(StaffPage):
    """One run with everything about it. ``?seat=`` says whose it is at first."""

    path, title, renew_s, wide = "run", "The chosen run", 1.0, True

    def lay_out(self) -> list[Viewable]:
        """Whose run and its clock, the two schematics, what can be changed, and below them values and last actions."""
        self._asked, self._beat = self.given.get("seat", ""), 0
        self.trainee = pn.widgets.Select(label="Trainee", width=200)
        self.trainee.param.watch(lambda _: self._show(), "value")
        self.system = pn.widgets.Select(label="Units", options=UNITS, width=130)
        self.system.param.watch(lambda _: self._show(), "value")
        self.reason = pn.widgets.TextInput(label="Reason (in a check)", max_length=LONGEST_REASON, width=180)
        self.faults = FaultPanel(self, self._tell_desk)
        self.changes = ChangePanel(self, self._tell_desk)
        self.values = LiveValues(self)
        self.both = RunView(self.faults.pick)
        self.cut = CutShort(self, self._send)
        self.stands, self.told = html(Markup("")), html(Markup(""))
        side = {"flex": "1 1 500px", "max-width": "620px", "min-width": "0"}
        return [
            row(
                self.trainee,
                self.reason,
                self.button("Stop the clock", self._clock("freeze")),
                self.button("Resume", self._clock("resume")),
                self.button("End", self._end),
                self.system,
            ),
            self.cut.view,
            self.stands,
            self.both.view,
            html(el("p", {"class": "soft"}, "Press a part of either drawing: its faults stand below.")),
            pn.Row(
                pn.Column(self.faults.view, styles=side, sizing_mode="stretch_width"),
                pn.Column(self.changes.view, self.told, styles=side, sizing_mode="stretch_width"),
                styles={"flex-wrap": "wrap", "align-items": "flex-start"},
                sizing_mode="stretch_width",
            ),
            self.values.view,
        ]

    async def load(self) -> None:
        """Read how the runs stand now, and show the chosen one."""
        self._beat += 1
        members = self.room.desk.members
        if members is not None:
            members.look_at_all(id(self))
        places = self.room.desk.places()
        offer_by_name(self.trainee, [(one.name, one.number) for one in places])
        if self._asked in [one.number for one in places]:
            self.trainee.value, self._asked = self._asked, ""
        self._show()

    def _show(self) -> None:
        if not self.still():
            return
        place = self.room.desk.place(typed(self.trainee))
        system: units.System = "metric" if self.system.value == "metric" else "field"
        here = place if isinstance(place, Place) else None
        run = here.run if here is not None and isinstance(here.run, Session) else None
        glance = Glance()
        if isinstance(place, FarPlace):
            glance = Glance.read(place.card)
        elif place is not None:
            glance = self.room.glances.of(place)
        self.both.show(run, place.plant if place is not None else "", system)
        self.values.show(run, system, self._beat)
        self.faults.show(place, glance)
        self.changes.show(place, glance)
        watch = el("a", {"href": place.watch, "target": "_blank"}, "Watch the console") if place is not None else None
        far = "This run is at another server: its drawings stand there. " if isinstance(place, FarPlace) else ""
        head = f"{glance.drill or glance.state or 'No run.'} {glance.clock} {glance.need}. {far}"
        put(self.stands, el("p", {}, head, watch))
        put(self.told, chosen_run(glance, system))

    # What is done

    def _send(self, message: Message, who: Who, number: str) -> str | None:
        said = self.room.desk.do(message, who, number, self.heard)
        if isinstance(place := self.room.desk.place(number), Place):
            self.room.glances.forget(place)
        return said

    def _tell_desk(self, message: Message, who: Who) -> str | None:
        return self._send(message, who, typed(self.trainee)) or "Sent to the other server."

    def _clock(self, deed: str) -> Deed:
        async def do(who: Who) -> str | None:
            return self._tell_desk({"page": deed, "reason": typed(self.reason)}, who)

        return do

    async def _end(self, who: Who) -> str | None:
        message = {"page": "end", "reason": typed(self.reason)}
        return await self.cut.begin(Beginning(message, "End", (typed(self.trainee),)), who)
