"""Every drill can be worked at the page, as far as can be told without playing it.

For each plant one page is opened in each edition, and every station is looked at. Whatever the good crew of any drill
works, looks at, says, enters and names, and whatever the criteria ask for, must have a control or an instrument there
that lies in the window, or scrolls to it, is enabled, and is what a click at its middle reaches. The drills themselves
are played so in ``tests/browser/test_by_hand.py``.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import opened, served
from tests.browser.hands import AtThePage, StoppedError, begin, table
from tests.browser.visits import Host, visit
from tests.console.by_name import BESIDE, Table
from tests.drills.instruments import UnseenError
from tests.drills.record import LOOKED
from tests.takeaway.building import built_site
from trainer.console.crews import crew_of
from trainer.console.shell import OF_SOME, VIEWS
from trainer.drills import library
from trainer.drills.criteria_schema import Confirm, Diagnose, Reading, Say
from trainer.drills.prepare import prepare
from trainer.drills.schema import Drill

DRILLS = library.all_drills()
PLANTS = sorted({drill.plants[0] for drill in DRILLS.values()})
EDITIONS = ("classroom", "offline")
#: What the plant keeps for a condition and shows in parts: the valve before a filter and the one after it.
IN_PARTS = {f"filter_{n}.isolation": (f"filter_{n}.upstream", f"filter_{n}.downstream") for n in (1, 2)}


@dataclass(frozen=True)
class Needs:
    """What a drill asks of the page."""

    commands: frozenset[tuple[str, str, Any, str]]
    tags: frozenset[str]
    statements: frozenset[str]
    readings: frozenset[str]
    faults: frozenset[str]


@cache
def looked() -> dict[str, list[str]]:
    """What the good crews look at."""
    return dict(json.loads(LOOKED.read_text("utf-8")))


def needs(drill: Drill, on: Table) -> Needs:
    """What the good crew does and sees, and what the criteria are about."""
    crew = crew_of(drill.id)
    assert crew is not None
    log = [(e.do, e.target, e.value, e.from_) for e in crew.log]
    commands = {_place(on, *command) for command in log if command[0] not in NOT_WORKED}
    tags = set(looked()[drill.id]) | {r.tag for r in drill.reading if r.tag}
    statements = {target for do, target, _, _ in log if do == "say"}
    readings = {target for do, target, _, _ in log if do == "read"}
    faults = {target for do, target, _, _ in log if do == "name"}
    for criterion in drill.criterion:
        match criterion:
            case Reading():
                readings.add(criterion.reading)
            case Confirm():
                readings |= {name for name in criterion.of if "." not in name}
            case Say():
                statements.add(criterion.statement)
            case Diagnose():
                faults |= _faults(drill, criterion.fault)
            case _:
                pass
    joined = prepare(drill, on.machine)
    for item in (*joined.criteria, *joined.milestones):
        asked = {tag for expression in item.ready.values() for tag in expression.tags if on.signals[tag].station}
        tags |= {part for tag in asked for part in IN_PARTS.get(tag, (tag,))}
    return Needs(frozenset(commands), frozenset(tags), frozenset(statements), frozenset(readings), frozenset(faults))


NOT_WORKED = ("say", "read", "name", "go")


def _place(on: Table, do: str, target: str, value: Any, at: str) -> tuple[str, str, Any, str]:
    """A command without its figure, where it is typed or a matter of how long a button is held; a lever stops alone."""
    if do in ("raise", "lower") or (isinstance(value, float | int) and not on.gives(do, target, value, at)):
        value = None
    return do, target, "up" if (target, value) == ("floor.hoist", "stop") else value, at


def _faults(drill: Drill, name: str) -> set[str]:
    if not name.startswith("vary."):
        return {name}
    return set(next(v.one_of or [] for v in drill.vary if v.id == name.removeprefix("vary.")))


class Survey:
    """A page of a plant, looked over station by station."""

    def __init__(self, desk: AtThePage) -> None:
        self.desk, self.on = desk, desk.table

    def missing(self, wanted: dict[str, Needs]) -> list[str]:
        """What the page lacks, each with why and the drills that need it."""
        commands: dict[tuple[str, str, Any, str], list[str]] = {}
        tags: dict[str, list[str]] = {}
        for drill, need in wanted.items():
            for command in need.commands:
                commands.setdefault(command, []).append(drill)
            for tag in need.tags:
                tags.setdefault(tag, []).append(drill)
        lacks = {**self._out_of_reach(commands), **self._out_of_sight(tags)}
        said = [f"{what}: {why}" for what, why in lacks.items()] + self._edges()
        for drill, need in wanted.items():
            own = table(drill)
            said += [f"{drill}: nothing says {name}" for name in sorted(need.statements - own.statements.keys())]
            said += [f"{drill}: nothing enters {name}" for name in sorted(need.readings - own.readings.keys())]
            said += [f"{drill}: nothing names {name}" for name in sorted(need.faults) if own.fault(name) is None]
        return said

    def _out_of_reach(self, commands: dict[tuple[str, str, Any, str], list[str]]) -> dict[str, str]:
        why: dict[tuple[str, str, Any, str], str] = {}
        done: set[tuple[str, str, Any, str]] = set()
        own = {control.board for control in self.on.controls}
        for view in (*dict(VIEWS), *(name for name, _ in OF_SOME if name in own)):
            self.desk.look_at(view)
            for command in sorted(commands.keys() - done, key=str):
                ways = self.on.find(*command)
                here = [way for way in ways if way.board == view or way.board in BESIDE]
                for way in here:
                    try:
                        self.desk.hand.reach(self.desk.locate(way), f"{way.board}, {way.name}")
                    except StoppedError as stop:
                        why[command] = str(stop)
                    else:
                        done.add(command)
                        break
                if not ways:
                    why[command] = "no control gives it"
        return {
            f"{' '.join(str(word) for word in command if word is not None)} ({', '.join(sorted(by))})": why[command]
            for command, by in commands.items()
            if command not in done
        }

    def _out_of_sight(self, tags: dict[str, list[str]]) -> dict[str, str]:
        lacks: dict[str, str] = {}
        for tag, by in sorted(tags.items(), key=lambda item: str(self.on.shown.get(item[0]))):
            try:
                self.desk.shown(tag)
            except UnseenError as unseen:
                if "not measured yet" not in str(unseen):
                    lacks[f"{tag} ({', '.join(sorted(by))})"] = str(unseen)
        return lacks

    def _edges(self) -> list[str]:
        """The fields and buttons that every drill uses."""
        lacks = []
        for what, found in self.desk.edges().items():
            try:
                self.desk.hand.reach(found, what)
            except StoppedError as stop:
                lacks.append(str(stop))
        return lacks


def _stopped(desk: AtThePage) -> AtThePage:
    """The desk on a page whose clock stands: what stands where does not hang on it."""
    desk.hand.press(desk.edges()["Pause"], "Pause")
    return desk


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """One served classroom for all tests of this module."""
    with served() as found:
        yield found


@contextmanager
def surveyed(browser: Browser, address: str | None, plant: str) -> Iterator[Survey]:
    """The page of a plant, its clock just begun: served at an address, or the offline edition for None."""
    drill = next(name for name, drill in DRILLS.items() if drill.plants[0] == plant and drill.crew != "alone")
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    try:
        if address is not None:
            yield Survey(_stopped(begin(opened(context, address), drill, mode="check")))
        else:
            host = Host(built_site().out)
            try:
                yield Survey(_stopped(begin(visit(context, host.url), drill, mode="check")))
            finally:
                host.stop()
    finally:
        context.close()


def wanted(plant: str, on: Table) -> dict[str, Needs]:
    """What the drills of a plant need."""
    return {name: needs(drill, on) for name, drill in DRILLS.items() if drill.plants[0] == plant}


@pytest.mark.parametrize("plant", PLANTS)
@pytest.mark.parametrize("edition", EDITIONS)
def test_every_drill_finds_what_it_needs_on_the_page(
    browser: Browser, request: pytest.FixtureRequest, edition: str, plant: str
) -> None:
    address = request.getfixturevalue("address") if edition == "classroom" else None
    with surveyed(browser, address, plant) as survey:
        all_of_them = wanted(plant, survey.on)
        assert all(need.commands or need.statements for need in all_of_them.values())
        lacks = survey.missing(all_of_them)
        assert lacks == [], "\n".join(lacks)


REMOVE = "(node) => node.remove()"
HIDE = "(node) => { node.style.visibility = 'hidden' }"
COVER = """(node) => {
  const over = document.createElement("div"), box = node.getBoundingClientRect()
  Object.assign(over.style, {position: "fixed", left: `${box.left}px`, top: `${box.top}px`, zIndex: 1000,
    width: `${box.width}px`, height: `${box.height}px`})
  document.body.append(over)
}"""


def test_what_is_removed_hidden_or_covered_is_missed(browser: Browser, address: str) -> None:
    three = (
        ("push", "totaliser.reset", None, "driller"),
        ("set", "pod_selector", "blue", "driller"),
        ("set", "upper_inner_kill", "open", "driller"),
    )
    nothing: frozenset[str] = frozenset()
    one = {"pod-changeover": Needs(frozenset(three), frozenset({"totaliser.flow"}), nothing, nothing, nothing)}
    with surveyed(browser, address, "quillback") as survey:
        assert survey.missing(one) == []
        for view, _ in VIEWS:
            survey.desk.look_at(view)
            for command, spoil in zip(three, (REMOVE, HIDE, COVER), strict=True):
                for way in survey.on.find(*command):
                    if way.board == view:
                        survey.desk.locate(way).evaluate(spoil)
        page: Page = survey.desk.page
        for shown in page.locator('[data-text="totaliser.flow"]').all():
            shown.evaluate("(node) => { node.style.opacity = 0 }")
        removed, hidden, covered, unseen = sorted(survey.missing(one))
        assert removed.startswith("push totaliser.reset driller (pod-changeover): ") and "not on the page" in removed
        assert hidden.startswith("set pod_selector blue driller") and "not on the page" in hidden
        assert covered.startswith("set upper_inner_kill open driller") and "a click reaches div" in covered
        assert unseen.startswith("totaliser.flow (pod-changeover)")
