"""How headless Chromium is started for the tests (as root, asking nobody outside), and how long the tests may be."""

import os
import time
from collections.abc import Callable
from contextlib import suppress

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect

from tests.waiting import PATIENCE

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

# TRAINER_THOROUGH=1 runs the long form of what CI runs in short: more seeds, longer watches.
THOROUGH = os.environ.get("TRAINER_THOROUGH", "") not in ("", "0")
in_the_long_form = pytest.mark.long

expect.set_options(timeout=1000.0 * PATIENCE)


def patient(context: BrowserContext) -> BrowserContext:
    """The context, whose pages wait with ``PATIENCE``."""
    context.set_default_timeout(1000.0 * PATIENCE)
    return context


def patient_browser(browser: Browser) -> Browser:
    """The browser, whose every context waits with ``PATIENCE``, whichever test opens it."""
    new_context = browser.new_context
    browser.new_context = lambda **options: patient(new_context(**options))  # type: ignore[method-assign]
    return browser


def until(page: Page, true: Callable[[], bool], what: str = "") -> None:
    """Wait for a condition that only Python can judge; the page goes on meanwhile."""
    end = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < end, f"waited in vain: {what}"
        page.wait_for_timeout(60)


def finish(page: Page) -> None:
    """End the run by the page's button and wait for its sheet.

    The button asks once more and takes that back after some seconds: a busy machine may need more than one try.
    """
    end = page.locator(".tool-finish:visible")

    def over() -> bool:
        if page.evaluate("document.documentElement.dataset.page") == "sheet":
            return True
        with suppress(Error):
            end.click(timeout=2000.0)
        return False

    until(page, over, "the run ends")
