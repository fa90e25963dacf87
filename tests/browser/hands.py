"""A desk at the page: a crew's commands carried out, and its readings taken, only through what can be seen and reached.

``Hand`` finds controls by accessible name (``tests.console.by_name``), scrolls to them, clicks, holds and types, by
mouse or by keyboard alone; what is hidden, disabled, covered or outside the window stops it with ``StoppedError``.
``AtThePage`` is the desk on it, so that the crews of the engine work here too. The clock is the page's: at 1x while
something is done and quicker while it waits, by the page's own control.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Error, Locator, Page

from tests.console.by_name import Control, Table
from tests.drills.instruments import UnseenError, read_number
from tests.waiting import PATIENCE
from trainer import simulator
from trainer.console.boards import STATIONS, Boards
from trainer.console.finder import subject
from trainer.console.shell import OF_SOME, PACES, VIEWS
from trainer.console.walk import NOWHERE, VIEWS_AT
from trainer.drills import library
from trainer.learn import courses
from trainer.session.walking import place_of

SIGHT = (Path(__file__).parent / "sight.js").read_text("utf-8")
LONGEST = 240.0
"""Wall seconds without any progress of the page's clock after which a wait is given up."""
POLL_MS = 40
BETWEEN_MS = 150
GONE_MS = 10_000
"""So long a control that was there a moment ago may be away before it counts as gone."""
LAG = 2.0
"""So many seconds of the watch a page on a busy machine may be behind."""
BLIND = 6.0
"""So many seconds of the page's clock may pass between two looks of somebody who waits for what comes unannounced."""
STANDS = 8.0
"""A hook that has not moved for so long, s, moves no more."""
WINDOW_OF = """(board, [selector, sent]) => {
  const same = (node) => {
    const own = sent && JSON.parse(node.dataset.send)
    return !sent || own.do === sent.do && own.target === sent.target && own.value === sent.value
  }
  const found = [...board.querySelectorAll(selector)].find(same), piece = found?.closest(".piece")
  if (!piece) return [null, "", false]
  const hand = sent ? found : piece.querySelector(".hit"), svg = hand.closest("svg"), box = hand.getBBox()
  const at = new DOMPoint(box.x + box.width / 2, box.y + box.height / 2)
    .matrixTransform(svg.getScreenCTM().inverse().multiply(hand.getScreenCTM()))
  const views = [...board.querySelectorAll("[data-window]")].slice(1)
  const shows = (button) => { const [x, y, w, h] = button.dataset.window.split(" ").map(Number)
    return at.x >= x && at.x <= x + w && at.y >= y && at.y <= y + h }
  const view = views.find(shows), lift = piece.querySelector(".lift")
  const window = !view ? null : view.getAttribute("aria-pressed") === "true" ? "" : view.getAttribute("aria-label")
  const there = hand.matches(".hand-turn") && piece.dataset.value === sent.value
  return [window, lift && !piece.hasAttribute("data-lifted") ? lift.textContent : "", there]
}"""
"""The button of the window that shows where a command is given or a number stands, empty where it shows it now; the
cover on the way of a hand; and whether what is turned stands so already."""
_BOARDS = Boards()
_VIEW = dict((*VIEWS, *OF_SOME))


def called(words: str) -> re.Pattern[str]:
    """A control's name in full, beside the mark that it may bear while the coach points to it."""
    return re.compile(rf"^\W*{re.escape(words)}\W*$")


class StoppedError(AssertionError):
    """What somebody wanted to do cannot be done at the page."""


class AlreadyThereError(Exception):
    """What is turned by a hand stands so already."""


@cache
def _machine(plant: str) -> Any:
    return simulator.build(plant)


def table(drill: str) -> Table:
    """What stands on the page of a drill."""
    loaded = library.load_file(library.find(drill))
    return Table(_BOARDS, _machine(loaded.plants[0]), loaded.plants[0], loaded)


