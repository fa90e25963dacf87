"""What is drawn fits: no cut or overlapping text, targets of 44 px, readable contrast, no scrolling.

Each board is measured in the room that the page leaves it, on both plants. One tab serves all.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.drawing.conftest import Rig, rig
from tests.drawing.fitted import fitted
from trainer import resources
from trainer.drawing.aside import aside_panel
from trainer.drawing.context import DrawingContext
from trainer.drawing.emergency_view import backups_panel
from trainer.drawing.panels import driller_panel, second_panel
from trainer.drawing.preview import CASES, boards_of, page
from trainer.drawing.rig_view import RigView
from trainer.drawing.unit import unit_station
from trainer.naming import APART, FURTHER
from trainer.units import System

PROBE = (Path(__file__).parent / "probe.js").read_text(encoding="utf-8")
SIZES = {"laptop": (1280, 800), "desk": (1920, 1080), "tablet": (1180, 820)}
LINES = 90  # the page's header and its line of messages
FOOT = 98  # the drill floor's strip and the entries below the driller's panel
ENTRIES = 46  # the row of entries below all others
UNWATCHED = ("unit", "unit_care", "remote", *FURTHER, *APART)  # where nobody sees the well's instruments
STRIP_SHARE = 0.73  # of the width that the drill floor's strip has below the driller's panel


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Page]:
    shown = browser.new_page()
    yield shown
    shown.close()


def watch(wide: int) -> float:
    """The height of the well's instruments and alarms, as in ``page.css``."""
    return min(max(98.0, 0.077 * wide), 108.0)


def room(board: str, size: tuple[int, int]) -> float:
    """The height that the page leaves a board, as in ``page.css``."""
    wide, tall = size
    own = {"watch": watch(wide), "floor_strip": float(FOOT), "schematic": tall - LINES - 78.0 - ENTRIES}
    if board in own:
        return own[board]
    left = tall - LINES - (0.0 if board in UNWATCHED else watch(wide))
    return left - (FOOT if board == "driller" else ENTRIES)


def faults(tab: Page, markup: str, size: tuple[int, int], tall: float | None = None) -> list[str]:
    """Everything the probe finds wrong on a page of this size, with ``tall`` of its pixels for the board."""
    tab.set_viewport_size({"width": size[0], "height": size[1]})
    tab.set_content(markup)
    found: list[str] = tab.evaluate(PROBE.replace("innerHeight", f"{tall if tall is not None else size[1]:g}"))
    return found


def measure(
    tab: Page, each: Rig, size: tuple[int, int], theme: str = "light", system: System = "field", case: str = "rest"
) -> dict[str, list[str]]:
    """The faults of every board of a plant, by board."""
    found = {}
    for board in boards_of(each.plant):
        tall = room(board, size)
        markup = page(each.plant, each.machine, board, theme, system, case)
        rules = f"--board-height:{tall:g}px;--board-width:{size[0]}px;--watch:{watch(size[0]):g}px;"
        if board == "floor_strip":
            rules += f"width:{size[0] * STRIP_SHARE:g}px;"
        markup = markup.replace("html,body{", f"html,body{{{rules}", 1)
        wrong = faults(tab, markup, size, tall)
        if wrong:
            found[board] = wrong
    return found


@pytest.mark.parametrize("size", SIZES)
def test_every_board_fits_at_rest(tab: Page, each: Rig, size: str) -> None:
    assert measure(tab, each, SIZES[size]) == {}


@pytest.mark.parametrize("system", ["field", "metric"])
def test_every_board_fits_in_alarm_in_the_dark_in_both_unit_systems(tab: Page, each: Rig, system: System) -> None:
    assert "alarm" in CASES
    assert measure(tab, each, SIZES["laptop"], "dark", system, "alarm") == {}


FITTED = [
    {"base": "quillback", "banks": 5, "pumps": 6, "pods": 3, "stack": 2},
    {"base": "quillback", "banks": 3, "pumps": 1, "pods": 1, "stack": 3},
    {"base": "quillback", "functions": 16},
    {"base": "quillback", "panels": 3},
    {"base": "sandpiper", "banks": 5, "pumps": 6, "functions": 16},
    {"base": "sandpiper", "banks": 3, "pumps": 2, "functions": 4, "panels": 3},
    {"base": "wentletrap", "panels": 2},
]
"""One to five banks, one to three on the stack, one to six pumps, one to three pods, four to sixteen functions,
up to three further panels."""


@pytest.mark.parametrize("given", FITTED, ids=lambda given: "-".join(map(str, given.values())))
def test_a_rig_with_more_or_fewer_parts_fits(tab: Page, given: dict[str, Any]) -> None:
    """Nothing is cut and nothing overlaps; only looking after more than four pumps or three banks may scroll."""
    found = measure(tab, fitted(**given), SIZES["laptop"])
    if given.get("banks", 2) > 3 or given.get("pumps", 4) > 4:
        found["unit_care"] = [wrong for wrong in found["unit_care"] if not wrong.startswith("scroll:")]
    assert {board: wrong for board, wrong in found.items() if wrong} == {}


def with_another(like: str) -> DrawingContext:
    """Quillback with one function more, like one it has."""
    desk = rig("quillback").desk
    model = next(f for f in desk.rig.functions if f.id == like)
    more = model.model_copy(update={"id": "one_more", "title": f"{model.name} 2"})
    signals = dict(desk.signals)
    for tag in desk.signals:
        if tag.startswith(f"{like}."):
            signals["one_more" + tag.removeprefix(like)] = desk.signals[tag]
    bigger = desk.rig.plant.model_copy(update={"function": (*desk.rig.functions, more)})
    return DrawingContext(RigView(bigger), signals)


@pytest.mark.parametrize("like", ["middle_pipe_ram", "ram_locks", "port_overboard", "upper_inner_choke"])
def test_every_station_has_room_for_another_function(tab: Page, like: str) -> None:
    """One function more of any kind, on a laptop, on a plant that has twenty-five already."""
    bigger = with_another(like)
    style = (resources.assets() / "style" / "board.css").read_text(encoding="utf-8")
    boards = {
        "driller": driller_panel,
        "aside": aside_panel,
        "backups": backups_panel,
        "remote": second_panel,
        "unit": unit_station,
    }
    for name, draw in boards.items():
        tall = room(name, SIZES["laptop"])
        head = f"<style>html,body{{margin:0;--board-height:{tall}px}}{style}</style>"
        markup = f"<html>{head}<body>{draw(bigger)}</body></html>"
        assert faults(tab, markup, SIZES["laptop"], tall) == [], name


def test_the_probe_sees_faults(tab: Page) -> None:
    """A probe that never finds anything proves nothing: hand it a page with one fault of each kind."""
    bad = """<html><body><div class="deck" style="width:600px">
      <button style="width:30px;height:20px;overflow:hidden;white-space:nowrap">much too long</button>
      <p style="position:absolute;left:200px;top:200px">first words</p>
      <p style="position:absolute;left:210px;top:202px">second words</p>
      <p style="color:#999;background:#bbb">faint</p></div></body></html>"""
    kinds = {found.split(":")[0] for found in faults(tab, bad, (800, 600))}
    assert {"small", "cut", "overlap", "faint"} <= kinds
