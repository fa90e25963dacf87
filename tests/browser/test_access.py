"""Every page and state as axe-core sees it, light and dark, on both plants: names, roles, contrast, keyboard reach.

What a rule looks at and a theme or a plant does not change is looked at once; the long form looks at everything
everywhere. Contrast of both plants' boards in both themes is measured besides in ``tests/drawing/test_geometry.py``.
axe-core comes from the npm registry once, by pinned hash, and stays in the cache folder.
"""

from __future__ import annotations

import tarfile
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import opened, turn_to, unfold
from tests.browser.fits import still
from tests.chromium import THOROUGH, finish
from trainer.console.shell import VIEWS
from trainer.drawing.glossary import glossary
from trainer.takeaway.fetch import cache_folder, fetch
from trainer.takeaway.pins import Pin

AXE = Pin(
    "npm",
    "axe-core",
    "4.10.3",
    "axe-core-4.10.3.tgz",
    "sha256:0f2b4d7dcdf7d1219df8d1959ad68e565f51d14c3f0d88bb71cd59abeb956292",
)
RUN = """
async (options) => {
  const found = await axe.run(document, {resultTypes: ["violations"], ...options})
  return found.violations.map((v) => ({rule: v.id, help: v.help,
    at: v.nodes.slice(0, 4).map((n) => n.target.flat().join(" ") + " | " + n.html.slice(0, 160) + " | "
      + (n.any[0] ?? n.all[0] ?? n.none[0])?.message)}))
}
"""


@pytest.fixture(scope="module")
def axe() -> str:
    """The text of axe-core."""
    package = fetch(cache_folder(), (AXE,))[AXE.name]
    with tarfile.open(package) as archive:
        script = archive.extractfile("package/axe.min.js")
        assert script is not None
        return script.read().decode()


KICK, SURFACE = "Kick while drilling", "Surface stack: kick while drilling"
ALL: dict[str, Any] = {}
STRUCTURE = {"rules": {"color-contrast": {"enabled": False}}}
SHORT = ((KICK, "light", ALL),)
#: Stations whose contrast is measured in tests/drawing/test_geometry.py, light and dark.
MEASURED = ("aside", "floor", "unit", "care", "remote")
LONG = tuple((drill, theme, ALL) for drill in (KICK, SURFACE) for theme in ("light", "dark"))


@pytest.mark.parametrize(("drill", "theme", "options"), LONG if THOROUGH else SHORT)
def test_axe_finds_nothing_on_any_page(
    browser: Browser, classroom: str, axe: str, drill: str, theme: Any, options: dict[str, Any]
) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 800}, color_scheme=theme)
    tab = opened(context, classroom)
    tab.evaluate(axe)
    wrong: dict[str, list[Any]] = {}

    def look(where: str) -> None:
        rules = options
        if where in MEASURED and not THOROUGH:
            rules = STRUCTURE
        still(tab)
        found = tab.evaluate(RUN, rules)
        if found:
            wrong[where] = found

    assert tab.evaluate("document.documentElement.dataset.theme") == theme
    if drill == KICK:
        look("chooser")
        assert tab.evaluate("document.documentElement.scrollHeight") <= 1200, "the first page is long again"
    unfold(tab)
    if drill == KICK:
        look("library")
    tab.get_by_role("form", name=drill, exact=True).get_by_role("button", name="Start").click()
    tab.get_by_role("button", name="Begin").wait_for()
    look("briefing")
    _a_word_explains_itself(tab)
    tab.get_by_role("button", name="Begin").click()
    for name, _ in VIEWS:
        turn_to(tab, name)
        look(name)
    _refused_with_a_card(tab)
    look("refusal and card")
    tab.get_by_role("button", name="What is this board?").click()
    tab.get_by_role("article", name="About: Schematic").wait_for()
    look("help")
    finish(tab)
    tab.get_by_role("button", name="Download evidence").wait_for()
    look("score sheet")
    if drill == KICK or THOROUGH:
        _debrief(tab, look)
    tab.get_by_role("button", name="Progress").locator("visible=true").click()
    tab.locator(".progress").wait_for()
    look("progress")
    tab.get_by_role("button", name="Back", exact=True).click()
    tab.locator(".verdict").wait_for()
    still(tab)
    # And it does look inside the boards.
    body = tab.locator(".sheet:visible").element_handle()
    before = body.evaluate(
        "(sheet) => { const before = sheet.innerHTML; sheet.innerHTML = '<button></button>'; return before }"
    )
    planted = [found["rule"] for found in tab.evaluate(RUN, STRUCTURE)]
    body.evaluate("(sheet, before) => { sheet.innerHTML = before }", before)
    _on_a_phone(tab, look)
    context.close()
    assert wrong == {}, _told(wrong)
    assert "button-name" in planted


