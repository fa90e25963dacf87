"""Spaced repetition in boxes: what was known comes back later and later, what was missed comes back soon.

Time is counted in questions, not in days, so that an hour of practice is an hour's worth. A question starts outside
the boxes; the first right answer puts it into the third, each further one moves it one box up, a wrong one puts it
into the first.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

#: After how many other questions a question of box 1, 2, ... comes back.
GAPS: Final = (3, 8, 20, 50, 120)
AT_ONCE: Final = 3
"""The box of what was known at the first asking."""
KNOWN: Final = 4
"""From this box on a question counts as known: right twice from the start, or three times after a miss."""
LONGEST_TEXT: Final = 60_000
MOST_ASKED: Final = 10**6
_LINE = re.compile(r"([a-z]+ [\w.]{1,60}) ([1-5]) (\d{1,7})")


@dataclass
class Boxes:
    """In which box each question lies and when it is due, with the count of all that were asked and answered right."""

    asked: int = 0
    right: int = 0
    lying: dict[str, tuple[int, int]] = field(default_factory=dict)

    def answer(self, key: str, right: bool) -> None:
        """Note an answer to the question ``key``: right moves it a box up, wrong back to the first."""
        self.asked += 1
        self.right += right
        box = min(self.lying.get(key, (AT_ONCE - 1, 0))[0] + 1, len(GAPS)) if right else 1
        self.lying[key] = (box, self.asked + GAPS[box - 1])

    def missed(self) -> list[str]:
        """The questions in the first box, by key, the one that waits longest first."""
        return sorted((k for k, (box, _) in self.lying.items() if box == 1), key=lambda k: self.lying[k][1])

    def known(self, keys: Sequence[str]) -> int:
        """How many of the questions ``keys`` lie in a box from which they count as known."""
        return sum(1 for key in keys if self.lying.get(key, (0, 0))[0] >= KNOWN)

    def choose(self, keys: Sequence[str], last: str = "") -> str:
        """Which of ``keys`` (in the order in which new ones are to come) to ask next; never ``last`` again at once.

        What is due goes first, the lowest box and the longest overdue before others; then what was never asked;
        then what is due soonest. ValueError when there are no keys.
        """
        if not keys:
            raise ValueError("there are no questions to choose from")
        open_ = [key for key in keys if key != last] or list(keys)
        boxed = [key for key in open_ if key in self.lying]
        due = [key for key in boxed if self.lying[key][1] <= self.asked]
        if due:
            return min(due, key=lambda key: self.lying[key])
        new = next((key for key in open_ if key not in self.lying), None)
        return new if new is not None else min(boxed, key=lambda key: self.lying[key][1])

    def text(self) -> str:
        """The boxes as a short text to keep: a line with how many were asked, right and known, then one a question."""
        lines = [f"{self.asked} {self.right} {self.known(list(self.lying))}"]
        lines += [f"{key} {box} {due}" for key, (box, due) in self.lying.items()]
        return "\n".join(lines)


def read_boxes(text: str, keys: Sequence[str]) -> Boxes:
    """Boxes from a kept text. What is no longer asked, or is no line of such a text, is passed over."""
    lines = text[:LONGEST_TEXT].splitlines()
    counts = re.fullmatch(r"(\d{1,7}) (\d{1,7})(?: \d{1,7})?", lines[0]) if lines else None
    if counts is None:
        return Boxes()
    asked = min(int(counts[1]), MOST_ASKED)
    boxes = Boxes(asked, min(int(counts[2]), asked))
    known = set(keys)
    for line in lines[1:]:
        found = _LINE.fullmatch(line)
        if found and found[1] in known:
            # Nothing waits longer than the last gap, whatever the text says.
            boxes.lying[found[1]] = (int(found[2]), min(int(found[3]), asked + GAPS[-1]))
    return boxes
