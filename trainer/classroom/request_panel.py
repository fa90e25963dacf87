"""What trainees ask for, the oldest first, each with one press that does it as asked, or a word why not."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence

import panel as pn
from panel.viewable import Viewable

from trainer.classroom.access import Who
from trainer.classroom.cut_short import Beginning, Send
from trainer.classroom.glance import Asked
from trainer.classroom.instructor import LONGEST_REASON
from trainer.classroom.staff_page import Deed, StaffPage, html, row, typed
from trainer.classroom.wall import Shown
from trainer.console import debrief
from trainer.drawing.markup import Markup, el

MOST_ROWS = 6
"""So many requests stand here at once; the others follow as these are answered."""
Begin = Callable[[Beginning, Who], Awaitable[str | None]]


class RequestPanel:
    """A row for each request of the class. ``send`` carries a message to one place; ``begin`` starts what is allowed,
    and asks before it cuts a run short."""

    def __init__(self, page: StaffPage, send: Send, begin: Begin) -> None:
        self._page, self._send, self._begin = page, send, begin
        self._there: tuple[tuple[str, str, int], ...] = ()
        self.view = pn.Column(visible=False, sizing_mode="stretch_width")

    def show(self, everybody: Sequence[Shown]) -> None:
        """Bring the rows up to date; they change only when a request comes or is answered."""
        wishes = [(one, None) for one in everybody if one.glance.wish]
        asked = [(one, request) for one in everybody for request in one.glance.asked]
        waiting: list[tuple[Shown, Asked | None]] = [*wishes, *sorted(asked, key=lambda pair: pair[1].t)]
        key = tuple((one.number, one.glance.wish, request.number if request else 0) for one, request in waiting)
        if key == self._there:
            return
        self._there = key
        rows: list[Viewable] = [html(el("h2", {}, f"Requests: {len(waiting)}"))]
        rows += [
            self._wish(one) if request is None else self._row(one, request) for one, request in waiting[:MOST_ROWS]
        ]
        if more := len(waiting) - MOST_ROWS:
            rows += [html(el("p", {}, f"{more} more wait."))] if more > 0 else []
        self.view.objects = rows
        self.view.visible = bool(waiting)

    def _wish(self, one: Shown) -> Viewable:
        async def allow(who: Who) -> str | None:
            return await self._begin(Beginning({"page": "allow"}, f"{one.glance.wish} (check)", (one.number,)), who)

        return pn.Column(
            _words(one.name, "asks for the check ", one.glance.wish), row(self._page.button("Allow", allow))
        )

    def _row(self, one: Shown, request: Asked) -> Viewable:
        word = pn.widgets.TextInput(label="A word about it", max_length=LONGEST_REASON, width=190)

        def deed(page: str) -> Deed:
            async def do(who: Who) -> str | None:
                message = {"page": page, "number": str(request.number), "text": typed(word)}
                return self._send(message, who, one.number) or "Sent to the other server."

            return do

        keys = ["Do it", "Decline"] if request.control else ["Answer"]
        deeds = {"Do it": "grant", "Decline": "decline", "Answer": "answer"}
        buttons = [self._page.button(key, deed(deeds[key]), "instructor") for key in keys]
        return pn.Column(_words(one.name, f"asks at {debrief.clock(request.t)}: ", request.text), row(*buttons, word))


def _words(name: str, verb: str, what: str) -> pn.pane.HTML:
    return html(Markup(el("p", {}, el("b", {}, name), " ", verb, what)))
