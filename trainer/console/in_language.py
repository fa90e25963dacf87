"""A patch in the language of the page: the last thing before it goes there, as with the units.

Everything is written in English and in English notation up to here, so what is kept, hashed and compared is the same in
every language. Text that a person typed or that comes with a file of their own has no translation and stays.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from html import escape, unescape
from itertools import combinations, pairwise
from typing import Final

from trainer import languages, units
from trainer.console.diagnosis import ASKED, RULE
from trainer.console.in_units import in_units
from trainer.console.presenter import Patch
from trainer.console.reading import Reading
from trainer.console.texts import retell, retell_markup
from trainer.drawing.markup import Markup
from trainer.wording import Wording, glued

_TERM: Final = re.compile(r"<dfn\b[^>]*>(.*?)</dfn>", re.DOTALL)
"""A marked word of the trade: its sentence has to be whole, so in another language it is not marked."""
_LINES: Final = re.compile(r"(<text [^>]*>)((?:<tspan(?:(?!data-text)[^>])*>[^<]*</tspan>){2,})")
_LINE: Final = re.compile(r"(<tspan[^>]*>)([^<]*)(</tspan>)")
PAGE: Final = (
    "Well control panel trainer",
    "Share of the points over the attempts; the table shows the same",  # words: ok (as in the page)
    "Flow out less flow in, last minutes",
    "Pit gain, last minutes",
    "Pressures of the well, last minutes",
    "On the way",
    "Trends and alarms",
    "Flow in and out",
    "Pit gain",
    "Shut-in pressures",
    "System pressures",
    "Diagnosis",
    ASKED,
    RULE,
    "Flow in and out over the run",
    "Pressures over the run",
)
"""Texts that stand in the page itself (``pages.py``), outside its boards."""


def page_texts(language: str) -> Reading:
    """What the page needs to be in a language: its id, its direction, and by their English its own texts."""
    words = languages.words(language)
    said = {} if words is None else {text: words.tell(text) for text in PAGE}
    return {"state": language, "direction": languages.languages()[language].direction, "said": said}


def teller(language: str, numbers: bool = True) -> Callable[[str], str]:
    """What gives a finished text in a language; English stays. numbers: in its notation, where they are not yet."""
    words = languages.words(language)
    if words is None:
        return str
    return (lambda text: words.number(words.tell(text))) if numbers else words.tell


def whole_page(html: str, language: str, numbers: bool = True) -> str:
    """A whole page of plain HTML in a language: its texts, its spoken names, its language and direction."""
    if languages.words(language) is None:
        return html
    head, direction = '<html lang="en">', languages.languages()[language].direction
    told = retell_markup(html, teller(language, numbers))
    return told.replace(head, f'<html lang="{language}" dir="{direction}">', 1)


def in_language(patch: Patch, language: str, system: units.System) -> Patch:
    """A patch for the page in its language and in the chosen units."""
    words = languages.words(language)
    if words is None:
        return in_units(patch, system)

    def tell(text: str) -> str:
        # A sentence is known by its own numbers: so first the words, then the units, then how numbers are written.
        said = words.tell(text)
        return words.number(text.moved_to(said).told(system) if isinstance(text, Wording) else said)

    return retell(patch, tell, lambda text: markup(_LINES.sub(lambda found: _lines(found, words), text), tell))


def _lines(found: re.Match[str], words: languages.Words) -> str:
    """A label of a drawing in several lines, known as a whole, in as many lines of the language's own order."""
    lines = _LINE.findall(found[2])
    whole = unescape(" ".join(text for _, text, _ in lines))
    if not words.knows(whole):
        return found[0]
    said = broken(words.tell(whole), len(lines))
    return found[1] + "".join(f"{head}{escape(text)}{end}" for (head, _, end), text in zip(lines, said, strict=True))


def broken(text: str, most: int) -> list[str]:
    """A text in so many lines, its longest as short as its words allow; lines that are not needed are empty.

    >>> broken("Válvula da linha de matar", 2)
    ['Válvula da', 'linha de matar']
    """
    said = text.split(" ")
    cuts = combinations(range(1, len(said)), min(most, len(said)) - 1)
    ways = [[" ".join(said[a:z]) for a, z in pairwise((0, *cut, len(said)))] for cut in cuts]
    best = min(ways, key=lambda lines: max(map(len, lines)))
    return [*best, *[""] * (most - len(best))]


def markup(text: str, tell: Callable[[str], str]) -> str:
    """Markup with its texts and spoken names as ``tell`` gives them."""
    pieces: list[str] = []
    at = 0
    for term in _TERM.finditer(text):
        pieces += [text[at : term.start()], text[term.start(1) : term.end(1)]]
        at = term.end()
    return retell_markup(glued(Markup, [*pieces, text[at:]]), tell)
