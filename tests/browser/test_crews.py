"""Three people in three browsers are one crew: they work the crew kick drill from three stations by what they see."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import product
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Locator, Page, expect

from tests.browser.conftest import opened
from tests.browser.fits import misfits, still
from tests.browser.hands import AtThePage, Hand, StoppedError
from tests.browser.test_access import RUN, axe
from tests.chromium import THOROUGH, in_the_long_form

__all__ = ["axe"]

SHOTS = os.environ.get("TRAINER_SHOTS")
"""A folder for pictures of the pages, to look at."""
KICK = "Crew: kick while drilling"
CHOKE = "Crew: pressures from the choke panel"
SIDPP, SICP = "Shut-in drill pipe pressure", "Shut-in casing pressure"
SIZES = ((1280, 800), (1920, 1080))
LONG = 15 * 60_000
"""Longer than the drill, ms: so long a page waits for its end."""


class AtTheCrewsPage(AtThePage):
    """A desk at the page of a crew, whose pace is the clock's."""

    def _run_at(self, pace: str) -> None:
        """Nothing: a crew's run goes by the clock."""


class Member:
    """One of the crew, at a page of their own."""

    def __init__(self, browser: Browser, address: str, complaints: list[str]) -> None:
        context = browser.new_context(viewport={"width": 1280, "height": 800})
        self.page: Page = opened(context, address)
        self.page.on("pageerror", lambda error: complaints.append(str(error)))
        self.page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        self.hand = Hand(self.page)
        self.context = context

    def sits(self, press: str) -> None:
        """Open a crew or join it, and read the briefing; the drills for a crew lie in a fold of the first page."""
        if press.startswith("Open "):
            self.page.locator("details.crews > summary").click()
        self.page.get_by_role("button", name=press, exact=True).click()
        self.page.locator("dialog.brief[open]").wait_for()

    def begins(self, drill: str = "crew-kick") -> None:
        self.hand.press(self.page.get_by_role("button", name="Begin", exact=True), "Begin")
        self.page.locator("dialog.brief[open]").wait_for(state="hidden")
        self.at = AtTheCrewsPage(self.hand, drill)

    def call(self, words: str, to: str) -> None:
        press = self.page.get_by_role("button", name=f"Call the {to}: {words}", exact=True)
        self.hand.press(press, f"the call {words!r}")

    def repeat(self, words: str) -> None:
        press = self.page.get_by_role("button", name=f"Repeat back: {words}", exact=True)
        press.wait_for()
        self.hand.press(press, f"repeat {words!r}")
        expect(press).to_have_count(0)

    def reports(self, words: str, figure: str, to: str) -> None:
        """Call a figure: type it beside the words of the call, and press who is to get it."""
        field = self.page.get_by_label(f"{words}, figure to tell the {to}", exact=True)
        self.hand.type(field, figure, words)
        self.call(words, to)

    def repeats(self, words: str, figure: str) -> None:
        """Repeat a call back with its figure, as it is typed."""
        self.hand.type(self.figure(words), figure, words)
        self.repeat(words)

    def figure(self, words: str) -> Locator:
        """The field beside a call that is to be repeated back with its figure."""
        field = self.page.get_by_label(f"{words}, figure to repeat back", exact=True)
        field.wait_for()
        return field

    def line(self) -> Locator:
        return self.page.get_by_role("region", name="Talk line")

    def hears(self, words: str) -> None:
        self.line().get_by_text(f"“{words}”").first.wait_for()

    def does(self, do: str, target: str, value: object, at: str) -> None:
        assert self.at.do(do, target, value, at) is None


@contextmanager
def gathered(browser: Browser, classroom: str, drill: str, *posts: str) -> Iterator[list[Member]]:
    """A member at each of these posts of a drill, before the briefing."""
    complaints: list[str] = []
    members = [Member(browser, classroom, complaints) for _ in posts]
    for member, post, press in zip(members, posts, ("Open", *["Join"] * len(posts)), strict=False):
        member.sits(f"{press} {drill} as {post}")
    yield members
    for at, member in enumerate(members):
        if SHOTS:
            member.page.screenshot(path=str(Path(SHOTS) / f"crew-end-{at}.png"))
        member.context.close()
    assert complaints == []


