"""The Python side of the browser's worker: one seat, its messages and patches as texts, and its log.

Each answer is one text: a line for the browser's store, a line feed, and the patch for the page. The worker's
script stores the first part before it shows the second, so whatever was on the screen survives the page.

The store holds texts by key: ``run`` (what was started, and a snapshot of it), ``e000012`` (commands since that
snapshot) and ``at`` (the last tick shown, and how the page was set). A resumed run is the snapshot, the commands
and the scans up to that tick: the same state to the bit. Keys from ``~`` on are no part of the log and outlive it:
files of the person's own.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from trainer.console import own as own_words
from trainer.console.boards import Boards
from trainer.console.presenter import Patch
from trainer.console.run import Start
from trainer.console.seat import Seat
from trainer.constants import TICKS_PER_SECOND
from trainer.session import evidence
from trainer.simulator import Session
from trainer.takeaway.opened import Opened, opened
from trainer.takeaway.own import OwnFiles
from trainer.takeaway.past import Past
from trainer.takeaway.shelf import Shelf, facts

LOG_END = "~"
SNAPSHOT_TICKS = 10 * TICKS_PER_SECOND
"""Ten simulated seconds: a resumed run has at most that much to make up, a blink even in a browser."""


class BrowserSession:
    """A seat behind texts.

    make_seat: builds the seat around a start function (``Start``). start: starts a fresh run.
    restore: takes a snapshot back; ValueError when it does not fit this version. own: where files of the person's
    own lie; without it none are taken in.
    """

    def __init__(
        self,
        make_seat: Callable[[Start], Seat],
        start: Start,
        restore: Callable[[dict[str, object]], Session],
        own: OwnFiles | None = None,
    ) -> None:
        self._start = start
        self._restore = restore
        self._comeback: Any = None  # a run, of one's own or computed again
        self._kept_run: Session | None = None
        self._kept_entries = 0
        self._kept_at = ""
        self._snapshot_tick = 0
        self._trouble = ""
        self._own = own
        self._past: Past | None = None
        self._handed: list[tuple[str, str, str]] = []
        self._opened: Opened | None = None
        self._store: dict[str, str | None] = {}
        self.seat = make_seat(self._begin)
        self.seat.own = None if own is None else own.files
        self.seat.reports = True

    def _begin(self, drill: str | None, plant: str | None, seed: int, mode: str) -> Session:
        if self._comeback is not None:
            run: Session = self._comeback
            self._comeback = None
            return run
        return self._start(drill, plant, seed, mode)

    # What the worker calls

    def open(self, kept: str) -> None:
        """Takes up the run that the store's texts (a JSON object) tell of, if they tell of one."""
        log: dict[str, str] = json.loads(kept)
        if self._own is not None:
            self._own.restore(log)
            self.seat.own = self._own.files
        if "run" not in log:
            return
        try:
            self._resume(log)
        except (ValueError, LookupError, TypeError) as error:
            self._comeback = None
            self.seat.handle({"page": "leave"})
            self._trouble = f"The run that was under way here could not be taken up again: {error}."

    def handle(self, message: str) -> str:
        """Does what a message of the page (a JSON object) says; gives the answer as a text, empty for none."""
        said = json.loads(message)
        if self._own is not None and said.get("page") == "load":
            return self._answer(self._hand_in(*(str(said.get(name)) for name in ("file", "text", "signature"))))
        if self._own is not None and said.get("page") == "drop":
            return self._answer(self._drop(self._own, str(said.get("file"))))
        if said.get("page") == "open-evidence":
            return self._answer(self._debrief())
        if said.get("page") == "report":
            return self._answer(self._report())
        if said.get("page") != "hello":
            return self._answer(self.seat.handle(said))
        patch = self.seat.hello(said.get("theme"), said)
        if self._trouble:
            patch = _told(patch, "page.status", {"text": self._trouble})
            self._trouble = ""
        return self._answer(patch)

    def tick(self, elapsed: float) -> str:
        """Lets ``elapsed`` seconds of the wall clock pass; gives what changed as a text, empty for nothing."""
        if self._handed and self._own is not None:
            return self._answer(self._check(self._own, *self._handed.pop(0)))
        return self._answer({**self.seat.tick(elapsed), **self._caught_up()})

    # Files of the person's own

    def _hand_in(self, file: str, text: str, signature: str) -> Patch:
        """The check of a plant takes a while: first the page says so, then it is done in place of a beat."""
        self._handed.append((file, text, signature))
        return _told({}, "page.check", {"html": own_words.checking(file)})

    def _check(self, own: OwnFiles, file: str, text: str, signature: str) -> Patch:
        if file.lower().endswith(".json"):
            self._opened = opened(file, text, signature, own.drill_files)
            return _told({}, "page.check", {"html": self._opened.said})
        faults, self._store = own.take(file, text)
        return self._changed(own, own_words.told(file, faults, own.hints))

    def _debrief(self) -> Patch:
        """The debrief of the evidence that was handed in last; it is no attempt of this person's."""
        kept, self._opened, seat = self._opened, None, self.seat
        if kept is None or kept.run is None or seat.run is not None:
            return {}
        fixed, self._comeback = kept.run.identity, kept.run
        kind = {"drill": fixed.drill or "", "plant": fixed.plant, "mode": fixed.mode, "seed": str(fixed.seed)}
        told = seat.handle({"page": "start", **kind})
        if self._comeback is not None:  # refused, as a drill that is not on offer here
            self._comeback = None
            return told
        seat.of_another = f"from the evidence of {kept.who}"
        for _ in range(2):  # the first is only asked whether it is meant
            if seat.page != "sheet":
                seat.handle({"page": "finish"})
        return seat.first()

    def _drop(self, own: OwnFiles, file: str) -> Patch:
        self._store = own.drop(file)
        return self._changed(own, own_words.gone(file))

    def _changed(self, own: OwnFiles, words: str) -> Patch:
        self.seat.boards = Boards()  # another plant may go by a name that was drawn already
        self.seat.own = own.files
        return _told({} if self.seat.run is not None else self.seat.first(), "page.check", {"html": words})

    def _report(self) -> Patch:
        """The score report as one page that needs nothing else; a browser prints it on paper."""
        from trainer.reports.content import report
        from trainer.reports.page import html

        seat, run = self.seat, self.seat.run
        if run is None or seat.page != "sheet":
            return {}
        document = evidence.parse(json.dumps(run.evidence()))
        name = seat.drill.id if seat.drill else "free-practice"
        file = {
            "content": html(report(document, language=seat.language)),
            "file": f"{name}.report.html",
            "type": "text/html",
        }
        return {"sheet": {"readings": {"page.report": file}}}

    # The trends of a run that was taken up again

    def _caught_up(self) -> Patch:
        seat, past = self.seat, self._past
        if past is None:
            return {}
        if seat.run is not past.run or seat.page not in ("console", "sheet"):
            self._past = None
            return {}
        if not past.work(seat.paused or seat.page == "sheet"):
            return {}
        self._past = None
        presenter = seat._presenter
        if presenter is None:
            return {}
        presenter.history = past.joined(presenter.history, seat.units)
        return presenter.history.whole()

    # The log

    def _answer(self, patch: Patch) -> str:
        kept = self._news()
        shown = json.dumps(self.seat.worded(patch), separators=(",", ":")) if patch else ""
        return f"{kept}\n{shown}" if kept or shown else ""

    def _news(self) -> str:
        seat = self.seat
        # What was opened of another is not this person's to take up again.
        run = seat.run if not seat.of_another else None
        put, self._store = self._store, {}
        if run is None:
            clear, self._kept_run = self._kept_run is not None, None
            return _kept(clear, put)
        clear = run is not self._kept_run or run.tick - self._snapshot_tick >= SNAPSHOT_TICKS
        if clear:
            self._kept_run, self._snapshot_tick = run, run.tick
            self._kept_entries, self._kept_at = len(run.log), ""
            told = {"drill": seat.drill.id if seat.drill else "", "mode": seat.mode, "snapshot": run.snapshot()}
            put["run"] = json.dumps(told)
        for place in range(self._kept_entries, len(run.log)):
            put[f"e{place:06d}"] = json.dumps(run.log[place].record())
        self._kept_entries = len(run.log)
        at = json.dumps({"tick": run.tick, "units": seat.units, "pace": seat.pace, "page": seat.page})
        if at != self._kept_at:
            self._kept_at = put["at"] = at
        return _kept(clear, put)

    def _resume(self, log: Mapping[str, str]) -> None:
        told = json.loads(log["run"])
        at = json.loads(log["at"])
        run = self._restore(told["snapshot"])
        for key in sorted(key for key in log if key.startswith("e")):
            entry = json.loads(log[key])
            _advance(run, entry["tick"])
            run.submit({name: entry[name] for name in ("do", "target", "value", "from")})
        _advance(run, at["tick"])
        self._comeback = run
        fixed = run.identity
        kind = {"drill": told["drill"], "plant": fixed.plant, "mode": told["mode"], "seed": str(fixed.seed)}
        self.seat.handle({"page": "start", **kind})
        if self._comeback is not None:
            raise LookupError(f"the drill {told['drill']} is not in this version")
        if at["units"] == "metric":
            self.seat.handle({"page": "units"})
        self.seat.handle({"page": "pace", "value": f"{at['pace']:g}"})
        if run.tick:
            self.seat.handle({"page": "begin"})  # the briefing was read; at tick 0 it may not have been
        if at["page"] != "console" or run.finished:
            for _ in range(2):  # the first is only asked whether it is meant
                if self.seat.page != "sheet":
                    self.seat.handle({"page": "finish"})
        elif run.tick and not self.seat.paused:
            # Stands still until the trainee is back at the panel.
            self.seat.handle({"page": "pause"})
        if run.tick:
            self._past = Past(run, lambda: self._start(fixed.drill, fixed.plant, fixed.seed, fixed.mode))


