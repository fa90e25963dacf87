"""The Python side of the browser's worker: one seat, its messages and patches as texts, and its log.

Each answer is one text: a line for the browser's store, a line feed, and the patch for the page. The worker's
script stores the first part before it shows the second, so whatever was on the screen survives the page.

The store holds texts by key: ``run`` (what was started, and a snapshot of it), ``e000012`` (commands since that
snapshot) and ``at`` (the last tick shown, and how the page was set). A resumed run is the snapshot, the commands
and the scans up to that tick: the same state to the bit.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from trainer.console.seat import Seat

SNAPSHOT_TICKS = 500
"""Ten simulated seconds: a resumed run has at most that much to make up, a blink even in a browser."""


class Desk:
    """A seat behind texts.

    make_seat: builds the seat around a start function (see ``Start`` in the seat). start: starts a fresh run.
    restore: takes a snapshot back; ValueError when it does not fit this version.
    """

    def __init__(
        self,
        make_seat: Callable[[Callable[..., Any]], Seat],
        start: Callable[..., Any],
        restore: Callable[[dict[str, Any]], Any],
    ) -> None:
        self._start = start
        self._restore = restore
        self._comeback: Any = None
        self._kept_run: Any = None
        self._kept_entries = 0
        self._kept_at = ""
        self._snapshot_tick = 0
        self._trouble = ""
        self.seat = make_seat(self._begin)

    def _begin(self, drill: str | None, plant: str | None, seed: int, mode: str) -> Any:
        if self._comeback is not None:
            run, self._comeback = self._comeback, None
            return run
        return self._start(drill, plant, seed, mode)

    # What the worker calls

    def open(self, kept: str) -> None:
        """Takes up the run that the store's texts (a JSON object) tell of, if they tell of one."""
        log: dict[str, str] = json.loads(kept)
        if "run" not in log:
            return
        try:
            self._resume(log)
        except (ValueError, LookupError, TypeError) as error:
            self._comeback = None
            self.seat.handle({"page": "leave"})
            self._trouble = f"The run that was under way here could not be taken up again: {error}."

    def handle(self, message: str) -> str:
        """Does what a message of the page says."""
        said = json.loads(message)
        if said.get("page") != "hello":
            return self._answer(self.seat.handle(said))
        patch = self.seat.hello(said.get("theme"))
        if self._trouble:
            told = {"readings": {"page.status": {"text": self._trouble}}}
            patch = {**patch, "chooser": {**patch.get("chooser", {}), **told}}
            self._trouble = ""
        return self._answer(patch)

    def tick(self, elapsed: float) -> str:
        """Lets `elapsed` seconds of the wall clock pass."""
        return self._answer(self.seat.tick(elapsed))

    # The log

    def _answer(self, patch: Mapping[str, Any]) -> str:
        kept = self._news()
        shown = json.dumps(patch, separators=(",", ":")) if patch else ""
        return f"{kept}\n{shown}" if kept or shown else ""

    def _news(self) -> str:
        seat = self.seat
        run: Any = seat.run
        if run is None:
            if self._kept_run is None:
                return ""
            self._kept_run = None
            return json.dumps({"clear": True, "put": {}})
        put: dict[str, str] = {}
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
        return json.dumps({"clear": clear, "put": put}) if put or clear else ""

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
        self.seat.handle(
            {"page": "start", "drill": told["drill"], "mode": told["mode"], "seed": str(run.identity.seed)}
        )
        if self._comeback is not None:
            raise LookupError(f"the drill {told['drill']} is not in this version")
        if at["units"] == "metric":
            self.seat.handle({"page": "units"})
        self.seat.handle({"page": "pace", "value": f"{at['pace']:g}"})
        if run.tick:
            self.seat.handle({"page": "begin"})  # the briefing was read; at tick 0 it may not have been
        if at["page"] == "sheet" or run.finished:
            for _ in range(2):  # the first is only asked whether it is meant
                if self.seat.page != "sheet":
                    self.seat.handle({"page": "finish"})
        elif run.tick and not self.seat.paused:
            # Stands still until the trainee is back at the panel.
            self.seat.handle({"page": "pause"})


def _advance(run: Any, tick: int) -> None:
    if tick > run.tick:
        run.advance_to(tick / 50)


def open_desk() -> Desk:
    """The desk of the shipped trainer: every shipped drill, every station."""
    from trainer.console.boards import Boards
    from trainer.drills import library
    from trainer.simulator import Session

    drills = library.all_drills()

    def start(drill: str | None, plant: str | None, seed: int, mode: str) -> Any:
        return Session.start(drill, plant, seed=seed, mode=mode)

    return Desk(lambda begin: Seat(begin, drills, Boards()), start, Session.restore)
