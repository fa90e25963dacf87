"""The page in a real browser: it answers, it is quick, it keeps a run over a reload."""

from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import clock, let_pass, reading, served, start, turn_to
from tests.browser.fits import PROBE, REACH, UNSCROLLED, WINDOWS, ZOOMS, misfits, still, zoomed
from tests.browser.visits import strain
from tests.chromium import THOROUGH, finish, in_the_long_form, until
from trainer.console.shell import OF_SOME, VIEWS

CLOSE = '[data-send=\'{"do":"set","target":"upper_annular","value":"close"}\']:visible'
OPEN = CLOSE.replace("close", "open")

#: Presses the lamp test again and again, and times each press until a dark lamp is lit, in the page itself.
MEASURE = """
async (count) => {
  const find = (selector) => {
    const look = (root) => {
      for (const element of root.querySelectorAll("*")) {
        if (element.matches(selector) && element.checkVisibility()) return element
        const inside = element.shadowRoot && look(element.shadowRoot)
        if (inside) return inside
      }
      return null
    }
    return look(document)
  }
  const button = find(".deck-watch [data-send*='driller.lamp_test']")
  const lamp = find(".deck-driller [data-state='upper_annular.lamp_block']")
  const turns = (value) => new Promise((done) => {
    if (lamp.dataset.value === value) { done(); return }
    const watch = new MutationObserver(() => {
      if (lamp.dataset.value === value) { watch.disconnect(); done() }
    })
    watch.observe(lamp, {attributes: true, attributeFilter: ["data-value"]})
    // On a machine so busy that the lamp went on and off between two beats, the press counts as slow.
    setTimeout(() => { watch.disconnect(); done() }, 2000)
  })
  const times = []
  for (let n = 0; n < count; n++) {
    await turns("off")
    // Not in step with the beat, so that no press is favoured.
    await new Promise((done) => setTimeout(done, 20 + (n * 37) % 160))
    const began = performance.now()
    button.click()
    await turns("on")
    times.push(performance.now() - began)
  }
  return times
}
"""


PRESSES = 100

#: How many times a second the panel's texts change.
COUNT = """
async (seconds) => {
  const find = (root) => {
    for (const element of root.querySelectorAll("*")) {
      if (element.matches(".deck-driller")) return element
      const inside = element.shadowRoot && find(element.shadowRoot)
      if (inside) return inside
    }
    return null
  }
  let beats = 0
  const watch = new MutationObserver(() => { beats++ })
  watch.observe(find(document), {subtree: true, childList: true, characterData: true})
  await new Promise((done) => setTimeout(done, 1000 * seconds))
  watch.disconnect()
  return beats / seconds
}
"""


def test_nothing_leaves_the_origin_and_nothing_fails(page: Page, complaints: list[str]) -> None:
    start(page, "Free practice")
    page.locator("[aria-label='Pace of the run']").select_option("5")
    for name in ("floor", "schematic", "unit", "care", "remote", "trends"):
        turn_to(page, name)
        let_pass(page, 1)
    assert complaints == []


