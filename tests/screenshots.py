"""Takes the pictures of the README anew: ``python -m tests.screenshots [FOLDER]``, else into ``assets/docs/pictures``.

It serves the trainer, plays the good crew's shut-in in a headless Chromium at 1280 by 800, and takes each picture on
the way. Pillow, if it is there, makes them smaller; nothing else is changed.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Literal

from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, sync_playwright

from tests.browser.conftest import opened, served, start, turn_to
from tests.browser.test_kick import DRILL, Hand, hand_over, number, see_the_kick, shut_in
from tests.chromium import FLAGS, until

ROOT = Path(__file__).resolve().parents[1]
SIZE: ViewportSize = {"width": 1280, "height": 800}
SETTLED_MS = 700


def take(tab: Page, folder: Path, name: str) -> None:
    """One picture of what the page shows now."""
    tab.mouse.move(0, 0)
    tab.wait_for_timeout(SETTLED_MS)
    path = folder / f"{name}.png"
    tab.screenshot(path=path)
    shrink(path)
    print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")


def shrink(path: Path) -> None:
    """Fewer colours, which flat drawings do not miss."""
    try:
        from PIL import Image
    except ImportError:
        return
    with Image.open(path) as picture:
        small = picture.convert("RGB").quantize(128, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    small.save(path, optimize=True)


def view(tab: Page, word: str) -> None:
    """Turn to a view of the console."""
    tab.get_by_role("button", name=word, exact=True).click()
    tab.locator(f".deck-{word.lower()}").wait_for()


def context(browser: Browser, theme: Literal["light", "dark"]) -> BrowserContext:
    """A window of the pictures' size, patient with a busy machine."""
    made = browser.new_context(viewport=SIZE, color_scheme=theme, reduced_motion="reduce")
    made.set_default_timeout(120_000)
    return made


def pictures(browser: Browser, address: str, folder: Path) -> None:
    """All pictures, light first."""
    light = context(browser, "light")
    tab = opened(light, address)
    start(tab, "Free practice")
    tab.wait_for_timeout(2000)  # a run that has just begun turns back to the driller's panel once
    view(tab, "Schematic")
    until(tab, lambda: number(tab, "accumulator.pressure") > 0.0)
    take(tab, folder, "schematic")
    turn_to(tab, "unit")
    take(tab, folder, "unit")
    turn_to(tab, "picture")
    take(tab, folder, "picture")
    tab.close()
    tab = opened(light, address)
    tab.get_by_role("button", name="Learn the parts of Quillback").click()
    tab.locator(".lesson").wait_for(timeout=30_000)
    for _ in range(3):
        tab.get_by_role("button", name="Next stop").click()
    take(tab, folder, "learn")
    tab.close()
    tab = opened(light, address)
    start(tab, DRILL, seed=3)
    hand = Hand(tab, keyboard=False)
    see_the_kick(tab, hand)
    shut_in(tab, hand)
    take(tab, folder, "panel")
    hand_over(tab, hand)
    take(tab, folder, "score")
    light.close()
    dark = context(browser, "dark")
    tab = opened(dark, address)
    start(tab, "Free practice")
    take(tab, folder, "panel-dark")
    dark.close()


def main() -> None:
    """Serve, take the pictures, end."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "assets" / "docs" / "pictures"
    folder.mkdir(parents=True, exist_ok=True)
    with served() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        pictures(browser, address, folder)
        browser.close()


if __name__ == "__main__":
    main()
