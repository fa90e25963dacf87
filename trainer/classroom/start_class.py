"""Starting one drill for a class: who waits begins at once; before a run is cut short, what is lost is said."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence

import panel as pn

from trainer.classroom import paper
from trainer.classroom.access import Who
from trainer.classroom.instructor import RefusedError
from trainer.classroom.staff_page import StaffPage, html, row, typed
from trainer.classroom.wall import Shown
from trainer.console.message import Message
from trainer.drawing.markup import Markup, el, join

FREE = "free"
"""What is chosen for free practice; no drill is called so, and a field takes no empty choice."""
MODES = {"Practice": "practice", "Check": "check"}
Send = Callable[[Message, Who, str], str | None]
"""Carries out a message of the desk for the place of a number; None where another process does."""


class StartClass:
    """The widgets that start a drill. ``everybody`` gives who is there now, ``chosen`` the number of the chosen one."""

    def __init__(
        self,
        page: StaffPage,
        send: Send,
        everybody: Callable[[], Sequence[Shown]],
        chosen: Callable[[], str],
        drills: Mapping[str, str],
    ) -> None:
        self._send, self._everybody, self._chosen = send, everybody, chosen
        self._asked: tuple[str, ...] = ()
        self.drill = pn.widgets.Select(name="Drill", options=dict(drills), width=420)
        self.mode = pn.widgets.Select(name="Mode", options=MODES, width=130)
        self.seed = pn.widgets.TextInput(name="Variation (practice)", value="0", width=130)
        self._question = html(Markup(""))
        self._asking = pn.Column(
            self._question,
            row(page.button("Cut short and start", self._cut), page.button("Leave them", self._leave)),
            visible=False,
            sizing_mode="stretch_width",
        )
        self.view = pn.Column(
            row(
                self.drill,
                self.mode,
                self.seed,
                page.button("Start for all who wait", self._waiting),
                page.button("Start for all", self._all),
                page.button("Start for the chosen one", self._one),
            ),
            self._asking,
            sizing_mode="stretch_width",
        )

    async def _waiting(self, who: Who) -> str | None:
        free = [one for one in self._everybody() if not one.glance.running]
        if not free:
            raise RefusedError("every trainee is in a run; Start for all asks before it cuts them short")
        return await self._start([one.number for one in free], who)

    async def _all(self, who: Who) -> str | None:
        return await self._ask(self._everybody(), who)

    async def _one(self, who: Who) -> str | None:
        return await self._ask([one for one in self._everybody() if one.number == self._chosen()], who)

    async def _ask(self, wanted: Sequence[Shown], who: Who) -> str | None:
        """Start for these, unless somebody among them is in a run: then say what would be lost."""
        if not wanted:
            raise RefusedError("no trainee is here to start for")
        runs = [one for one in wanted if one.glance.running]
        if not runs:
            return await self._start([one.number for one in wanted], who)
        self._asked = tuple(one.number for one in wanted)
        runs_on = el("p", {}, f"{len(runs)} in a run. Nothing is started yet.")
        rows = el("ul", {}, [el("li", {}, lost(one)) for one in runs])
        self._question.object = paper.told(join(runs_on, rows), "alert")
        self._asking.visible = True
        return None

    async def _cut(self, who: Who) -> str | None:
        if not self._asked:
            raise RefusedError("nothing is asked any more: press Start again")
        here = {one.number for one in self._everybody()}
        wanted = [number for number in self._asked if number in here]
        self._forget()
        return await self._start(wanted, who)

    async def _leave(self, _: Who) -> str | None:
        self._forget()
        return "No run was cut short."

    def _forget(self) -> None:
        self._asked, self._asking.visible = (), False

    async def _start(self, numbers: Sequence[str], who: Who) -> str:
        """Start one after the other; the class goes on between."""
        self._forget()
        drill = typed(self.drill)
        title = next((name for name, value in self.drill.options.items() if value == drill), "")
        given = "" if drill == FREE else drill
        message = {"page": "start", "drill": given, "mode": typed(self.mode), "seed": typed(self.seed)}
        done, sent, refused = 0, 0, []
        for number in numbers:
            try:
                if self._send(message, who, number) is None:
                    sent += 1
                else:
                    done += 1
            except RefusedError as error:
                refused.append(str(error))
            await asyncio.sleep(0)
        if not done and not sent:
            raise RefusedError("; ".join(refused[:3]) or "no trainee is here to start for")
        said = f"{title}: started for {done + sent}"
        return f"{said}; not for {len(refused)}: {'; '.join(refused[:3])}" if refused else f"{said}."


def lost(one: Shown) -> str:
    """What is lost when this run is cut short, in words; that a check is not."""
    glance = one.glance
    if glance.checked:
        return f"{one.name}: a check of {glance.drill} is under way. It goes on: end it first, with a reason."
    score = "" if glance.score is None else f", {glance.score:.0f} points so far"
    return (
        f"{one.name}: {glance.drill} at {glance.clock}{score}. It ends there and cannot go on. "
        "Under Attempts it is kept as it stands; a guest's run is not kept."
    )
