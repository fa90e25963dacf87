"""Starting one drill for a class: who waits begins at once; before a run is cut short, what is lost is said."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import panel as pn
from param.parameterized import Event

from trainer.classroom.access import Who
from trainer.classroom.cut_short import Beginning, CutShort, Send
from trainer.classroom.instructor import RefusedError, would_end
from trainer.classroom.staff_page import StaffPage, row, typed
from trainer.classroom.wall import Shown

FREE = "free"
"""What is chosen for free practice; no drill is called so, and a field takes no empty choice."""
MODES = {"Practice": "practice", "Check": "check"}


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
        self._everybody, self._chosen = everybody, chosen
        self.drill = pn.widgets.Select(label="Drill", options=dict(drills), width=300)
        self.mode = pn.widgets.Select(label="Mode", options=MODES, width=120)
        self.seed = pn.widgets.TextInput(label="Variation (practice)", value="0", width=120)
        self.mode.param.watch(self._of_check, "value")
        self.question = CutShort(page, send)
        self.view = pn.Column(
            row(
                self.drill,
                self.mode,
                self.seed,
                page.button("Start for all who wait", self._waiting),
                page.button("Start for all", self._all),
                page.button("Start for the chosen one", self._one),
            ),
            self.question.view,
            sizing_mode="stretch_width",
        )

    def _of_check(self, event: Event) -> None:
        """A check draws its own variation."""
        self.seed.disabled = event.new == "check"

    async def _waiting(self, who: Who) -> str | None:
        free = [one for one in self._everybody() if not one.glance.running]
        if not free:
            raise RefusedError("every trainee is in a run; Start for all asks before it cuts them short")
        return await self.question.begin(self._beginning(free), who)

    async def _all(self, who: Who) -> str | None:
        return await self._ask(self._everybody(), who)

    async def _one(self, who: Who) -> str | None:
        return await self._ask([one for one in self._everybody() if one.number == self._chosen()], who)

    async def _ask(self, wanted: Sequence[Shown], who: Who) -> str | None:
        """Start for these, unless somebody among them is in a run: then say what would be lost."""
        if not wanted:
            raise RefusedError("no trainee is here to start for")
        beginning, runs = self._beginning(wanted), [one for one in wanted if one.glance.running]
        if not runs:
            return await self.question.begin(beginning, who)
        self.question.ask(beginning, [lost(one) for one in runs], not all(one.glance.checked for one in wanted))
        return None

    def _beginning(self, wanted: Sequence[Shown]) -> Beginning:
        drill, mode, seed = typed(self.drill), typed(self.mode), typed(self.seed)
        title = next((name for name, value in self.drill.options.items() if value == drill), "")
        kind = "check" if mode == "check" else "no drill" if drill == FREE else f"practice, variation {seed}"
        message = {"page": "start", "drill": "" if drill == FREE else drill, "mode": mode, "seed": seed}
        return Beginning(message, f"{title} ({kind})", tuple(one.number for one in wanted))


def lost(one: Shown) -> str:
    """What is lost when this run is cut short, in words; that a check is not."""
    glance = one.glance
    if glance.checked:
        return (
            f"{one.name}: a check of {glance.drill} is under way. It goes on: to end it, choose {one.name}, enter a "
            "reason and press End."
        )
    return would_end(one.name, glance.drill, glance.clock, glance.score)
