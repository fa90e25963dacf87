"""``/live``: every run that is going on, with what an assessor may do: watch, start a check, stop, end, note."""

from __future__ import annotations

import panel as pn
from panel.viewable import Viewable

from trainer.classroom.access import Who
from trainer.classroom.cut_short import Beginning, CutShort
from trainer.classroom.desk_readings import row_texts
from trainer.classroom.desk_view import AGREED
from trainer.classroom.instructor import LONGEST_REASON, CutsShortError
from trainer.classroom.place import LONGEST_TEXT
from trainer.classroom.roster import AnyPlace, Place
from trainer.classroom.staff_page import StaffPage, by_title, html, offer_by_name, row, typed
from trainer.classroom.staff_table import Cell, fill, table
from trainer.console.message import Message
from trainer.drawing.markup import el

ABOUT = (
    "Choose a trainee in the table or the list. Start the check begins the drill chosen here. Allow the check begins "
    "the one that the trainee requests. A check draws its own variation."
)
EMPTY = "No trainee is here yet: they show once they have joined and opened the drills."


class Live(StaffPage):
    """The roster, and one trainee of it that everything is done for."""

    path, title, renew_s = "live", "Live", 1.0

    def lay_out(self) -> list[Viewable]:
        """The table that renews itself, and what is done beside it, which stays while it does."""
        self.runs = table(
            {
                "trainee": "Trainee",
                "drill": "Drill",
                "time": "Time",
                "state": "State",
                "asks": "Requests",
                "watch": "Console",
            },
            links=("watch",),
            filters=("trainee", "drill", "state"),
            new_tab=True,
            empty=EMPTY,
        )
        self._numbers: list[str] = []
        self.runs.on_click(self._clicked)
        self.trainee = pn.widgets.Select(label="Trainee", width=300)
        self.trainee.param.watch(self._offer, "value")
        self._offered = ("", "")
        self.drill = pn.widgets.Select(label="Drill", options=by_title(self.room.rooms.drills), width=420)
        self.cut = CutShort(self, self._send)
        self.reason = pn.widgets.TextInput(label="Reason", max_length=LONGEST_REASON, width=420)
        self.text = pn.widgets.TextInput(label="Note of this moment", max_length=LONGEST_TEXT, width=420)
        return [
            html(el("p", {}, ABOUT)),
            self.runs,
            row(
                self.trainee,
                self.drill,
                self._deed("Start the check", "start"),
                self._deed("Allow the check", "allow"),
            ),
            self.cut.view,
            row(
                self.reason,
                self._deed("Stop the clock", "freeze"),
                self._deed("Resume", "resume"),
                self._deed("End the check", "end"),
            ),
            row(self.text, self._deed("Note", "note")),
            html(el("p", {"class": "soft"}, "Stopping and ending need a reason, which stands in the record.")),
        ]

    async def load(self) -> None:
        """How the runs stand now."""
        places = self.room.desk.places()
        self._numbers = [place.number for place in places]
        fill(self.runs, map(_row, places))
        offer_by_name(self.trainee, [(place.name, place.number) for place in places])
        self._offer()

    def _offer(self, _: object = None) -> None:
        """Offer the drill that the chosen trainee requests or runs, once; then whatever is chosen stays."""
        number = typed(self.trainee)
        place = self.room.desk.place(number)
        seat = place.seat if isinstance(place, Place) else None
        drill = "" if seat is None else seat.wish.drill if seat.wish else seat.drill.id if seat.drill else ""
        if (number, drill) != self._offered:
            self._offered = number, drill
            if drill in self.room.rooms.drills:
                self.drill.value = drill

    def _clicked(self, event: object) -> None:
        at = getattr(event, "row", -1)
        if isinstance(at, int) and 0 <= at < len(self._numbers):
            self.trainee.value = self._numbers[at]

    def _deed(self, label: str, deed: str) -> pn.widgets.Button:
        """A button for what the desk does, with the same rules and the same trail as the instructor's page."""

        async def do(who: Who) -> str | None:
            message = {
                "page": deed,
                "drill": typed(self.drill),
                "mode": "check",
                "reason": typed(self.reason),
                "text": typed(self.text),
            }
            number = typed(self.trainee)
            try:
                said = self._send(message, who, number)
            except CutsShortError as error:
                self._ask(message, number, str(error))
                return None
            self.reason.value = self.text.value = ""
            return said or "Sent to the other server."

        return self.button(label, do)

    def _send(self, message: Message, who: Who, number: str) -> str | None:
        """Carry it out, here or at another server, which may ask before it cuts a run short."""

        def heard(said: str, kind: str) -> None:
            if kind == "asks":
                self._document.add_next_tick_callback(lambda: self._ask(message, number, said))
            else:
                self.heard(said, kind)

        return self.room.desk.do(message, who, number, heard)

    def _ask(self, message: Message, number: str, loses: str) -> None:
        place = self.room.desk.place(number)
        wished = place.seat.wish if message["page"] == "allow" and isinstance(place, Place) else None
        drill = self.room.rooms.drills.get(str(message["drill"]))
        title = wished.title if wished is not None else drill.title if drill is not None else "The check"
        title = AGREED[message["page"]][0] if message["page"] in AGREED else f"{title} (check)"
        self.cut.ask(Beginning(message, title, (number,)), [loses])


def _row(place: AnyPlace) -> dict[str, Cell]:
    seen = row_texts(place)
    return {
        "trainee": place.name,
        "drill": seen["drill"],
        "time": seen["clock"],
        "state": seen["state"],
        "asks": "a check" if seen["asks"] == "check" else "",
        "watch": ("Watch", place.watch),
    }
