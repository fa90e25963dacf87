"""One whole drill in Firefox, in both editions, by what is visible on the page; and launched by a learning system.

What the launched page reports goes, unchanged, to a record store of others (Ralph, from the Python registry), and is
asked of it again. That store keeps statements only, and into a folder only those of one request; so the launch itself,
and what a learning system keeps of a learner beside them, is answered here as cmi5 (Quartz, first edition, sections 8
and 10) says, and the session's statements are passed on when it has ended.
"""

from __future__ import annotations

import base64
import functools
import http.server
import json
import shutil
import subprocess
import threading
import urllib.request
import zipfile
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from tests import npm
from tests.browser.conftest import served
from tests.browser.visits import Host
from tests.records.store import SECRET, USER, RecordStore
from tests.takeaway.building import built_site
from tests.takeaway.test_cmi5 import LAUNCH, REGISTRATION, Store
from tests.waiting import alone
from trainer.takeaway.cmi5 import package

PUPPETEER = "24.43.1"
SCRIPT = Path(__file__).with_name("firefox.mjs")
FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox")
VARIATION = "1"

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(FIREFOX is None, reason="Firefox is not installed (apt-get install firefox-esr)"),
]


@pytest.fixture(scope="module")
def player() -> Path:
    """The script that plays, beside the driver that it imports."""
    folder = npm.installed("puppeteer-core", PUPPETEER)
    with alone(folder):
        return Path(shutil.copy(SCRIPT, folder))


def passes(player: Path, address: str) -> None:
    """The drill is played to its end, passes, and the page complains of nothing."""
    command = ["node", str(player), address, str(FIREFOX), VARIATION]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=900)
    assert done.returncode == 0, done.stdout + done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    assert told["browser"].startswith("firefox/"), told
    assert "Dead panelPassed" in told["sheet"], told["sheet"]
    assert told["complaints"] == []


def test_a_drill_in_the_offline_edition(player: Path) -> None:
    host = Host(built_site().out)
    try:
        passes(player, host.url)
    finally:
        host.stop()


def test_a_drill_in_the_classroom(player: Path) -> None:
    with served() as address:
        passes(player, address)


class LearningSystem(Store, http.server.SimpleHTTPRequestHandler):
    """Hands out the package's files, what a launch asks for, and the page to come back to."""

    def do_GET(self) -> None:
        """A file of the package, the page to come back to, or a state document."""
        if self.path.startswith("/xapi/"):
            super().do_GET()
        elif self.path == "/back":
            self._answer(200, "Back.")
        else:
            http.server.SimpleHTTPRequestHandler.do_GET(self)


def asked(store: RecordStore, query: str, body: bytes | None = None) -> Any:
    """What the store answers: to statements, their ids; to a query, the statements that it keeps."""
    key = base64.b64encode(f"{USER}:{SECRET}".encode()).decode()
    headers = {"Authorization": f"Basic {key}", "X-Experience-API-Version": "1.0.3", "Content-Type": "application/json"}
    address = f"http://127.0.0.1:{store.port}/xAPI/statements{query}"
    with urllib.request.urlopen(urllib.request.Request(address, body, headers), timeout=60) as answer:
        return json.load(answer)


def test_a_launched_check_is_recorded_whole_in_a_store_of_others(player: Path, tmp_path: Path) -> None:
    package(tmp_path / "course.zip")
    with zipfile.ZipFile(tmp_path / "course.zip") as archive:
        archive.extractall(tmp_path / "course")
    (tmp_path / "store").mkdir()
    store = RecordStore(tmp_path / "store")
    sent: list[dict[str, Any]] = []
    kind = type("System", (LearningSystem,), {"states": {}, "asked": [], "statements": sent})
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(kind, directory=tmp_path / "course"))
    base = f"http://127.0.0.1:{server.server_address[1]}"
    kind.states = {"LMS.LaunchData": {**LAUNCH, "returnURL": f"{base}/back"}}  # type: ignore[attr-defined]
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
    agent = {"objectType": "Agent", "account": {"homePage": "https://learn.invalid", "name": "4711"}}
    launch = {
        "drill": "dead-panel",
        "endpoint": f"{base}/xapi/",
        "fetch": f"{base}/fetch",
        "actor": json.dumps(agent),
        "registration": REGISTRATION,
        "activityId": "https://trainer.invalid/courses/quillback-find-faults/dead-panel",
    }
    try:
        passes(player, f"{base}/index.html?{urlencode(launch)}")
        assert asked(store, "", json.dumps(sent).encode()) == [one["id"] for one in sent]
        query = urlencode({"registration": REGISTRATION, "limit": 100})
        kept = {one["id"]: one for one in asked(store, f"?{query}")["statements"]}
    finally:
        server.shutdown()
        server.server_close()
        store.remove()
    assert kept.keys() == {one["id"] for one in sent}
    for one in sent:
        assert {name: kept[one["id"]][name] for name in one} == one, "kept as it was sent"
    said = [one["verb"]["id"].rpartition("/")[2] for one in sent]
    assert (said[0], said[-1]) == ("initialized", "terminated")
    assert [verb for verb in said if verb not in ("scored",)] == ["initialized", "completed", "passed", "terminated"]
    (passed,) = (one for one in kept.values() if one["verb"]["id"].endswith("/passed"))
    assert passed["result"]["success"] is True and passed["result"]["score"]["scaled"] >= LAUNCH["masteryScore"]
    assert said.count("scored") >= 3, "each learning point"
