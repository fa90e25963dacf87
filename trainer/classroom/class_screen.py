"""What the projected screen of a class shows, as it was chosen at a glance."""

from __future__ import annotations

from dataclasses import dataclass

JOIN, REACHED, RUN, TWO = "join", "reached", "run", "two"
KINDS = {
    "How to join": JOIN,
    "How far the class is": REACHED,
    "The chosen trainee's run or debrief": RUN,
    "Two runs side by side": TWO,
}
"""The kinds of things that it shows, by their words."""


@dataclass
class ClassScreen:
    """What the screen of the class shows: its kind, and the place of the run for ``RUN``, by number."""

    kind: str = JOIN
    number: str = ""
    other: str = ""
    """The place of the second run, for ``TWO``."""