class Hand:
    """Presses, holds and types what can be seen and reached, by mouse or by keyboard alone."""

    def __init__(self, page: Page, keyboard: bool = False) -> None:
        self.page = page
        self.keyboard = keyboard
        page.evaluate(SIGHT)

    def reach(self, target: Locator, what: str) -> Locator:
        """The control, scrolled to; StoppedError unless a click at its middle would reach it."""
        # One question for all: to find a control by its name is the dear part of it.
        found = target.evaluate_all("(nodes) => nodes.length === 1 ? window.sight.barred(nodes[0]) : nodes.length")
        if isinstance(found, int):
            raise StoppedError(f"{what}: {'it is not on the page' if not found else f'{found} controls are so named'}")
        if found:
            raise StoppedError(f"{what}: {found}")
        return target

    def press(self, target: Locator, what: str) -> None:
        """Click it, or go to it by the tab key and press Enter."""
        self.reach(target, what)
        if self.keyboard:
            self._tab_to(target, what)
            self.page.keyboard.press("Enter")
        else:
            x, y = self._middle(target)
            self.page.mouse.click(x, y)

    def hold(self, target: Locator, what: str, until: Callable[[], object]) -> None:
        """Hold it down until ``until`` has returned."""
        self.reach(target, what)
        if self.keyboard:
            self._tab_to(target, what)
            self.page.keyboard.down(" ")
        else:
            self.page.mouse.move(*self._middle(target))
            self.page.mouse.down()
        try:
            until()
        finally:
            self.page.keyboard.up(" ") if self.keyboard else self.page.mouse.up()

    def type(self, target: Locator, text: str, what: str) -> None:
        """Replace what stands in a field."""
        self.reach(target, what)
        if self.keyboard:
            self._tab_to(target, what)
        else:
            self.page.mouse.click(*self._middle(target))
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)

    def choose(self, target: Locator, words: str, what: str) -> None:
        """Pick from a list by its words; a browser draws an open list outside the page, where no mouse follows."""
        self.reach(target, what)
        if not self.keyboard:
            # A run may end under the hand: what is gone then does not come back.
            target.select_option(label=words, timeout=GONE_MS)
            return
        options = [text.strip() for text in target.locator("option").all_text_contents()]
        if words not in options:
            raise StoppedError(f"{what}: {words!r} is not in the list")
        self._tab_to(target, what)
        self.page.keyboard.press("Home")
        for _ in range(options.index(words)):
            self.page.keyboard.press("ArrowDown")
        picked = target.evaluate("(list) => list.selectedOptions[0]?.textContent.trim()")
        if picked != words:
            raise StoppedError(f"{what}: the arrow keys chose {picked!r}, not {words!r}")

    def _middle(self, target: Locator) -> tuple[float, float]:
        box = target.bounding_box(timeout=GONE_MS)
        if box is None:
            raise StoppedError("a control went out of sight under the hand")
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def _tab_to(self, target: Locator, what: str) -> None:
        """Press the tab key, or both with shift, until the control has the focus."""
        for _ in range(12):
            presses = target.evaluate("(node) => window.sight.tabs(node)")
            if presses is None:
                raise StoppedError(f"{what}: the tab key does not come to it")
            for _ in range(abs(presses)):
                self.page.keyboard.press("Tab" if presses > 0 else "Shift+Tab")
            if target.evaluate("(node) => window.sight.focused() === node"):
                return
        raise StoppedError(f"{what}: the tab key does not come to it")


