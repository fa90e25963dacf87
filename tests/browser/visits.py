"""Visits to the take-away edition: a web host, a browser with a profile that lasts, and what a page tells."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, Playwright

from tests.browser.conftest import unfold
from tests.chromium import FLAGS, patient, until
from trainer.takeaway.serve import server

DRILL = "kick-while-drilling"


class Host:
    """A web host for one folder that can go away and come back at the same address."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._running = server(folder, 0)
        self._serves = False
        self.port = self._running.server_address[1]
        self.start(self._running)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def start(self, running: object = None) -> None:
        """Serve; a host that serves already goes on."""
        if self._serves:
            return
        self._serves = True
        if running is None:
            self._running = server(self.folder, self.port)
        threading.Thread(target=self._running.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()

    def stop(self) -> None:
        if not self._serves:
            return
        self._serves = False
        self._running.shutdown()
        self._running.server_close()


@contextmanager
def browser(play: Playwright, profile: Path) -> Iterator[BrowserContext]:
    """A browser with a profile that lasts, as a person's does."""
    context = play.chromium.launch_persistent_context(
        profile,
        executable_path=shutil.which("chromium"),
        args=FLAGS,
        viewport={"width": 1280, "height": 800},
        accept_downloads=True,
    )
    try:
        yield patient(context)
    finally:
        context.close()


def visit(context: BrowserContext, url: str, *, wait: bool = True) -> Page:
    """Opens the site; the page carries what it asked of others and what went wrong in it."""
    page = context.new_page()
    page.strangers = []  # type: ignore[attr-defined]
    page.faults = []  # type: ignore[attr-defined]
    page.on(
        "request",
        lambda asked: None if asked.url.startswith((url, "blob:", "data:")) else page.strangers.append(asked.url),  # type: ignore[attr-defined]
    )
    page.on("pageerror", lambda fault: page.faults.append(str(fault)))  # type: ignore[attr-defined]
    page.goto(url)
    if wait:
        ready(page)
    return page


def ready(page: Page) -> float:
    """Waits until the engine runs; milliseconds since the page was asked for."""
    page.wait_for_function("['ready', 'failed'].includes(document.documentElement.dataset.engine)")
    assert page.evaluate("document.documentElement.dataset.engine") == "ready", page.inner_text("#start-stage")
    return float(page.evaluate("trainerMarks.ready"))


BUSY = """
import time
wall = time.perf_counter()
for _ in range(4_000_000):
    pass
print(time.perf_counter() - wall)
"""


def strain() -> float:
    """Seconds that a fixed piece of work takes on each core now, all at once: how slow and how busy the machine is.

    Claims about time are ratios to it, taken just before and after, and stand in the long form.
    """
    loops = [
        subprocess.Popen([sys.executable, "-I", "-c", BUSY], stdout=subprocess.PIPE, text=True)
        for _ in range(os.cpu_count() or 1)
    ]
    taken = [float(loop.communicate()[0]) for loop in loops]
    return sum(taken) / len(taken)


def kept_offline(page: Page) -> None:
    page.wait_for_function("document.documentElement.dataset.offline === 'ready'")


def form(drill: str) -> str:
    """Selects the form that starts a drill: its whole id, not a part of another's."""
    return f"""form[data-page*='"{drill}"']"""


def start(page: Page, drill: str = DRILL) -> None:
    """Starts a drill from the chooser and lets its clock run."""
    unfold(page)
    page.locator(f"{form(drill)} button[type=submit]").click()
    page.wait_for_function("document.documentElement.dataset.page === 'console'")
    page.get_by_role("button", name="Begin").click()
    until(page, lambda: clock(page) != "0:00", "the clock runs")


def clock(page: Page) -> str:
    return page.locator('[data-text="page.clock"]').first.inner_text()


def stored(page: Page) -> dict[str, str]:
    """The log as the browser keeps it."""
    told = page.evaluate(
        """() => new Promise((resolve, reject) => {
          const asked = indexedDB.open("trainer", 1)
          asked.onerror = () => reject(asked.error)
          asked.onsuccess = () => {
            const log = asked.result.transaction("log").objectStore("log"), out = {}
            log.openCursor().onsuccess = ({target}) => {
              const at = target.result
              if (at) { out[at.key] = at.value; at.continue() } else { asked.result.close(); resolve(out) }
            }
          }
        })"""
    )
    return dict(told)


def at(page: Page) -> int:
    """The tick last stored."""
    return int(json.loads(stored(page)["at"])["tick"])


def calm(page: Page) -> None:
    assert page.strangers == []  # type: ignore[attr-defined]
    assert page.faults == []  # type: ignore[attr-defined]


def processes(profile: Path) -> dict[int, list[str]]:
    """The processes of this profile's browser with their command lines, the browser itself first."""
    lines: dict[int, list[str]] = {}
    parents: dict[int, int] = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            lines[int(folder.name)] = (folder / "cmdline").read_bytes().decode().split("\0")
            parents[int(folder.name)] = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
        except (OSError, ValueError):
            continue
    found = [
        pid
        for pid, words in lines.items()
        if f"--user-data-dir={profile}" in words and not any(word.startswith("--type=") for word in words)
    ]
    for pid in found:
        found += [child for child, parent in parents.items() if parent == pid and child not in found]
    return {pid: lines[pid] for pid in found}


def kill(profile: Path) -> None:
    """Ends the browser of this profile as a power cut would."""
    os.kill(next(iter(processes(profile))), signal.SIGKILL)


def until_gone(profile: Path) -> None:
    """Waits until no process of this profile's browser is left."""
    while processes(profile):
        time.sleep(0.05)


def memory(profile: Path) -> float:
    """Megabytes that the pages of this profile's browser hold for themselves."""
    total = 0
    for pid, words in processes(profile).items():
        if "--type=renderer" in " ".join(words):
            told = Path(f"/proc/{pid}/smaps_rollup").read_text()
            total += sum(int(line.split()[1]) for line in told.splitlines() if line.startswith("Private_"))
    return total / 1000


def worker_seconds(profile: Path) -> float:
    """Processor seconds that the workers of this profile's pages have taken."""
    total = 0
    for pid in processes(profile):
        for told in Path(f"/proc/{pid}/task").glob("*/stat"):
            with suppress(OSError):
                name, _, rest = told.read_text().rpartition(")")
                if name.endswith("(DedicatedWorker"):
                    total += sum(map(int, rest.split()[11:13]))
    return total / os.sysconf("SC_CLK_TCK")
