"""Python's memory with the desk already open in it, taken when the site is built: the browser's quick start.

Pyodide can be started from the memory of another that ran before (``snapshot.js``). Compiled libraries in it do not
come back, so the desk in it stands on ``standin.py`` instead of pydantic. All of the trainer's modules are in it, and
the hash of the data that it belongs with: plants and drills, held against all rules when they were packed. Of Python's
library only what it has not read yet goes with it.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import shutil
import subprocess
import tempfile
import zipfile
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from trainer import resources
from trainer.takeaway.bundle import modules
from trainer.takeaway.errors import SiteError
from trainer.takeaway.prepare import LIBRARY

SITE = "/lib/python3.14/site-packages"
ENV = {"PYDANTIC_DISABLE_PLUGINS": "__all__", "HOME": "/home", "PYTHONHASHSEED": "0"}
"""The same in the browser: the environment is in the memory."""
FILE, REST = "start.memory", "rest.zip"
SCRIPTS = ("node-snapshot.mjs", "snapshot.js")
KEPT = 3
MOST = 64 * 1024 * 1024
"""bytes: what Python begins with, 30 MiB, and room to grow to twice of it; more would be too long on its way."""

PROGRAM = """
import gc, importlib, json, sys, typing
from trainer.takeaway import standin
sys.modules["pydantic"] = standin
sys.modules["typing_extensions"] = typing
for name in json.loads(argument)["modules"]:
    importlib.import_module(name)
from trainer.session.engine import engine_hash
from trainer.runtime import modules
from trainer.takeaway.browser_session import open_desk
engine_hash(), modules._laws()
open_desk().handle('{"page": "hello", "theme": "light"}')
data, desk = json.loads(argument)["data"], open_desk()
gc.collect()
# What was freed still lies there: zeros in its place pack to nothing.
for size in (1 << 12, 1 << 14, 1 << 17):
    room = [bytes(size) for _ in range((1 << 22) // size)]
    room = None
# Not importlib.invalidate_caches(), which imports importlib.metadata last and so reads the archive's directory again.
for finder in filter(None, sys.path_importer_cache.values()):
    finder.invalidate_caches()
json.dumps(sorted(sys.modules))
"""


@dataclass(frozen=True)
class Memory:
    """content: Python's memory. rest: archive of what it has not read of Python's library."""

    content: bytes
    rest: bytes


def memory(runtime: Path, code: bytes, data: bytes, cache: Path) -> Memory | None:
    """The memory for a runtime and the trainer's archives; None where it cannot be taken or would not come back.

    It is kept in the folder ``cache``: no two memories are alike, but the same site is to have the same one.
    """
    stamp = hashlib.sha256(f"{runtime} {PROGRAM} {ENV} {SITE}".encode())
    for name in SCRIPTS:
        stamp.update((resources.assets() / "script" / name).read_bytes())
    for archive in (code, data):
        stamp.update(hashlib.sha256(archive).digest())
    kept = cache / f"memory-{stamp.hexdigest()[:16]}.zip"
    if kept.is_file():
        with contextlib.suppress(OSError, EOFError, KeyError, zipfile.BadZipFile), zipfile.ZipFile(kept) as both:
            return Memory(both.read(FILE), both.read(REST))
    found = _taken(runtime, code, data)
    if found is not None:
        with (
            tempfile.NamedTemporaryFile(dir=cache, delete=False) as fresh,
            zipfile.ZipFile(fresh, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as both,
        ):
            both.writestr(FILE, found.content)
            both.writestr(REST, found.rest)
        Path(fresh.name).replace(kept)
        for old in sorted(cache.glob("memory-*.zip"), key=lambda path: path.stat().st_mtime)[:-KEPT]:
            old.unlink(missing_ok=True)
    return found


def rest_of(library: Path, read: Collection[str]) -> bytes:
    """The archive of a library without the modules that were ``read``."""
    out = io.BytesIO()
    with zipfile.ZipFile(library) as whole, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as rest:
        for entry in whole.infolist():
            name = entry.filename.removesuffix(".pyc").removesuffix("/__init__").replace("/", ".")
            if name not in read:
                rest.writestr(zipfile.ZipInfo(entry.filename, (1980, 1, 1, 0, 0, 0)), whole.read(entry))
    return out.getvalue()


def _taken(runtime: Path, code: bytes, data: bytes) -> Memory | None:
    node = shutil.which("node")
    if node is None:
        raise SiteError("The node command is not installed. Install Node.js 20 or newer and run this again.")
    script = resources.assets() / "script" / SCRIPTS[0]
    with tempfile.TemporaryDirectory() as scratch:
        archives = [Path(scratch, "code.zip"), Path(scratch, "data.zip")]
        for archive, content in zip(archives, (code, data), strict=True):
            archive.write_bytes(content)
        program, out = Path(scratch, "program.py"), Path(scratch, "memory")
        program.write_text(PROGRAM, encoding="utf-8")
        told = {"modules": [*modules()], "data": hashlib.sha256(data).hexdigest()}
        command = [node, script, runtime, SITE, json.dumps(ENV), program, out, *archives]
        done = subprocess.run(
            [str(part) for part in command],
            input=json.dumps(told),
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=600,
            check=False,
        )
        if done.returncode:
            raise SiteError(f"Python's memory for the quick start could not be taken: {done.stderr.strip()[-2000:]}")
        found = out.read_bytes() if out.is_file() else b""
    if not 0 < len(found) <= MOST:
        return None
    return Memory(found, rest_of(runtime / LIBRARY, json.loads(done.stdout)))
