"""In Portuguese, whose words are longer: nothing lies over anything else, and figures at charts have commas."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

#: Words of a drawing that lie over one another or nearly so, and those that stand out of their buttons.
TOUCHING = """
(board) => {
  const seen = (t) => t.checkVisibility() && getComputedStyle(t).visibility === "visible" && t.textContent.trim()
  const texts = [...board.querySelectorAll("svg text")].filter(seen)
  const boxes = texts.map((t) => [t.textContent, t.getBoundingClientRect()])
  const found = []
  boxes.forEach(([one, a], at) => boxes.slice(at + 1).forEach(([two, b]) => {
    const across = Math.min(a.right, b.right) - Math.max(a.left, b.left)
    const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top)
    if (across > 0.5 && down > 0.35 * Math.min(a.height, b.height)) found.push(`${one} | ${two}`)
  }))
  return found
}
"""
OUT = """
(board) => [...board.querySelectorAll("button.hold")].flatMap((button) => {
  const room = button.getBoundingClientRect()
  return [...button.querySelectorAll("span:not(.sr)")].filter((word) => {
    const range = document.createRange()
    range.selectNodeContents(word)
    const box = range.getBoundingClientRect()
    const over = [room.left - box.left, box.right - room.right, room.top - box.top, box.bottom - room.bottom]
    return box.width && Math.max(...over) > 1
  }).map((word) => word.textContent)
})
"""
#: The figures at an axis as the charts' library writes them.
FIGURES = """
(name) => {
  return [...Bokeh.documents[0].get_model_by_name(name).major_label_overrides]
}
"""


@pytest.fixture
def portuguese(browser: Browser, classroom: str) -> Iterator[Page]:
    """The first page in Portuguese at 1280 by 800."""
    context = browser.new_context(viewport={"width": 1280, "height": 800}, locale="pt-BR")
    page = context.new_page()
    page.goto(classroom)
    expect(page.get_by_role("heading", name="Seu caminho")).to_be_visible()
    yield page
    context.close()


@pytest.mark.parametrize("rig", ["Quillback", "Sandpiper", "Wentletrap"])
def test_no_words_of_the_schematic_lie_over_others(portuguese: Page, rig: str) -> None:
    portuguese.locator(f"button[aria-label$='{rig}']", has_text=rig).first.click()
    portuguese.get_by_role("button", name="Fichas").click()
    portuguese.locator(".lesson-list").wait_for()
    assert portuguese.locator(".deck-learn").evaluate(TOUCHING) == []


def test_the_hoist_says_hold_within_its_buttons_and_axes_have_decimal_commas(portuguese: Page) -> None:
    portuguese.get_by_role("form", name="Prática livre").get_by_role("button").click()
    strip = portuguese.locator(".deck-floor-strip")
    expect(strip.get_by_text("segure").first).to_be_visible()
    assert strip.evaluate(OUT) == []
    figures: dict[float, Any] = dict(portuguese.evaluate(FIGURES, "pit_wide.y"))
    assert figures[0.2] == "0,2" and figures[3 * 0.2] == "0,6" and figures[-0.5] == "-0,5"
