"""All that was said in a run, in one list: by the coach, the panel, the crew and the trainee, newest first."""

from __future__ import annotations

from trainer.console.debrief import clock
from trainer.drawing.markup import Markup, el, join
from trainer.simulator import Session
from trainer.wording import joined

COACH, PANEL, MESSAGE, YOU = "Coach", "Panel", "Message", "You"
#: As many lines are kept: a run of hours says no more than somebody can look through.
MOST = 400


class Talk:
    """The list of one run. ``add`` takes a line, ``look`` finds what the run itself has said since."""

    def __init__(self) -> None:
        self._lines: list[tuple[float, str, str]] = []
        self._heard = 0
        self._advice: tuple[str, str] | None = None
        self._markup: dict[str, Markup] = {}

    def add(self, t: float, who: str, text: str) -> None:
        """A line said at ``t`` seconds."""
        self._markup = {}
        self._lines.append((t, who, text))
        del self._lines[:-MOST]

    def look(self, run: Session) -> tuple[str, str] | None:
        """Add what was told to the trainee since the last look, and what the coach says now if that is new.

        Returns what the coach says now.
        """
        messages = run.referee.messages
        for message in messages[self._heard :]:
            self.add(message[0], MESSAGE, message[1])
        self._heard = len(messages)
        advice = run.coach.advice() if run.coach is not None else None
        if advice is not None and advice != self._advice:
            self.add(run.time, COACH, joined(" ", filter(None, advice)))
        self._advice = advice
        return advice

    def markup(self, you: str = YOU) -> Markup:
        """The list's rows, newest first; ``you`` is what the trainee is called by whoever reads it."""
        if you not in self._markup:
            rows = [_row(t, you if who == YOU else who, text) for t, who, text in reversed(self._lines)]
            self._markup[you] = join(*rows) if rows else el("li", {}, "No messages.")
        return self._markup[you]


def _row(t: float, who: str, text: str) -> Markup:
    return el("li", {}, el("span", {}, clock(t)), el("span", {"class": "talk-who"}, who), el("span", {}, text))