class AtThePage:
    """A desk on an open page in which the run of a drill has begun."""

    def __init__(self, hand: Hand, drill: str, by_picture: bool = False) -> None:
        self.hand, self.page = hand, hand.page
        self.by_picture = by_picture
        """Whether what is worked at the control unit is worked in its picture, not in the lists."""
        self.table = table(drill)
        self.alone = library.load_file(library.find(drill)).crew == "alone"
        self._at = "driller"
        self._pace = "1"
        self._time = 0.0
        self._slow = 0.0
        """How long, s by the watch, a look or a change of pace has taken of late."""
        self._heard: list[str] = []
        self.refusals: list[str] = []
        """What the page has said against an action so far."""
        self._glance: dict[str, Any] = {}
        self._look()

    # Reading

    def _look(self) -> dict[str, Any]:
        self._glance = self.page.evaluate("() => window.sight.glance()")
        told, refusal = self._glance["told"].strip(), self._glance["refusal"].strip()
        if refusal and (not self.refusals or self.refusals[-1] != refusal):
            self.refusals.append(refusal)
        # The briefing breaks its lines elsewhere than the message does.
        heard = {"".join(text.split()) for text in self._heard}
        for text in (self._glance["situation"], told):
            if text and "".join(text.split()) not in heard:
                self._heard.append(" ".join(text.split()))
                heard.add("".join(text.split()))
        return self._glance

    @property
    def time(self) -> float:
        clock = self._look()["clock"]
        if clock:
            parts = [int(part) for part in clock.split(":")]
            self._time = float(sum(part * 60**place for place, part in enumerate(reversed(parts))))
        return self._time

    @property
    def told(self) -> Sequence[str]:
        self._look()
        return self._heard

    @property
    def over(self) -> bool:
        return bool(self._look()["page"] == "sheet")

    def shown(self, tag: str) -> float:
        signal = self.table.signals.get(tag)
        if signal is None:
            raise UnseenError(f"there is no instrument {tag!r} on this plant")
        state = signal.unit == "state"

        def read() -> dict[str, Any]:
            return dict(self.page.evaluate("([tag, state]) => window.sight.read(tag, state)", [tag, state]))

        seen = read()
        if "at" in seen:
            what = f"{tag} ({seen['why'] or 'on no board'})"
            for view in self._open_to(self._views_of(seen["at"]), what, UnseenError):
                self.look_at(view)
                seen = read()
                if "covered by" in seen.get("why", "") and self._close_panel():
                    seen = read()
                if "at" in seen and view == "picture" and self._near_number(tag):
                    seen = read()
                if "at" not in seen:
                    break
        if "at" in seen:
            raise UnseenError(f"{tag} cannot be seen: {seen['why']}")
        if not state:
            return read_number(seen["text"])
        word = str(seen.get("state", seen.get("text", ""))).strip()
        if word not in signal.states:
            raise UnseenError(f"{tag} shows {word!r}, none of {', '.join(signal.states)}")
        return float(signal.states.index(word))

    def _close_panel(self) -> bool:
        """Close the panel that stands open over a board; whether there was one."""
        panel = self.page.locator(".settings:popover-open")
        if panel.count() != 1:
            return False
        self.hand.press(panel.get_by_role("button", name="Hide", exact=True), "Hide")
        return True

    def _near_number(self, tag: str) -> bool:
        """Bring near in the picture what bears a number too small to read from afar; whether it was not near."""
        board = self.page.locator('.board[data-name="picture"]')
        window, _, _ = board.evaluate(WINDOW_OF, [f'.piece [data-text="{tag}"]', None])
        if window:
            self.hand.press(board.get_by_role("button", name=called(window)), window)
        return bool(window)

    def _views_of(self, boards: Sequence[str]) -> list[str]:
        """The views on which boards stand, the plainer ones first; a strip stands below the driller's panel. Who works
        the unit in its picture turns to the lists of it last."""
        views = [board if board in _VIEW else "trends" if board == "alarms" else "driller" for board in boards]
        lists = VIEWS_AT["unit"][:2] if self.by_picture else ()
        return sorted(dict.fromkeys(views), key=lambda view: (view in lists, view in NOWHERE, list(_VIEW).index(view)))

    def _open_to(self, views: Sequence[str], what: str, error: type[AssertionError]) -> list[str]:
        """Those of these views that can be looked at from where the crew stands, the one in sight first."""
        can = [v for v in views if not self.alone or v in (*VIEWS_AT[place_of(self._at)], *NOWHERE)]
        if not can:
            raise error(f"{what} is not to be found where the crew stands ({self._at})")
        here = self._look()["view"]
        return sorted(can, key=lambda view: view != here)

    def look_at(self, view: str) -> None:
        """Choose a station's or a view's tab; at the unit its picture or its lists, whichever are asked for."""
        if self._look()["view"] == view:
            return
        self._tab(view)
        if view in VIEWS_AT["unit"] and self._look()["view"] not in (view, "walk"):
            board = self.page.locator('.board[data-name="picture"]')
            self.hand.press(board.get_by_role("button", name=called("Lists")), "Lists")
            self._await(lambda: self._look()["view"] in VIEWS_AT["unit"][:2], "the lists")
            self.look_at(view)

    def edges(self) -> dict[str, Locator]:
        """What every drill uses beside the stations: calls, readings, diagnosis, pace, finish."""
        page = self.page
        entry = page.get_by_role("form", name="Enter a reading")
        return {
            "Report": page.get_by_role("button", name=called("Report …")),
            "list of readings": entry.get_by_label("Reading", exact=True),
            "field for a reading": entry.get_by_label("Value"),
            "Enter": entry.get_by_role("button", name=called("Enter")),
            "Diagnosis": page.get_by_role("button", name=called("Diagnosis")),
            "pace": page.get_by_label("Pace of the run"),
            "Pause": page.get_by_role("button", name=re.compile(r"^\W*(Pause|Resume)\W*$")),
            "Finish": page.get_by_role("button", name=called("Finish")),
        }

    def _tab(self, view: str) -> None:
        if view in VIEWS_AT["unit"] and self._look()["unit"] == "picture":
            word, view = _VIEW["unit"], "picture"
        else:
            word = _VIEW[view]
        tabs = self.page.get_by_role("navigation", name="Stations and views")
        self.hand.press(tabs.get_by_role("button", name=called(word)), f"tab {word}")
        self._await(lambda: self._look()["view"] in (view, "walk"), f"the view {word}")

    # Acting

    def do(self, do: str, target: str, value: Any, at: str) -> str | None:
        self._run_at("1")
        before = len(self.refusals)
        try:
            if do == "say":
                self._say(target)
            elif do == "read":
                self._enter(target, value)
            elif do == "name":
                self._name(target)
            else:
                self._work(do, target, value, at)
        except (Error, StoppedError):
            # The run may end while a hand is on its way: what comes too late is not done.
            if not self.over:
                raise
        # A hand takes a moment from one control to the next; a refusal that comes later is kept in ``refusals``.
        self.page.wait_for_timeout(BETWEEN_MS)
        self._look()
        return self.refusals[-1] if len(self.refusals) > before else None

    def _say(self, statement: str) -> None:
        self.hand.press(self.page.get_by_role("button", name=called("Report …")), "Report")
        reports = self.page.get_by_role("dialog", name="Report", exact=True)
        self._await(reports.is_visible, "the reports")
        words = self.table.statements[statement]
        self.hand.press(reports.get_by_role("button", name=called(words)), f"report {words!r}")
        self._await(reports.is_hidden, "the report made")

    def _enter(self, reading: str, value: float | str) -> None:
        entry = self.page.get_by_role("form", name="Enter a reading")
        title = self.table.readings[reading]
        self.hand.choose(entry.get_by_label("Reading", exact=True), title, "list of readings")
        text = value if isinstance(value, str) else _digits(value)
        self.hand.type(entry.get_by_label("Value"), text, f"field for {title}")
        self.hand.press(entry.get_by_role("button", name=called("Enter")), "Enter")

    def _name(self, fault: str) -> None:
        found = self.table.fault(fault)
        if found is None:
            raise StoppedError(f"the fault {fault} is not in the catalogue of the Diagnosis panel")
        part, words = found
        self.hand.press(self.page.get_by_role("button", name=called("Diagnosis")), "Diagnosis")
        panel = self.page.get_by_role("dialog", name="Diagnosis")
        self._await(panel.is_visible, "the Diagnosis panel")
        self.hand.type(panel.get_by_role("textbox", name="Part"), part, "field Part")
        self.page.keyboard.press("Enter")
        wrong = panel.get_by_role("combobox", name="What is wrong with it")
        self._await(lambda: words in wrong.locator("option").all_text_contents(), f"the faults of {part}")
        self.hand.choose(wrong, words, "list of faults")
        self.hand.press(panel.get_by_role("button", name=called("Report fault")), "Report fault")
        self._await(panel.is_hidden, "the report")

    def locate(self, control: Control) -> Locator:
        """A control on its board, by its name; the panel in which it lies is opened, one that covers it is closed."""
        board = self.page.locator(f'.board[data-name="{control.board}"]')
        open_now = board.evaluate("(node) => node.querySelector('.settings:popover-open')?.id ?? ''")
        if open_now and open_now != control.within:
            self.page.keyboard.press("Escape")
        if control.within and open_now != control.within and board.is_visible():
            opens = board.locator(f"[popovertarget={control.within}]").first
            self.hand.press(opens, f"the button that opens {control.within}")
        return board.get_by_role("button", name=control.pattern)

    def control(self, do: str, target: str, value: Any, at: str) -> tuple[Control, Locator]:
        """The control for a command, in view and within reach; StoppedError where there is none."""
        what = f"{do} {target}{'' if value is None else f' {value}'} at {at}"
        ways = self.table.find(do, target, value, at)
        if not ways:
            raise StoppedError(f"{what}: no control gives it")
        drawn = [way for way in ways if way.board == "picture"]
        if self.by_picture and drawn:
            if not self._near(drawn[0], what):
                raise AlreadyThereError(what)
            ways = drawn
        for way in ways:
            found = self.locate(way)
            if found.count() == 1 and found.is_visible():
                return way, self.hand.reach(found, what)
        for view in self._open_to(self._views_of([way.board for way in ways]), what, StoppedError):
            self.look_at(view)
            for way in ways:
                found = self.locate(way)
                if found.count() == 1 and found.is_visible():
                    return way, self.hand.reach(found, what)
        raise StoppedError(f"{what}: {ways[0].name!r} is in no view")

    def _near(self, way: Control, what: str) -> bool:
        """Bring the part near in the picture by the button of its window, and lift the cover over it; False where there
        is nothing to turn."""
        self.look_at("picture")
        board = self.page.locator('.board[data-name="picture"]')
        if way.within:
            return True
        sent = {"do": way.do, "target": way.target, **({} if way.value is None else {"value": way.value})}
        window, cover, there = board.evaluate(WINDOW_OF, [".hand[data-send]", sent])
        if window is None:
            raise StoppedError(f"{what}: no window of the picture shows it")
        if there:
            return False
        if window:
            self.hand.press(board.get_by_role("button", name=called(window)), window)
        if cover:
            lid = board.get_by_role("button", name=called(cover))
            self._await(lid.is_visible, f"the picture near {cover}")
            self.hand.press(lid, cover)
        self._await(self.locate(way).is_visible, f"the picture near {way.name}")
        return True

    def _work(self, do: str, target: str, value: Any, at: str) -> None:
        try:
            way, found = self.control(do, target, value, at)
        except AlreadyThereError:
            return  # nobody turns a valve that stands so already
        what = f"{do} {target} {value}"
        match way.kind:
            case "press":
                self.hand.press(found, what)
            case "hold":
                seconds = float(value if value is not None else 1.0)
                # A step is given at once and then every quarter of a second.
                steps = max(1, round(seconds / 0.25)) if way.do in ("raise", "lower") and way.value is None else 1
                self.hand.hold(found, what, lambda: self.page.wait_for_timeout(250 * (steps - 1) + 80))
            case "field":
                form = found.locator("xpath=ancestor::form")
                self.hand.type(form.get_by_role("textbox"), _digits(value), f"field of {target}")
                self.hand.press(found, what)
            case kind:
                raise StoppedError(f"{what}: a {kind} is worked by hoist")

    def hoist(self, way: str, so: Callable[[], bool]) -> None:
        self._run_at("1")
        _, lever = self.control("set", "floor.hoist", way, "floor")
        last, since = math.nan, self.time

        def enough() -> bool:
            # Where the string rests, or the travel ends, the hook stands: holding on moves nothing.
            nonlocal last, since
            hook, now = self.shown("floor.hook"), self.time
            if hook != last:
                last, since = hook, now
            return so() or now - since > STANDS

        self.hand.hold(lever, "hoist's lever", lambda: self._await(enough, f"the end of hoisting {way}", LONGEST))

    def go(self, station: str) -> None:
        self._run_at("1")
        self._at = station
        self._tab(VIEWS_AT[place_of(station)][0])
        # Orders come on the way, too: at 20x a machine that stands still for six seconds costs two minutes of them. The
        # page tells how long the way still is: whoever hurries on it slows down before the end.
        way = self.page.evaluate("() => window.sight.read('page.walk_left', false)")
        end = self.time + (read_number(way["text"]) if "text" in way else 0.0)
        self._pass(lambda left: self._look()["view"] != "walk", end, 5.0)
        self._run_at("1")

    # Letting time pass

    def wait(self, seconds: float) -> None:
        if seconds <= 0.0:
            return
        if seconds < 2.0:
            # The page's clock tells whole seconds: a short wait is one by the watch.
            self.page.wait_for_timeout(1000.0 * seconds)
            return
        end = self.time + seconds
        self._pass(lambda left: left <= 0.0 or self.over, end, 20.0)
        self._run_at("1")

    def until(self, so: Callable[[], bool], limit: float, pace: float = 20.0) -> bool:
        end = self.time + limit
        done = [False]

        def enough(left: float) -> bool:
            if self._glance["page"] == "sheet":
                return True
            done[0] = so()
            return done[0] or left <= 0.0

        self._pass(enough, end, pace, hurry=False)
        self._run_at("1")
        return done[0] or (not self.over and so())

    def _pass(self, enough: Callable[[float], bool], end: float, pace: float, hurry: bool = True) -> None:
        """Let the clock run, as quickly as may be, until it is enough; ``hurry`` slows down as the end comes near."""
        last, since = -1.0, time.monotonic()
        while True:
            looked = time.monotonic()
            now = self.time
            if enough(end - now):
                return
            self._slow = max(time.monotonic() - looked, 0.97 * self._slow)
            if now != last:
                last, since = now, time.monotonic()
            elif time.monotonic() - since > LONGEST:
                raise StoppedError(f"the page's clock stands at {now:g} s")
            # The page may show what was some seconds of the watch ago: the end must be at least so far off.
            quickest = min(pace, (end - now) / LAG if hurry else BLIND / max(self._slow, 0.1))
            self._run_at(max((p for p in PACES if 1.0 <= float(p) <= max(1.0, quickest)), key=float))
            self.page.wait_for_timeout(POLL_MS)

    def _run_at(self, pace: str) -> None:
        if pace == self._pace or self._glance.get("page") == "sheet":
            return
        assert pace in PACES
        began = time.monotonic()
        try:
            self.hand.choose(self.page.get_by_label("Pace of the run"), f"{pace}×", "pace")
        except (Error, StoppedError):
            if not self.over:
                raise
        self._slow = max(self._slow, time.monotonic() - began)
        self._pace = pace

    def _await(self, so: Callable[[], bool], what: str, longest: float = PATIENCE) -> None:
        """Wait, by the watch, until the page shows it."""
        end = time.monotonic() + longest
        while not so():
            if time.monotonic() > end:
                raise StoppedError(f"waited in vain for {what}")
            self.page.wait_for_timeout(20)

    def finish(self) -> None:
        self.until(lambda: self.over, 90.0)
        end = self.page.get_by_role("button", name=re.compile("Finish|End now"))
        # It asks once more, and takes that back after some seconds.
        for _ in range(10):
            if self.over:
                break
            with suppress(Error, StoppedError):
                self.hand.press(end, "Finish")
            self.page.wait_for_timeout(300)
        self._await(lambda: self.over, "the score sheet")

    @property
    def sheet(self) -> dict[str, Any]:
        """Verdict, score and the criteria that lost points, read off the score sheet."""
        self.page.locator(".verdict").wait_for()
        rows = self.page.locator("[data-criterion]").evaluate_all(
            "(rows) => rows.map((row) => ({id: row.dataset.criterion, mark: row.className, says: row.innerText}))"
        )
        failures = self.page.locator("[data-critical]").all_inner_texts()
        return {
            "passed": self.page.locator(".verdict-word").inner_text() == "Passed",
            "score": float(self.page.locator(".verdict-score").inner_text().split()[0]),
            "verdict": self.page.locator(".verdict-why").inner_text(),
            "lost": {row["id"]: row["says"] for row in rows if "row-full" not in row["mark"]},
            "critical": failures,
        }


def _digits(value: float) -> str:
    return f"{float(value):.3f}".rstrip("0").rstrip(".")


def begin(
    page: Page, drill: str, seed: int = 0, mode: str = "practice", keyboard: bool = False, by_picture: bool = False
) -> AtThePage:
    """Choose a drill on the first page, read its briefing and let the clock run."""
    hand = Hand(page, keyboard)
    loaded = library.load_file(library.find(drill))
    name = subject(loaded, courses.shipped())
    group = page.locator(f".choose-section[data-group='{name}']")
    group.wait_for()
    if group.get_attribute("open") is None:
        hand.press(group.locator("summary").first, name)
    form = page.get_by_role("form", name=loaded.title, exact=True)
    hand.choose(
        form.get_by_label("Mode"), "Practice, with the coach" if mode == "practice" else "Check, without help", "mode"
    )
    hand.type(form.get_by_role("textbox"), str(seed), "seed")
    hand.press(form.get_by_role("button", name=called("Start")), "Start")
    begin_key = page.get_by_role("button", name=called("Begin"))
    begin_key.wait_for()
    desk = AtThePage(hand, drill, by_picture)
    hand.press(begin_key, "Begin")
    return desk


assert set(STATIONS) >= set(VIEWS_AT["driller"])
