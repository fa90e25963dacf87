"""Python's memory with the desk already open in it, taken when the site is built: the browser's quick start.

Pyodide can be started from the memory of another that ran before (``snapshot.js``). Compiled libraries in it do not
come back, so the desk in it stands on ``standin.py`` instead of pydantic. All of the trainer's modules are in it, and
the hash of the data that it belongs with: plants and drills, held against all rules when they were packed.
"""

from __future__ import annotations

import contextlib
import gzip
import hashlib
import json
import shutil
import subprocess
import tempfile
from pathlib import Path

from trainer import resources
from trainer.takeaway.bundle import modules
from trainer.takeaway.errors import SiteError

SITE = "/lib/python3.14/site-packages"
ENV = {"PYDANTIC_DISABLE_PLUGINS": "__all__", "HOME": "/home", "PYTHONHASHSEED": "0"}
"""The same in the browser: the environment is in the memory."""
FILE = "start.memory"
KEPT = 3
MOST = 31 * 1024 * 1024
"""A memory that outgrew what Python begins with, 30 MiB, does not come back."""

PROGRAM = """
import gc, importlib, json, sys
from trainer.takeaway import standin
sys.modules["pydantic"] = standin
for name in json.loads(argument)["modules"]:
    importlib.import_module(name)
from trainer.session.engine import engine_hash
from trainer.runtime import modules
from trainer.takeaway.desk import open_desk
engine_hash(), modules._laws()
open_desk().handle('{"page": "hello", "theme": "light"}')
data, desk = json.loads(argument)["data"], open_desk()
gc.collect()
"""


def memory(runtime: Path, code: bytes, data: bytes, cache: Path) -> bytes | None:
    """The memory for a runtime and the trainer's archives; None where it cannot be taken or would not come back.

    It is kept in the folder ``cache``: no two memories are alike, but the same site is to have the same one.
    """
    stamp = hashlib.sha256(f"{runtime} {PROGRAM} {ENV} {SITE}".encode())
    for archive in (code, data):
        stamp.update(hashlib.sha256(archive).digest())
    kept = cache / f"memory-{stamp.hexdigest()[:16]}.gz"
    if kept.is_file():
        with contextlib.suppress(OSError, EOFError):
            return gzip.decompress(kept.read_bytes())
    found = _taken(runtime, code, data)
    if found is not None:
        with tempfile.NamedTemporaryFile(dir=cache, delete=False) as fresh:
            fresh.write(gzip.compress(found, 1))
        Path(fresh.name).replace(kept)
        for old in sorted(cache.glob("memory-*.gz"), key=lambda path: path.stat().st_mtime)[:-KEPT]:
            old.unlink(missing_ok=True)
    return found


def _taken(runtime: Path, code: bytes, data: bytes) -> bytes | None:
    node = shutil.which("node")
    if node is None:
        raise SiteError("The node command is not installed. Install Node.js 20 or newer and run this again.")
    script = resources.assets() / "script" / "node-snapshot.mjs"
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
    return found if 0 < len(found) <= MOST else None
