"""Spaced repetition of the exercises: within an hour by boxes, from day to day by the scheduler (``spacing.py``).

Within a sitting time is counted in questions, so that an hour of practice is an hour's worth. A question starts
outside the boxes; a right answer puts it into the third, each further one moves it one box up, a wrong one puts it into
the first. From day to day the first answer of a day is a review: it sets the day on which the question is due.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from trainer.learn.spacing import Memory, remembered

#: After how many other questions a question of box 1, 2, ... comes back.
GAPS: Final = (3, 8, 11, 50, 120)
AT_ONCE: Final = 3
"""The box of what was right when last asked; in the second lie only questions of texts that were kept before."""
KNOWN: Final = 4
"""From this box on a question counts as known: right twice running, with ``GAPS[AT_ONCE - 1]`` others between. So a
first sitting of forty questions has a dozen that are known."""
LONGEST_TEXT: Final = 60_000
MOST_ASKED: Final = 10**6
MOST_DAYS: Final = 30
"""Days on which questions fall due that the first line names; what falls due later counts with the last of them."""
EPOCH: Final = date(2020, 1, 1)
"""Days are written as their number from this one."""
LATEST: Final = 40_000
"""No day lies further from it."""
_LINE = re.compile(
    r"([a-z]+ [\w.]{1,60}) ([1-5]) (\d{1,7})(?: (\d{1,5})\+(\d{1,5}) (\d{1,6}\.?\d?\d?) (\d{1,2}\.?\d?\d?))?"
)


@dataclass
class Boxes:
    """In which box each question lies and when it is due, with the count of all that were asked and answered right."""

    today: date = EPOCH
    asked: int = 0
    right: int = 0
    lying: dict[str, tuple[int, int]] = field(default_factory=dict)
    memory: dict[str, Memory] = field(default_factory=dict)

    def answer(self, key: str, right: bool) -> None:
        """Note an answer to the question ``key``: right moves it up, to the third box at least, wrong to the first."""
        self.asked += 1
        self.right += right
        box = min(max(self.lying.get(key, (0, 0))[0] + 1, AT_ONCE), len(GAPS)) if right else 1
        self.lying[key] = (box, self.asked + GAPS[box - 1])
        before = self.memory.get(key)
        if before is None or before.last < self.today:
            self.memory[key] = remembered(before, right, self.today)

    def due(self, keys: Sequence[str]) -> list[str]:
        """The questions of ``keys`` whose day has come, the longest due first."""
        known = [(self.memory[key].due, key) for key in keys if key in self.memory]
        return [key for day, key in sorted(known) if day <= self.today]

    def missed(self) -> list[str]:
        """The questions in the first box, by key, the one that waits longest first."""
        return sorted((k for k, (box, _) in self.lying.items() if box == 1), key=lambda k: self.lying[k][1])

    def known(self, keys: Sequence[str]) -> int:
        """How many of the questions ``keys`` lie in a box from which they count as known."""
        return sum(1 for key in keys if self.lying.get(key, (0, 0))[0] >= KNOWN)

    def begun(self, keys: Sequence[str]) -> int:
        """How many of the questions ``keys`` were right when last asked, and do not count as known yet."""
        return sum(1 for key in keys if 1 < self.lying.get(key, (0, 0))[0] < KNOWN)

    def choose(self, keys: Sequence[str], last: str = "") -> str:
        """Which of ``keys`` (in the order in which new ones are to come) to ask next; never ``last`` again at once.

        What is due in the boxes goes first, the lowest box and the longest overdue before others; then what is due by
        its day; then what was never asked; then what is due soonest. ValueError when there are no keys.
        """
        if not keys:
            raise ValueError("there are no questions to choose from")
        open_ = [key for key in keys if key != last] or list(keys)
        boxed = [key for key in open_ if key in self.lying]
        due = [key for key in boxed if self.lying[key][1] <= self.asked]
        if due:
            return min(due, key=lambda key: self.lying[key])
        if of_day := self.due(open_):
            return of_day[0]
        new = next((key for key in open_ if key not in self.lying), None)
        return new if new is not None else min(boxed, key=lambda key: self.lying[key][1])

    def text(self) -> str:
        """The boxes as a short text to keep: a line with how many were asked and right, how many are known and begun
        (``5+8``), and when how many are due; then one a question."""
        every = list(self.lying)
        lines = [f"{self.asked} {self.right} {self.known(every)}+{self.begun(every)} {self._days()}".rstrip()]
        for key, (box, due) in self.lying.items():
            line = f"{key} {box} {due}"
            if (kept := self.memory.get(key)) is not None:
                last, gap = (kept.last - EPOCH).days, (kept.due - kept.last).days
                line += f" {last}+{gap} {kept.stability:g} {kept.difficulty:g}"
            lines.append(line)
        return "\n".join(lines)

    def _days(self) -> str:
        """How many questions fall due on which day: ``2524x3,2530x12``."""
        counts: dict[int, int] = {}
        for kept in sorted(self.memory.values(), key=lambda kept: kept.due):
            day = (kept.due - EPOCH).days
            day = day if day in counts or len(counts) < MOST_DAYS else max(counts)
            counts[day] = counts.get(day, 0) + 1
        return ",".join(f"{day}x{count}" for day, count in counts.items())


def due_by(days: str, today: date) -> int:
    """How many questions are due on a day, from what the first line of a kept text says of them."""
    pairs = re.findall(r"(\d{1,5})x(\d{1,5})", days[: 12 * MOST_DAYS])
    return sum(int(count) for day, count in pairs if int(day) <= (today - EPOCH).days)


def read_boxes(text: str, keys: Sequence[str], today: date = EPOCH) -> Boxes:
    """Boxes from a kept text. What is no longer asked, or is no line of such a text, is passed over."""
    lines = text[:LONGEST_TEXT].splitlines()
    counts = re.fullmatch(r"(\d{1,7}) (\d{1,7})(?: \d{1,7}(?:\+\d{1,7})?(?: [\dx,]*)?)?", lines[0]) if lines else None
    if counts is None:
        return Boxes(today)
    asked = min(int(counts[1]), MOST_ASKED)
    boxes = Boxes(today, asked, min(int(counts[2]), asked))
    known = set(keys)
    for line in lines[1:]:
        found = _LINE.fullmatch(line)
        if found and found[1] in known:
            # Nothing waits longer than the last gap, whatever the text says.
            boxes.lying[found[1]] = (int(found[2]), min(int(found[3]), asked + GAPS[-1]))
            if found[4] is not None and (kept := _memory(found, today)) is not None:
                boxes.memory[found[1]] = kept
    return boxes


def _memory(found: re.Match[str], today: date) -> Memory | None:
    """What a line says of a question's days; nothing of what no scheduler could have written."""
    last, gap, stability, difficulty = int(found[4]), int(found[5]), float(found[6]), float(found[7])
    if last > LATEST or gap > LATEST or stability <= 0.0 or not 1.0 <= difficulty <= 10.0:
        return None
    day = min(EPOCH + timedelta(days=last), today)
    return Memory(day, day + timedelta(days=gap), stability, difficulty)
