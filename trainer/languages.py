"""The languages in which the pages can be read: a folder each in ``assets/languages``.

A folder holds ``language.toml``, the texts of the pages as a gettext catalogue (``interface.po``, for people, and the
same as JSON, since a browser's Python has no gettext), and a text file for each translated drill. English is what
everything is written in; nothing but the page knows another language, so evidence, ids and hashes do not depend on it.
A finished English text is looked up whole, then as a sentence with gaps ("{0} of {1} mastered"), then part by part.
Sentences beside each other are told one by one; of one sentence all is told or nothing, so no words are mixed.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Final

from trainer import resources, units

ENGLISH: Final = "en"
GAP: Final = re.compile(r"\{([^{}]*)\}")
LEAST_LETTERS: Final = 8
"""A sentence with fewer letters outside its gaps is known only where all that stands in them is."""
DEEPEST: Final = 6
"""So many times a text is taken apart."""
#: Where a text is taken apart when it has no translation as a whole: ends of sentences first.
_JOINTS: Final = tuple(
    re.compile(pattern)
    for pattern in (
        r"(?<=[.!?])( )(?=[A-Z\"'“\d])",
        r"(: )",
        r"( · )",
        r"(; )",
        r"( – | − )",
        r"(, )",
        r"( ← )",
        r"(?<=^\d)( )(?=[A-Z])",
        r"(?<=\d:\d\d)( )(?=[A-Z“])",
        r"( \(\d+\))$",
        r"( )(?=[-+−±]?\d[\d,.]*(?: \S{1,6})?$)",
    )
)
_EDGES: Final = tuple(re.compile(rf"([\s(“\"'·▸]*)(.*?)([\s)”\"'·:…{stop}]*)", re.DOTALL) for stop in ("", ".,"))
_WORD: Final = re.compile(r"[^\W\d_]{2}")
#: A figure with its unit, or a clock.
_FIGURE: Final = re.compile(
    rf"[-+−±]?\d[\d,.]*(?:[ \u00a0](?:{'|'.join(re.escape(units.symbol(name)) for name in units.UNITS)}|stk|rpm|min))?"
)
COUNTED: Final = " stk"
"""The one unit that is a word, which each language has its own for."""
_ID: Final = re.compile(r"[a-z][a-z0-9_]*(?:\.[a-z0-9_]+)+")
_NAME: Final = re.compile(r"[^a-z\s][^.!?]{0,70}[.]?")
"""What may stand in a sentence without a translation: the name of a person, a file or a drill, never a clause."""
_CITED: Final = re.compile(r"(?:CFR|API \w+|§) ?[\dA-Z][\dA-Z.,;()a-z]*(?:(?:, | and | e )\d{3}\.\d+[\da-z()]*)*")
"""A law or standard with its paragraphs, whose numbers are no amounts."""
_NUMBER: Final = re.compile(r"(?<![\w.,])(\d{1,3}(?:,\d{3})+|\d+)(\.\d+)?(?![\w]|[.,]\d)")


@dataclass(frozen=True, slots=True)
class Language:
    """name: what it calls itself. direction: ``ltr`` or ``rtl``. decimal, group: marks in its numbers.

    draft: what is said on screen while no native reader has seen it; empty afterwards.
    """

    id: str
    name: str
    direction: str = "ltr"
    decimal: str = "."
    group: str = ","
    draft: str = ""


@cache
def languages() -> Mapping[str, Language]:
    """Every language by its id, English first. ValueError or TypeError for a ``language.toml`` that is not one."""
    found = {ENGLISH: Language(ENGLISH, "English")}
    for path in sorted((resources.assets() / "languages").glob("*/language.toml")):
        given = tomllib.loads(path.read_text(encoding="utf-8"))
        found[path.parent.name] = Language(path.parent.name, **given)
    return found


@dataclass(frozen=True, slots=True)
class Sentence:
    """A text with gaps: what a finished English one looks like, and the same in the language.

    anchor: its longest piece between gaps, by which most others are passed over quickly. short: it has few letters of
    its own, so it counts only where all that stands in its gaps is known.
    """

    anchor: str
    pattern: re.Pattern[str]
    gaps: tuple[str, ...]
    said: str
    short: bool

    @staticmethod
    def of(english: str, said: str) -> Sentence:
        """The sentence of an English text and its translation, whose gaps have the same names in both."""
        pieces = GAP.split(english)[::2]
        pattern = re.compile("(.*?)".join(map(re.escape, pieces)), re.DOTALL)
        gaps, short = tuple(GAP.findall(english)), _weight(english) < LEAST_LETTERS
        return Sentence(max(pieces, key=len), pattern, gaps, said, short)

    def takes(self, gap: str, value: str) -> bool:
        """Whether a text without a translation may stand in a gap: a name, or what somebody typed, in quotes."""
        return f"“{{{gap}}}”" in self.said or _NAME.fullmatch(value) is not None


class Words:
    """The texts of one language. ``tell`` gives an English text in it."""

    def __init__(self, language: Language, catalogue: Mapping[str, str]) -> None:
        self.language = language
        self._whole = {english: said for english, said in catalogue.items() if not GAP.search(english)}
        sentences = sorted((english for english in catalogue if GAP.search(english)), key=_weight, reverse=True)
        self._sentences = [Sentence.of(english, catalogue[english]) for english in sentences]
        self._known = lru_cache(maxsize=4096)(self._look_up)
        # The same piece is met on many ways through a text.
        self._say = lru_cache(maxsize=16384)(self._find)

    def tell(self, text: str) -> str:
        """The text in this language, its numbers written as the language writes them; as it is, if it is not known."""
        return self._known(text)

    def knows(self, text: str) -> bool:
        """Whether no word of the text is left in English for want of a translation."""
        return self._say(text, 0) is not None

    def whole(self, text: str) -> str:
        """The translation of a text that the catalogue has just so; empty where it has none."""
        return self._whole.get(text, "")

    def number(self, text: str) -> str:
        """The text with its numbers in this language's notation: 1,701.5 is 1.701,5."""
        if self.language.decimal == "." and self.language.group == ",":
            return text
        kept = [one.span() for one in _CITED.finditer(text)]
        return _NUMBER.sub(lambda hit: hit[0] if any(a <= hit.start() < z for a, z in kept) else self._noted(hit), text)

    def typed(self, text: str) -> str:
        """A number as a person types it in this language, in the notation that the trainer reads: 1.701,5 is 1701.5.

        A mark that cannot group thousands is a decimal mark, as in 12.5.
        """
        group, decimal = self.language.group, self.language.decimal
        grouped = re.compile(rf"(?<![\d.,])[1-9]\d{{0,2}}(?:{re.escape(group)}\d{{3}})+(?!\d)")
        return grouped.sub(lambda found: found[0].replace(group, ""), text).replace(decimal, ".")

    def _noted(self, found: re.Match[str]) -> str:
        whole = found[1].replace(",", self.language.group)
        return whole + (found[2] or "").replace(".", self.language.decimal)

    def _look_up(self, text: str) -> str:
        said = self._say(text, 0)
        return text if said is None else said

    def _find(self, text: str, depth: int) -> str | None:
        """The translation; None where there is none."""
        if (whole := self._whole.get(text)) is not None:
            return whole
        if not _WORD.search(text) or (_FIGURE.fullmatch(text) and not text.endswith(COUNTED)) or _ID.fullmatch(text):
            return text
        if text[:1].islower() and (whole := self._whole.get(text[0].upper() + text[1:])) is not None:
            return whole[0].lower() + whole[1:]
        if depth >= DEEPEST:
            return None
        return self._filled(text, depth) or self._within(text, depth) or self._parts(text, depth)

    def _within(self, text: str, depth: int) -> str | None:
        """A text known without what stands around it: quotes, a colon, a full stop."""
        for edges in _EDGES:
            hit = edges.fullmatch(text)
            if hit is not None and hit[2] != text and (said := self._say(hit[2], depth + 1)) is not None:
                return f"{hit[1]}{said}{hit[3]}"
        return None

    def _filled(self, text: str, depth: int) -> str | None:
        for sentence in self._sentences:
            if sentence.anchor not in text or (hit := sentence.pattern.fullmatch(text)) is None:
                continue
            if sentence.short and any(map(_JOINTS[0].search, hit.groups())):
                continue  # its words are those of one of several sentences
            if any(value[-1:] in (":", ",", ";") for value in hit.groups()):
                continue  # what stands before such a mark is a part of its own
            values = [self._say(value, depth + 1) for value in hit.groups()]
            if sentence.short and None in values:
                continue
            told = zip(sentence.gaps, hit.groups(), values, strict=True)
            if any(said is None and not sentence.takes(gap, value) for gap, value, said in told):
                continue
            by_name = {
                gap: value if said is None else said
                for gap, value, said in zip(sentence.gaps, hit.groups(), values, strict=True)
            }
            return filled(sentence.said, by_name)
        return None

    def _parts(self, text: str, depth: int) -> str | None:
        for joint in _JOINTS:
            for pieces in (joint.split(text), joint.split(text, maxsplit=1)):
                if len(pieces) < 2:
                    break
                said = [piece if at % 2 else self._say(piece, depth + 1) for at, piece in enumerate(pieces)]
                enough = any if joint is _JOINTS[0] and depth == 0 else all
                if enough(one is not None for one in said[::2]):
                    return "".join(piece if one is None else one for piece, one in zip(pieces, said, strict=True))
        return None


