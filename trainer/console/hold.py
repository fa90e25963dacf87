"""A lever that a hand holds: it runs until it is let go, or until the hand is lost.

A page whose line is closed is lost at once. One that is only slow is waited for: the plant stands meanwhile, so that
nothing moves unheld and no hand is let go by a busy machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from trainer.simulator import Session

#: The page says four times a second that the hand is still there; after so long without a word the plant waits, s.
SILENCE: Final = 1.5
#: After so long the hand is gone, s: a machine that is busy with other work is not silent for so long.
GIVEN_UP: Final = 10.0
#: The most that one beat adds to the silence, s.
LATE_BEAT: Final = 0.4


@dataclass
class Hold:
    """The run that is worked, what stops the lever, and for how long nothing was heard of the hand (wall clock, s)."""

    run: Session
    stop: Mapping[str, object]
    silent: float = 0.0

    def ends_by(self, command: Mapping[str, object]) -> bool:
        """Whether a command is the one that lets go."""
        return all(command.get(key) == self.stop.get(key) for key in ("do", "target", "value"))

    def pass_by(self, elapsed: float) -> None:
        """Let ``elapsed`` seconds of the wall clock pass.

        A beat that was late counts for little: the hand's words may wait behind it.
        """
        self.silent += min(elapsed, LATE_BEAT)

    @property
    def unheard(self) -> bool:
        """Whether it is not known that a hand still holds the lever: nothing may move meanwhile."""
        return self.silent > SILENCE

    @property
    def lost(self) -> bool:
        """Whether the hand is gone for good."""
        return self.silent > GIVEN_UP
