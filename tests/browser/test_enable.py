"""Enable on panels whose orders are messages: held by one hand while the other presses, or pressed for five seconds."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import let_pass, opened, reading, start
from tests.chromium import until

LATCH = '[data-send=\'{"do":"set","target":"riser_connector","value":"close"}\']:visible'


@pytest.fixture(scope="module")
def panel(browser: Browser, classroom: str) -> Iterator[Page]:
    """The driller's panel of the rig with telemetry, on a page that takes fingers too."""
    context = browser.new_context(viewport={"width": 1280, "height": 800}, has_touch=True)
    tab = opened(context, classroom)
    start(tab, "First look: order, answer, count")
    tab.locator(LATCH).first.wait_for()
    yield tab
    context.close()


def enable(tab: Page) -> Locator:
    return tab.locator("[data-held]:visible").first


def on(tab: Page) -> bool:
    return reading(tab, "driller.enabled") == "on"


def test_a_short_press_lasts_five_seconds(panel: Page) -> None:
    enable(panel).click()
    until(panel, lambda: on(panel), "the press frees the buttons")
    let_pass(panel, 6)
    assert not on(panel)


def test_it_lasts_as_long_as_the_mouse_holds_it_and_no_longer(panel: Page) -> None:
    enable(panel).hover()
    panel.mouse.down()
    let_pass(panel, 8)
    assert on(panel)
    panel.mouse.up()
    until(panel, lambda: not on(panel), "letting go ends it")


def test_one_hand_holds_it_by_a_key_while_the_other_presses_by_mouse(panel: Page) -> None:
    panel.locator(LATCH).first.click()
    expect(panel.locator(".says-refusal")).to_contain_text("nable")
    enable(panel).focus()
    panel.keyboard.down(" ")
    let_pass(panel, 7)
    panel.locator(LATCH).first.click()
    expect(panel.locator(".says-refusal")).to_be_empty()
    let_pass(panel, 1)
    assert on(panel), "the press of the function does not let it go"
    panel.keyboard.up(" ")
    until(panel, lambda: not on(panel), "letting go ends it")


def test_two_fingers(panel: Page) -> None:
    panel.locator(LATCH).first.click()
    expect(panel.locator(".says-refusal")).to_contain_text("nable")
    touches = panel.context.new_cdp_session(panel)
    first, second = (one.bounding_box() for one in (enable(panel), panel.locator(LATCH).first))
    assert first is not None and second is not None
    points = [{"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2, "id": number}
              for number, box in enumerate((first, second))]  # fmt: skip
    touches.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points[:1]})
    let_pass(panel, 7)
    assert on(panel)
    touches.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points})
    # A point that is missed from the list is lifted.
    touches.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": points[:1]})
    expect(panel.locator(".says-refusal")).to_be_empty()
    let_pass(panel, 1)
    assert on(panel), "the second finger does not let it go"
    touches.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    until(panel, lambda: not on(panel), "letting go ends it")


def test_the_other_rigs_have_the_push_alone(page: Page) -> None:
    start(page, "Free practice")
    expect(page.locator("[data-send*='driller.enable']:visible").first).to_be_visible()
    assert page.locator("[data-held]").count() == 0
