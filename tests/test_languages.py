"""The pages in other languages: catalogues are whole and up to date, and nothing but the page knows of a language."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from babel import Locale, numbers

from tests import take_up
from trainer import languages
from trainer.console.boards import Boards
from trainer.console.in_language import in_language, markup
from trainer.console.in_units import in_units
from trainer.console.seat import Seat
from trainer.drills import library
from trainer.languages import GAP, Language, Words
from trainer.simulator import Session

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = sorted(path.parent for path in take_up.LANGUAGES.glob("*/language.toml"))
DRILLS = [(folder, path) for folder in FOLDERS for path in sorted((folder / "drills").glob("*.toml"))]
PROSE = {"title", "purpose", "method", "learning", "safety", "references", "text", "tell", "why", "source", "reason",
         "look_for", "levels", "say", "one_of", "expected", "task"}  # fmt: skip
BEHIND = 0
"""So many texts a catalogue may lag behind the code, so that a change of words need not wait for a translator."""
LEFT = 5
"""Texts of the screens below that are left in English, at most: figures, names, what no catalogue has yet."""


def named(path: Path) -> str:
    return path.name


@pytest.fixture(scope="module")
def texts() -> list[str]:
    return take_up.ordered(take_up.template())


@pytest.mark.parametrize("folder", FOLDERS, ids=named)
def test_the_texts_of_the_code_are_in_the_catalogue_and_no_others(folder: Path, texts: list[str]) -> None:
    kept = take_up.read(folder / "interface.po")
    known = set(take_up.ordered(kept))
    assert (folder / "interface.json").read_text(encoding="utf-8") == take_up.as_json(kept)
    new, old = sorted(set(texts) - known), sorted(known - set(texts))
    missing = [str(message.id) for message in kept if message.id and not message.string]
    assert len(new) + len(old) <= BEHIND, f"python -m tests.take_up takes up {new} and drops {old}"
    assert len(missing) <= BEHIND, f"translate {missing} in {folder / 'interface.po'}"


@pytest.mark.parametrize("folder", FOLDERS, ids=named)
def test_a_translation_has_the_gaps_of_its_text(folder: Path) -> None:
    for message in take_up.read(folder / "interface.po"):
        if message.id:
            assert set(GAP.findall(str(message.id))) == set(GAP.findall(str(message.string))), message.id


def prose(data: Any, at: str = "", key: str = "") -> Iterator[str]:
    """Places of a drill file's texts for people."""
    if isinstance(data, dict):
        for name, value in data.items():
            yield from prose(value, f"{at}.{name}", name)
    elif isinstance(data, list):
        for place, value in enumerate(data):
            spot = value.get("id", place) if isinstance(value, dict) else place
            yield from prose(value, f"{at}.{spot}", key)
    elif isinstance(data, str) and key in PROSE:
        yield at


@pytest.mark.parametrize(("folder", "path"), DRILLS, ids=lambda path: path.stem)
def test_a_drills_texts_have_its_ids_and_gaps(folder: Path, path: Path) -> None:
    english, said = (tomllib.loads(one.read_text(encoding="utf-8")) for one in (languages.drill_file(path.name), path))
    assert set(prose(said)) == set(prose(english))
    for one, other in languages.pairs(english, said):
        assert set(GAP.findall(one)) == set(GAP.findall(other)), one


@pytest.mark.parametrize("folder", FOLDERS, ids=named)
def test_cards_have_the_lines_of_theirs_in_english(folder: Path) -> None:
    for english, said in languages.cards(folder):
        assert isinstance(english, dict) and isinstance(said, dict)
        assert {name: set(card) for name, card in said.items()} == {name: set(english[name]) for name in said}
        assert dict(languages.pairs(english, said))


@pytest.mark.parametrize("folder", FOLDERS, ids=named)
def test_no_line_of_a_card_is_left_in_english(folder: Path) -> None:
    left = []
    for path in sorted((ROOT / "assets" / "text").rglob("*.toml")):
        if path.parent.name == "learn":
            continue
        told = folder / "text" / path.name
        said = tomllib.loads(told.read_text(encoding="utf-8")) if told.is_file() else {}
        for name, card in tomllib.loads(path.read_text(encoding="utf-8")).items():
            left += [f"{path.name} [{name}] {line}" for line in card if line not in said.get(name, {})]
    assert left == []


