"""A rig fitted on the page: a bottle, a function and a panel more than Quillback has, and then a drill run on it."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import turn_to
from tests.browser.test_access import ALL, RUN, axe
from tests.chromium import finish
from trainer import resources

__all__ = ["axe"]
RIG = "fitted_rig"


@pytest.fixture
def saved() -> Iterator[None]:
    """The plant file is taken away again."""
    yield
    (resources.own_plants() / f"{RIG}.toml").unlink(missing_ok=True)


def settled(page: Page, state: str = "sound") -> None:
    page.locator(f"body[data-fit={state}]").wait_for()


def test_a_bottle_a_function_and_a_panel_more_and_a_drill_on_it(page: Page, saved: None, axe: str) -> None:
    page.get_by_role("link", name="Fit a rig").click()
    settled(page)
    page.get_by_label("Id of your rig").fill(RIG)
    page.get_by_label("Its name").fill("Fitted rig")
    page.locator("summary", has_text="Bottles (").click()
    bottles = page.locator('[data-place="bank.bank_a.bottles"]')
    more = str(int(bottles.input_value()) + 1)

    bottles.fill("many")
    settled(page, "faulty")
    expect(page.locator("#fit-faults")).to_contain_text("bank.bank_a.bottles")
    expect(bottles).to_have_attribute("aria-invalid", "true")
    page.get_by_role("button", name="Save the plant file").click()
    expect(page.locator("#fit-told")).to_contain_text("not saved while it has faults")

    bottles.fill(more)
    settled(page)
    page.locator("summary", has_text="Functions (").click()
    adding = page.get_by_role("form", name="Add a function")
    adding.get_by_label("New id").fill("test_ram")
    adding.get_by_label("like").select_option("lower_pipe_ram")
    adding.get_by_role("button").click()
    label = page.locator('[data-place="function.test_ram.title"]')
    label.fill("Lowest ram")
    settled(page)
    page.locator("summary", has_text="Further panels (").click()
    adding = page.get_by_role("form", name="Add a further panel")
    adding.get_by_label("New id").fill("escape_panel")
    adding.get_by_role("button").click()
    expect(page.locator('[data-place="panel.escape_panel.functions"]')).to_have_value(re.compile("upper_annular"))
    settled(page)
    page.locator("#fit-board").select_option("third")
    expect(page.frame_locator("#fit-drawing").get_by_role("heading", name="Escape panel")).to_be_visible()
    settled(page)
    page.locator("#fit-board").select_option("driller")
    settled(page)
    expect(page.frame_locator("#fit-drawing").get_by_text("Lowest ram").first).to_be_visible()
    expect(page.locator("#fit-differences")).to_contain_text(f"bank.bank_a.bottles: {more}, was")
    page.evaluate(axe)
    assert page.evaluate(RUN, ALL) == []
    settled(page)
    page.get_by_role("button", name="Which drills suit it?").press("Enter")
    page.get_by_role("button", name="Try Set the regulators", exact=True).press("Enter")
    expect(page.locator("#fit-drills > li[data-outcome=suits]")).to_contain_text("Set the regulators")
    # By key: a click that has to scroll first can land where the preview was before.
    page.get_by_role("button", name="Save the plant file").press("Enter")
    expect(page.locator("#fit-told")).to_contain_text(f"Saved as {RIG}.toml")

    page.get_by_role("link", name="To the drills").click()
    mine = page.get_by_role("form", name="Practise on Fitted rig")
    mine.get_by_label("Drill").select_option("kick-while-drilling")
    mine.get_by_role("button", name="Start").click()
    page.locator(".deck-driller").wait_for()
    page.get_by_role("button", name="Begin").click()
    close = """[data-send='{"do":"set","target":"test_ram","value":"close"}']:visible"""
    page.locator(close).first.click()
    lamp = page.locator('[data-state="test_ram.lamp_close"]').first
    expect(lamp).to_have_attribute("data-value", "on")
    the_panel_works_and_dies_with_its_breaker(page)
    finish(page)
    expect(page.locator("html")).to_have_attribute("data-page", "sheet")


def the_panel_works_and_dies_with_its_breaker(page: Page) -> None:
    """By hand, through what is visible: its tab, its buttons, its lamps, its breaker at the unit."""
    tabs = page.get_by_role("navigation", name="Stations and views")
    tabs.get_by_role("button", name="Escape panel").click()
    board = page.get_by_role("region", name="Third panel")
    annular = board.get_by_role("group", name="Upper annular")
    annular.get_by_role("button", name="Close").click()
    lit = annular.get_by_role("button", name="Upper annular: Close , lamp on")
    expect(lit).to_be_visible()
    turn_to(page, "care")
    page.get_by_role("group", name="Escape panel breaker").get_by_role("button", name="Off").click()
    tabs.get_by_role("button", name="Escape panel").click()
    expect(board.get_by_text("This panel has no power")).to_be_visible()
    expect(lit).to_have_count(0)
    annular.get_by_role("button", name="Open").click()
    expect(page.locator(".says-refusal")).to_contain_text("Escape panel has no power")


def test_quick_edits_and_saving_leave_nothing_stale(page: Page, saved: None) -> None:
    """A check that takes long is overtaken: what stands there is marked as older, and the last edit is what comes."""
    page.get_by_role("link", name="Fit a rig").click()
    settled(page)
    page.get_by_label("Id of your rig").fill(RIG)
    settled(page)
    held: list[Route] = []
    page.route("**/fit/check", lambda route: held.append(route), times=1)
    page.locator("summary", has_text="Bottles (").click()
    bottles = page.locator('[data-place="bank.bank_a.bottles"]')
    with page.expect_request("**/fit/check"):
        bottles.fill("21")
    for more in ("22", "23", "24"):
        bottles.fill(more)
    expect(page.locator("#fit-stale")).to_contain_text("Checking")
    page.get_by_role("button", name="Save the plant file").press("Enter")
    expect(page.locator("#fit-told")).to_contain_text(f"Saved as {RIG}.toml")
    expect(page.locator("#fit-stale")).to_contain_text("Checking")
    held[0].continue_()
    settled(page)
    expect(page.locator("#fit-differences")).to_contain_text("bank.bank_a.bottles: 24, was")
    expect(page.locator("#fit-stale")).to_contain_text("as it is now")

    page.get_by_text("Diverter", exact=True).click()
    page.get_by_role("button", name="Remove diverter from the rig").press("Enter")
    settled(page)
    expect(page.locator('[data-place="diverter.packer"]')).to_have_count(0)
    expect(page.locator('[data-place="function.diverter_packer.title"]')).to_have_count(0)
    page.get_by_role("link", name="Its planning sheet").press("Enter")
    expect(page.get_by_role("heading", name="Results:")).to_be_visible()
    page.get_by_label("Prepared by").fill("A. & B. <Planner>")
    page.get_by_role("button", name="Work it out").press("Enter")
    expect(page.get_by_role("cell", name="A. & B. <Planner>")).to_be_visible()
    expect(page.get_by_role("link", name="As PDF")).to_have_attribute("href", re.compile(r"prepared=A\.\+%26\+B"))


def test_steps_of_a_sequence_a_further_one_and_another_order_of_the_stack(page: Page, axe: str) -> None:
    page.get_by_role("link", name="Fit a rig").click()
    settled(page)
    page.locator("select[name=base]").select_option("wentletrap")
    page.locator("summary", has_text=re.compile("^Disconnect$")).wait_for()
    settled(page)
    page.locator("summary", has_text=re.compile("^Disconnect$")).click()
    page.locator("summary", has_text="Sequences of disconnect (4)").click()
    page.locator("summary", has_text="Steps of disconnect.sequence.pipe (").click()
    late = page.locator('[data-place="disconnect.sequence.pipe.step.0.at"]')
    late.fill("30 s")
    settled(page, "faulty")
    expect(page.locator("#fit-faults")).to_contain_text("out of order")
    late.fill("0 s")
    settled(page)
    page.get_by_role("button", name="Add a sequence like the last").press("Enter")
    page.locator("summary", has_text="Sequences of disconnect (5)").wait_for()
    page.locator('[data-place="disconnect.sequence.secured_2.title"]').fill("Well secured, slow")
    settled(page)
    page.locator("summary", has_text="Functions (").click()
    page.get_by_role("button", name="Move casing_shear_ram up in the stack").press("Enter")
    expect(page.locator("#fit-differences")).to_contain_text("function.casing_shear_ram.below: -6 ft, was -3 ft")
    settled(page)
    expect(page.locator("#fit-differences")).to_contain_text("disconnect.sequence.secured_2.title: new")
    page.evaluate(axe)
    assert page.evaluate(RUN, ALL) == []
