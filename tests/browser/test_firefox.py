"""One whole drill in Firefox, in both editions, by what is visible on the page."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.browser.conftest import served
from tests.browser.visits import Host
from tests.takeaway.building import built_site
from tests.waiting import alone
from trainer.takeaway.fetch import cache_folder

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
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("npm is not installed")
    folder = cache_folder() / f"puppeteer-core-{PUPPETEER}"
    folder.mkdir(parents=True, exist_ok=True)
    with alone(folder):
        if not (folder / "node_modules" / "puppeteer-core").is_dir():
            options = ["--prefix", str(folder), "--ignore-scripts", "--no-audit", "--no-fund", "--silent"]
            subprocess.run([npm, "install", *options, f"puppeteer-core@{PUPPETEER}"], check=True, timeout=300)
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
