"""Settings that every test shares."""

import os
import shutil
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, Playwright, sync_playwright

from tests.chromium import FLAGS, patient_browser
from trainer.runtime import server

# No deadline: the machine that runs the tests may be busy. Derandomised, so that CI repeats what a desk saw.
settings.register_profile("project", deadline=None, derandomize=True)
settings.load_profile("project")
# Records, journals and keys of tests stay out of the user's own data folder, also those of servers that tests start.
server.offer()
os.environ["TRAINER_DATA"] = tempfile.mkdtemp(prefix="trainer-tests-")


@pytest.fixture(scope="module")
def play() -> Iterator[Playwright]:
    """The browser driver: the only one of its process, and gone with its module.

    It bears no second one beside it, and while it lives its event loop counts as running: tests that start loops of
    their own, as the classroom's do, could not run after it.
    """
    with sync_playwright() as running:
        yield running


@pytest.fixture(scope="module")
def browser(play: Playwright) -> Iterator[Browser]:
    """Headless Chromium."""
    chromium = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
    yield patient_browser(chromium)
    chromium.close()