@in_the_long_form
def test_click_to_lit_lamp_with_charts_running(page: Page) -> None:
    """In 95 of 100 at most 1.5 times a fixed piece of work: 100 ms on a machine that does it in 66 ms."""
    page.set_viewport_size({"width": 1920, "height": 1080})
    start(page, "Free practice")
    expect(page.locator("canvas:visible").first).to_be_visible()
    let_pass(page, 3)
    # A lamp test lasts two seconds of simulated time.
    page.locator("[aria-label='Pace of the run']").select_option("5")
    # Whatever else the machine does can only add to a batch: the best of three is the page's own.
    for _ in range(3):
        before = strain()
        times = sorted(page.evaluate(MEASURE, PRESSES))
        assert len(times) == PRESSES
        late, work = times[PRESSES * 95 // 100 - 1], 1000.0 * (before + strain()) / 2
        print(
            f"click to lamp: median {times[PRESSES // 2]:.1f}, 95th percentile {late:.1f}, worst {times[-1]:.1f} ms; "
            f"the work takes {work:.0f} ms"
        )
        if late <= 1.5 * work:
            break
    assert late <= 1.5 * work


@in_the_long_form
def test_readings_come_at_least_ten_times_a_second(page: Page) -> None:
    """Once in 1.5 times a fixed piece of work at least: ten times a second on a machine that does it in 66 ms."""
    page.set_viewport_size({"width": 1920, "height": 1080})
    start(page, "Free practice")
    # While a preventer closes, flow count and pressures move at every scan.
    page.locator("[data-send*='lower_annular'][data-send*='close']:visible").first.click()
    page.locator("[aria-label='Pace of the run']").select_option("2")
    let_pass(page, 3)
    before = strain()
    beats = page.evaluate(COUNT, 5)
    work = (before + strain()) / 2
    print(f"readings brought up to date {beats:.1f} times a second; the work takes {1000.0 * work:.0f} ms")
    assert beats * 1.5 * work >= 1.0


def test_a_refused_action_says_why(page: Page) -> None:
    start(page, "Free practice")
    page.locator("[data-send*='blind_shear_ram'][data-send*='close']:visible").first.click()
    expect(page.locator(".says-refusal")).to_contain_text("nable")
    _a_text_longer_than_its_place_shows_whole_under_the_pointer(page)
    _a_finger_holds_a_regulator_and_lets_go(page)
    _the_driller_sets_an_alarm(page)


#: Whether a text shows whole, and its last line in front of what lies below it.
WHOLE = """(text) => {
  const box = text.getBoundingClientRect(), low = text.getRootNode().elementFromPoint(box.left + 5, box.bottom - 5)
  return text.scrollHeight <= text.clientHeight + 1 && low === text
}"""


def _a_text_longer_than_its_place_shows_whole_under_the_pointer(page: Page) -> None:
    refusal = page.locator(".says-refusal")
    refusal.evaluate("(text) => { text.textContent = text.textContent.repeat(9) }")
    assert not refusal.evaluate(WHOLE)
    refusal.hover()
    assert refusal.evaluate(WHOLE)


def _the_driller_sets_an_alarm(page: Page) -> None:
    """Set points are the driller's; the horn is heard only by who asked for it."""
    page.get_by_role("button", name="Set alarms").click()
    page.get_by_label("Pit gain alarm, now").fill("3")
    page.get_by_role("button", name="Set Pit gain alarm").click()
    expect(page.locator(".watch-pit .watch-set")).to_have_text("alarm ±3.0 bbl")
    horn = page.get_by_role("button", name="Sound of the horn")
    expect(horn).to_have_attribute("aria-pressed", "false")
    horn.click()
    expect(horn).to_have_attribute("aria-pressed", "true")


def _a_finger_holds_a_regulator_and_lets_go(page: Page) -> None:
    raised = page.locator(".deck-driller [data-hold][data-send*='raise'][data-send*='manifold']:visible").first
    box = raised.bounding_box()
    assert box is not None
    finger = page.context.new_cdp_session(page)
    at = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}
    before = reading(page, "manifold_regulator.pilot")
    finger.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [at]})
    expect(raised).to_have_class(re.compile("held"))
    until(page, lambda: reading(page, "manifold_regulator.pilot") != before, "the regulator answers")
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    expect(raised).not_to_have_class(re.compile("held"))
    seen = [before]
    for _ in range(20):  # what was sent before the finger let go is still carried out
        let_pass(page, 1)
        seen.append(reading(page, "manifold_regulator.pilot"))
        if seen[-1] == seen[-2]:
            return
    raise AssertionError(f"a regulator that nobody holds goes on: {seen}")


def test_what_was_typed_stays_when_it_is_refused(page: Page) -> None:
    start(page, "Batteries of the deadman under load")
    form = page.get_by_role("form", name="Enter a reading")
    field, which = form.get_by_role("textbox"), form.get_by_role("combobox")
    page.get_by_role("button", name="Pause").click()
    which.select_option(index=2)
    field.fill("21.5")
    for _ in range(2):
        field.press("Enter")
        expect(page.locator(".says-refusal")).to_contain_text("Paused. Press Resume to operate.")
        expect(field).to_have_value("21.5")
    assert which.evaluate("(list) => list.selectedIndex") == 2
    page.get_by_role("button", name="Resume").click()
    field.press("Enter")
    expect(page.locator(".says-noted")).to_contain_text("21.5 V")
    expect(field).to_have_value("")
    # What is refused later is none of its business.
    page.get_by_role("button", name="Pause").click()
    page.locator(CLOSE).click()
    expect(page.locator(".says-refusal")).to_contain_text("Paused. Press Resume to operate.")
    expect(field).to_have_value("")


def test_who_is_alone_walks_to_the_other_station(page: Page) -> None:
    start(page, "Dead panel")
    page.get_by_role("button", name="Unit", exact=True).press("Enter")
    expect(page.locator("[data-text='page.walk_to']")).to_have_text("On the way to the control unit")
    expect(page.locator(".deck-driller")).to_be_hidden()
    page.get_by_label("Pace of the run").select_option("20")
    expect(page.locator(".deck-picture")).to_be_visible()


def test_units_switch_everywhere_at_once(page: Page) -> None:
    start(page, "Free practice")
    pressure = page.locator('.deck-driller [data-text="accumulator.pressure"]').first
    expect(pressure).to_contain_text("psi")
    page.locator("button[title='Change units']:visible").click()
    expect(pressure).to_contain_text("bar")
    expect(page.locator('.deck-watch [data-text="well.pit_gain"]').first).to_contain_text("m³")


