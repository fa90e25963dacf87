"""Garbage of the server's memory: what stands is not looked through, and what closed pages left is looked for seldom.

To look through all that a full class holds takes some tenths of a second, while nobody's lamp lights.
"""

from __future__ import annotations

import gc

TIDY_S = 30.0
"""So often it is asked whether to look for what closed pages left."""
MOST_LEFT = 10
"""So many closed pages are waited for: each holds some megabytes."""
LONGEST = 10
"""So many times fewer wait."""


class Garbage:
    """When the one collector of this process looks through its memory, and when it does not."""

    def __init__(self) -> None:
        self._left = self._waited = 0

    def stands(self) -> None:
        """What is there now stays: it is not looked through until a page was closed."""
        gc.freeze()

    def left(self) -> None:
        """A page was closed: what it was made of is given back by a later ``tidy``."""
        self._left += 1

    def tidy(self) -> None:
        """Give back what closed pages left, once they are many or have waited long; else nothing is looked through."""
        self._waited += 1 if self._left else 0
        if self._left >= MOST_LEFT or self._waited >= LONGEST:
            self._left = self._waited = 0
            gc.unfreeze()
            gc.collect()
            gc.freeze()


GARBAGE = Garbage()
