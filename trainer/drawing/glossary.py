"""Words of the trade, explained where they stand: each has one sentence, a part's is the first line of its card.

The words lie in ``assets/text/learn/glossary.toml``. In a text the first place of each is marked as a term that shows
its sentence while the pointer or the focus is on it (``assets/script/terms.js``).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache

from trainer import resources
from trainer.drawing.markup import Markup, el, join
from trainer.drawing.texts import texts
from trainer.wording import written


@dataclass(frozen=True, slots=True)
class Term:
    """A word with its sentence. card: the kind of part it is, where it is one.

    forms: the words, in small letters, by which a text is searched for it.
    """

    id: str
    word: str
    what: str
    card: str
    forms: tuple[str, ...]


@cache
def glossary(surface: bool = False) -> dict[str, Term]:
    """Every term by its id. surface: as the cards read on a rig whose stack stands at the surface, without pods.

    ValueError for a term with no sentence, with two, or of a card that is not there.
    """
    path = resources.assets() / "text" / "learn" / "glossary.toml"
    found: dict[str, Term] = {}
    for name, entry in tomllib.loads(path.read_text(encoding="utf-8")).items():
        card = entry.get("card")
        if (card is None) == ("what" not in entry) or (card is not None and card not in texts()):
            raise ValueError(f"{path.name}: '{name}' needs either what, or card with the name of a card")
        what = written(entry["what"]) if card is None else texts(surface)[card]["what"]
        word = entry["word"]
        forms = tuple(form.lower() for form in (word, *entry.get("also", ())))
        found[name] = Term(name, word, what, card or "", forms)
    return found


@cache
def _search(surface: bool) -> tuple[re.Pattern[str], dict[str, Term]]:
    by_form = {form: term for term in glossary(surface).values() for form in term.forms}
    longest_first = sorted(by_form, key=len, reverse=True)
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, longest_first))})\b", re.IGNORECASE), by_form


@dataclass
class Marks:
    """Marks terms in the texts of one page or card, each term once; ``met`` holds those that need no more marking."""

    surface: bool = False
    met: set[str] = field(default_factory=set)

    def __call__(self, text: str) -> Markup:
        """The text with the first place of each term marked."""
        pattern, by_form = _search(self.surface)
        out: list[Markup | str] = []
        at = 0
        for hit in pattern.finditer(text):
            term = by_form[hit[0].lower()]
            if term.id not in self.met:
                self.met.add(term.id)
                out += [text[at : hit.start()], marked(term, hit[0])]
                at = hit.end()
        return join(*out, text[at:])

    def terms(self, text: str) -> list[Markup]:
        """The terms of a text that stands where none can be marked, each as a word of its own; marked from then on."""
        pattern, by_form = _search(self.surface)
        found = {by_form[hit[0].lower()].id: by_form[hit[0].lower()] for hit in pattern.finditer(text)}
        fresh = [term for name, term in found.items() if name not in self.met]
        self.met.update(found)
        return [marked(term, term.word) for term in fresh]


def marked(term: Term, word: str) -> Markup:
    """A word of a text as a term: it takes the focus, and says what it means."""
    return el("dfn", {"class": "term", "tabindex": 0, "aria-description": term.what}, word)


def listed(terms: Iterable[Term]) -> Markup:
    """Terms with their sentences, as a list of definitions in the order in which they are given."""
    return el("dl", {"class": "terms"}, [[el("dt", {}, term.word), el("dd", {}, term.what)] for term in terms])
