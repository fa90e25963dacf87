"""The debrief in a browser: the timeline, a replay moved by hand, what-if, and a run taken over."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.browser.conftest import let_pass, start
from tests.browser.fits import misfits
from tests.chromium import finish


def _clock(text: str) -> int:
    minutes, seconds = text.split(":")
    return 60 * int(minutes) + int(seconds)


def _finished(page: Page, drill: str, mode: str, closed: str) -> None:
    """A run of half a minute in which one preventer was closed, and its score sheet."""
    start(page, drill, mode=mode, seed=3)
    page.get_by_label("Pace of the run").select_option("20")
    let_pass(page, 25)
    page.locator(f"[data-send*='{closed}'][data-send*='close']:visible").first.click()
    let_pass(page, 15)
    finish(page)
    page.get_by_role("button", name="Download evidence").wait_for()


def _look_at_all_of_it(page: Page, drill: str) -> dict[str, dict[str, list[str]]]:
    """The sheet, progress, what-if and the timeline, as far as they have misfits, in both systems of units."""
    found = {"sheet": misfits(page)}
    page.locator("button[title='Change units']:visible").click()
    expect(page.locator(".after-head")).to_contain_text("Field")
    found["sheet in metric"] = misfits(page)
    page.get_by_role("button", name="Progress").locator("visible=true").click()
    expect(page.locator(".progress")).to_contain_text(f"{drill}: run once, passed 0.")
    found["progress"] = misfits(page)
    assert page.evaluate("JSON.parse(localStorage.getItem('trainer-attempts')).length") == 1
    page.get_by_role("button", name="Back", exact=True).click()
    page.get_by_role("button", name="What if", exact=True).click()
    page.get_by_role("button", name="Compute").click()
    expect(page.locator(".answer")).to_contain_text("20 s earlier")
    expect(page.locator(".answer")).to_contain_text(" bar")
    found["what if"] = misfits(page)
    page.get_by_role("button", name="Timeline and replay", exact=True).click()
    page.locator(".timeline").wait_for()
    found["timeline"] = misfits(page)
    return {where: faults for where, faults in found.items() if faults}


def test_what_comes_after_a_run_fits_for_a_surface_stack_too(page: Page) -> None:
    drill = "Surface stack: kick while drilling"
    _finished(page, drill, "practice", "annular")
    assert _look_at_all_of_it(page, drill) == {}


def test_a_run_is_looked_at_again_and_taken_over(page: Page) -> None:
    _finished(page, "Kick while drilling", "check", "upper_annular")
    assert _look_at_all_of_it(page, "Kick while drilling") == {}
    closed = page.locator(".line-deed", has_text="Upper annular: close")
    at = _clock(closed.locator(".moment").inner_text().split()[-1])
    closed.locator(".moment").click()
    clock, bar = page.locator(".top-clock [data-text]"), page.locator(".replay-bar")
    bar.wait_for()
    arrows = [
        bar.get_by_role("button", name=name).bounding_box() for name in ("To the action before", "To the next action")
    ]
    wide, way = [box["width"] for box in arrows if box], bar.get_by_role("slider").bounding_box()
    assert way is not None and min(wide) >= 24 and max(wide) < 60 < 79 < way["width"], (arrows, way)
    before = max(0, at - 5)
    expect(clock).to_have_text(f"{before // 60}:{before % 60:02d}")
    page.get_by_role("button", name="To the next action").click()
    expect(clock).to_have_text(f"{at // 60}:{at % 60:02d}")
    expect(page.locator(".says-told")).to_contain_text("Upper annular: close")
    lamp = page.locator("[data-send*='upper_annular'][data-send*='close']:visible").first
    expect(lamp).to_be_visible()
    slider = bar.get_by_role("slider")
    slider.focus()
    # The first press may only bring it to the whole second.
    stood = slider.input_value()
    page.keyboard.press("ArrowLeft")
    expect(slider).not_to_have_value(stood)
    page.keyboard.press("ArrowLeft")
    expect(clock).to_have_text(re.compile("|".join(f"{t // 60}:{t % 60:02d}" for t in (at - 1, at - 2))))
    assert page.evaluate("document.documentElement.scrollHeight <= innerHeight")
    assert misfits(page) == {}
    page.get_by_role("button", name="Play", exact=True).click()
    expect(page.locator(".says-told")).to_contain_text("Upper annular: close")
    lamp.click()
    expect(page.locator(".says-refusal")).to_contain_text("This is a replay")

    page.get_by_role("button", name="Take over from here").click()
    expect(page.locator(".top-mode")).to_contain_text("practice, taken over at")
    page.get_by_role("button", name="Resume", exact=True).click()
    before = _clock(clock.inner_text())
    expect(clock).not_to_have_text(f"{before // 60}:{before % 60:02d}")
