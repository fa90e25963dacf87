"""The window on the schematic: subsystems, zoom, pan, print, and the marked part, in a browser."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.drawing.conftest import Rig, rig
from trainer import resources
from trainer.drawing.preview import page

SHEET = (resources.assets() / "script" / "sheet.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Page]:
    shown = browser.new_page(viewport={"width": 1280, "height": 800})
    yield shown
    shown.close()


def window(tab: Page) -> list[float]:
    return [float(n) for n in str(tab.locator("svg.schematic").get_attribute("viewBox")).split()]


def open_sheet(tab: Page, each: Rig) -> None:
    tab.set_content(page(each.plant, each.machine, "schematic"))
    tab.add_script_tag(content=SHEET)


def test_a_subsystem_fills_the_window_and_the_whole_comes_back(tab: Page, each: Rig) -> None:
    open_sheet(tab, each)
    whole = window(tab)
    words = tab.locator("[data-window]").all_inner_texts()
    assert ("Pods" in words) == bool(each.desk.rig.pods)
    for word in words[1:]:
        tab.get_by_role("button", name=f"Show {word.lower()}", exact=True).click()
        assert window(tab)[2] < whole[2]
        assert tab.locator("[aria-pressed='true'][data-window]").all_inner_texts() == [word]
    tab.get_by_role("button", name="Show whole", exact=True).click()
    assert window(tab) == whole


def test_zoom_and_pan_by_wheel_drag_and_keys(tab: Page) -> None:
    open_sheet(tab, rig("quillback"))
    whole = window(tab)
    tab.mouse.move(900, 300)
    tab.mouse.wheel(0, -200)
    tab.wait_for_function("document.querySelector('svg.schematic').viewBox.baseVal.width < 1600")
    near = window(tab)
    assert near[2] == pytest.approx(whole[2] * 0.8, abs=0.2)
    tab.mouse.down()
    tab.mouse.move(1000, 340, steps=3)
    tab.mouse.up()
    moved = window(tab)
    assert moved[2] == near[2]
    assert moved[0] < near[0]
    assert moved[1] < near[1]
    tab.locator("[data-component='relief']").focus()
    for key, changed in (("ArrowRight", 0), ("ArrowDown", 1), ("+", 2), ("-", 2)):
        before = window(tab)[changed]
        tab.keyboard.press(key)
        assert window(tab)[changed] != before, key
    tab.keyboard.press("0")
    assert window(tab) == whole


def test_the_part_whose_card_is_open_lights_its_path(tab: Page, each: Rig) -> None:
    open_sheet(tab, each)
    ram = "upper_pipe_ram"
    line = tab.locator(".pipe[data-pressure='manifold_regulator.readback']").first
    colour = "line => getComputedStyle(line).stroke"
    rest = line.evaluate(colour)
    tell = "part => dispatchEvent(new CustomEvent('trainer-message', {detail: {page: 'card', value: part}}))"
    tab.evaluate(tell, ram)
    assert line.evaluate(colour) != rest
    tab.evaluate(tell, "")
    assert line.evaluate(colour) == rest


def test_the_view_is_saved_as_a_drawing_that_stands_alone(tab: Page, each: Rig) -> None:
    open_sheet(tab, each)
    tab.get_by_role("button", name="Show stack", exact=True).click()
    seen = window(tab)
    with tab.expect_download() as waiting:
        tab.get_by_role("button", name="Save this view as SVG, a drawing to print").click()
    assert waiting.value.suggested_filename == f"{each.plant.id}-schematic.svg"
    text = waiting.value.path().read_text(encoding="utf-8")
    root = ET.fromstring(text)
    assert [float(n) for n in root.get("viewBox", "").split()] == seen
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "").replace("http://www.w3.org/1999/xhtml", "")
    tab.goto("about:blank")
    tab.set_content(text)
    line = tab.locator(".pipe[data-pressure='manifold_regulator.readback']").first
    assert line.evaluate("line => getComputedStyle(line).stroke") == "rgb(20, 104, 138)"