def _kept(clear: bool, put: Mapping[str, str | None]) -> str:
    """What the store has to do: forget every key below ``clear``, then put texts, or take keys out for None."""
    return json.dumps({"clear": LOG_END if clear else "", "put": put}) if put or clear else ""


def _told(patch: Patch, key: str, reading: Mapping[str, str]) -> Patch:
    """The patch with one more reading on the chooser."""
    chooser = patch.get("chooser", {})
    return {**patch, "chooser": {**chooser, "readings": {**chooser.get("readings", {}), key: reading}}}


def _advance(run: Session, tick: int) -> None:
    if tick > run.tick:
        run.advance_to(tick / TICKS_PER_SECOND)


def open_desk(folder: Path | None = None) -> BrowserSession:
    """The desk of the shipped trainer: every shipped drill, every station; own files go into ``folder``."""
    from trainer.session.session import read_snapshot

    if sys.platform == "emscripten":
        from trainer.runtime import by_browser

        by_browser.offer()
    shipped = facts()
    own = OwnFiles(folder or Path.home() / "bop-panel-trainer", shipped)
    drills = Shelf(shipped, own.drills)

    def start(drill: str | None, plant: str | None, seed: int, mode: str) -> Session:
        return Session.start(own.path(drill or "") or drill, plant, seed=seed, mode=mode)

    def restore(snapshot: dict[str, object]) -> Session:
        kept = read_snapshot(snapshot)
        fixed = kept.identity
        if (path := own.path(fixed.drill or "")) is None:
            return Session.restore(snapshot)
        return Session.start(path, fixed.plant, fixed.seed, fixed.mode).resume(kept)

    return BrowserSession(lambda begin: Seat(begin, drills, Boards()), start, restore, own)