@pytest.fixture
def crew(browser: Browser, classroom: str) -> Iterator[list[Member]]:
    with gathered(browser, classroom, KICK, "Driller", "Toolpusher", "Subsea engineer") as members:
        yield members


@pytest.fixture
def at_the_choke(browser: Browser, classroom: str) -> Iterator[list[Member]]:
    with gathered(browser, classroom, CHOKE, "Driller", "Choke operator", "Toolpusher") as members:
        yield members


FLOWS, WATCH = "The well flows. I am shutting in.", "I close the annular. Watch the unit."
CLOSED, LINE = "Closed: flow count and read-back are correct.", "Open the choke line. The choke is shut."
OPEN, SHUT = "Choke line open, both valves.", "The well is shut in. Pressures are read."
MINE = "I have the well."


def closes(driller: Member) -> None:
    """The driller's own work of the shut-in: rotation off, spaced out, pumps off, annular closed."""
    at = driller.at
    driller.does("set", "floor.rotary", 0, "floor")
    at.hoist("up", lambda: at.shown("floor.hook") >= 65.0)
    driller.does("set", "floor.mud_pumps", 0, "floor")
    at.until(lambda: at.shown("floor.mud_pumps") < 0.5, 30.0, 1.0)
    driller.does("push", "totaliser.reset", None, "driller")
    driller.does("set", "upper_annular", "close", "driller")


def from_the_choke_panel(crew: list[Member], heard_as: str = "") -> None:
    """The choke drill by what each sees; ``heard_as``: the figure that the toolpusher takes SIDPP for, and keeps."""
    driller, choke, toolpusher = crew
    for member in crew:
        member.begins("crew-choke-panel")
    at, panel = driller.at, choke.at
    assert at.until(lambda: at.shown("well.flow_out") > at.shown("well.flow_in") + 45.0, 400.0, 1.0)
    driller.call(FLOWS, "toolpusher")
    toolpusher.repeat(FLOWS)
    driller.call("I shut in. Watch the choke.", "choke operator")
    choke.repeat("I shut in. Watch the choke.")
    assert panel.shown("floor.choke") < 1.0
    choke.call("The choke is shut.", "driller")
    closes(driller)
    driller.repeat("The choke is shut.")
    assert at.until(lambda: at.shown("well.flow_out") < 5.0, 90.0, 1.0)
    at.wait(8.0)
    driller.call(LINE, "toolpusher")
    toolpusher.repeat(LINE)
    for valve in ("upper_inner_choke", "upper_outer_choke"):
        toolpusher.does("set", valve, "open", "remote")
    toolpusher.at.wait(6.0)
    toolpusher.call("Choke line open. Read the pressures.", "choke operator")
    choke.repeat("Choke line open. Read the pressures.")
    panel.wait(85.0)
    on_the_sheet = {}
    for reading, tag, words in (("sidpp", "well.drillpipe_pressure", SIDPP), ("sicp", "well.casing_pressure", SICP)):
        shown = f"{panel.shown(tag):.0f}"
        choke.does("read", reading, float(shown), "floor")
        choke.reports(words, shown, "toolpusher")
        on_the_sheet[reading] = (reading == "sidpp" and heard_as) or shown
        toolpusher.repeats(words, on_the_sheet[reading])
    gain = f"{at.shown('well.pit_gain'):.1f}"
    driller.reports("Pit gain", gain, "toolpusher")
    toolpusher.repeats("Pit gain", gain)
    toolpusher.call("Bleed a little at the choke, then shut it.", "choke operator")
    choke.repeat("Bleed a little at the choke, then shut it.")
    choke.does("set", "floor.choke", 4, "floor")
    panel.wait(10.0)
    choke.does("set", "floor.choke", 0, "floor")
    panel.wait(25.0)
    shown = f"{panel.shown('well.drillpipe_pressure'):.0f}"
    choke.reports("Bled. Drill pipe pressure now", shown, "toolpusher")
    toolpusher.repeats("Bled. Drill pipe pressure now", shown)
    for reading, figure in on_the_sheet.items():
        toolpusher.does("read", f"sheet_{reading}", float(figure), "remote")
    toolpusher.call(MINE, "driller")
    for member in crew:
        member.page.get_by_role("region", name="Marks of the crew").wait_for(timeout=LONG)


