"""Plays crews at the page and keeps what they did as action files: ``python -m tests.browser.keep FOLDER``.

These are the runs among ``tests/drills/agreed`` that were played at the page. A run that stops is told and passed over;
one that is there already is not played again.
"""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright
from playwright.sync_api import Error as PlaywrightError

from tests.browser.conftest import opened, served
from tests.browser.hands import AtThePage, begin
from tests.chromium import FLAGS, patient_browser
from tests.drills import crews_surface, crews_tests, crews_well
from tests.drills.crew import Crew, shut_in_while_drilling
from tests.drills.instruments import Desk, working_at

RUNS: dict[str, tuple[int, Callable[[int], Crew]]] = {
    "surface-gas-good": (3, crews_surface.gas),
    "lost-pod-good": (3, crews_well.lost_pod),
    "kick-good": (3, shut_in_while_drilling),
    "stored-good": (2, crews_well.stored_fluid),
    "surface-kick-late": (6, lambda s: crews_surface.kick(s, late=45.0)),
    "disconnect-good": (2, crews_well.disconnect),
    "collars-pipe-ram": (5, lambda s: crews_tests.collars(s, "upper_pipe_ram")),
    "kick-slow": (5, lambda s: shut_in_while_drilling(s, slow=20.0)),
    "surface-gas-upwind": (5, lambda s: crews_surface.gas(s, wind=False)),
    "kick-remote": (7, lambda s: shut_in_while_drilling(s, "lower_annular", "lower", at="remote")),
    "lost-pod-shears": (9, lambda s: crews_well.lost_pod(s, shears=True)),
    "tripping-good": (2, crews_well.tripping),
    "stored-wasteful": (5, lambda s: crews_well.stored_fluid(s, wasteful=True)),
    "gas-good": (8, crews_well.divert),
    "valve-good": (2, crews_tests.valve_stuck),
    "surface-kick-good": (4, crews_surface.kick),
    "disconnect-remote": (5, lambda s: crews_well.disconnect(s, at="remote", hook=61.0)),
    "surface-kick-low": (8, lambda s: crews_surface.kick(s, hook=55.0)),
    "kick-ram": (8, lambda s: shut_in_while_drilling(s, "upper_pipe_ram")),
    "collars-good": (3, crews_tests.collars),
    "disconnect-yellow": (6, lambda s: crews_well.disconnect(s, at_yellow=True)),
    "tripping-open": (6, lambda s: crews_well.tripping(s, inside=False)),
}
"""By name: the variation, and the crew that plays it."""


def kept(browser: Browser, address: str, seed: int, crew: Callable[[int], Crew]) -> dict[str, object]:
    """The evidence of a run that a crew plays at the page."""
    context = browser.new_context(viewport={"width": 1280, "height": 800}, accept_downloads=True)
    page = opened(context, address)

    def at_the_page(named: str, number: int, _: str) -> Desk:
        return begin(page, named, number, "practice")

    try:
        with working_at(at_the_page):
            worked = crew(seed)
        assert isinstance(worked.desk, AtThePage)
        print(" ", worked.sheet["verdict"], flush=True)
        with page.expect_download() as handed:
            page.get_by_role("button", name="Download evidence").first.click()
        found: dict[str, object] = json.loads(Path(handed.value.path()).read_text("utf-8"))
        return found
    finally:
        context.close()


def main(folder: Path) -> None:
    """Play what is not there yet."""
    folder.mkdir(parents=True, exist_ok=True)
    with served() as address, sync_playwright() as play:
        browser = patient_browser(play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS))
        for name, (seed, crew) in RUNS.items():
            path = folder / f"{name}.evidence.json"
            if path.exists():
                continue
            print(name, flush=True)
            try:
                path.write_text(json.dumps(kept(browser, address, seed, crew)), encoding="utf-8")
            except (AssertionError, PlaywrightError) as trouble:
                print(f"  stopped: {str(trouble)[:300]}", flush=True)
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
