"""A lever that a hand holds: it runs until it is let go, or until nothing is heard of the hand any more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

#: The page says four times a second that the hand is still there; after so long without a word it is not, s.
SILENCE: Final = 1.5
#: The most that one beat adds to the silence, s.
LATE_BEAT: Final = 0.4


@dataclass
class Hold:
    """The run that is worked, what stops the lever, and for how long nothing was heard of the hand (wall clock, s)."""

    run: Any
    stop: Mapping[str, Any]
    silent: float = 0.0

    def ends_by(self, command: Mapping[str, Any]) -> bool:
        """Whether a command is the one that lets go."""
        return all(command.get(key) == self.stop.get(key) for key in ("do", "target", "value"))

    def lost(self, elapsed: float) -> bool:
        """Let ``elapsed`` seconds of the wall clock pass; whether the hand is gone.

        A beat that was late counts for little: the hand's words may wait behind it.
        """
        self.silent += min(elapsed, LATE_BEAT)
        return self.silent > SILENCE