@in_the_long_form
def test_three_people_pass_the_drill_from_the_choke_panel_by_the_figures_they_call(
    at_the_choke: list[Member], axe: str
) -> None:
    from_the_choke_panel(at_the_choke)
    for member in at_the_choke:
        assert re.search(r"\bPassed\b", verdict(member)), verdict(member)
        assert "Not passed" not in verdict(member)
        member.hand.press(member.page.get_by_role("button", name="Timeline and replay", exact=True), "the timeline")
        for table in ("What each member did", "Milestones", "Actions of the reference run"):
            member.page.get_by_role("table", name=table).wait_for()
    look(at_the_choke, axe, "timeline")


@in_the_long_form
def test_a_figure_that_was_heard_wrong_and_kept_fails_the_drill_from_the_choke_panel(
    at_the_choke: list[Member],
) -> None:
    from_the_choke_panel(at_the_choke, heard_as="250")
    for member in at_the_choke:
        assert "Not passed" in verdict(member)
        assert "SIDPP reported and repeated back" in verdict(member)
        assert "SIDPP on the kill sheet" in verdict(member)


def shut_in(crew: list[Member], repeats: bool) -> None:
    """The crew's work by what each sees at the own station; where it does not repeat calls, all else is as well."""
    driller, toolpusher, subsea = crew

    def heard(member: Member, words: str) -> None:
        if repeats:
            member.repeat(words)
        else:
            member.hears(words)

    for member in crew:
        member.begins()
    at = driller.at
    assert at.until(lambda: at.shown("well.flow_out") > at.shown("well.flow_in") + 45.0, 400.0, 1.0)
    driller.call(FLOWS, "toolpusher")
    heard(toolpusher, FLOWS)
    driller.call(WATCH, "subsea engineer")
    heard(subsea, WATCH)
    closes(driller)
    unit = subsea.at
    assert unit.until(lambda: unit.shown("totaliser.count") > 20.0 and unit.shown("totaliser.flow") < 6.0, 120.0, 1.0)
    unit.wait(3.0)
    for reading, tag in (("flow_count", "totaliser.count"), ("readback", "annular_regulator.readback")):
        subsea.does("read", reading, unit.shown(tag), "unit")
    subsea.call(CLOSED, "driller")
    heard(driller, CLOSED)
    assert at.until(lambda: at.shown("well.flow_out") < 5.0, 60.0, 1.0)
    driller.call(LINE, "toolpusher")
    heard(toolpusher, LINE)
    for valve in ("upper_inner_choke", "upper_outer_choke"):
        toolpusher.does("set", valve, "open", "remote")
    toolpusher.at.wait(6.0)
    toolpusher.call(OPEN, "driller")
    heard(driller, OPEN)
    at.wait(85.0)
    readings = (("sidpp", "well.drillpipe_pressure"), ("sicp", "well.casing_pressure"), ("pit_gain", "well.pit_gain"))
    for reading, tag in readings:
        driller.does("read", reading, at.shown(tag), "driller")
    driller.call(SHUT, "toolpusher")
    heard(toolpusher, SHUT)
    toolpusher.call(MINE, "driller")
    # The run ends by itself soon after this call: on a slow machine before a hand has come to its button.
    with suppress(Error, StoppedError):
        heard(driller, MINE)
    for member in crew:
        member.page.get_by_role("region", name="Marks of the crew").wait_for(timeout=LONG)


def verdict(member: Member) -> str:
    return member.page.locator(".sheet").first.inner_text()


@in_the_long_form
def test_three_people_pass_the_crew_kick_drill_from_three_stations(crew: list[Member], axe: str) -> None:
    shut_in(crew, repeats=True)
    for member in crew:
        assert re.search(r"\bPassed\b", verdict(member)), verdict(member)
        assert "Not passed" not in verdict(member)
        marks = member.page.get_by_role("region", name="Marks of the crew")
        for who in ("Driller: Guest", "Toolpusher: Guest", "Subsea engineer: Guest", "The crew together"):
            expect(marks).to_contain_text(who)
    look(crew, axe, "sheet")