def test_a_text_that_the_drill_does_not_have_is_named() -> None:
    with pytest.raises(ValueError, match=r"coach\.later is not in the drill file"):
        list(languages.pairs({"coach": [{"id": "now", "say": "Go."}]}, {"coach": {"later": {"say": "Vai."}}}))


@pytest.mark.parametrize("folder", FOLDERS, ids=named)
def test_numbers_are_written_as_in_the_unicode_locale_data(folder: Path) -> None:
    """The Unicode Common Locale Data Repository, as Babel carries it."""
    language, locale = languages.languages()[folder.name], Locale.parse(folder.name, sep="-")
    assert language.decimal == numbers.get_decimal_symbol(locale)
    assert language.group == numbers.get_group_symbol(locale)
    assert language.direction == ("rtl" if locale.character_order == "right-to-left" else "ltr")
    words = languages.words(folder.name)
    assert words is not None
    for value in (0.5, 12.0, 1701.5, 1234567.25):
        assert words.number(f"{value:,}") == numbers.format_decimal(value, "#,##0.0##", locale)


def test_a_typed_number_is_read_as_it_is_written() -> None:
    words = Words(Language("xx", "X", decimal=",", group="."), {})
    said = ["1.701,5", "12,5", "12.5", "0.250", "1.701 psi", "-3,25"]
    assert [words.typed(text) for text in said] == ["1701.5", "12.5", "12.5", "0.250", "1701 psi", "-3.25"]
    assert words.number("0:41, version 0.6.0, 3,000 psi in 1 of 10.4") == "0:41, version 0.6.0, 3.000 psi in 1 of 10,4"


def test_a_finished_text_is_known_by_its_sentence_and_its_parts() -> None:
    words = Words(
        Language("xx", "X"),
        {
            "Annular": "Anel",
            "closed": "zu",
            "Passed: {0} of {1}.": "{1}: {0} ok.",
            "{0} due": "{0} da",
            "Go on": "Weiter",
        },
    )
    assert words.tell("Passed: 86 of 100.") == "100: 86 ok."
    assert words.tell("Annular: closed") == "Anel: zu"
    assert words.tell("“Go on”") == "“Weiter”"
    assert words.tell("annular") == "anel"
    assert words.tell("3 due, closed") == "3 da, zu"
    assert words.tell("Go on. 3 due") == "Weiter. 3 da", "not the words of another sentence"
    assert words.tell("Ines Falk due") == "Ines Falk due", "short sentences are known by known words only"


def test_markup_keeps_its_tags_and_what_is_no_word() -> None:
    words = Words(Language("xx", "X", decimal=",", group="."), {"Close & lock": "Zu <b>", "Open it now.": "Auf."})
    said = markup('<b data-x="Close" title="Close &amp; lock">Close &amp; lock</b><style>a{b:1.5}</style>', words.tell)
    assert said == '<b data-x="Close" title="Zu &lt;b&gt;">Zu &lt;b&gt;</b><style>a{b:1.5}</style>'
    assert markup('Open <dfn class="term">it</dfn> now.', words.tell) == "Auf."


# On the screens


def seat(language: str) -> Seat:
    seat = Seat(Session.start, {"dead-panel": library.all_drills()["dead-panel"]}, Boards())
    seat.hello("light", {"today": "2026-11-28", "language": language})
    return seat


def shown(patch: dict[str, Any]) -> Iterator[str]:
    """The texts of a patch for people."""
    found: list[str] = []

    def note(text: str) -> str:
        found.append(text)
        return text

    for change in patch.values():
        markup(change.get("markup", ""), note)
        for key, reading in change.get("readings", {}).items():
            markup(reading.get("html", ""), note) if key != "page.language" else None
            found += [reading["text"]] if isinstance(reading.get("text"), str) else []
    yield from found


