"""How soon the take-away edition is ready, beside a plain start of the same Python in the same place.

The place is a browser where Playwright and one are at hand, else Node; where neither is, ``UnmeasuredError`` says so.
All starts are timed by the clock, since a browser's are spread over processes, and taken in turn with those they are
compared with. The shortest of several counts, as in ``speed.best``.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import tarfile
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from gzip import decompress
from pathlib import Path
from typing import Any

from trainer import resources
from trainer.bench.speed import Figure
from trainer.takeaway import quick
from trainer.takeaway.build import build
from trainer.takeaway.errors import SiteError
from trainer.takeaway.fetch import cache_folder, fetch
from trainer.takeaway.pins import RUNTIME
from trainer.takeaway.serve import server

TRIES = 3
COLD, KEPT = 0.8, 0.3
"""Most that a start from the network, and one from the browser's own store, may take of a plain ``loadPyodide``."""
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking")
PATIENCE_MS = 300_000.0

PLAIN = """<!doctype html><title>plain</title><script type="module">
import { loadPyodide } from "./pyodide.mjs"
await loadPyodide()
window.taken = performance.now()
</script>"""

UNDER_NODE = """
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
const [kind, script, runtime, site, env, memory, data, rest] = process.argv.slice(1);
const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
const { given, remembers, unpack } = await import(pathToFileURL(script));
const began = performance.now();
const options = { indexURL: `${runtime}/`, env: JSON.parse(env), stdLibURL: rest };
if (kind === "plain") await loadPyodide({ indexURL: `${runtime}/` });
else {
  const packed = readFileSync(data), python = await given(loadPyodide, options, readFileSync(memory));
  if (!await remembers(python, packed)) throw new Error("the memory was not taken up");
  unpack(python, packed, site);
  const desk = python.globals.get("desk");
  desk.open("{}");
  desk.handle('{"page": "hello", "theme": "light"}');
}
console.log(performance.now() - began);
process.exit(0);
"""


class UnmeasuredError(Exception):
    """Why the start could not be measured here, in one sentence: no Node, or a site that cannot be built."""


def figures() -> list[Figure]:
    """The starts of the offline edition, in seconds. Raises UnmeasuredError."""
    if shutil.which("node") is None:
        raise UnmeasuredError(
            "The start of the offline edition was not measured: its site is built with Node, not found."
        )
    with tempfile.TemporaryDirectory() as scratch:
        site, plain = Path(scratch, "site"), Path(scratch, "plain")
        try:
            build(site)
            _as_it_comes(plain)
        except SiteError as error:
            raise UnmeasuredError(f"The start of the offline edition was not measured: {error}") from error
        return _in_browser(site, plain) or _under_node(site, plain)


def _as_it_comes(folder: Path) -> None:
    """Pyodide as its makers ship it, with compressed copies by no one: a browser here takes it from this machine."""
    with tarfile.open(fetch(cache_folder(), [RUNTIME])[RUNTIME.name]) as archive:
        archive.extractall(folder, filter="data")
    (folder / "package" / "index.html").write_text(PLAIN, encoding="utf-8")


def _in_browser(site: Path, plain: Path) -> list[Figure]:
    """From a profile that was never here, and from one that has the edition; nothing without a browser to drive."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        return []
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        return []
    cold, kept, beside = [], [], []
    with (
        served(site) as ours,
        served(plain / "package") as theirs,
        sync_playwright() as play,
        play.chromium.launch(executable_path=found, args=FLAGS) as browser,
    ):
        for _ in range(TRIES):
            with browser.new_context() as new:
                beside.append(_taken(new, theirs, "window.taken"))
            with browser.new_context() as new:
                cold.append(_taken(new, ours, "trainerMarks.ready", "dataset.offline === 'ready'"))
                kept.append(_taken(new, ours, "trainerMarks.ready"))
    return _rows("in a browser", min(beside), (("from cold", min(cold), COLD), ("from its store", min(kept), KEPT)))


def _taken(context: Any, address: str, mark: str, then: str = "") -> float:
    """Seconds from asking for a page to its mark; `then` is what its root element is to say before it is closed."""
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(address)
    page.wait_for_function(f"typeof trainerMarks === 'undefined' ? window.taken : {mark}")
    taken = float(page.evaluate(mark)) / 1000.0
    if then:
        page.wait_for_function(f"document.documentElement.{then}")
    page.close()
    return taken


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address at which a folder is served meanwhile, by a thread of this process on a free port."""
    with server(folder, 0) as running:
        threading.Thread(target=running.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{running.server_address[1]}/"
        running.shutdown()


def _under_node(site: Path, plain: Path) -> list[Figure]:
    """From files at hand to the answer to the page's greeting."""
    files = {}
    for name in (quick.FILE, "data.zip", quick.REST):
        packed = next(site.glob(f"trainer-*/{name}.gz"), None)
        if packed is None:
            raise UnmeasuredError(
                "The start of the offline edition was not measured: this Pyodide gives no memory away."
            )
        files[name] = site / name
        files[name].write_bytes(decompress(packed.read_bytes()))
    runtime = next(site.glob("python-*"))
    for packed in runtime.glob("*.gz"):
        (runtime / packed.stem).write_bytes(decompress(packed.read_bytes()))

    def timed(kind: str, folder: Path) -> float:
        script = resources.assets() / "script" / "snapshot.js"
        given = [kind, script, folder, quick.SITE, json.dumps(quick.ENV), *files.values()]
        command = ["node", "--input-type=module", "--eval", UNDER_NODE, *map(str, given)]
        done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)
        if done.returncode:
            raise UnmeasuredError(f"The start of the offline edition under Node failed: {done.stderr.strip()[-500:]}")
        return float(done.stdout.splitlines()[-1]) / 1000.0

    beside, own = [], []
    for _ in range(TRIES):
        beside.append(timed("plain", plain / "package"))
        own.append(timed("memory", runtime))
    return _rows("under Node", min(beside), (("to its greeting", min(own), COLD),))


def _rows(where: str, plain: float, own: tuple[tuple[str, float, float], ...]) -> list[Figure]:
    return [
        Figure(f"offline edition ready {how}, {where}", took, "s", "a plain loadPyodide there", plain, most, False)
        for how, took, most in own
    ]
