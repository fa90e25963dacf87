"""The take-away edition in a real browser: start, offline, resume, update, damage, refusal, full store, speed.

Every page is watched: a request to any other origin fails the test that made it. Most tests visit as somebody does
who has been there before, with the profile of the module's first visit.
"""

from __future__ import annotations

import json
import re
import shutil
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from playwright.sync_api import Error, Page, Playwright

from tests.browser.visits import (
    DRILL,
    Host,
    at,
    browser,
    calm,
    clock,
    form,
    kept_offline,
    kill,
    memory,
    ready,
    start,
    stored,
    strain,
    until_gone,
    visit,
    worker_seconds,
)
from tests.chromium import THOROUGH, finish, in_the_long_form, until
from tests.takeaway.building import built_site
from trainer.planning import sheet_out
from trainer.session import evidence
from trainer.session.verify import verify
from trainer.simulator import rebuilder
from trainer.takeaway.build import build

OWN_DRILLS = Path(__file__).parents[1] / "takeaway" / "drills"
CLOSE_ANNULAR = """[data-send*='"upper_annular"'][data-send*="close"]"""

CLICK_TO_LAMP = """
async (clicks) => {
  function deep(el) {
    const within = el.shadowRoot ? [...el.shadowRoot.querySelectorAll("*")] : []
    return within.flatMap((inner) => [inner, ...deep(inner)])
  }
  const parts = [...document.querySelectorAll("*")].flatMap(deep).filter((el) => el.checkVisibility())
  const button = parts.find((el) => el.dataset.send?.includes("driller.lamp_test"))
  const lamp = parts.find((el) => el.dataset.state === "upper_annular.lamp_block")
  const turned = (value) => new Promise((resolve, reject) => {
    if (lamp.dataset.value === value) { resolve(); return }
    setTimeout(() => reject(new Error(`the lamp does not turn ${value}`)), 20000)
    new MutationObserver((_, watch) => {
      if (lamp.dataset.value === value) { watch.disconnect(); resolve() }
    }).observe(lamp, {attributes: true, attributeFilter: ["data-value"]})
  })
  const times = []
  for (let turn = 0; turn < clicks; turn += 1) {
    await turned("off")
    await new Promise((resolve) => setTimeout(resolve, 20 + 7 * (turn % 15)))
    const began = performance.now()
    button.click()
    await turned("on")
    times.push(performance.now() - began)
  }
  return times
}
"""


@dataclass
class Known:
    """A browser's profile after its first visit: the host, the profile's folder, and how that visit went."""

    host: Host
    profile: Path
    stages: list[str]


@pytest.fixture(scope="module")
def first_visit(play: Playwright, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Known]:
    """The first visit to the site, which leaves it kept for offline use."""
    profile = tmp_path_factory.mktemp("profile")
    host = Host(built_site().out)
    with browser(play, profile) as context:
        page = visit(context, host.url)
        stages = page.evaluate("Object.keys(trainerMarks)")
        kept_offline(page)
        calm(page)
    yield Known(host, profile, stages)
    host.stop()


@pytest.fixture
def known(first_visit: Known, tmp_path: Path) -> Iterator[Known]:
    """A profile of the test's own, as the first visit left it, and the host at its address."""
    profile = tmp_path / "profile"
    shutil.copytree(first_visit.profile, profile, symlinks=True)
    first_visit.host.start()
    yield replace(first_visit, profile=profile)
    first_visit.host.start()
    shutil.rmtree(profile, ignore_errors=True)


def test_first_visit_then_offline(play: Playwright, known: Known) -> None:
    """Starts from the browser's own store, the second time with the host gone."""
    assert known.stages == ["runtime", "engine", "drills", "page", "ready"]
    known.host.stop()
    with browser(play, known.profile) as context:
        for _ in range(2):
            page = visit(context, known.host.url)
            assert page.locator("form[data-page]").count() >= 1
            calm(page)
            page.close()


