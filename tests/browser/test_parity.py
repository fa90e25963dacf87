"""Every drill in a real browser's Python: the same states, to the bit, and the same score as here. The long form."""

from __future__ import annotations

import gzip
import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Playwright

from tests.browser.visits import Host, browser
from tests.chromium import in_the_long_form
from tests.takeaway import replay
from tests.takeaway.building import built_site
from tests.takeaway.test_parity import together
from trainer import resources
from trainer.drills import library
from trainer.takeaway.fetch import cache_folder
from trainer.takeaway.prepare import prepare
from trainer.takeaway.quick import SITE

PROGRAM = """
import sys
sys.path.insert(0, "/")
from trainer.runtime import by_browser
by_browser.offer()
import replay
replay.replay_all(argument)
"""

START = """
async (site) => {
  const { loadPyodide } = await import("/pyodide.mjs")
  const { unpack } = await import("/snapshot.js")
  window.python = await loadPyodide()
  for (const name of ["code", "data"]) unpack(python, await (await fetch(`/${name}.zip`)).arrayBuffer(), site)
  python.FS.writeFile("/replay.py", await (await fetch("/replay.py")).text())
}
"""

Run = Callable[[list[list[Any]]], list[dict[str, Any]]]


@pytest.fixture(scope="module")
def in_browser(play: Playwright, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Run]:
    """Runs ``replay`` in Chromium, once for each list of its arguments."""
    folder = tmp_path_factory.mktemp("parity")
    shutil.copytree(prepare(cache_folder()).runtime, folder, dirs_exist_ok=True)
    for name in ("code.zip", "data.zip"):
        (packed,) = built_site().out.glob(f"trainer-*/{name}.gz")
        (folder / name).write_bytes(gzip.decompress(packed.read_bytes()))
    shutil.copy(resources.assets() / "script" / "snapshot.js", folder)
    shutil.copy(Path(replay.__file__), folder)
    (folder / "index.html").write_text("<!doctype html><title>parity</title>", encoding="utf-8")
    host = Host(folder)
    with browser(play, tmp_path_factory.mktemp("profile")) as context:
        page = context.new_page()
        page.goto(host.url)
        page.evaluate(START, SITE)

        def run(calls: list[list[Any]]) -> list[dict[str, Any]]:
            said = page.evaluate(
                "([calls, program]) => { python.globals.set('argument', calls); return python.runPython(program) }",
                [json.dumps(calls), PROGRAM],
            )
            told: list[dict[str, Any]] = json.loads(said)
            return told

        yield run
    host.stop()


@in_the_long_form
@pytest.mark.parametrize("drill", [*library.all_drills()])
def test_every_drill_is_the_same_in_a_browser(in_browser: Run, drill: str) -> None:
    """Three seeds by the drill's first action file. What is computed here is held against plain Python elsewhere."""
    played = together(drill)
    for call, there in zip(played, in_browser(played), strict=True):
        here = replay.replay(*call)
        for key in ("chain", "end", "score", "passed", "refusals"):
            assert there[key] == here[key], (key, call[:2])