@in_the_long_form
def test_a_crew_of_three_that_repeats_no_call_fails_the_kick_drill(crew: list[Member]) -> None:
    shut_in(crew, repeats=False)
    for member in crew:
        assert "Not passed" in verdict(member)
        assert "Calls repeated back" in verdict(member)


def look(crew: list[Member], axe: str, name: str) -> None:
    """Nothing that axe-core finds, in light and dark, on any of the three pages, and nothing that does not fit."""
    for at, member in enumerate(crew):
        page = member.page
        page.evaluate(axe)
        for theme, (wide, tall) in product(("light", "dark"), SIZES if THOROUGH else SIZES[:1]):
            page.set_viewport_size({"width": wide, "height": tall})
            if page.evaluate("document.documentElement.dataset.theme") != theme:
                page.get_by_role("button", name="Theme", exact=True).locator("visible=true").first.click()
            still(page)
            if SHOTS:
                page.screenshot(path=str(Path(SHOTS) / f"crew-{name}-{at}-{theme}-{wide}.png"))
            assert page.evaluate(RUN, {}) == [], f"{name}, page {at}, {theme}, {wide}"
        assert misfits(page, SIZES) == {}, f"{name}, page {at}"


def test_a_figure_is_reported_by_keyboard_and_a_wrong_one_is_corrected(at_the_choke: list[Member], axe: str) -> None:
    driller, choke, toolpusher = at_the_choke
    for member in at_the_choke:
        member.hand.keyboard = True
        member.begins("crew-choke-panel")
    choke.reports(SIDPP, "520", "toolpusher")
    toolpusher.hears(f"{SIDPP}: 520 psi")
    # What is half typed is typed on when another call comes in.
    toolpusher.hand.type(toolpusher.figure(SIDPP), "25", SIDPP)
    driller.call(FLOWS, "toolpusher")
    toolpusher.hears(FLOWS)
    toolpusher.page.keyboard.type("0")
    expect(toolpusher.figure(SIDPP)).to_have_value("250")
    look(at_the_choke, axe, "figures")
    # A page that is loaded again stands at its post, with the call still to be repeated back.
    for _ in range(2):
        toolpusher.page.reload()
        toolpusher.figure(SIDPP)
    toolpusher.hand = Hand(toolpusher.page, keyboard=True)
    # Its boards are drawn once more when its line to the server stands.
    AtTheCrewsPage(toolpusher.hand, "crew-choke-panel").wait(4.0)
    toolpusher.repeats(SIDPP, "250")
    for member in at_the_choke:
        expect(member.line()).to_contain_text(re.compile(r"repeated back \d+:\d\d: 250 psi"))
    choke.reports(SIDPP, "520", "toolpusher")
    toolpusher.repeats(SIDPP, "520")
    expect(choke.line()).to_contain_text(re.compile(r"repeated back \d+:\d\d: 520 psi"))


@in_the_long_form
def test_each_station_is_worked_by_keyboard_and_shows_nothing_amiss(crew: list[Member], axe: str) -> None:
    driller, toolpusher, subsea = crew
    look(crew, axe, "briefing")
    for member in crew:
        member.hand.keyboard = True
        member.begins()
    driller.call(FLOWS, "toolpusher")
    driller.call(WATCH, "subsea engineer")
    toolpusher.page.get_by_role("button", name=f"Repeat back: {FLOWS}").wait_for()
    look(crew, axe, "line")
    for member in crew:
        assert misfits(member.page) == {}
    toolpusher.repeat(FLOWS)
    subsea.repeat(WATCH)
    toolpusher.does("set", "upper_inner_choke", "open", "remote")
    driller.page.get_by_role("region", name="Talk line").get_by_text(re.compile("repeated back 0:")).first.wait_for()
    for _ in range(2):
        subsea.hand.press(subsea.page.get_by_role("button", name=re.compile("^Leave")), "Leave")
    subsea.page.get_by_role("button", name=f"Join {KICK} as Subsea engineer").wait_for()
    expect(driller.page.get_by_role("region", name="Crew")).to_contain_text("computer")
