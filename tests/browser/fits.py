"""Whether what a page shows fits: nothing cut, overlapping, tiny or scrolling sideways, at the sizes that count."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

PROBE = (Path(__file__).parent / "fits.js").read_text(encoding="utf-8")
SIZES = ((1280, 800), (1920, 1080), (1180, 820))


def misfits(tab: Page, sizes: tuple[tuple[int, int], ...] = SIZES) -> dict[str, list[str]]:
    """What does not fit on the page in sight, by size; the page is left at the first size."""
    found = {}
    for wide, tall in (*sizes[1:], sizes[0]):
        tab.set_viewport_size({"width": wide, "height": tall})
        # A frame for the layout and one for what the page moves after it.
        tab.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
        if faults := tab.evaluate(PROBE):
            found[f"{wide}x{tall}"] = faults
    return found
