"""People's names as typed: cleaned for keeping, folded for comparing."""

from __future__ import annotations

import unicodedata

LONGEST = 80


def clean(name: str) -> str:
    """The name without control characters and needless blanks; ValueError when nothing or too much is left."""
    kept = "".join(" " if unicodedata.category(letter)[0] in "CZ" else letter for letter in str(name))
    name = " ".join(unicodedata.normalize("NFC", kept).split())
    if not name:
        raise ValueError("a name is missing; type the name that the records shall show")
    if len(name) > LONGEST:
        raise ValueError(f"a name of {len(name)} letters is too long; give at most {LONGEST}")
    return name


def folded(name: str) -> str:
    """The name as names are compared: letters of either case and any width are the same."""
    return unicodedata.normalize("NFKC", clean(name)).casefold()[:200]