@cache
def words(language: str) -> Words | None:
    """The texts of a language; None for English and for a language that is not there."""
    if language == ENGLISH or language not in languages():
        return None
    folder = resources.assets() / "languages" / language
    catalogue: dict[str, str] = json.loads((folder / "interface.json").read_text(encoding="utf-8"))
    for path in sorted((folder / "drills").glob("*.toml")):
        drill = drill_file(path.name)
        if drill.is_file():
            english, said = (tomllib.loads(file.read_text(encoding="utf-8")) for file in (drill, path))
            catalogue |= dict(pairs(english, said))
    for card, told in cards(folder):
        catalogue |= dict(pairs(card, told))
    return Words(languages()[language], catalogue)


def spoken_drills(language: str) -> frozenset[str]:
    """The ids of the shipped drills whose texts there are in a language; of English none are asked for."""
    return frozenset(path.stem for path in (resources.assets() / "languages" / language / "drills").glob("*.toml"))


def cards(folder: Path) -> Iterator[tuple[object, object]]:
    """The files of cards that a language's folder has, each as (English, in the language); a card may be missing."""
    for path in sorted((folder / "text").glob("*.toml")):
        english = next((resources.assets() / "text").rglob(path.name))
        yield tomllib.loads(english.read_text(encoding="utf-8")), tomllib.loads(path.read_text(encoding="utf-8"))


