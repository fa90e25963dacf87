"""When a page's messages are heard: at once, or, where it sends more than a page may, each as soon as it may.

A press that waits is seen late; one that was dropped would be lost without a word.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from trainer.classroom.channel import LONGEST_MESSAGE
from trainer.classroom.limits import Limit
from trainer.console.message import Message

#: A hand on a panel does a few things a second; holding a button sends four.
MESSAGES_A_SECOND = 40
WHOLE_PAGES = ("hello", "units", "start", "again", "leave", "progress", "progress-drill", "progress-back", "evidence",
               "take-over", "replay", "what-if")  # fmt: skip
"""Messages that draw a page anew, or compute: each costs the server what a hundred hands do."""
PARTS = ("card", "learn")
"""Messages that draw one board anew."""
HANDS = (None, "holding", "gone")
"""What hands do at the panel; they do not wait behind pages that are drawn."""
MOST_WAITING = 100
"""So many messages may wait on each of a page's two lines: a hand that goes on pressing for half a minute."""
LARGEST_WAITING = 2 * LONGEST_MESSAGE
"""Characters of all that waits for one page."""


@dataclass(frozen=True)
class _Waiting:
    page: object
    size: int
    deed: Callable[[], None]


class Turns:
    """What one page asks for: hands often, what costs much seldom, each of both in its order."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._all = Limit(MESSAGES_A_SECOND * 2, 2.0, clock)
        self._parts = Limit(20, 10.0, clock)
        self._whole = Limit(10, 20.0, clock)
        self._hands: deque[_Waiting] = deque()
        self._pages: deque[_Waiting] = deque()

    def ask(self, message: Message, deed: Callable[[], None]) -> None:
        """Do what a message asks for in its turn: now, or at a later ``go_on``. Dropped is only what is beyond
        MOST_WAITING or LARGEST_WAITING, and to tell all anew while that waits already."""
        page, size = message.get("page"), len(str(message))
        line = self._hands if page in HANDS else self._pages
        told = page == "hello" and any(one.page == page for one in line)
        if told or len(line) >= MOST_WAITING or self._size() + size > LARGEST_WAITING:
            return
        line.append(_Waiting(page, size, deed))
        self.go_on()

    def go_on(self) -> None:
        """Do what waits and may be done by now."""
        for line in (self._hands, self._pages):
            while line and self._spend(line[0].page):
                line.popleft().deed()

    def _size(self) -> int:
        return sum(one.size for line in (self._hands, self._pages) for one in line)

    def _spend(self, page: object) -> bool:
        limits = [self._all]
        if page in WHOLE_PAGES:
            limits.append(self._whole)
        elif page in PARTS:
            limits.append(self._parts)
        if any(limit.spent("") for limit in limits):
            return False
        for limit in limits:
            limit.spend("")
        return True
