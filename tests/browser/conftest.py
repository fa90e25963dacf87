"""A served classroom and a headless browser for the page tests."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from tests.chromium import until
from trainer.console.shell import VIEWS
from trainer.console.walk import VIEWS_AT

ROOT = Path(__file__).resolve().parents[2]


@contextmanager
def served() -> Iterator[str]:
    """The address of ``trainer serve`` running in a process of its own."""
    command = [sys.executable, "-m", "trainer.cli", "serve", "--port", "0"]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, cwd=ROOT, stdout=pipe, stderr=subprocess.STDOUT, text=True) as process:
        try:
            assert process.stdout is not None
            line = process.stdout.readline()
            found = re.search(r"http://\S+", line)
            assert found, f"no address in {line!r}"
            yield found[0]
        finally:
            process.terminate()


@pytest.fixture(scope="session")
def classroom() -> Iterator[str]:
    """One served classroom for all tests of the page."""
    with served() as address:
        yield address


@pytest.fixture
def complaints() -> list[str]:
    """Errors that a page under test wrote to its console, or requests to other places."""
    return []


@pytest.fixture
def page(browser: Browser, classroom: str, complaints: list[str]) -> Iterator[Page]:
    """The chooser, freshly opened at 1280 by 800."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    tab = context.new_page()
    tab.on("pageerror", lambda error: complaints.append(str(error)))
    tab.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    tab.on("request", lambda request: _own(request.url, classroom, complaints))
    tab.goto(classroom)
    tab.locator("form.drill-start").first.wait_for()
    yield tab
    context.close()
    assert complaints == []


def opened(context: BrowserContext, address: str) -> Page:
    """The chooser in a tab of ``context``."""
    tab = context.new_page()
    tab.goto(address)
    tab.locator("form.drill-start").first.wait_for()
    return tab


def _own(url: str, classroom: str, complaints: list[str]) -> None:
    own = (classroom, classroom.replace("http", "ws"), "data:", "blob:")
    if not url.startswith(own):
        complaints.append(f"a request left the page's own origin: {url}")


def unfold(tab: Page) -> None:
    """Open every group of the library of drills."""
    tab.locator(".choose-section").evaluate_all("(groups) => groups.forEach((group) => { group.open = true })")


def start(tab: Page, drill: str, mode: str = "practice", seed: int = 0) -> None:
    """Choose a drill and begin it."""
    unfold(tab)
    form = tab.get_by_role("form", name=drill, exact=True)
    coached = form.get_by_label("Mode").count() > 0
    if coached:
        form.get_by_label("Mode").select_option(mode)
        form.get_by_label("Variation").fill(str(seed))
    form.get_by_role("button", name="Start").click()
    tab.locator(".deck-driller").wait_for()
    if coached:
        tab.get_by_role("button", name="Begin").click()


def turn_to(tab: Page, view: str) -> None:
    """Turn to a view of the console by its tab; where the unit is worked in its picture, its lists lie behind that."""

    def press(word: str) -> None:
        tab.get_by_role("button", name=word, exact=True).locator("visible=true").click()

    pictured = tab.evaluate("document.documentElement.dataset.unit") == "picture"
    if pictured and view in VIEWS_AT["unit"]:
        press("Unit")
        if view != "picture":
            press("Lists")
    if not (pictured and view == "picture"):
        press(dict(VIEWS)[view])


def clock(tab: Page) -> int:
    """Simulated seconds that the page shows."""
    seconds = 0
    for part in reading(tab, "page.clock").split(":"):
        seconds = 60 * seconds + int(part)
    return seconds


def let_pass(tab: Page, seconds: int) -> None:
    """Wait until the page's clock has gone on by so many simulated seconds, however long that takes."""
    end = clock(tab) + seconds
    until(tab, lambda: clock(tab) >= end, f"the clock reaches {end} s")


def reading(tab: Page, tag: str) -> str:
    """The text that the first visible board shows for a reading."""
    shown: Any = tab.locator(f'[data-text="{tag}"]:visible').first.text_content()
    return str(shown)