def drill_file(name: str) -> Path:
    """The shipped drill whose texts a file of this name has: guided and crew drills lie in folders of their own."""
    places = (resources.scenarios() / folder / name for folder in ("guided", "crews"))
    return next((path for path in places if path.is_file()), resources.scenarios() / name)


def pairs(english: object, said: object, at: str = "") -> Iterator[tuple[str, str]]:
    """Each text of a drill file with its translation, which stands at the same place of the drill's text file.

    Rows of a list of tables go by their ``id``. ValueError names the place of what the drill file does not have.
    """
    if isinstance(said, str) and isinstance(english, str):
        yield from ((english.strip(), said.strip()),)
        lines = english.strip().splitlines(), said.strip().splitlines()
        if len(lines[0]) == len(lines[1]) > 1:
            yield from zip(*lines, strict=True)
    elif isinstance(said, list) and isinstance(english, list) and len(said) == len(english):
        for place, (one, other) in enumerate(zip(english, said, strict=True)):
            yield from pairs(one, other, f"{at}[{place}]")
    elif isinstance(said, dict):
        rows = {row["id"]: row for row in english if "id" in row} if isinstance(english, list) else english
        for name, value in said.items():
            if not isinstance(rows, dict) or name not in rows:
                raise ValueError(f"{at}.{name}".lstrip(".") + " is not in the drill file: take it out.")
            yield from pairs(rows[name], value, f"{at}.{name}".lstrip("."))
    else:
        raise ValueError(f"{at} is another kind of value in the drill file, or a list of another length.")


def filled(sentence: str, values: Mapping[str, str]) -> str:
    """The sentence with the values of its gaps in it; a gap for which there is no value stays as it is."""
    return GAP.sub(lambda gap: values.get(gap[1], gap[0]), sentence)


def _weight(sentence: str) -> int:
    return sum(map(str.isalpha, GAP.sub("", sentence)))