def test_the_page_keeps_its_run_over_a_reload(page: Page) -> None:
    start(page, "Free practice")
    page.locator(CLOSE).first.click()
    expect(page.locator(CLOSE).first).to_have_attribute("data-value", "on")
    let_pass(page, 1)
    before = clock(page)
    page.reload()
    expect(page.locator(CLOSE).first).to_have_attribute("data-value", "on")
    until(page, lambda: clock(page) >= before, "the run goes on where it was")


def test_dark_and_light(page: Page) -> None:
    page.locator("[data-theme-switch]:visible").click()
    theme = page.evaluate("document.documentElement.dataset.theme")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == (
        "rgb(20, 24, 29)" if theme == "dark" else "rgb(223, 227, 231)"
    )
    page.reload()
    assert page.evaluate("document.documentElement.dataset.theme") == theme


#: What runs over, what is cut off in the page's own boards, and whether an open card hides what it must not.
LOOK = """
() => {
  const found = [], all = []
  const walk = (root) => {
    for (const e of root.querySelectorAll("*")) { all.push(e); if (e.shadowRoot) walk(e.shadowRoot) }
  }
  walk(document)
  const seen = (selector) => all.filter((e) => e.matches(selector) && e.checkVisibility())
  const box = document.querySelector(".stations")
  const over = [box.scrollHeight - box.clientHeight, box.scrollWidth - box.clientWidth,
    document.documentElement.scrollHeight - innerHeight]
  if (Math.max(...over) > 1) found.push(`runs over by ${over}`)
  for (const e of seen(".watch-name, .watch-value, .watch-big, .tab, .tool, .alarm-name, .alarm-state"))
    if (e.scrollWidth > e.clientWidth + 1) found.push(`cut: ${e.textContent}`)
  const card = seen("dialog.beside")[0]?.getBoundingClientRect()
  if (card) for (const e of seen(".deck-watch button, .deck-floor-strip button, .tabs button, .top-tools button")) {
    const b = e.getBoundingClientRect()
    const wide = Math.min(b.right, card.right) - Math.max(b.left, card.left)
    const tall = Math.min(b.bottom, card.bottom) - Math.max(b.top, card.top)
    if (wide > 1 && tall > 1) found.push(`the card hides ${e.textContent}`)
  }
  return found
}
"""


@pytest.mark.parametrize("drill", ["Free practice", "Surface stack: kick while drilling"])
def test_nothing_scrolls_is_cut_or_hidden_at_three_sizes(page: Page, drill: str) -> None:
    """On either plant, with the card of a part open on the panel and on the schematic; the first page as well."""
    assert misfits(page) == {}
    start(page, drill)
    regulator = "[data-open-card='annular_regulator']:visible"
    for width, height in ((1280, 800), (1920, 1080), (1180, 820)):
        page.set_viewport_size({"width": width, "height": height})
        for name, word in VIEWS:
            turn_to(page, name)
            still(page)
            assert page.evaluate(LOOK) == [], f"{word} at {width}x{height}"
            assert page.evaluate(PROBE) == [], f"{word} at {width}x{height}"
            if name in ("driller", "schematic"):
                page.locator(regulator).first.click()
                page.get_by_role("button", name="Hide", exact=True).wait_for()
                still(page)
                assert page.evaluate(LOOK) == [], f"{word} with a card at {width}x{height}"
                page.get_by_role("button", name="Hide", exact=True).click()
                page.get_by_role("button", name="Hide", exact=True).wait_for(state="hidden")


#: What can be pressed on a board and stands out of it at a side.
ASIDE = """(deck) => [...deck.querySelectorAll("button")].filter((button) => {
  const a = button.getBoundingClientRect(), b = deck.getBoundingClientRect()
  return a.width && (a.left < b.left || a.right > Math.min(b.right, innerWidth))
}).map((button) => button.textContent)"""


def test_the_boards_of_the_deep_water_rig_stand_within_a_window_at_150_percent(page: Page) -> None:
    start(page, "Batteries of the deadman under load")
    page.set_viewport_size({"width": 853, "height": 533})
    wrong: dict[str, list[str]] = {}
    for view, word in OF_SOME:
        tab = page.get_by_role("button", name=word, exact=True)
        if tab.is_visible():
            tab.click()
            deck = page.locator(f".deck-{view}")
            expect(deck).to_be_visible()
            wrong[view] = deck.evaluate(ASIDE)
    assert len(wrong) >= 5 and not any(wrong.values()), wrong


