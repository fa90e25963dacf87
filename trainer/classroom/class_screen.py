"""What the projected screen of a class shows, as it was chosen at a glance."""

from __future__ import annotations

from dataclasses import dataclass

JOIN, REACHED, RUN = "join", "reached", "run"
KINDS = {"How to join": JOIN, "How far the class is": REACHED, "The chosen trainee's run or debrief": RUN}
"""The kinds of things that it shows, by their words."""


@dataclass
class ClassScreen:
    """What the screen of the class shows: its kind, and the place of the run for ``RUN``, by number."""

    kind: str = JOIN
    number: str = ""
