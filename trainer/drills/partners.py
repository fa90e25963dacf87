"""The computer at a post of the crew where no person stands: it plays what the good crew does there.

It knows what the member can see from the post and what was called, for its conditions say no more
(``drills/crew_rules.py``), and it works by the same commands as a person, so that the log re-computes without it.
"""

from __future__ import annotations

from collections.abc import Collection

from trainer.constants import TICKS_PER_SECOND
from trainer.drills.checking import Item
from trainer.drills.expressions import show_value
from trainer.drills.runner import Latch, Runner
from trainer.drills.schema import CrewPart
from trainer.session.commands import CALL, OPERATE, REPEAT
from trainer.session.crewing import Called
from trainer.session.session import SessionCore

REPEATS_AFTER = 3.0
"""So long after a call the computer repeats it back, s; invented: as somebody who listens to the end."""


class Partners:
    """Plays the posts of a session that no person has. ``play`` is called after each scan."""

    def __init__(self, session: SessionCore) -> None:
        self.session = session
        runner = session.referee
        assert isinstance(runner, Runner) and session.crewing is not None
        self._crew = session.crewing
        self._signals = runner.prepared.catalogue.signals
        self._readings = {reading.id: reading.tag for reading in runner.drill.reading}
        self._figures = {call.id: call.figure for call in runner.drill.call if call.figure}
        binder = runner.binder
        self._parts = [
            (item, Latch("", item.ready["when"], binder.condition(item.ready["when"]), item.spec.wait))
            for item in runner.prepared.parts
        ]
        # What was done before, by a person or by the computer of an earlier process, is not done again.
        self._told = 0
        self._done: set[tuple[str, str, str, str]] = set()

    def play(self, posts: Collection[str]) -> None:
        """Do what is due now at these posts; nothing once the run has ended, and each part once."""
        session = self.session
        self._look()
        for item, latch in list(self._parts):
            spec = item.spec
            if session.finished:
                return
            if _key(spec.post, spec.do, spec.target, spec.value) in self._done or (
                latch.look(session.time) and spec.post in posts and self._do(item)
            ):
                self._parts.remove((item, latch))
        for call in list(self._crew.line):
            self._hear(call, posts)

    def _hear(self, call: Called, posts: Collection[str]) -> None:
        """Repeat a call back, or make it again where its figure came back wrong."""
        now, pause = self.session.tick, REPEATS_AFTER * TICKS_PER_SECOND
        if call.back is None and call.to in posts and now - call.tick >= pause:
            self.session.submit({"do": REPEAT, "target": call.call, "by": call.to, "figure": call.figure})
        elif call.back is not None and call.by in posts and now - call.back >= pause and self._crew.misheard(call):
            again = {"do": CALL, "target": call.call, "value": call.to, "by": call.by, "figure": call.figure}
            self.session.submit(again)

    def _look(self) -> None:
        log = self.session.log
        for entry in log[self._told :]:
            if entry.by is not None and entry.refused is None:
                self._done.add(_key(entry.by, entry.do, entry.target, entry.value))
        self._told = len(log)

    def _do(self, item: Item[CrewPart]) -> bool:
        """Do it; False while the member cannot, being on the way there."""
        spec, tried = item.spec, len(self.session.log)
        command: dict[str, object] = {"do": spec.do, "target": spec.target, "by": spec.post}
        if spec.heard is not None:
            command["value"] = self._told_last(spec.heard, spec.post)
        elif spec.do == "read" and spec.value is None:
            command["value"] = self._shown(spec.target)
        elif spec.value is not None:
            command["value"] = spec.value
        if spec.do == CALL and spec.target in self._figures:
            command["figure"] = self._shown(self._figures[spec.target])
        if spec.do in OPERATE:
            command["from"] = spec.at or self._station(spec)
        elif spec.do != CALL:
            command["from"] = spec.at or self._crew.posts[spec.post].at[0]
        return self.session.submit(command) is None or len(self.session.log) > tried

    def _station(self, spec: CrewPart) -> str:
        stations = self.session.machine.operables[(spec.do, spec.target)].station
        return next(at for at in self._crew.posts[spec.post].at if at in stations)

    def _told_last(self, call: str, post: str) -> float | None:
        """The figure of this call as the member has it: the last that was told; None before the first."""
        return next((one.figure for one in reversed(self._crew.line) if (one.call, one.to) == (call, post)), None)

    def _shown(self, reading: str) -> str:
        """What the instrument of a reading shows, as people read it off."""
        signal = self._signals[self._readings[reading]]
        return show_value(signal, self.session.machine.read(signal.tag))


def _key(post: str, do: str, target: str, value: object) -> tuple[str, str, str, str]:
    # A reading is entered once, whatever it was.
    return post, do, target, "" if do == "read" else str(value)


def play_out(session: SessionCore, posts: Collection[str], until: float) -> None:
    """Let a run go on with the computer at these posts, to its end or to ``until`` seconds."""
    partners = Partners(session)
    while not session.finished and session.time < until:
        session.advance(0.1)
        partners.play(posts)
