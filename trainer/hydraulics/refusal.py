"""Why something was not done: a sentence for people, and a short code that stays when the sentence is reworded."""

from __future__ import annotations

from typing import Final

from trainer.wording import Wording, amounts_of

INJURY: Final = "injury"
"""The code of what was tried and hurt whoever tried it: it is no refusal to them."""


class Refusal(Wording):
    """A sentence that says why a command was refused. ``code`` is what logs compare and hashes hold.

    >>> refusal = Refusal("no_power", "The panels have no power.")
    >>> str(refusal), refusal.code
    ('The panels have no power.', 'no_power')
    """

    code: str

    def __new__(cls, code: str, why: str) -> Refusal:
        """A refusal with its code, in the letters a-z, digits and underscores."""
        made = super().__new__(cls, why)
        made.code, made.amounts = code, amounts_of(why)
        return made

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        return self.code, str.__str__(self)