def test_the_first_page_answers_before_the_boards_are_drawn(play: Playwright, known: Known) -> None:
    """A press in the moment in which it is ready: what it asks for comes, on boards that were not there yet."""
    press = f"""new Promise((pressed) => new MutationObserver((_, watch) => {{
      if (document.documentElement.dataset.engine !== "ready") return
      watch.disconnect()
      const boards = Bokeh.documents.flatMap((one) => [...one._all_models.values()])
      const chooser = boards.find(({{data}}) => data?.name === "chooser")
      const root = Bokeh.index.find_one(chooser).shadow_el
      root.querySelector({json.dumps(f"{form(DRILL)} button[type=submit]")}).click()
      pressed(Boolean(boards.find(({{data}}) => data?.name === "driller")))
    }}).observe(document.documentElement, {{attributes: true}}))"""
    with browser(play, known.profile) as context:
        page = visit(context, known.host.url, wait=False)
        assert page.evaluate(press) is False, "the boards were drawn already"
        page.get_by_role("button", name="Begin").click()
        until(page, lambda: clock(page) != "0:00", "the clock runs")
        assert page.locator("[data-lamp], [data-state]").filter(visible=True).count() > 5
        calm(page)


@in_the_long_form
def test_how_soon_it_is_ready(play: Playwright, known: Known, tmp_path: Path) -> None:
    """From cold within 76 times, from the browser's own store within 38 times of a fixed piece of work.

    That is 5 s and 2.5 s on a machine that does the work in 66 ms, as the one does on which this was claimed.
    """

    def measured(profile: Path, visits: int) -> tuple[float, float]:
        before, taken = strain(), []
        with browser(play, profile) as context:
            for _ in range(visits):
                page = visit(context, known.host.url)
                taken.append(ready(page) / 1000.0)
                page.close()
        return min(taken), (before + strain()) / 2

    cold, kept = measured(tmp_path / "new", 1), measured(known.profile, 5)
    told = f"cold {cold[0]:.2f} s, {cold[0] / cold[1]:.0f} times; kept {kept[0]:.2f} s, {kept[0] / kept[1]:.0f} times"
    print(told)
    assert cold[0] <= 76 * cold[1], told
    assert kept[0] <= 38 * kept[1], told


def test_a_killed_page_resumes_at_the_same_tick(play: Playwright, known: Known) -> None:
    """A browser that dies in mid-drill comes back at its tick; its run is the same here."""
    shown = ""
    # What is left of a killed browser may raise when it is closed, or not.
    with suppress(Error), browser(play, known.profile) as context:
        page = visit(context, known.host.url)
        start(page)
        page.locator(CLOSE_ANNULAR).first.click()
        until(page, lambda: clock(page) >= "0:02" and "upper_annular" in stored(page)["run"], "the click is stored")
        shown = clock(page)
        kill(known.profile)
        until_gone(known.profile)
    assert shown, "the browser was to be killed in the midst of a run"
    for lock in known.profile.glob("Singleton*"):
        lock.unlink()
    with browser(play, known.profile) as context:
        page = context.new_page()
        page.goto(known.host.url + "manifest.webmanifest")
        tick = at(page)
        page.close()
        assert tick > 50

        page = visit(context, known.host.url)
        page.wait_for_function("document.documentElement.dataset.page === 'console'")
        assert at(page) == tick
        stood = f"0:{(tick + 25) // 50:02d}"
        until(page, lambda: clock(page) == stood, f"the clock stands at {stood}")
        assert stood >= shown
        log = json.loads(stored(page)["run"])["snapshot"]["log"]
        assert [(entry["do"], entry["target"], entry["value"]) for entry in log] == [("set", "upper_annular", "close")]
        page.get_by_role("button", name=re.compile("Resume")).click()
        until(page, lambda: at(page) > tick, "the run goes on")
        page.locator("[data-choose*=pace]").select_option("20")
        until(page, lambda: at(page) > 12 * 50, "a checkpoint is passed")
        finish(page)
        document = handed_over(page)
        page.get_by_role("button", name="Choose another drill").click()
        calm(page)
    verdict = verify(document, rebuilder())
    assert (verdict.states, verdict.score, verdict.seal) == (True, True, True), verdict.reason
    assert len(document.checkpoints) >= 2


def handed_over(page: Page) -> evidence.Evidence:
    """The evidence that the score sheet offers."""
    with page.expect_download() as coming:
        page.get_by_role("button", name=re.compile("evidence", re.I)).first.click()
    return evidence.parse(Path(coming.value.path()).read_text("utf-8"))


