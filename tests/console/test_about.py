"""Help where one is: each board and each word of the trade is explained once, in plain sentences."""

from __future__ import annotations

import re

import pytest

from trainer.classroom.opening import STAFF_PAGES
from trainer.console import about, guide_page
from trainer.console.pages import SHELL
from trainer.console.shell import OF_SOME, VIEWS
from trainer.drawing.glossary import Marks, glossary
from trainer.drawing.texts import texts

MOST_WORDS = 24
"""In a sentence of the glossary or of a board."""
SENTENCE_END = re.compile(r"(?<=[.:])\s+")


def sentences(text: str) -> list[str]:
    return SENTENCE_END.split(text)


def test_every_word_is_explained_in_plain_sentences() -> None:
    for term in glossary().values():
        assert term.what[0].isupper(), term
        assert term.what.endswith("."), term
        assert max(len(sentence.split()) for sentence in sentences(term.what)) <= MOST_WORDS, term


def test_no_word_stands_for_two_things() -> None:
    forms = [form for term in glossary().values() for form in set(term.forms)]
    assert sorted(form for form in set(forms) if forms.count(form) > 1) == []


def test_a_part_is_explained_by_its_card_as_this_rig_has_it() -> None:
    assert glossary()["regulator"].what == texts()["regulator"]["what"]
    assert glossary(surface=True)["regulator"].what == texts(surface=True)["regulator"]["what"]
    assert glossary()["regulator"].what != glossary(surface=True)["regulator"].what


def test_a_text_marks_each_word_once_and_the_longest_that_fits() -> None:
    mark = Marks()
    said = mark("Close the upper pipe ram. The <pipe ram> stands below a tool joint.")
    assert re.findall(r"<dfn[^>]*>([^<]*)</dfn>", said) == ["upper pipe ram", "tool joint"]
    assert "&lt;pipe ram&gt;" in said
    assert re.sub("<[^>]*>", "", mark("A tool joint again.")) == "A tool joint again."
    assert "<dfn" not in mark("A tool joint again.")


@pytest.mark.parametrize("name", [*dict((*VIEWS, *OF_SOME)), "chooser", "learn", "sheet", "progress"])
def test_every_board_says_what_it_is(name: str) -> None:
    assert name in dict((*VIEWS, *OF_SOME)) or name in SHELL
    said = about.about(name, dict((*VIEWS, *OF_SOME)).get(name, ""))
    entry = about.boards()[name]
    for text in (entry["what"], entry["do"]):
        assert text in re.sub("<[^>]*>", "", said)
        assert max(len(sentence.split()) for sentence in sentences(text)) <= MOST_WORDS, text


@pytest.mark.parametrize("name", ["instructor", *(kind.path for kind in STAFF_PAGES)])
def test_every_page_of_staff_says_what_it_is(name: str) -> None:
    entry, key = about.boards()[name], about.key(name)
    assert "What is this page?" in key and entry["title"]
    for text in (entry["what"], entry["do"]):
        assert text in re.sub("<[^>]*>", "", key)
        assert max(len(sentence.split()) for sentence in sentences(text)) <= MOST_WORDS, text


def test_a_further_panel_is_told_by_its_title() -> None:
    said = about.about("third", "Escape panel")
    assert "Escape panel" in said and about.boards()["further"]["what"].partition(":")[0] in said


def test_a_check_says_what_a_board_is_and_not_how_to_use_it() -> None:
    plain = about.about("unit", "Unit", helped=False)
    assert about.boards()["unit"]["what"] in plain
    assert about.boards()["unit"]["do"] not in plain


def test_the_guides_are_made_of_the_same_words() -> None:
    page = guide_page.html()
    assert re.findall(r'<article id="(\w+)"', page) == ["trainee", "instructor", "assessor"]
    for guide in guide_page.guides().values():
        for name in guide["boards"]:
            assert about.boards()[name]["what"] in page
        for word in guide["words"]:
            assert glossary()[word].what in page
