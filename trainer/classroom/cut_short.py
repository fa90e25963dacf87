"""Before a run that is under way is cut short, what is lost is said: one question for every page that starts drills."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import panel as pn

from trainer.classroom import paper
from trainer.classroom.access import Who
from trainer.classroom.desk_view import AGREED
from trainer.classroom.instructor import CutsShortError, RefusedError
from trainer.classroom.staff_page import StaffPage, html, row
from trainer.console.message import Message
from trainer.drawing.markup import Markup, el, join

CUT = "Cut short and start"
Send = Callable[[Message, Who, str], str | None]
"""Carries out a message of the desk for the place of a number; None where another process does."""


@dataclass(frozen=True)
class Beginning:
    """What is to begin and for whom, held to until it is answered whatever the lists of the page say by then."""

    message: Message
    title: str
    """What begins, in words."""
    numbers: Sequence[str]
    """The places for which it begins."""


class CutShort:
    """The question and its two answers. ``send`` carries out a start for one place."""

    def __init__(self, page: StaffPage, send: Send) -> None:
        self._send = send
        self._pending: Beginning | None = None
        self._words = html(Markup(""))
        self._yes = page.button(CUT, self._cut)
        self._back = page.button("Take it back", self._take_back)
        self._back.visible = False
        self._done: list[str] = []
        self._asking = pn.Column(
            self._words,
            row(self._yes, page.button("Leave them", self._leave)),
            visible=False,
            sizing_mode="stretch_width",
        )
        self.view = pn.Column(self._asking, self._back, sizing_mode="stretch_width")

    def ask(self, beginning: Beginning, lines: Sequence[str], any_to_cut: bool = True) -> None:
        """Say what each of these runs would lose; without ``any_to_cut`` there is nothing to agree to."""
        deed = str(beginning.message.get("page"))
        head = f"{beginning.title} is not {'done' if deed in AGREED else 'started'} yet. {len(lines)} in a run:"
        rows = el("ul", {}, [el("li", {}, line) for line in lines])
        self._words.object = paper.told(join(el("p", {}, head), rows), "alert")
        self._yes.label = AGREED[deed][1] if deed in AGREED else CUT
        self._pending, self._yes.visible, self._asking.visible = beginning, any_to_cut, True

    async def begin(self, beginning: Beginning, who: Who) -> str | None:
        """Start for each of these places, one after the other; the class goes on between. Asks where a run is under way
        that nobody has agreed to cut short. What was done, in words; RefusedError where nothing was."""
        self._forget()
        done, refused, asked = 0, [], {}
        cut = beginning.message.get("cut") is True
        self._done = []
        for number in beginning.numbers:
            try:
                self._send(beginning.message, who, number)
                done += 1
                self._done += [number] if cut else []
            except CutsShortError as error:
                asked[number] = str(error)
            except RefusedError as error:
                refused.append(str(error))
            await asyncio.sleep(0)
        if asked:
            rest = Beginning(beginning.message, beginning.title, tuple(asked))
            self.ask(rest, tuple(asked.values()))
        if not done:
            if asked and not refused:
                return None
            raise RefusedError("; ".join(refused[:3]) or "no trainee is here to start for")
        self._back.visible = bool(self._done)
        verb = "done" if str(beginning.message.get("page")) in AGREED else "started"
        said = f"{beginning.title}: {verb} for {done}"
        return f"{said}; not for {len(refused)}: {'; '.join(refused[:3])}" if refused else f"{said}."

    async def _cut(self, who: Who) -> str | None:
        if self._pending is None:
            raise RefusedError("nothing is asked any more: press Start again")
        agreed = self._pending
        return await self.begin(Beginning({**agreed.message, "cut": True}, agreed.title, agreed.numbers), who)

    async def _leave(self, _: Who) -> str | None:
        self._forget()
        return "No run was cut short."

    async def _take_back(self, who: Who) -> str | None:
        """Lead back those runs that were cut short here last, each to where it stood."""
        numbers, self._done, self._back.visible = self._done, [], False
        refused = []
        for number in numbers:
            try:
                self._send({"page": "undo"}, who, number)
            except RefusedError as error:
                refused.append(str(error))
            await asyncio.sleep(0)
        said = f"Taken back for {len(numbers) - len(refused)}"
        return f"{said}; not for {len(refused)}: {'; '.join(refused[:3])}" if refused else f"{said}."

    def _forget(self) -> None:
        self._pending, self._asking.visible = None, False