def test_the_screens_of_a_drill_are_in_the_language_and_its_evidence_is_not() -> None:
    runs, left = {}, set()
    for language in ("en", "pt-BR"):
        words, one = languages.words(language), seat(language)
        for message in (
            {"page": "start", "drill": "dead-panel", "seed": "1", "mode": "practice"},
            {"page": "begin"},
            {"do": "read", "target": "count", "value": "0.0" if words is None else "0,0", "from": "driller"},
            {"do": "set", "target": "upper_annular", "value": "close", "from": "remote"},
            {"page": "finish"},
            {"page": "finish"},
        ):
            patch = one.handle(message)
            if words is not None:
                left |= {text for text in shown(patch) if not words.knows(text.strip())}
                said = in_language(patch, language, "field")
                assert json.dumps(said) != json.dumps(in_units(patch, "field")) or not patch
        assert one.run is not None
        runs[language] = json.dumps(one.run.evidence(), sort_keys=True)
    assert runs["en"] == runs["pt-BR"]
    assert len(left) <= LEFT, sorted(left)


def test_a_value_that_is_typed_for_a_control_is_read_in_the_language() -> None:
    one = seat("pt-BR")
    one.handle({"page": "start", "drill": "dead-panel", "seed": "1", "mode": "practice"})
    one.handle({"page": "begin"})
    one.handle({"do": "set", "target": "pits.kill_weight", "value": "12,5 lb/gal", "from": "floor"})
    assert one.run is not None
    assert (one.run.log[-1].target, one.run.log[-1].value) == ("pits.kill_weight", 12.5)


def test_a_language_is_chosen_kept_and_never_invented() -> None:
    one = seat("tlh")
    assert one.language == languages.ENGLISH
    patch = one.handle({"page": "language", "value": "pt-BR"})
    assert patch["header"]["readings"]["page.language"]["state"] == "pt-BR"
    assert languages.languages()["pt-BR"].draft in patch["chooser"]["markup"]
    assert (
        "Um preventor veda"
        in one.worded({"chooser": {"markup": "<p>A preventer seals the well</p>"}})["chooser"]["markup"]
    )


def test_styles_name_no_left_or_right_where_text_has_a_beginning() -> None:
    """So that a language written from right to left turns the pages round (CSS Logical Properties)."""
    sided = re.compile(r"text-align: (left|right)|(margin|padding|border)-(left|right)\b")
    for name in ("board", "shell", "debrief", "learn", "page", "start"):
        style = (ROOT / "assets" / "style" / f"{name}.css").read_text(encoding="utf-8")
        assert not (hit := sided.search(style)), f"{name}.css: {hit and hit[0]}"


def test_faults_are_sought_in_the_words_of_the_page_without_accents_and_an_emptied_field_offers_none() -> None:
    one = seat("pt-BR")
    one.handle({"page": "start", "drill": "dead-panel", "seed": "1", "mode": "practice"})
    one.handle({"page": "begin"})
    fields = one.first()
    assert fields["diagnosis.part"]["title"] == "Part", "told on the way to the page"
    assert any(row.startswith("Gaveta inferior: ") for row in fields["diagnosis.part"]["completions"])
    found = one.handle({"page": "seek", "value": "valvula de alivio"})["diagnosis.fault"]["options"]
    assert found[0][1] == "Escolha o que está errado"
    assert {"Válvula de alívio" in words for _, words in found[1:]} == {True}
    assert one.handle({"page": "seek", "value": ""})["diagnosis.fault"]["options"] == []


def test_every_fault_has_a_name_in_the_language() -> None:
    words = languages.words("pt-BR")
    assert words is not None
    one = seat("en")
    one.handle({"page": "start", "drill": "dead-panel", "seed": "1", "mode": "practice"})
    assert one.run is not None
    faults = one.boards.faults(one.run.machine, "quillback").searched
    assert [text for text in faults if not words.knows(text)] == []


def test_of_a_sentence_all_is_told_or_nothing_and_a_law_keeps_its_number() -> None:
    words = Words(
        Language("xx", "X", decimal=",", group="."), {"Annular": "Anel", "Test {0}": "Prüfe {0}", "open": "auf"}
    )
    assert words.tell("Annular: something else") == "Annular: something else"
    assert words.tell("Test done, open") == "Test done, open"
    assert words.number("30 CFR 250.737(d), 12.5 psi") == "30 CFR 250.737(d), 12,5 psi"