def test_a_file_of_ones_own_and_its_evidence(play: Playwright, known: Known, tmp_path: Path) -> None:
    """A faulty file is told what is wrong, a good one is kept, run, and its evidence verifies.

    The first file asks for a part of the site that no start needs; from then on all that goes without a network.
    """
    text = (OWN_DRILLS / "close-one.toml").read_text("utf-8")
    (tmp_path / "faulty").mkdir()
    (tmp_path / "faulty" / "close-one.toml").write_text(text.replace("points = 70", "points = 7000"), "utf-8")
    known.host.stop()
    with browser(play, known.profile) as context:
        page = visit(context, known.host.url)
        page.locator("[data-load]").set_input_files(tmp_path / "faulty" / "close-one.toml")
        page.get_by_text("Connect to the network, then hand the file in again").wait_for()
        page.get_by_role("button", name="Hide").click()
        known.host.start()
        page.locator("[data-load]").set_input_files(tmp_path / "faulty" / "close-one.toml")
        page.get_by_text("criterion[1].points: given 7000; input should be less than or equal to 1000").wait_for()
        page.locator("[data-load]").set_input_files(OWN_DRILLS / "close-one.toml")
        page.get_by_text("close-one.toml is in order").wait_for()
        page.close()
        known.host.stop()
        page = visit(context, known.host.url)
        start(page, "close-one")
        page.locator(CLOSE_ANNULAR).first.click()
        until(page, lambda: "upper_annular" in stored(page)["run"], "the click is stored")
        finish(page)
        document = handed_over(page)
        with page.expect_download() as coming:
            page.get_by_role("button", name="Download report").click()
        assert document.seal.whole in Path(coming.value.path()).read_text("utf-8")
        page.get_by_role("button", name="Choose another drill").click()
        page.get_by_role("button", name="Remove the file close-one.toml").click()
        page.get_by_text("close-one.toml was removed").wait_for()
        assert stored(page) == {}
        calm(page)
    verdict = verify(document, rebuilder([OWN_DRILLS / "close-one.toml"]))
    assert (verdict.states, verdict.score, verdict.seal) == (True, True, True), verdict.reason
    assert document.log[0].target == "upper_annular"


def test_a_newer_build_replaces_the_old_one_whole(play: Playwright, tmp_path: Path) -> None:
    """The old version stays whole until the person agrees, then every file comes from the new one."""
    first, out = built_site(), tmp_path / "site"
    shutil.copytree(first.out, out)
    host = Host(out)
    try:
        with browser(play, tmp_path / "profile") as context:
            page = visit(context, host.url)
            kept_offline(page)
            page.close()
            second = build(out, drills=OWN_DRILLS)
            assert second.version != first.version
            page = visit(context, host.url)
            assert page.locator(form(DRILL)).count() == 1
            notice = page.locator("#notice", has_text="newer version")
            notice.wait_for()
            box, below = notice.bounding_box(), page.locator(".choose").bounding_box()
            assert box and below and box["y"] + box["height"] <= below["y"], "the notice covers the page"
            notice.get_by_role("button", name="Hide").click()
            notice.wait_for(state="hidden")
            page.reload()
            ready(page)
            page.get_by_role("button", name="Reload now").click()
            page.wait_for_function(f"document.head.innerHTML.includes('{second.version}')")
            ready(page)
            assert page.locator(form("close-one")).count() == 1
            assert page.locator(form(DRILL)).count() == 0
            names = page.evaluate("performance.getEntriesByType('resource').map((entry) => entry.name)")
            assert not [name for name in names if first.version in name]
            assert page.evaluate("caches.keys()") == [f"trainer {second.version}"]
            calm(page)
    finally:
        host.stop()


def test_opened_from_disk_it_says_what_to_do(play: Playwright, tmp_path: Path) -> None:
    with browser(play, tmp_path) as context:
        page = context.new_page()
        page.goto((built_site().out / "index.html").as_uri())
        page.get_by_text("Then open http://127.0.0.1:8000/ in the browser").wait_for()
        assert page.locator(".waiting:visible, #start-bar:visible").count() == 0
        page.goto((built_site().out / "guide.html").as_uri())
        page.get_by_role("heading", name="Guide for the trainee").wait_for()


def test_the_planning_sheet_shows_the_figures_of_the_server(play: Playwright, known: Known) -> None:
    """Row by row as the command line and the classroom have them; only times are estimates where nothing runs."""
    with browser(play, known.profile) as context:
        page = context.new_page()
        page.goto(f"{known.host.url}sizing.html?plant=sandpiper")
        table = page.locator("#sheet table").first
        table.wait_for()
        assert page.inner_text("h1") == "Planning sheet of Sandpiper"
        with page.expect_download() as got:
            page.get_by_role("button", name="As CSV").click()
        here = got.value.path().read_text("utf-8").splitlines()
        text = page.inner_text("#sheet")
    there = sheet_out.table_csv(sheet_out.make("sandpiper", None, engine=False)).splitlines()
    assert [line for line in here if "Date" not in line] == [line for line in there if "Date" not in line]
    fluid = [row for row in sheet_out.figures(sheet_out.make("sandpiper", None), "field") if "Usable fluid" in row[0]]
    assert fluid
    for row in fluid:
        assert all(cell in text for cell in row), row


