"""Whole drills played at the page by the crews that play them at the engine: through what can be seen and reached.

In CI some drills, which together use every kind of control; ``TRAINER_THOROUGH=1`` plays all of them, in both editions,
by mouse, and eight by keyboard alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import opened
from tests.browser.hands import AtThePage, begin
from tests.browser.visits import Host, visit
from tests.chromium import THOROUGH
from tests.drills.instruments import Desk, working_at
from tests.drills.roster import GOOD
from tests.takeaway.building import built_site
from trainer.drills import library

DRILLS = sorted(library.all_drills())
EDITIONS = ("classroom", "offline")
#: Together they use every kind of control: a walk alone and a diagnosis; the panel's buttons and the unit's levers;
#: what is looked after at the unit; reports and readings in each. What is held has a test of its own below; a whole
#: kick, with the hoist's lever held by mouse and by key, is in ``test_kick.py``.
SHORT = {
    ("classroom", "dead-panel"),
    ("classroom", "stuck-valve"),
    ("offline", "low-level-wrong-mix"),
}
SHORT_BY_KEYBOARD = "find-the-leak"
BY_KEYBOARD = (
    "kick-while-drilling",
    "find-the-leak",
    "regulator-setting",
    "dead-panel",
    "low-level-wrong-mix",
    "shallow-gas-diverter",
    "surface-lamp-lies",
    "name-the-parts",
)
#: Drills of maintenance and of operating whose work lies at the control unit.
IN_THE_PICTURE = (
    "accumulator-drawdown",
    "bank-isolation",
    "battery-endurance-test",
    "charging-test",
    "check-valve-leaks-back",
    "control-line-flush",
    "daily-round",
    "dead-panel",
    "filter-change",
    "find-the-leak",
    "lost-rig-air",
    "low-level-wrong-mix",
    "mix-fluid",
    "precharge-check",
    "pressure-switch-fault",
    "pump-recharge-test",
    "regulator-drift",
    "regulator-setting",
    "start-up-from-cold",
    "stuck-valve",
)


@contextmanager
def first_page(browser: Browser, edition: str, classroom: str) -> Iterator[Page]:
    """The chooser of an edition, in a profile of its own."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    host = Host(built_site().out) if edition == "offline" else None
    try:
        yield opened(context, classroom) if host is None else visit(context, host.url)
    finally:
        context.close()
        if host is not None:
            host.stop()


def played(
    page: Page, drill: str, seed: int, mode: str = "practice", keyboard: bool = False, by_picture: bool = False
) -> AtThePage:
    """The desk after the good crew has worked the drill to its end."""
    desks: list[AtThePage] = []

    def at_the_page(named: str, number: int, _: str) -> Desk:
        desks.append(begin(page, named, number, mode, keyboard, by_picture))
        return desks[-1]

    with working_at(at_the_page):
        crew = GOOD[drill](seed)
    assert crew.refused == [] and desks[0].refusals == []
    return desks[0]


@pytest.mark.parametrize("drill", DRILLS)
@pytest.mark.parametrize("edition", EDITIONS)
def test_the_good_crew_passes_by_hand(browser: Browser, classroom: str, edition: str, drill: str) -> None:
    if not THOROUGH and (edition, drill) not in SHORT:
        pytest.skip("the long form: TRAINER_THOROUGH=1")
    with first_page(browser, edition, classroom) as page:
        sheet = played(page, drill, seed=DRILLS.index(drill) % 5).sheet
        assert sheet["passed"], (sheet["verdict"], sheet["critical"], sheet["lost"])


@pytest.mark.parametrize("drill", IN_THE_PICTURE)
@pytest.mark.parametrize("edition", EDITIONS)
def test_the_good_crew_passes_in_the_picture(browser: Browser, classroom: str, edition: str, drill: str) -> None:
    """What is worked at the control unit is worked where it stands."""
    if not THOROUGH:
        pytest.skip("the long form: TRAINER_THOROUGH=1")
    with first_page(browser, edition, classroom) as page:
        sheet = played(page, drill, seed=1, by_picture=True).sheet
        assert sheet["passed"], (sheet["verdict"], sheet["critical"], sheet["lost"])


@pytest.mark.parametrize("keyboard", [False, True], ids=["mouse", "keyboard"])
def test_the_hoist_and_a_regulator_are_held_by_hand(browser: Browser, classroom: str, keyboard: bool) -> None:
    with first_page(browser, "classroom", classroom) as page:
        desk = begin(page, "regulator-setting", keyboard=keyboard)
        low, hook = desk.shown("annular_regulator.pilot"), desk.shown("floor.hook")
        desk.do("raise", "annular_regulator", 2.0, "unit")
        assert desk.until(lambda: desk.shown("annular_regulator.pilot") > low, 30.0, 1.0)
        desk.hoist("up", lambda: desk.shown("floor.hook") >= hook + 2.0)
        assert desk.shown("floor.hook") >= hook + 2.0
        assert desk.refusals == []


@pytest.mark.parametrize("drill", BY_KEYBOARD)
def test_the_good_crew_passes_by_keyboard_alone(browser: Browser, classroom: str, drill: str) -> None:
    if not THOROUGH and drill != SHORT_BY_KEYBOARD:
        pytest.skip("the long form: TRAINER_THOROUGH=1")
    with first_page(browser, "classroom", classroom) as page:
        sheet = played(page, drill, seed=1, keyboard=True).sheet
        assert sheet["passed"], (sheet["verdict"], sheet["critical"], sheet["lost"])


def test_a_filter_is_changed_in_the_picture_by_keyboard_alone(browser: Browser, classroom: str) -> None:
    if not THOROUGH:
        pytest.skip("the long form: TRAINER_THOROUGH=1")
    with first_page(browser, "classroom", classroom) as page:
        sheet = played(page, "filter-change", seed=1, keyboard=True, by_picture=True).sheet
        assert sheet["passed"], (sheet["verdict"], sheet["critical"], sheet["lost"])
