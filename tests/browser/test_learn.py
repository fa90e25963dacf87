"""Learn the parts in a real browser: by mouse, from the keyboard, kept over a reload, as axe-core sees it."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import opened
from tests.browser.fits import SIZES, misfits, still
from tests.browser.test_access import RUN, axe
from tests.chromium import THOROUGH, in_the_long_form

__all__ = ["axe"]

OPEN = "Learn the parts of Sandpiper"
KEPT = "localStorage.getItem('trainer-learnt-sandpiper')"


def enter(tab: Page) -> None:
    """Open the page from the first one."""
    tab.get_by_role("button", name=OPEN).click()
    tab.locator(".lesson").wait_for()


def counted(tab: Page) -> str:
    """How many questions were asked and answered right, as the page keeps it."""
    return str(tab.evaluate(KEPT)).split("\n")[0]


def answered(tab: Page) -> str:
    """Answer the question on the page, any way that ends it; gives what is told."""
    done = tab.locator(".lesson-done")
    if tab.locator(".choice").count():
        tab.locator(".choice").first.click()
    else:
        tab.get_by_role("button", name="show me").click()
    expect(done).to_be_visible()
    return done.inner_text()


def test_tour_cards_and_exercises_by_mouse(page: Page) -> None:
    enter(page)
    expect(page.locator(".lesson h2")).to_have_text("Water, concentrate and glycol")
    page.get_by_role("button", name="Next stop").click()
    expect(page.locator(".lesson h2")).to_have_text("The mixed-fluid tank")
    page.locator(".part[data-component='tank']").first.click()
    expect(page.locator(".card h2")).to_have_text("Mixed-fluid tank")
    page.get_by_label("Search parts").fill("nitrogen")
    page.get_by_role("button", name="Search").click()
    expect(page.locator(".lesson-list .link").first).to_contain_text("bank")
    # Point to it: a right click on the drawing and a wrong one, the names hidden meanwhile.
    page.get_by_role("button", name="Exercises").click()
    page.get_by_label("Kind of exercise").select_option("point")
    expect(page.locator(".lesson-ask")).to_contain_text("Point to: ")
    assert page.evaluate("document.querySelectorAll('title').length") <= 1
    expect(page.locator(".schematic .label").first).to_be_hidden()
    asked = page.locator(".lesson-ask").inner_text().removeprefix("Point to: ").rstrip(".")
    named = page.locator(".part", has=page.locator(f"xpath=self::*[@aria-label={json.dumps(asked)}]"))
    target = named if named.count() else page.locator(".part[data-component='relief']")
    target.first.click()
    expect(page.locator(".lesson-done")).to_be_visible()
    expect(page.locator(".schematic .label").first).to_be_visible()
    page.get_by_role("button", name="Next", exact=True).click()
    page.get_by_label("Kind of exercise").select_option("does")
    answered(page)
    before = counted(page)
    assert before.startswith("2 ")
    # Kept by the browser: whoever comes back goes on where they were.
    page.get_by_role("button", name="Drills", exact=True).click()
    enter(page)
    page.get_by_role("button", name="Exercises").click()
    expect(page.locator(".lesson-score")).to_contain_text(f"Right once: {before.split()[1]}.")


def cells(tab: Page, row: str) -> list[str]:
    """A row of the table of progress: what stands under By sight and under Exercises."""
    return tab.locator(".lesson-score tr", has=tab.get_by_role("rowheader", name=row)).locator("td").all_inner_texts()


def test_progress_is_seen_from_the_first_right_answer_and_each_tab_is_counted_apart(page: Page) -> None:
    enter(page)
    page.get_by_role("button", name="By sight").click()
    expect(page.locator(".lesson-score")).to_contain_text("You know 0 of the 12 questions that the course needs.")
    expect(page.locator(".bar-begun")).to_have_count(0)
    # To have it shown is no wrong answer, and says so.
    page.get_by_role("button", name="show me").click()
    expect(page.locator(".lesson-shown [role=status]")).to_have_text(re.compile(r"^It is: "))
    shown = page.locator(".choice-right").inner_text()
    right: list[str] = []
    for n in range(1, 6):
        page.get_by_role("button", name="Next", exact=True).click()
        expect(page.locator(".lesson-done")).to_have_count(0)
        again = page.locator(".choice", has_text=re.compile(f"^{re.escape(shown)}$"))
        # After three others the missed one comes back: now it is known.
        (again if n == 4 else page.locator(".choice").first).click()
        expect(page.locator(".lesson-done")).to_be_visible()
        right.append(page.locator(".lesson-right").count() and page.locator(".choice-right").inner_text())
    assert right[3] == shown
    begun = sum(map(bool, right))
    assert cells(page, "Right once") == [str(begun), "0"] and cells(page, "Known") == ["0", "0"]
    assert cells(page, "This session") == [f"{begun} right of 6", "0 right of 0"]
    expect(page.locator(".lesson-score")).to_contain_text(f"Right once: {begun}.")
    expect(page.locator(".bar-begun")).to_have_css("flex-grow", str(begun))
    page.get_by_role("button", name="Exercises").click()
    page.get_by_label("Kind of exercise").select_option("does")
    answered(page)
    assert cells(page, "This session")[0] == f"{begun} right of 6"
    assert cells(page, "This session")[1].endswith(" right of 1")
    # The first page counts both too, once the first drill of the course is done; it is kept beside the boxes.
    both = begun + page.locator(".lesson-right").count()
    assert counted(page).split()[2] == f"0+{both}"


def test_words_of_the_trade_explain_themselves_before_and_after_the_answer(page: Page) -> None:
    enter(page)
    page.get_by_role("button", name="By sight").click()
    word = page.locator(".lesson-words .term").first
    word.focus()
    expect(page.locator(".term-says")).to_have_text(str(word.get_attribute("aria-description")))
    page.keyboard.press("Escape")
    expect(page.locator(".term-says")).to_be_hidden()
    page.get_by_role("button", name="show me").click()
    page.locator(".lesson-done .term").first.hover()
    expect(page.locator(".term-says")).to_be_visible()


def test_a_gauge_does_not_show_what_it_should_read_while_that_is_asked(page: Page) -> None:
    enter(page)
    page.get_by_role("button", name="Exercises").click()
    page.get_by_label("Kind of exercise").select_option("reads")
    expect(page.locator(".lesson-ask")).to_contain_text("what should its gauge read at rest?")
    values = page.locator(".deck-learn .schematic .value")
    assert values.count() > 10
    for at in range(values.count()):
        expect(values.nth(at)).to_be_hidden()
    answered(page)
    expect(page.locator(".lesson-done")).to_contain_text("It should read ")
    expect(page.locator(".deck-learn .schematic .value:not(.past)").first).to_be_visible()


#: Where the frame of the marked part crosses that part's own words, and what of the picture lies outside the window.
CROSSED = """
(deck) => {
  const box = (node) => node.getBoundingClientRect(), found = [], room = box(deck)
  const seen = (node) => getComputedStyle(node).visibility === "visible" && box(node).width > 0
  const frames = [...deck.querySelectorAll(".frame")].filter((f) => getComputedStyle(f).stroke !== "none" && seen(f))
  if (frames.length !== 1) found.push(`${frames.length} frames`)
  for (const frame of frames)
    for (const text of deck.querySelectorAll(`.part[data-component="${frame.dataset.of}"] > text`)) {
      const a = box(frame), b = box(text)
      if (seen(text) && (b.left < a.left || b.right > a.right || b.top < a.top || b.bottom > a.bottom))
        found.push(`frame across ${text.textContent}`)
    }
  for (const node of deck.querySelectorAll("text, .frame")) {
    const b = box(node)
    if (seen(node) && Math.max(room.left - b.left, b.right - room.right, room.top - b.top, b.bottom - room.bottom) > 1)
      found.push(`outside: ${node.textContent || node.dataset.of}`)
  }
  return found
}
"""


MARKED = """
(deck) => {
  const of = [...deck.querySelectorAll(".frame")].find((f) => getComputedStyle(f).stroke !== "none").dataset.of
  return deck.querySelector(`.part[data-component="${of}"][aria-label]`).getAttribute("aria-label")
}
"""


@pytest.mark.parametrize("plant", ["Quillback", "Sandpiper", "Wentletrap"])
def test_the_frame_goes_round_the_words_and_nothing_is_cut(page: Page, plant: str) -> None:
    page.get_by_role("button", name=f"Learn the parts of {plant}").click()
    page.locator(".lesson").wait_for()
    page.get_by_role("button", name="By sight").click()
    page.get_by_label("Kind of exercise").select_option("look")
    expect(page.locator(".lesson-ask")).to_contain_text("Which part is marked?")
    wrong: dict[str, Any] = {}
    for _ in range(14):  # then the first come back
        expect(page.locator(".lesson-done")).to_have_count(0)
        picture = page.locator(".deck-sight svg.picture")
        asked, named = picture.evaluate(CROSSED), str(picture.evaluate(MARKED))
        page.locator(".choice", has_text=re.compile(f"^{re.escape(named)}$")).click()
        expect(page.locator(".lesson-right")).to_be_visible()
        if found := [*asked, *picture.evaluate(CROSSED)]:
            wrong[named] = found
        page.get_by_role("button", name="Next", exact=True).click()
    assert wrong == {}


def test_from_the_keyboard_alone(page: Page) -> None:
    page.get_by_role("button", name=OPEN).focus()
    page.keyboard.press("Enter")
    page.locator(".lesson").wait_for()
    page.get_by_role("button", name="Exercises").focus()
    page.keyboard.press("Enter")
    page.get_by_label("Kind of exercise").select_option("does")
    expect(page.locator(".lesson-ask")).to_contain_text("what does it do?")
    page.locator(".choice").first.focus()
    page.keyboard.press("Enter")
    # The focus goes where the hand goes on.
    expect(page.get_by_role("button", name="Next", exact=True)).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator(".lesson-ask")).to_be_focused()
    page.get_by_label("Kind of exercise").select_option("point")
    page.locator(".part[data-component='relief']").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".lesson-done")).to_be_visible()


@pytest.mark.parametrize("plant", ["Quillback", "Sandpiper"])
def test_every_stop_shows_its_parts_legibly(page: Page, plant: str) -> None:
    page.get_by_role("button", name=f"Learn the parts of {plant}").click()
    page.locator(".lesson").wait_for()
    wrong: dict[str, Any] = {}
    on = page.get_by_role("button", name="Next stop")
    sizes = SIZES if THOROUGH else ((1180, 820),)
    for at in range(1, 40):
        expect(page.locator(".lesson .soft").first).to_contain_text(f"Stop {at} of")
        stop = page.locator(".lesson h2").inner_text()
        if found := misfits(page, sizes):
            wrong[stop] = found
        if found := page.evaluate(OUTSIDE):
            wrong[f"{stop}, out of sight"] = found
        if on.get_attribute("aria-disabled") == "true":
            break
        on.click()
    assert at > 12
    for name in ("Cards", "Exercises"):
        page.get_by_role("button", name=name).click()
        page.locator(".lesson-list" if name == "Cards" else ".lesson-ask").wait_for()
        # The whole sheet beside the column is smaller than a tour's window: its words are not measured here.
        if found := {size: [f for f in faults if "tiny" not in f] for size, faults in misfits(page).items()}:
            wrong[name] = {size: faults for size, faults in found.items() if faults}
        if small := page.evaluate(SMALL):
            wrong[f"{name}, small"] = small
    assert {name: found for name, found in wrong.items() if found} == {}


#: The lit parts that lie outside the window on the drawing.
OUTSIDE = """
() => {
  const found = []
  const look = (root) => {
    for (const node of root.querySelectorAll("*")) {
      if (node.matches(".deck-learn svg.schematic")) {
        const room = node.getBoundingClientRect()
        for (const name of node.closest(".learn").dataset.value.split(" "))
          for (const part of node.querySelectorAll(`.part[data-component="${name}"]`)) {
            const box = part.getBoundingClientRect()
            const past = [room.left - box.left, box.right - room.right, room.top - box.top, box.bottom - room.bottom]
            if (Math.max(...past) > 0) found.push(name)
          }
      }
      if (node.shadowRoot) look(node.shadowRoot)
    }
  }
  look(document)
  return found
}
"""

SMALL = """
() => {
  const found = []
  const look = (root) => {
    for (const node of root.querySelectorAll("*")) {
      if (node.matches("button, input, select, summary") && node.checkVisibility()) {
        const {width, height} = node.getBoundingClientRect()
        if (width < 44 || height < 43.9) found.push(`${node.textContent} ${width} x ${height}`)
      }
      if (node.shadowRoot) look(node.shadowRoot)
    }
  }
  look(document)
  return found
}
"""


@in_the_long_form
def test_axe_finds_nothing_in_any_state(browser: Browser, classroom: str, axe: str) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 800}, color_scheme="light")
    tab = opened(context, classroom)
    tab.evaluate(axe)
    wrong: dict[str, Any] = {}

    def look(where: str) -> None:
        for theme in ("light", "dark"):
            assert tab.evaluate("document.documentElement.dataset.theme") == theme
            still(tab)
            if found := tab.evaluate(RUN):
                wrong[f"{where}, {theme}"] = found
            tab.locator("[data-theme-switch]:visible").click()

    enter(tab)
    look("tour")
    tab.get_by_label("Search parts").fill("valve")
    tab.get_by_role("button", name="Search").click()
    look("search")
    tab.locator(".lesson-list .link").first.click()
    look("card")
    tab.get_by_role("button", name="Exercises").click()
    for kind in ("does", "trace"):
        tab.get_by_label("Kind of exercise").select_option(kind)
        look(kind)
        answered(tab)
        look(f"{kind}, answered")
    context.close()
    assert wrong == {}
