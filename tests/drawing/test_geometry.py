"""What is drawn fits: no cut or overlapping text, targets of 44 px, readable contrast, no scrolling."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from trainer import resources
from trainer.drawing.desk import Desk
from trainer.drawing.panels import driller_panel
from trainer.drawing.preview import BOARDS, CASES, page
from trainer.drawing.rig_view import read_rig
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import Plant
from trainer.units import System

PROBE = (Path(__file__).parent / "probe.js").read_text(encoding="utf-8")
SIZES = {"laptop": (1280, 800), "desk": (1920, 1080), "tablet": (1180, 820)}
ONE_BOARD = [name for name in BOARDS if name != "together"]


def faults(browser: Browser, markup: str, size: tuple[int, int]) -> list[str]:
    """Everything the probe finds wrong on a page of this size."""
    tab = browser.new_page(viewport={"width": size[0], "height": size[1]})
    try:
        tab.set_content(markup)
        found: list[str] = tab.evaluate(PROBE)
        return found
    finally:
        tab.close()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("board", ONE_BOARD)
def test_a_board_fits_at_rest(browser: Browser, plant: Plant, machine: Machine, board: str, size: str) -> None:
    assert faults(browser, page(plant, machine, board), SIZES[size]) == []


@pytest.mark.parametrize("system", ["field", "metric"])
@pytest.mark.parametrize("board", ONE_BOARD)
def test_a_board_fits_in_alarm_in_the_dark_in_both_unit_systems(
    browser: Browser, plant: Plant, machine: Machine, board: str, system: System
) -> None:
    assert "alarm" in CASES
    assert faults(browser, page(plant, machine, board, "dark", system, "alarm"), SIZES["laptop"]) == []


def test_panel_and_floor_strip_fit_together_on_a_laptop(browser: Browser, plant: Plant, machine: Machine) -> None:
    """A whole drill in view at 1280 by 800 with 110 px left for the page's own header and coach line."""
    tab = browser.new_page(viewport={"width": 1280, "height": 800})
    try:
        markup = page(plant, machine, "together").replace("html,body{", "html,body{--board-height:690px;")
        tab.set_content(markup)
        low = tab.evaluate(
            "() => Math.max(...[...document.querySelectorAll('.deck')].map(d => d.getBoundingClientRect().bottom))"
        )
        wide = tab.evaluate("() => document.documentElement.scrollWidth")
    finally:
        tab.close()
    assert low <= 690
    assert wide <= 1280


def test_the_drillers_panel_has_room_for_another_function(browser: Browser, plant: Plant, machine: Machine) -> None:
    """One function more beside the locks, on a plant that has a diverter and pod connectors already."""
    rig = read_rig(plant)
    more = tuple(replace(rig.functions_of("lock")[0], id=f"more_{i}", title=f"Port overboard {i}") for i in range(1))
    signals = dict(machine.signals)
    for function in more:
        for tag in ("valve", "lamp_open", "lamp_block", "lamp_close"):
            signals[f"{function.id}.{tag}"] = machine.signals[f"ram_locks.{tag}"]
    bigger = Desk(replace(rig, functions=(*rig.functions, *more)), signals)
    style = (resources.assets() / "style" / "board.css").read_text(encoding="utf-8")
    for draw in (driller_panel,):
        markup = (
            f"<html><style>html,body{{margin:0;--board-height:702px}}{style}</style><body>{draw(bigger)}</body></html>"
        )
        assert faults(browser, markup, (1280, 702)) == [], draw.__name__


def test_the_probe_sees_faults(browser: Browser) -> None:
    """A probe that never finds anything proves nothing: hand it a page with one fault of each kind."""
    bad = """<html><body><div class="deck" style="width:600px">
      <button style="width:30px;height:20px;overflow:hidden;white-space:nowrap">much too long</button>
      <p style="position:absolute;left:200px;top:200px">first words</p>
      <p style="position:absolute;left:210px;top:202px">second words</p>
      <p style="color:#999;background:#bbb">faint</p></div></body></html>"""
    kinds = {found.split(":")[0] for found in faults(browser, bad, (800, 600))}
    assert {"small", "cut", "overlap", "faint"} <= kinds
