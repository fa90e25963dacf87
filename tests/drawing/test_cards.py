"""Component cards: complete, plain, and found for every part."""

from __future__ import annotations

import re

import pytest

from trainer.drawing.cards import card_markup, card_of
from trainer.drawing.context import DrawingContext
from trainer.drawing.texts import HEADINGS, texts


@pytest.mark.parametrize("kind", sorted(texts()))
def test_an_entry_is_complete_and_in_sentences(kind: str) -> None:
    entry = texts()[kind]
    assert set(entry) == {"title", *(key for key, _ in HEADINGS)}
    for key, _ in HEADINGS:
        assert entry[key][0].isupper(), key
        assert re.search(r"[.!?]$", entry[key]), key


def test_a_card_carries_the_title_on_this_rig_and_the_live_reading(desk: DrawingContext) -> None:
    card = card_of(desk.rig, "bank_b.bleed")
    assert card is not None
    assert (card.kind, card.title) == ("bank_bleed", "Accumulator bank B: bleed valve")
    markup = card_markup(desk, "annular_regulator")
    assert 'data-text="annular_regulator.readback"' in markup
    assert all(heading in markup for _, heading in HEADINGS)


def test_an_unknown_part_gets_a_plain_answer(desk: DrawingContext) -> None:
    assert card_of(desk.rig, "flux_capacitor") is None
    assert "no card" in card_markup(desk, "flux_capacitor")