def _a_word_explains_itself(tab: Page) -> None:
    """By the pointer and from the keyboard; Escape puts the sentence away and leaves the briefing open."""
    says, word = tab.get_by_role("tooltip"), tab.locator(".brief .term", has_text="tool joint").first
    word.hover()
    expect(says).to_have_text(glossary()["tool_joint"].what)
    tab.mouse.move(1, 1)
    expect(says).to_be_hidden()
    word.focus()
    expect(says).to_be_visible()
    tab.keyboard.press("Escape")
    expect(says).to_be_hidden()
    expect(tab.get_by_role("button", name="Begin")).to_be_visible()


def _on_a_phone(tab: Page, look: Callable[[str], None]) -> None:
    """Debrief, progress, the first page and learning fit a phone held upright; on the score sheet before and after."""
    tab.set_viewport_size({"width": 390, "height": 844})

    def fits(where: str) -> None:
        look(f"{where} on a phone")
        assert tab.evaluate("document.documentElement.scrollWidth") <= 390, where

    fits("debrief")
    tab.get_by_role("button", name="Choose another drill").click()
    tab.locator(".choose").wait_for()
    expect(tab.get_by_text("need a wider screen").locator("visible=true")).to_have_count(1)
    fits("first page")
    tab.get_by_role("button", name="Learn the parts of Sandpiper").click()
    for word in ("Follow the fluid", "Exercises"):
        tab.get_by_role("button", name=word, exact=True).click()
        fits(word)
        text, drawing = (
            tab.locator(".learn-text").bounding_box(),
            tab.locator(".deck-learn svg.schematic").bounding_box(),
        )
        assert text and drawing and text["y"] + text["height"] <= drawing["y"] and drawing["height"] > 150, word


def _debrief(tab: Page, look: Callable[[str], None]) -> None:
    for word, ready in (("What if", ".what-if"), ("Timeline and replay", ".timeline")):
        tab.get_by_role("button", name=word, exact=True).click()
        tab.locator(ready).wait_for()
        tab.locator(".working:empty").wait_for(state="attached")
        look(word)
    tab.locator(".moment").last.click()
    tab.locator(".replay-bar").wait_for()
    look("replay")
    tab.get_by_role("button", name="Debrief", exact=True).click()
    tab.locator(".timeline").wait_for()


def _refused_with_a_card(tab: Page) -> None:
    tab.get_by_role("button", name="Driller's panel", exact=True).click()
    tab.locator("[data-send*='blind_shear_ram'][data-send*='close']:visible").first.click()
    tab.get_by_role("button", name="Schematic", exact=True).click()
    tab.locator(".part[data-open-card='relief']:visible").click()
    tab.get_by_role("button", name="Hide", exact=True).wait_for()


def _told(wrong: dict[str, list[Any]]) -> str:
    lines = []
    for where, found in wrong.items():
        for fault in found:
            lines += [f"{where}: {fault['rule']}: {fault['help']}", *(f"    {at}" for at in fault["at"])]
    return "\n".join(lines)
