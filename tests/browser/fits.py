"""Whether what a page shows fits: nothing cut, overlapping, tiny or scrolling sideways, at the sizes that count."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page

REACH = (Path(__file__).parent / "reach.js").read_text(encoding="utf-8")
PROBE = (Path(__file__).parent / "fits.js").read_text(encoding="utf-8")
SIZES = ((1280, 800), (1920, 1080), (1180, 820))
#: Windows at which nobody scrolls up to 125 %, and in one direction only up to 200 %.
WINDOWS = ((1280, 800), (1366, 768), (1920, 1080), (1180, 820))
ZOOMS = (1.0, 1.25, 1.5, 1.75, 2.0)
UNSCROLLED = 1.25


@contextmanager
def zoomed(browser: Browser, address: str, window: tuple[int, int], zoom: float) -> Iterator[Page]:
    """A tab as a browser zoomed in shows it: fewer and larger CSS pixels in the same window."""
    wide, tall = window
    context = browser.new_context(
        viewport={"width": round(wide / zoom), "height": round(tall / zoom)},
        device_scale_factor=zoom,
        reduced_motion="reduce",
    )
    tab = context.new_page()
    tab.goto(address)
    tab.locator("form.drill-start").first.wait_for(timeout=60_000)
    yield tab
    context.close()


#: Two frames, one for the layout and one for what the page moves after it, then the end of what moves but once.
STILL = """
async () => {
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))
  const passing = document.getAnimations().filter((one) => one.effect.getComputedTiming().endTime < Infinity)
  await Promise.allSettled(passing.map((one) => one.finished))
}
"""


def still(tab: Page) -> None:
    """Wait until the page is laid out and no transition is under way, whose colours and places are halfway ones."""
    tab.evaluate(STILL)


def misfits(tab: Page, sizes: tuple[tuple[int, int], ...] = SIZES) -> dict[str, list[str]]:
    """What does not fit on the page in sight, by size; the page is left at the first size."""
    found = {}
    for wide, tall in (*sizes[1:], sizes[0]):
        tab.set_viewport_size({"width": wide, "height": tall})
        still(tab)
        if faults := tab.evaluate(PROBE):
            found[f"{wide}x{tall}"] = faults
    return found