def test_the_stations_of_a_rig_with_many_are_all_in_reach(page: Page) -> None:
    """Their tabs have a row of their own where they do not fit beside the tools; nothing lies over one of them."""
    start(page, "First look: order, answer, count")
    for width, height in ((1280, 800), (1024, 640), (1600, 900)):
        page.set_viewport_size({"width": width, "height": height})
        for name, word in OF_SOME:
            page.get_by_role("button", name=word, exact=True).locator("visible=true").click()
            page.locator(f".deck-{name}").wait_for()
            still(page)
            assert page.evaluate(LOOK) == [], f"{word} at {width}x{height}"


#: (drill, window, zoom): in CI both plants, once without and once with scrolling; the long form all of them.
PLANTS_SHOWN = ("Kick while drilling", "Surface stack: kick while drilling")
HELD = (
    [(drill, window, zoom) for drill in PLANTS_SHOWN for window in WINDOWS for zoom in ZOOMS]
    if THOROUGH
    else [(PLANTS_SHOWN[0], (1366, 768), 1.25), (PLANTS_SHOWN[1], (1280, 800), 2.0)]
)


@pytest.mark.parametrize(("drill", "window", "zoom"), HELD)
def test_the_console_holds_at_every_zoom(
    browser: Browser, classroom: str, drill: str, window: tuple[int, int], zoom: float
) -> None:
    """To 125 % nothing scrolls; above, in one direction, with the end, the pace, entries and the well in sight."""
    with zoomed(browser, classroom, window, zoom) as tab:
        start(tab, drill)
        for name, word in VIEWS:
            turn_to(tab, name)
            still(tab)
            assert tab.evaluate(PROBE) == [], f"{word} at {window} and {zoom:.0%}"
            assert tab.evaluate(REACH) == [], f"{word} at {window} and {zoom:.0%}"
            if zoom <= UNSCROLLED:
                assert tab.evaluate(LOOK) == [], f"{word} at {window} and {zoom:.0%}"


#: The last value that a chart has of a reading, as text.
LAST = """(tag) => {
  const source = Bokeh.documents.map((one) => one.get_model_by_name("trend")).find((one) => one)
  return String(source.get_column(tag).at(-1))
}"""


def test_a_recorder_without_power_leaves_a_gap(page: Page) -> None:
    start(page, "Dead panel")
    page.get_by_label("Pace of the run").select_option("20")
    until(page, lambda: page.evaluate(LAST, "panel.power") == "0", "the panel is dead")
    assert page.evaluate(LAST, "accumulator.pressure") == "NaN"
    assert page.evaluate(LAST, "well.flow_out") != "NaN"


def test_evidence_is_handed_over_as_a_file(page: Page) -> None:
    start(page, "Free practice")
    page.locator(CLOSE).first.click()
    finish(page)
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Download evidence").click()
    evidence = json.loads(waiting.value.path().read_text("utf-8"))
    assert any(entry["target"] == "upper_annular" for entry in evidence["log"])


def test_a_lost_server_is_told_in_plain_words(browser: Browser) -> None:
    with served() as address:
        tab = browser.new_context().new_page()
        tab.goto(address)
        tab.locator("form.drill-start").first.wait_for()
    expect(tab.locator(".offline")).to_contain_text("Your run is kept")
    tab.context.close()


def test_a_fault_is_named_from_the_keyboard(page: Page) -> None:
    start(page, "Find the leak", "practice")
    page.get_by_role("button", name="Diagnosis").focus()
    page.keyboard.press("Enter")
    panel = page.get_by_role("dialog", name="Diagnosis")
    expect(panel.get_by_role("textbox", name="Part")).to_be_focused()
    page.keyboard.type("upper ann")
    expect(panel.get_by_text("Upper annular", exact=True)).to_be_visible()
    page.keyboard.press("Enter")
    wrong = panel.get_by_role("combobox", name="What is wrong with it")
    expect(wrong.locator("option")).not_to_have_count(0)
    wrong.select_option(label="Opening chamber leaks to sea")
    panel.get_by_role("button", name="Report fault").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".says-noted")).to_contain_text("reported: Upper annular: Opening chamber leaks to sea")
    expect(panel).to_be_hidden()


def test_a_page_says_that_it_is_coming_and_leaves_a_chosen_view_alone(page: Page, classroom: str) -> None:
    other = page.context.new_page()
    other.route_web_socket(re.compile("ws"), lambda socket: None)  # a server that does not answer
    other.goto(classroom)
    expect(other.get_by_text("Opening the trainer.")).to_be_visible()
    other.close()
    expect(page.get_by_text("Opening the trainer.")).to_be_hidden()
    page.get_by_role("form", name="Free practice").first.get_by_role("button", name="Start").click()
    page.get_by_role("button", name="Unit", exact=True).click()
    page.get_by_label("Pace of the run").select_option("5")
    expect(page.locator(".top-clock")).to_contain_text(re.compile("0:[2-5][0-9]"))
    expect(page.get_by_role("button", name="Unit", exact=True)).to_have_attribute("aria-current", "page")
