"""After a run: its score, its timeline, a replay that can be taken over, and what another time would have brought."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from trainer import units
from trainer.console import by_member, crews, debrief, moves, rerun, shell, timeline, whatif
from trainer.console.message import Message
from trainer.console.presenter import Patch, Presenter
from trainer.console.reading import Reading
from trainer.console.rerun import Replay, Rerun
from trainer.console.told import Deed, Teller
from trainer.console.trends import History
from trainer.constants import TICKS_PER_SECOND
from trainer.drawing.markup import Markup, el, join
from trainer.drills.criteria_schema import Reach
from trainer.drills.schema import Drill
from trainer.drills.sheet import level
from trainer.session.replay import Recording, recording
from trainer.session.sheets import SheetData
from trainer.simulator import Session

TABS = (("score", "Score"), ("timeline", "Timeline and replay"), ("what-if", "What if"))
#: Free practice has no score.
TABS_FREE = (("score", "Summary"), *TABS[1:])
#: So many seconds before a moment the replay of it begins, for the eye to find the place.
LEAD_IN = 5.0
CANNOT = "This run cannot be computed again here: "


class Host(Protocol):
    """The seat whose run is over."""

    drill: Drill | None
    plant: str
    units: units.System
    page: str
    pace: float
    surface: bool

    def summary(self) -> Markup: ...

    def show(self, presenter: Presenter) -> Patch: ...

    def back(self) -> Patch: ...

    def go_on(self, run: Session, history: History, said: str) -> Patch: ...

    def patch(self) -> Patch: ...

    def texts(self) -> dict[str, Reading]: ...

    def remarks(self) -> list[tuple[float, str]]: ...


class After:
    """What a trainee can do with ``run``, which is over. ``start`` begins one of the same kind in a mode.

    ``recorded`` and ``sheet`` are those of a run that was kept, where ``run`` has only begun.
    """

    def __init__(
        self,
        seat: Host,
        run: Session,
        start: Callable[[str], Session],
        recorded: Recording | None = None,
        sheet: SheetData | None = None,
    ) -> None:
        self._seat = seat
        self._run = run
        self._start = start
        self._sheet = run.sheet() if sheet is None else sheet
        self._recorded = recorded or recording(run)
        self._own = recorded is None
        self.tab = "score"
        self._body: Markup = self._scores()
        self._answer: Markup | str = ""
        self._trouble = run.stopped
        self._rerun: Rerun | None = None
        self._replay: Replay | None = None
        self._wanted: float | None = None
        self._what_if: whatif.WhatIf | None = None
        self._moves: moves.Moves | None = None
        self._was: whatif.Outcome | None = None
        self._deeds_in: dict[str, list[Deed]] = {}
        self._asked: tuple[int | None, int, bool] = (None, -20, True)
        self._marked = 0
        self._presenter: Presenter | None = None

    # What drives it

    def handle(self, message: Message) -> Patch | None:
        """Do what a message says; None when it is not one for here."""
        known: dict[str, Callable[[Message], Patch]] = {
            "after": self._turn_to,
            "replay": self._watch,
            "what-if": self._ask,
        }
        if self._seat.page == "replay":
            known = {
                "pause": self._play,
                "seek": self._seek,
                "step": self._step,
                "finish": self._back,
                "take-over": self._take_over,
            }
        act = known.get(str(message.get("page")))
        return act(message) if act else None

    def tick(self, elapsed: float) -> Patch:
        """Let ``elapsed`` seconds of the wall clock pass: the replay plays, or a slice is computed."""
        seat = self._seat
        if seat.page == "replay" and self._replay is not None:
            self._replay.tick(elapsed, seat.pace)
            return self._shown()
        work = self._rerun if self._rerun is not None and not self._rerun.done else None
        if work is not None:
            if work.work():
                self._was = whatif.Outcome(self._sheet, whatif.outcome(work).figures)
                self._draw()
                if self._wanted is not None:
                    return self._enter(self._wanted)
        elif self._what_if is not None and self._what_if.outcome is None:
            if self._what_if.work():
                self._compare()
        elif self._moves is not None and not self._moves.done:
            if self._moves.work():
                self._compare()
        else:
            return {}
        return seat.patch()

    @property
    def shown(self) -> Any:
        """The run that is being replayed; None when none is."""
        return self._rerun.player.session if self._replay is not None and self._rerun is not None else None

    # The tabs

    def _turn_to(self, message: Message) -> Patch:
        wanted = str(message.get("value"))
        if wanted in dict(TABS):
            self.tab = wanted
            if wanted != "score":
                self._compute()
            self._draw()
        return self._seat.patch()

    def _compute(self) -> bool:
        """Begin to compute the run again; whether that can be done."""
        if self._rerun is None and not self._trouble:
            try:
                self._rerun = Rerun(lambda: self._begun("check"), self._recorded)
            except (LookupError, ValueError, OSError) as error:
                self._trouble = f"{CANNOT}{error}"
        return self._rerun is not None

    def _begun(self, mode: str) -> Session:
        run = self._start(mode)
        if run.identity.model_copy(update={"mode": self._recorded.identity.mode}) != self._recorded.identity:
            raise ValueError("the drill or the plant has been changed since")
        return run

    def _teller(self) -> Teller:
        return Teller(self._run.machine, self._seat.drill, self._seat.units)

    def _deeds(self) -> list[Deed]:
        system = self._seat.units
        if system not in self._deeds_in:
            self._deeds_in[system] = self._teller().deeds(self._recorded.log)
        return self._deeds_in[system]

    def _draw(self) -> None:
        self._answer = ""
        if self.tab == "score":
            self._body = self._scores()
        elif self.tab == "timeline":
            self._body = timeline.markup(self._story())
        else:
            self._body = whatif.form(self._deeds(), *self._asked)
            if self._what_if is not None and self._what_if.outcome is not None:
                self._compare()

    def _scores(self) -> Markup:
        return debrief.scores(self._sheet, self._seat.surface) if self._seat.drill is not None else self._seat.summary()

    def redraw(self) -> None:
        """The tab in sight anew, in the units now chosen."""
        if self._replay is None:
            self._draw()

    def _story(self) -> timeline.Story:
        drill, milestones = self._seat.drill, self._sheet.get("milestones") or []
        crew = crews.crew_of(drill.id) if drill else None
        beside = crews.beside(crew, milestones) if crew else None
        done: list[Deed] = []
        if beside is not None:
            done = self._teller().deeds(
                [
                    entry.model_copy(update={"tick": max(0, entry.tick + round(beside.by * TICKS_PER_SECOND))})
                    for entry in beside.crew.log
                ]
            )
        return timeline.Story(
            seconds=self._recorded.seconds,
            deeds=self._deeds(),
            milestones=milestones,
            beside=beside,
            alarms=self._rerun.alarms if self._rerun is not None and self._rerun.done else [],
            told=list(self._run.referee.messages),
            notes=self._seat.remarks(),
            crew=done,
            same=self._recorded.identity.seed == crews.SEED,
            members=self._members(crew),
            in_time=self._in_time(),
        )

    def _members(self, crew: crews.Crew | None) -> Markup | None:
        drill = self._seat.drill
        if drill is None or not drill.post:
            return None
        posts = {post.id: post.title for post in drill.post}
        return by_member.markup(posts, self._recorded.log, crew.log if crew is not None else ())

    def _in_time(self) -> dict[str, bool]:
        """The milestones that a criterion sets a time to, and whether all of its points were earned."""
        drill = self._seat.drill
        rows = {str(row["id"]): row for row in self._sheet.get("criteria") or []}
        out: dict[str, bool] = {}
        for criterion in drill.criterion if drill is not None else ():
            row = rows.get(criterion.id)
            if isinstance(criterion, Reach) and criterion.full is not None and row is not None:
                name = criterion.when.strip().removeprefix("done(").removesuffix(")")
                out[name] = level(row["earned"], float(row["points"])) == "full"
        return out

    # What if

    def _ask(self, message: Message) -> Patch:
        try:
            place, by = int(str(message.get("place"))), int(str(message.get("by")))
        except ValueError:
            return {}
        deed = next((deed for deed in self._deeds() if deed.place == place and deed.mine), None)
        if deed is None or by not in whatif.SHIFTS or not self._compute():
            return self._seat.patch()
        following = message.get("following") != "no"
        self._asked = (place, by, following)
        self._answer = ""
        self._what_if = whatif.WhatIf(lambda: self._begun("check"), self._recorded, deed, by, following)
        if self._seat.drill is not None:
            self._moves = moves.Moves(lambda: self._begun("check"), self._recorded, deed, following)
        return self._seat.patch()

    def _compare(self) -> None:
        asked = self._what_if
        if asked is None or asked.outcome is None or self._was is None:
            return
        signals = self._run.machine.signals
        answer = whatif.answer(asked.asked, self._was, asked.outcome, signals, self._seat.units)
        if self._moves is not None and self._moves.done:
            answer = join(answer, moves.curve(self._moves))
        self._answer = answer

    # The replay

    def _watch(self, message: Message) -> Patch:
        try:
            t = float(str(message.get("value") or 0.0))
        except ValueError:
            return {}
        if not 0.0 <= t < 1e6 or not self._compute() or self._rerun is None:
            return self._seat.patch()
        if self._rerun.done:
            return self._enter(t)
        self._wanted = t
        return self._seat.patch()

    def _enter(self, t: float) -> Patch:
        assert self._rerun is not None  # what calls this has computed it
        self._wanted = None
        self._replay = Replay(self._rerun, t - LEAD_IN)
        self._presenter = Presenter(self.shown, self._seat.units, {}, self._seat.texts, self._trends())
        self._seat.page = "replay"
        return self._seat.show(self._presenter)

    def _trends(self) -> History:
        assert self._rerun is not None
        self._marked = len(self.shown.log)
        return self._rerun.trends(self._rerun.player.time, self._seat.units)

    def _shown(self) -> Patch:
        assert self._presenter is not None
        self._presenter.history.pace = self._seat.pace
        self._marked = rerun.mark(self._presenter.history, self.shown, self._marked)
        return self._presenter.patch()

    def _moved(self) -> Patch:
        assert self._presenter is not None
        self._presenter.history = self._trends()
        return {**self._presenter.patch(), **self._presenter.history.whole()}

    def _play(self, _: Message) -> Patch:
        if self._replay is not None:
            if self._rerun is not None and self._rerun.player.over:
                self._replay.seek(0.0)
                self._replay.playing = True
                return self._moved()
            self._replay.playing = not self._replay.playing
        return self._shown()

    def _seek(self, message: Message) -> Patch:
        try:
            t = float(str(message.get("value")))
        except ValueError:
            return {}
        if self._replay is None or not 0.0 <= t < 1e6:
            return {}
        self._replay.seek(t)
        return self._moved()

    def _step(self, message: Message) -> Patch:
        if self._replay is None:
            return {}
        self._replay.step(-1 if str(message.get("value")) == "-1" else 1)
        return self._moved()

    def _back(self, _: Message) -> Patch:
        self._replay = self._presenter = None
        self.tab = "timeline"
        self._seat.page = "sheet"
        self._draw()
        return self._seat.back()

    def _take_over(self, _: Message) -> Patch:
        if self._rerun is None or self._presenter is None:
            return {}
        player = self._rerun.player
        if player.session.finished:
            self._trouble = "The drill had ended there: go back a little, then take over."
            return self._shown()
        seal = str(self._run.evidence()["seal"]["whole"])
        run = self._begun("practice")
        player.hand_over(run, seal)
        return self._seat.go_on(run, self._trends(), f"taken over at {debrief.clock(run.time)}")

    # What the page shows

    def bar(self) -> Markup:
        """Where the replay stands, and what can be done with it."""
        return el(
            "section",
            {"class": "entries replay-bar", "aria-label": "Replay"},
            shell.button("◂", {"page": "step", "value": -1}, "tool", aria_label="To the action before"),
            el(
                "input",
                {
                    "type": "range",
                    "min": 0,
                    "max": int(self._recorded.seconds),
                    "step": 1,
                    "data-pick": "page.moment",
                    "data-title": "page.moment",
                    "data-choose": {"page": "seek"},
                },
            ),
            shell.button("▸", {"page": "step", "value": 1}, "tool", aria_label="To the next action"),
            shell.button("Take over from here", {"page": "take-over"}, "tool tool-strong") if self._own else None,
        )

    def texts(self, refused: bool = False) -> dict[str, Reading]:
        """The readings of the page that this part adds or says otherwise; ``refused`` when an action just was."""
        if self._replay is not None:
            return self._replay_texts(refused)
        working = self._trouble
        if self._rerun is not None and not self._rerun.done:
            working = f"Computing the run again: {_percent(self._rerun.share)}"
        elif self._what_if is not None and self._what_if.outcome is None:
            working = f"Calculating the new result: {_percent(self._what_if.share)}"
        elif self._moves is not None and not self._moves.done:
            working = f"Calculating the score at other times: {_percent(self._moves.share)}"
        return {
            "page.after": {"state": self.tab},
            "page.after_body": {"html": self._body},
            "page.working": {"text": working},
            "page.answer": {"html": self._answer},
        }

    def _replay_texts(self, refused: bool) -> dict[str, Reading]:
        assert self._replay is not None
        t, end = self._replay.time, debrief.clock(self._recorded.seconds)
        deeds = [deed for deed in self._deeds() if deed.t <= t + 1e-6]
        last = deeds[-1] if deeds else None
        told = f"Last: {debrief.clock(last.t)} {last.by}: {last.text}" if last else "Nothing done yet"
        return {
            "page.mode": {"text": "replay of the run"},
            "page.pause": {"text": "Pause" if self._replay.playing else "Play"},
            "page.running": {"state": "on"},
            "page.says": {"state": "refused" if refused else "quiet"},
            "page.finish": {"text": "Debrief"},
            "page.told": {"text": f"Replay. {told}"},
            "page.help": {"state": "off"},
            "page.coach": {"html": ""},
            "page.noted": {"text": self._trouble},
            "page.moment": {"text": f"{t:.0f}", "title": f"Moment of the run: {debrief.clock(t)} of {end}"},
        }


def _percent(share: float) -> str:
    """A share in steps of ten, so that the page is told of it ten times and not a hundred."""
    return f"{10 * int(10 * share)} %"
