"""The faults that can be named, as a crew looks for them: first the part, then what is wrong with it."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Final

from trainer import naming, resources
from trainer.drawing.cards import kind_of
from trainer.drawing.rig_view import RigView
from trainer.hydraulics.catalogue import Fault

#: Components that no card describes, in words.
_PLACES: Final = {
    "boxes": "Junction boxes",
    "water": "Potable water supply",
    "well": "Well and bit",
    "floor": "Drill floor",
    "ambient": "Weather at the unit",
}
_EMPTY: Final = frozenset(("a", "an", "the", "is", "of", "has", "it", "in", "at", "to"))
_GAUGE = re.compile(r"^Gauge '[^']+' ")


class FaultList:
    """The faults of a plant by part: ``parts`` are titles in alphabetical order, ``of`` gives (fault id, words)."""

    def __init__(self, rig: RigView, faults: Mapping[str, Fault]) -> None:
        self._faults: dict[str, list[tuple[str, str]]] = {}
        self._words: dict[str, str] = {}
        titles = {name: _title(rig, name) for name in {fault.component: None for fault in faults.values()}}
        for fault in faults.values():
            part = titles[fault.component]
            words = _words(fault, part)
            self._faults.setdefault(part, []).append((fault.id, words))
            self._words[fault.id] = f"{part}: {words}"
        for rows in self._faults.values():
            rows.sort(key=lambda row: row[1])

    @property
    def parts(self) -> list[str]:
        """The title of every part that can be at fault."""
        return sorted(self._faults)

    def of(self, part: str) -> list[tuple[str, str]]:
        """What can be wrong with a part: fault id and words; nothing for a part that is not there."""
        return self._faults.get(part, [])

    @property
    def searched(self) -> list[str]:
        """What a search looks through: every part, and every fault with its part before it.

        Parts that are named after another part come behind it: *Annular regulator* after *Upper annular*.
        """
        nouns = {_noun(part) for part in self._faults}
        after = {part for part in self._faults if nouns & set(_named(part)[:-1])}
        parts = sorted(self._faults, key=lambda part: (part in after, part))
        return [*parts, *(f"{part}: {words}" for part in parts for _, words in self._faults[part])]

    def told(self, tell: Callable[[str], str]) -> FaultList:
        """The same faults in the words of a language, as ``tell`` gives a finished text in it."""
        other = copy.copy(self)
        other._faults = {}
        other._words = {}
        for part, rows in self._faults.items():
            said = tell(part)
            named = [(name, tell(f"{part}: {words}")) for name, words in rows]
            rows = [(name, words.removeprefix(f"{said}: ")) for name, words in named]
            other._faults[said] = sorted([*other._faults.get(said, []), *rows], key=lambda row: row[1])
            other._words |= dict(named)
        return other

    def matching(self, text: str) -> list[tuple[str, str]]:
        """Fault id and words of every fault whose words, with its part, hold all words of ``text`` in any order.

        Those of a part that one of the words is the noun of come first: for *annular* the preventers.
        """
        asked = naming.sought(text).split()
        rows = [
            (name, words) for name, words in self._words.items() if all(word in naming.sought(words) for word in asked)
        ]
        nouns = {_stem(word) for word in asked}
        return sorted(rows, key=lambda row: (_noun(row[1].partition(": ")[0]) not in nouns, row[1])) if asked else []

    def meant(self, text: str) -> list[tuple[str, str]]:
        """Fault id and words of every fault that may be meant by ``text``, in common words: those that hold all of its
        words come first, then those that hold another word for one (``assets/text/learn/fault_words.toml``)."""
        exact = self.matching(text)
        asked = [_others(word) for word in text.casefold().split() if word not in _EMPTY]
        known = {name for name, _ in exact}
        rows = [
            (name, words)
            for name, words in self._words.items()
            if name not in known and all(any(one.search(words.casefold()) for one in others) for others in asked)
        ]
        return exact + (sorted(rows, key=lambda row: row[1]) if asked else [])

    def found(self, text: str) -> tuple[str, str]:
        """Part and fault id that a searched text means; the fault is empty where only the part is given."""
        if text in self._faults:
            return text, ""
        fault = next((name for name, words in self._words.items() if words == text), "")
        return text.partition(": ")[0] if fault else "", fault

    def words(self, fault: str) -> str:
        """A fault in words with its part: ``Air pump 1: Worn, delivers less``; the id for one that is not there."""
        return self._words.get(fault, fault)


def _named(part: str) -> list[str]:
    """The words of a part's title, small and without its number: ``Air pump 1`` is an air pump."""
    return [_stem(word) for word in part.casefold().split() if not word.isdigit()] or [""]


def _noun(part: str) -> str:
    """What a part is, by the last word of its title: of the *Annular regulator* it is regulator."""
    return _named(part)[-1]


def _others(word: str) -> list[re.Pattern[str]]:
    """What finds a word: its own stem, and every other word of the rows in which it or its stem stands."""
    stem = _stem(word)
    same = {stem}
    for row in _common_words():
        if any(one == word or _stem(one) == stem for one in row):
            same.update(row)
    # A short word would begin half the dictionary.
    return [re.compile(rf"\b{re.escape(one)}" + (r"\b" if len(one) <= 3 else "")) for one in sorted(same)]


def _stem(word: str) -> str:
    """A word without its ending, where enough is left of it to know it by.

    >>> _stem("leaking"), _stem("gauges"), _stem("ac")
    ('leak', 'gauge', 'ac')
    """
    ending = next((end for end in ("ing", "ed", "s") if word.endswith(end) and len(word) - len(end) >= 4), "")
    return word.removesuffix(ending)


@lru_cache
def _common_words() -> list[list[str]]:
    """The rows of words that mean the same to whoever looks for a fault."""
    path = resources.assets() / "text" / "learn" / "fault_words.toml"
    return [row["words"] for row in tomllib.loads(path.read_text("utf-8"))["same"]]


def _title(rig: RigView, component: str) -> str:
    known = kind_of(rig, component)
    return _PLACES.get(component) or (known[1] if known else naming.title(component))


def _words(fault: Fault, part: str) -> str:
    text = fault.title.removeprefix(f"{part}: ").removeprefix("Potable water: ").removeprefix("Junction box: ")
    if _GAUGE.match(text):
        gauge = fault.id.removeprefix(f"{fault.component}.").rsplit(".", 1)[0]
        text = _GAUGE.sub(f"{naming.plain(gauge)} gauge ", text)
    return text[:1].upper() + text[1:]