@pytest.mark.parametrize(
    "parts", [["data.zip.gz", "start.memory.gz", "worker.js", "panel.min.js"], ["pyodide.asm.wasm.gz"]]
)
def test_a_damaged_store_is_mended(parts: list[str], play: Playwright, known: Known) -> None:
    """Files altered in the browser's store are fetched again."""
    with browser(play, known.profile) as context:
        page = context.new_page()
        page.goto(known.host.url + "manifest.webmanifest")
        page.evaluate(
            """async (parts) => {
              const cache = await caches.open((await caches.keys())[0])
              for (const asked of await cache.keys()) {
                if (!parts.some((part) => asked.url.endsWith(part))) continue
                const kept = await cache.match(asked)
                await cache.put(asked, new Response("damaged", {headers: kept.headers}))
              }
            }""",
            parts,
        )
        page.close()
        page = visit(context, known.host.url, wait=False)
        page.wait_for_function("document.documentElement.dataset.engine === 'ready'")
        assert page.locator("form[data-page]").count() >= 1


def test_damage_that_no_start_meets_is_told_and_mended(play: Playwright, known: Known) -> None:
    """The store is held against its hashes after each start; without the network the damage stays, and is told too."""
    with browser(play, known.profile) as context:
        page = visit(context, known.host.url)
        damage = """async () => {
            const cache = await caches.open((await caches.keys())[0])
            for (const asked of await cache.keys()) {
              if (!asked.url.endsWith("start.memory.gz")) continue
              const kept = await cache.match(asked), bytes = new Uint8Array(await kept.arrayBuffer())
              bytes[bytes.length - 1] ^= 1
              await cache.put(asked, new Response(bytes, {headers: kept.headers}))
            }
        }"""
        page.evaluate(damage)
        context.new_cdp_session(page).send("Network.clearBrowserCache")
    known.host.stop()
    with browser(play, known.profile) as context:
        page = visit(context, known.host.url)
        page.locator("#notice", has_text="Connect to the network and reload.").wait_for()
        known.host.start()
        page.reload()
        page.locator("#notice", has_text="It was fetched again").wait_for()
        page.get_by_role("button", name="Reload now").click()
        ready(page)
        page.evaluate("navigator.serviceWorker.addEventListener('message', ({data}) => { window.told = data })")
        page.wait_for_function("window.told")
        assert page.evaluate("window.told") == {"mended": 0, "lost": 0}
        assert page.locator("#notice").is_hidden()
        calm(page)


def test_a_refused_store_is_told_and_the_drill_runs(play: Playwright, tmp_path: Path) -> None:
    """Without IndexedDB the page says what that means, and works."""
    out = tmp_path / "site"
    shutil.copytree(built_site().out, out)
    # The worker's own globals are out of reach of a page's script, so the refusal stands in the script served.
    (script,) = out.glob("trainer-*/worker.js")
    refuse = "IDBFactory.prototype.open = () => { throw new DOMException('no store here', 'SecurityError') }\n"
    script.write_text(refuse + script.read_text("utf-8"), "utf-8")
    script.with_name("worker.js.gz").unlink()
    host = Host(out)
    try:
        with browser(play, tmp_path / "profile") as context:
            page = visit(context, host.url)
            page.locator("#notice", has_text="does not store the run").wait_for()
            start(page)
            calm(page)
    finally:
        host.stop()


def test_a_full_store_is_told(play: Playwright, known: Known, tmp_path: Path) -> None:
    """Too little room for the site itself, then for the run: each is told in a sentence, and the drill runs on."""
    with browser(play, tmp_path) as context:
        page = context.new_page()
        devtools = context.new_cdp_session(page)
        limit = "Storage.overrideQuotaForOrigin"
        devtools.send(limit, {"origin": known.host.url, "quotaSize": 1_000_000})
        page.goto(known.host.url)
        ready(page)
        page.get_by_text("The trainer is not kept on this device").wait_for()
        page.get_by_role("button", name="Hide").click()
        start(page)
        if not THOROUGH:
            # The browser looks at its quota anew only every half minute.
            return
        devtools.send(limit, {"origin": known.host.url, "quotaSize": 1})
        page.locator(CLOSE_ANNULAR).first.click()
        page.get_by_text("does not store the run").wait_for()
        assert "QuotaExceeded" in page.inner_text("#notice")
        before = clock(page)
        until(page, lambda: clock(page) > before, "the run goes on")


