"""A finished attempt as staff look back on it: its sheet, its timeline and its replay, computed from its evidence.

The replay is computed a slice at a time, as the debrief of a run that was just over: no page waits for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import cast

from trainer.console import debrief
from trainer.console.after import After
from trainer.console.boards import Boards
from trainer.console.presenter import Patch, Presenter
from trainer.console.reading import Reading
from trainer.console.run import Start
from trainer.console.seat import Seat
from trainer.console.trends import History
from trainer.drills.schema import Drill
from trainer.session.evidence import Evidence
from trainer.session.replay import Recording
from trainer.session.sheets import SheetData
from trainer.wording import taken_up

ONLY = "this is a record: it is looked at, and nothing in it changes."
LOOKS = ("after", "replay", "what-if", "seek", "step", "units", "theme", "card")
IN_REPLAY = ("pause", "pace", "finish", "walk")
"""What the page may do everywhere, and what only while the replay is shown."""


class RecordedSeat(Seat):
    """A seat over one attempt of the records. ``whose`` names it, ``notes`` are (time, text) of staff.

    ValueError when the drill or plant that it was run on is not here any more.
    """

    def __init__(
        self,
        start: Start,
        drills: Mapping[str, Drill],
        boards: Boards,
        document: Evidence,
        whose: str,
        notes: Sequence[tuple[float, str]] = (),
    ) -> None:
        super().__init__(start, drills, boards)
        kind = document.run
        self._whose, self._notes = whose, list(notes)
        self.run = start(kind.drill, kind.plant, kind.seed, kind.mode)
        self.drill, self.plant, self.mode, self.page = drills.get(kind.drill or ""), kind.plant, kind.mode, "sheet"
        self._presenter = Presenter(self.run, self.units, {}, self._texts, History())
        sheet = cast(SheetData, {"simulated_s": document.seconds, **taken_up(document.sheet)})
        self._sheet = debrief.sheet(sheet, self.drill, self.mode, record=True)
        recorded = Recording(kind, tuple(document.log), document.end)
        self.after = After(self, self.run, lambda mode: start(kind.drill, kind.plant, kind.seed, mode), recorded, sheet)

    def handle(self, message: Mapping[str, object]) -> Patch:
        """Only what looks; of anything else it is said that it does nothing."""
        page = message.get("page")
        if page in LOOKS or (page in IN_REPLAY and self.page == "replay"):
            return super().handle(message)
        why: Reading = {"html": debrief.refusal(ONLY)}
        return {"messages": {"readings": {"page.refusal": why, "page.says": {"state": "refused"}}}}

    def remarks(self) -> list[tuple[float, str]]:
        """What staff noted during the run."""
        return self._notes

    def _texts(self) -> dict[str, Reading]:
        texts = super()._texts()
        if texts:
            texts["page.mode"] = {"text": f"{self.mode}, the record of {self._whose}"}
            texts["page.sound"] = texts["page.noise"] = {"state": "off"}
        return texts
