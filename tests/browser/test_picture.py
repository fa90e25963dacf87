"""The picture of the unit in a real browser: brought near, and worked by mouse and by keyboard."""

from __future__ import annotations

import re

from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import let_pass, start
from tests.browser.hands import Hand
from tests.browser.test_kick import number
from tests.chromium import until

#: The least side of the targets in sight, CSS pixels, and how many there are.
TARGETS = """(picture) => {
  const room = picture.getBoundingClientRect()
  const seen = (hand) => hand.checkVisibility({visibilityProperty: true})
  const sides = [...picture.querySelectorAll(".hand")].filter(seen).map((hand) => hand.getBoundingClientRect())
    .filter((b) => b.left >= room.left && b.right <= room.right && b.top >= room.top && b.bottom <= room.bottom)
    .map((box) => Math.min(box.width, box.height))
  return [sides.length, Math.min(...sides)]
}"""

#: Whether a ring is drawn about what has the focus, or about the part that it is in.
FOCUS = """() => {
  const node = window.sight.focused(), rings = [node, node?.querySelector(":scope > .hit")].filter(Boolean)
  const ring = (style) => style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2
    || style.stroke !== "none" && !style.stroke.endsWith(", 0)") && parseFloat(style.strokeWidth) >= 2
  return node !== document.body && node.matches(":focus-visible") && node.checkVisibility({visibilityProperty: true})
    && rings.some((one) => ring(getComputedStyle(one)))
}"""


def piece(page: Page, part: str) -> Locator:
    return page.locator(".piece:visible", has=page.locator(f".part[data-component='{part}']"))


def test_the_unit_is_worked_where_its_parts_stand(page: Page, complaints: list[str]) -> None:
    start(page, "Free practice")
    # A window of this size works the unit in its picture, and in lists for whoever prefers them: that choice is kept.
    page.get_by_role("button", name="Unit", exact=True).click()
    page.get_by_role("button", name="Lists", exact=True).click()
    page.get_by_role("button", name="Maintenance", exact=True).click()
    page.get_by_role("button", name="Picture", exact=True).click()
    expect(page.get_by_role("button", name="Maintenance", exact=True)).to_be_hidden()
    picture = page.locator("svg.picture:visible")
    # From another station, too, one press leads from the lists to the picture.
    page.get_by_role("button", name="Lists", exact=True).click()
    page.get_by_role("button", name="Driller's panel", exact=True).click()
    page.get_by_role("button", name="Picture", exact=True).click()
    expect(picture).to_be_visible()
    turn = page.get_by_role("button", name="Accumulator bank A shut-off: Shut")
    expect(turn).to_be_hidden()  # too small to hit from afar
    piece(page, "bank_a").locator(".part").click()
    turn.click()
    expect(piece(page, "bank_a.isolation")).to_have_attribute("data-value", "shut")
    expect(turn).to_be_hidden()
    count, least = picture.evaluate(TARGETS)
    assert count >= 6 and least >= 44.0
    # From the keyboard alone: to the levers, and one of them to block.
    page.get_by_role("button", name="Show levers", exact=True).focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Middle pipe ram: Block", exact=True).locator("visible=true").focus()
    page.keyboard.press("Enter")
    expect(piece(page, "middle_pipe_ram.lever")).to_have_attribute("data-value", "block")
    count, least = picture.evaluate(TARGETS)
    assert count >= 60 and least >= 44.0
    # A critical lever lies under a cover, which falls when the hand goes elsewhere.
    shear = page.get_by_role("button", name="Blind shear ram: Block", exact=True).locator("visible=true")
    expect(shear).to_have_count(0)
    page.get_by_role("button", name="Blind shear ram: Lift cover", exact=True).click()
    shear.click()
    expect(piece(page, "blind_shear_ram.lever")).to_have_attribute("data-value", "block")
    # A regulator is raised while its knob is held.
    page.get_by_role("button", name="Show manifold", exact=True).click()
    expect(shear).to_have_count(0)
    page.get_by_role("button", name="Annular regulator set from: Unit", exact=True).click()
    needle = piece(page, "annular_regulator").locator("[data-needle='annular_regulator.pilot']")
    before = needle.get_attribute("transform")
    page.get_by_role("button", name="Annular regulator: Raise", exact=True).locator("visible=true").hover()
    page.mouse.down()
    until(page, lambda: needle.get_attribute("transform") != before, "the pilot gauge follows the hand")
    page.mouse.up()
    expect(piece(page, "pilot.pressure").locator(".part")).to_have_attribute(
        "aria-label", re.compile("^Pilot gauge: .* psi$")
    )
    # A click on a part's name opens its card beside it.
    piece(page, "pilot.pressure").locator("text").click()
    page.locator("dialog.beside[open]").wait_for()
    page.keyboard.press("Escape")
    # On a wide screen the schematic stands beside: what is chosen in one is lit in the other.
    drawn = page.locator("svg.schematic:not(.picture):visible")
    expect(drawn).to_have_count(0)
    page.set_viewport_size({"width": 1920, "height": 1080})
    beside = page.get_by_role("button", name="Schematic beside")
    beside.click()
    drawn.locator(".part[data-component='filter_2']").click()
    expect(piece(page, "filter_2").locator(".part")).to_have_class(re.compile("chosen"))
    expect(
        page.get_by_role("button", name="Discharge filter 2: choose it to work on it").locator("visible=true")
    ).to_be_visible()
    beside.click()
    expect(drawn).to_have_count(0)
    # No stray click opens what is under pressure, nor do two of them: it is chosen first, then its plate is pressed.
    page.get_by_role("button", name="Discharge filter 1: choose it to work on it").locator("visible=true").dblclick()
    opens = page.get_by_role("button", name="Discharge filter 1: Open the housing").locator("visible=true")
    expect(opens).to_be_focused()
    let_pass(page, 1)
    expect(page.locator(".says")).not_to_contain_text("Injury")
    opens.click()
    expect(page.locator(".says")).to_contain_text("Injury")
    assert complaints == []


def test_a_filter_is_changed_by_keys_alone(page: Page, complaints: list[str]) -> None:
    """Isolated, bled, opened and put back in the picture, by tab key and Enter, the focus always in sight."""
    start(page, "Free practice")
    hand = Hand(page, keyboard=True)

    def press(name: str) -> None:
        button = page.get_by_role("button", name=name, exact=True).locator("visible=true")
        button.wait_for()
        hand.press(button, name)
        if name.endswith((": Open", ": Shut")):
            expect(button).to_have_count(0)  # it is turned; what turns it back has taken its place
        assert page.evaluate(FOCUS), f"after {name} the focus cannot be seen"

    press("Unit")
    press("Show filters and header")
    for work in (
        "Discharge filter 2 valve before: Open",
        "Discharge filter 2 valve after: Open",
        "Discharge filter 1 valve before: Shut",
        "Discharge filter 1 valve after: Shut",
        "Discharge filter 1 bleed: Open",
    ):
        press(work)
    until(page, lambda: number(page, "filter_1.pressure") < 5.0, "the housing is bled")
    press("Discharge filter 1: choose it to work on it")
    press("Discharge filter 1: Open the housing")
    press("Discharge filter 1 bleed: Shut")
    expect(page.locator(".says")).not_to_contain_text("Injury")
    assert complaints == []
