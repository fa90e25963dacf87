"""Pages about one trainee of the class, whom staff choose: what is sent for that one, and the clock of their run."""

from __future__ import annotations

from collections.abc import Sequence

import panel as pn

from trainer import units
from trainer.classroom.access import Who
from trainer.classroom.cut_short import Beginning, CutShort
from trainer.classroom.instructor import LONGEST_REASON
from trainer.classroom.roster import AnyPlace, Place
from trainer.classroom.staff_page import Deed, StaffPage, typed
from trainer.console.message import Message

UNITS = {"Field units": "field", "Metric units": "metric"}


class ChosenPage(StaffPage):
    """A page with a field for the trainee, one for the units and one for a reason. ``question`` asks on it before a run
    is cut short."""

    question: CutShort

    def choose(self, units_px: int, reason_px: int) -> None:
        """Make the three fields, with the widths of the last two; whatever is chosen shows at once."""
        self.trainee = pn.widgets.Select(label="Trainee", width=200)
        self.system = pn.widgets.Select(label="Units", options=UNITS, width=units_px)
        self.reason = pn.widgets.TextInput(label="Reason (in a check)", max_length=LONGEST_REASON, width=reason_px)
        for field in (self.trainee, self.system):
            field.param.watch(lambda _: self._show(), "value")

    def _show(self) -> None:
        """Bring everything up to date with what was read last."""
        raise NotImplementedError

    @property
    def shown_in(self) -> units.System:
        """The units that are chosen on the page: field or metric."""
        return "metric" if self.system.value == "metric" else "field"

    def everyone(self) -> Sequence[AnyPlace]:
        """Every place of the class, by name; other servers tell how theirs stand as long as this is asked."""
        if self.room.desk.members is not None:
            self.room.desk.members.look_at_all(id(self))
        return self.room.desk.places()

    def send(self, message: Message, who: Who, number: str) -> str | None:
        """Carry a message out for the place of a number; what it gave, or None where another server carries it out."""
        said = self.room.desk.do(message, who, number, self.heard)
        if isinstance(place := self.room.desk.place(number), Place):
            self.room.glances.forget(place)
        return said

    def send_chosen(self, message: Message, who: Who) -> str:
        """Carry a message out for the chosen trainee, or for all where it says so; what it gave, in words."""
        return self.send(message, who, typed(self.trainee)) or "Sent to the other server."

    def clock(self, deed: str, everybody: bool = False) -> Deed:
        """What a button does that stops the clock of the chosen trainee or of all, or lets it go on."""

        async def do(who: Who) -> str:
            message = {"page": deed, "reason": typed(self.reason)}
            said = self.send_chosen(message | ({"to": "all"} if everybody else {}), who)
            self.reason.value = ""
            return said

        return do

    async def end(self, who: Who) -> str | None:
        """End the run of the chosen one: a check with its reason, another run once it is said what is lost."""
        message = {"page": "end", "reason": typed(self.reason)}
        said = await self.question.begin(Beginning(message, "End", (typed(self.trainee),)), who)
        self.reason.value = ""
        return said
