"""``/run``: the chosen run, as it is and as its instruments show it, with values, trends, faults and other changes."""

from __future__ import annotations

import panel as pn
from panel.viewable import Viewable

from trainer.classroom.change_panel import ChangePanel
from trainer.classroom.chosen_page import ChosenPage
from trainer.classroom.cut_short import CutShort
from trainer.classroom.fault_panel import FaultPanel
from trainer.classroom.glance import Glance
from trainer.classroom.glance_page import chosen_run
from trainer.classroom.roster import FarPlace, Place
from trainer.classroom.run_view import LiveValues, RunView
from trainer.classroom.staff_page import WRAPS, html, offer_by_name, put, row, typed
from trainer.drawing.markup import Markup, el
from trainer.simulator import Session


class ChosenRun(ChosenPage):
    """One run with everything about it. ``?seat=`` says whose it is at first."""

    path, title, renew_s, wide = "run", "The chosen run", 1.0, True

    def lay_out(self) -> list[Viewable]:
        """Whose run and its clock, the two schematics, what can be changed, and below them values and last actions."""
        self._asked, self._beat = self.given.get("seat", ""), 0
        self.choose(units_px=130, reason_px=180)
        self.faults = FaultPanel(self, self.send_chosen)
        self.changes = ChangePanel(self, self.send_chosen)
        self.values = LiveValues(self)
        self.both = RunView(self.faults.pick)
        self.question = CutShort(self, self.send)
        self.stands, self.told = html(Markup("")), html(Markup(""))
        side = {"flex": "1 1 500px", "max-width": "620px", "min-width": "0"}
        return [
            row(
                self.trainee,
                self.reason,
                self.button("Stop the clock", self.clock("freeze")),
                self.button("Resume", self.clock("resume")),
                self.button("End", self.end),
                self.system,
            ),
            self.question.view,
            self.stands,
            self.both.view,
            html(el("p", {"class": "soft"}, "Press a part of either drawing: its faults stand below.")),
            pn.Row(
                pn.Column(self.faults.view, styles=side, sizing_mode="stretch_width"),
                pn.Column(self.changes.view, self.told, styles=side, sizing_mode="stretch_width"),
                styles={**WRAPS, "align-items": "flex-start"},
                sizing_mode="stretch_width",
            ),
            self.values.view,
        ]

    async def load(self) -> None:
        """Read how the runs stand now, and show the chosen one."""
        self._beat += 1
        places = self.everyone()
        offer_by_name(self.trainee, [(one.name, one.number) for one in places])
        if self._asked in [one.number for one in places]:
            self.trainee.value, self._asked = self._asked, ""
        self._show()

    def _show(self) -> None:
        if not self.still():
            return
        place = self.room.desk.place(typed(self.trainee))
        system = self.shown_in
        run = place.run if isinstance(place, Place) and isinstance(place.run, Session) else None
        glance = self.room.glances.of(place) if place is not None else Glance()
        self.both.show(run, place.plant if place is not None else "", system)
        self.values.show(run, system, self._beat)
        self.faults.show(place, glance)
        self.changes.show(place, glance)
        watch = el("a", {"href": place.watch, "target": "_blank"}, "Watch the console") if place is not None else None
        far = "This run is at another server: its drawings stand there. " if isinstance(place, FarPlace) else ""
        # Who runs no drill chooses one: that is said by what they wait for.
        words = (
            (glance.drill, glance.clock, glance.need) if glance.drill or glance.running else (glance.need or "No run",)
        )
        head = f"{' '.join(filter(None, words))}. {far}"
        put(self.stands, el("p", {}, head, watch))
        put(self.told, chosen_run(glance, system))
