"""The part of a seat that looks back: on the run just over, and on the attempts before it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from trainer import units
from trainer.console import debrief, guided
from trainer.console import progress as attempts
from trainer.console.after import After
from trainer.console.colours import theme_patch
from trainer.console.kept import KEPT
from trainer.console.presenter import Patch, Presenter
from trainer.console.progress import Attempt, Progress
from trainer.console.reading import Reading
from trainer.console.run import Run, Start
from trainer.console.trends import History
from trainer.drawing.markup import Markup
from trainer.drills.schema import Drill


class LooksBack:
    """What a seat does after a run. ``Seat`` has what is only declared here."""

    run: Run | None
    drill: Drill | None
    drills: Mapping[str, Drill]
    plant: str
    units: units.System
    theme: str
    page: str
    mode: str
    pace: float
    paused: bool
    _start: Start
    _presenter: Presenter | None
    _refused: tuple[str, float] | None
    _ending: float | None
    _due: float
    _noted: str
    _card: str
    _briefing: bool
    _begun: bool
    _dressed: Callable[[], Patch]
    _texts: Callable[[], dict[str, Reading]]

    #: Whether the score sheet offers the report to download; whoever sets it answers the page's asking.
    reports = False
    #: What is said beside the evidence to download; empty where it needs no word.
    about_evidence = ""

    def __init__(self) -> None:
        self.after: After | None = None
        self.attempts: list[Attempt] = []
        self._own: Presenter | None = None
        self._sheet = self._origin = ""
        self._progress: Progress | None = None
        self._kept: Attempt | None = None

    def _over(self, run: Run) -> None:
        """The run is over: its sheet, what can be done with it, and the attempt that it was."""
        sheet, kind = {"simulated_s": run.time, **run.sheet()}, run.identity
        self._kept = None
        if guided.is_guided(self.drill):
            self._sheet, self.after = self._led_to(run), None
            return
        self._sheet = debrief.sheet(sheet, self.drill, self.mode + self._origin, self.reports, self.about_evidence)
        self.after = After(self, lambda mode: self._start(kind.drill, kind.plant, kind.seed, mode))
        if self.drill is not None and run.time > 0.0:
            key = attempts.attempt_id(self.drill.id, kind.seed, run.time, float(sheet.get("score", 0.0)))
            self._kept = attempts.attempt(key, sheet, self.mode, self.drill)
            self.attempts.append(self._kept)

    def _led_to(self, run: Run) -> Markup:
        """The page at the end of a guided run."""
        assert self._presenter is not None
        return guided.over(bool(run.sheet().get("passed")), self._presenter.history.happened, self.units)

    # What the debrief does with this seat

    @property
    def shown(self) -> Run | None:
        """The run that the boards show: the one under way, or the one that is replayed."""
        return (self.after.shown if self.after is not None else None) or self.run

    def show(self, presenter: Presenter) -> Patch:
        """Show a replay on all boards."""
        self._own, self._presenter = self._presenter, presenter
        self._card, self._refused, self.pace = "", None, 1.0
        return self._dressed()

    def back(self) -> Patch:
        """From a replay back to the sheet."""
        self._presenter, self._card = self._own, ""
        if self._presenter is None:
            return {}
        self._presenter.use(self.units)
        return self._presenter.first()

    def go_on(self, run: Run, history: History, said: str) -> Patch:
        """Practise on from a replay, in a run of its own that stands still at first."""
        self.run, self.mode, self.page, self._origin = run, "practice", "console", f", {said}"
        self.after = None
        self._briefing, self._begun, self.paused = False, True, True
        self._due, self._ending, self._noted = 0.0, None, "Press Resume to go on from here. This is practice, no check."
        self._presenter = Presenter(run, self.units, {}, self._texts, history)
        return self._dressed()

    def patch(self) -> Patch:
        """What changed on the page."""
        return self._presenter.patch() if self._presenter else {}

    def texts(self) -> dict[str, Reading]:
        """The texts of the page."""
        return self._texts()

    def summary(self) -> Markup:
        """What was done and what alarmed in the run just over."""
        own = self._own or self._presenter
        return own.history.happened.summary(self.units) if own is not None else Markup("")

    def remarks(self) -> list[tuple[float, str]]:
        """Moments that somebody noted for the debrief, with what was noted."""
        return []

    # Progress over attempts

    def past(self, kept: str) -> list[Attempt]:
        """The attempts before those of this seat, oldest first, from what the browser kept."""
        return attempts.read(kept)

    def keeps(self) -> bool:
        """Whether the browser keeps the attempts: nobody else does."""
        return True

    def _look_back(self, message: Mapping[str, Any]) -> Patch:
        if self.page not in ("chooser", "sheet"):
            return {}
        before = self.past(str(message.get("kept") or ""))
        drill = self.drill.id if self.drill is not None else ""
        self._progress = Progress([*before, *self.attempts], self.page, drill)
        self.page = "progress"
        return {**self._progress.patch(), **theme_patch(self.theme)}

    def _look_at(self, message: Mapping[str, Any]) -> Patch:
        if self._progress is None or self.page != "progress":
            return {}
        self._progress.choose(str(message.get("value") or ""))
        return self._progress.patch()

    def _look_up(self, _: Mapping[str, Any] | None = None) -> Patch:
        """Back to where the page was before."""
        if self._progress is None or self.page != "progress":
            return {}
        self.page, self._progress = self._progress.where, None
        return {"header": {"readings": {"page.page": {"state": self.page}}}}

    def _looking_back(self, refused: bool) -> dict[str, Reading]:
        """The page's texts of this part."""
        out: dict[str, Reading] = {"page.sheet": {"html": self._sheet}}
        if self._progress is not None and self.page == "progress":
            out["page.page"] = {"state": self._progress.where}
        if self._kept is not None and self.keeps():
            out["page.attempt"] = {"state": KEPT, "add": self._kept.record(), "most": attempts.MOST}
        if self.after is not None:
            out |= self.after.texts(refused)
        return out
