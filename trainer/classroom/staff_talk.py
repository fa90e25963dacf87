"""What staff tell one another beside a class: what each of them did last, notes to hand over, and private notes."""

from __future__ import annotations

import time

import panel as pn
from sqlalchemy.orm import Session

from trainer.classroom.access import Who
from trainer.classroom.staff_page import StaffPage, html, put, row, typed
from trainer.drawing.markup import Markup, el
from trainer.records import staff_notes
from trainer.records.staff_notes import LONGEST, Noted

AGAIN_S = 5.0
"""So often the notes are read anew, s."""
WHOSE = {"For all staff": "all", "For me alone": "own"}
TAKES_OVER = "takes over the class"


class StaffTalk:
    """A card with the last acts of all staff at this server, the notes, and a field for a new one."""

    def __init__(self, page: StaffPage) -> None:
        self._page = page
        self._read_at = -AGAIN_S
        self._notes: list[Noted] = []
        self.text = pn.widgets.TextInput(label="Note that no trainee sees", max_length=LONGEST, width=250)
        self.whose = pn.widgets.Select(label="Note for", options=WHOSE, width=150)
        self.shown = html(Markup(""))
        self.view = pn.Column(
            html(el("h2", {}, "Between staff")),
            row(
                self.text,
                self.whose,
                page.button("Keep the note", self._keep),
                page.button("Take over the class", self._take_over),
            ),
            self.shown,
            sizing_mode="stretch_width",
        )

    async def load(self) -> None:
        """Read the notes, every few seconds, and show them below what staff did last."""
        now = time.monotonic()
        if now - self._read_at >= AGAIN_S:
            self._read_at = now
            me = self._page.whose()
            self._notes = await self._page.look(lambda session: staff_notes.latest(session, me))
        acts = [el("li", {}, line) for line in self._page.room.desk.lately]
        notes = [el("li", {}, _words(one)) for one in self._notes]
        markup = el(
            "div",
            {},
            el("h3", {}, "Done last"),
            el("ul", {}, acts or el("li", {}, "Nothing yet")),
            el("h3", {}, "Notes"),
            el("ul", {}, notes or el("li", {}, "No note is kept.")),
        )
        put(self.shown, markup)

    async def _keep(self, who: Who) -> str:
        text, own = typed(self.text), typed(self.whose) == "own"
        await self._write(who, text, own)
        self.text.value = ""
        return "Kept for you alone." if own else "Kept for all staff."

    async def _take_over(self, who: Who) -> str:
        lesson = self._page.room.lesson
        if lesson is not None:
            lesson.by = who.name
        await self._write(who, TAKES_OVER, False)
        self._page.room.outbox.log(who.name, who.role, "class taken over", lesson.plan.id if lesson is not None else "")
        under_way = f" The lesson {lesson.plan.title} goes on under your name." if lesson is not None else ""
        return f"{who.name} leads the class from now on.{under_way}"

    async def _write(self, who: Who, text: str, own: bool) -> None:
        def work(session: Session) -> None:
            staff_notes.write(session, who.person, text, own)

        await self._page.ask(work)
        self._read_at = -AGAIN_S


def _words(one: Noted) -> str:
    whose = ", for you alone" if one.own else ""
    return f"{one.at:%m-%d %H:%M} UTC, {one.by}{whose}: {one.text}"