def test_a_second_tab_is_told_that_it_does_not_keep(play: Playwright, known: Known) -> None:
    """Two tabs never write over each other's log."""
    with browser(play, known.profile) as context:
        first = visit(context, known.host.url)
        second = visit(context, known.host.url)
        second.locator("#notice", has_text="another tab").wait_for()
        assert first.locator("#notice").is_hidden()


@in_the_long_form
def test_click_to_changed_lamp(play: Playwright, known: Known) -> None:
    """From a click to the lamp changed on the page: in 95 of 100 at most 0.76 times a fixed piece of work.

    That is 50 ms on a machine that does the work in 66 ms, with the run going on.
    """
    clicks = 100
    with browser(play, known.profile) as context:
        page = visit(context, known.host.url)
        start(page)
        # A lamp test lasts two simulated seconds: at five times the pace a hundred of them take a minute.
        page.locator("[data-choose*=pace]").select_option("5")
        # A machine that others use too may be held up for a second: three tries.
        for _ in range(3):
            before = strain()
            ranked = sorted(page.evaluate(CLICK_TO_LAMP, clicks))
            slow, work = ranked[clicks * 95 // 100 - 1], 1000.0 * (before + strain()) / 2
            told = f"median {ranked[clicks // 2]:.1f} ms, 95 of 100 in {slow:.1f} ms, the work takes {work:.0f} ms"
            print(f"click to lamp: {told}")
            if slow <= 0.76 * work:
                break
        calm(page)
    assert slow <= 0.76 * work, told


SLOWER = 6
"""How many times slower a phone is taken to be, as browsers' own tools do."""


@in_the_long_form
def test_a_slow_device_keeps_pace(play: Playwright, known: Known) -> None:
    """At five times the pace, six times slower: the clock keeps up while a preventer closes, and so would the engine.

    Chromium slows the page, but not its worker: what the worker takes of a processor is counted six times instead.
    """
    with browser(play, known.profile) as context:
        page = visit(context, known.host.url)
        start(page)
        page.locator("[data-choose*=pace]").select_option("5")
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        kept, shares = [], []
        for _ in range(3):
            page.locator(CLOSE_ANNULAR).first.click()
            tick, spent, began = at(page), worker_seconds(known.profile), time.monotonic()
            page.wait_for_timeout(20_000)
            elapsed = time.monotonic() - began
            kept.append((at(page) - tick) / 50.0 / elapsed / 5.0)
            shares.append((worker_seconds(known.profile) - spent) / elapsed)
        calm(page)
    told = (
        f"kept {[round(one, 3) for one in kept]} of its pace; worker took {[round(one, 3) for one in shares]} of a core"
    )
    print(told)
    assert max(kept) >= 0.97, told
    assert min(shares) * SLOWER <= 0.8, told


def test_a_long_run_holds_no_more_memory(play: Playwright, known: Known) -> None:
    """Four simulated minutes (thirty in a thorough run) at twenty times the pace: memory grows by 10 % at most."""
    with browser(play, known.profile) as context:
        page = visit(context, known.host.url)
        page.locator('form[aria-label="Free practice"] button[type=submit]').click()
        page.wait_for_function("document.documentElement.dataset.page === 'console'")
        page.locator("[data-choose*=pace]").select_option("20")
        devtools = context.new_cdp_session(page)

        def held() -> float:
            devtools.send("HeapProfiler.collectGarbage")
            page.wait_for_timeout(500)
            return memory(known.profile)

        def reach(minute: float) -> None:
            # Each half minute is a wait of its own, so that a slow machine has all the time it needs.
            for tick in range(at(page), int(minute * 3000) + 1, 1500):
                until(page, lambda goal=tick: at(page) >= goal, f"tick {tick} is simulated")  # type: ignore[misc]
            until(page, lambda: at(page) >= minute * 3000, f"{minute} minutes are simulated")

        reach(5 if THOROUGH else 1.5)
        early = held()
        reach(30 if THOROUGH else 4)
        late = held()
        calm(page)
    print(f"memory early {early:.0f} MB, late {late:.0f} MB")
    assert late <= 1.1 * early
