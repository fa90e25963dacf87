"""Settings that every test shares."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, Playwright, sync_playwright

from tests.chromium import FLAGS, THOROUGH, patient_browser
from trainer.runtime import server

# No deadline: the machine that runs the tests may be busy. Derandomised, so that CI repeats what a desk saw.
settings.register_profile("project", deadline=None, derandomize=True)
settings.load_profile("project")
server.offer()
# Records, journals and keys of tests stay out of the user's own data folder, also those of servers that tests start.
os.environ["TRAINER_DATA"] = tempfile.mkdtemp(prefix="trainer-tests-")


#: Files whose tests need neither browser nor computed plant: ``pytest -m fast``, a few seconds.
FAST = (
    "console/test_about.py",
    "console/test_happened.py",
    "console/test_told.py",
    "drills/test_coach.py",
    "drills/test_expressions.py",
    "drills/test_questions.py",
    "drills/test_runner.py",
    "drills/test_sense.py",
    "fluids/test_control_fluid.py",
    "fluids/test_gas.py",
    "hydraulics/test_inline.py",
    "hydraulics/test_laws.py",
    "learn/test_boxes.py",
    "learn/test_courses.py",
    "learn/test_lesson.py",
    "learn/test_questions.py",
    "outside/test_gas.py",
    "outside/test_handbook.py",
    "outside/test_subsea_bottles.py",
    "planning/test_accumulators.py",
    "planning/test_rules.py",
    "planning/test_sequences.py",
    "session/test_commands.py",
    "session/test_engine.py",
    "session/test_evidence.py",
    "session/test_session.py",
    "takeaway/test_serve.py",
    "test_house.py",
    "test_naming.py",
    "test_units.py",
)
HERE = Path(__file__).parent


def pytest_xdist_auto_num_workers() -> int:
    """One process more than there are processors: tests at the page wait for most of their time."""
    return (os.cpu_count() or 1) + 1


def _is_fast(path: Path) -> bool:
    return path.is_relative_to(HERE) and path.relative_to(HERE).as_posix() in FAST


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Who asks for the fast tests alone need not wait until all others are read."""
    other = collection_path.name.startswith("test_") and not _is_fast(collection_path)
    return True if config.option.markexpr == "fast" and other else None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is fast; leave out the long form where it is not asked for."""
    skipped = pytest.mark.skip(reason="the long form: TRAINER_THOROUGH=1")
    for item in items:
        if _is_fast(item.path):
            item.add_marker(pytest.mark.fast)
        if not THOROUGH and item.get_closest_marker("long"):
            item.add_marker(skipped)


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
