"""Runs Python code in the browser's Python runtime without a browser: under Node.

Used at build time, to compile modules for the runtime's own Python, and by the tests that compare it with CPython.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path

from trainer import resources
from trainer.takeaway.errors import SiteError


def run(
    runtime: Path, program: str, argument: str = "", mounts: Mapping[str, Path] | None = None, patience: float = 600.0
) -> str:
    """Output of a Python program in the runtime in the folder `runtime`.

    program: source text; it finds the text `argument` under that name. mounts: absolute path inside -> folder
    here, readable and writable. Raises SiteError when Node is missing or the program fails.
    """
    node = shutil.which("node")
    if node is None:
        raise SiteError("The node command is not installed. Install Node.js 20 or newer and run this again.")
    script = resources.assets() / "script" / "node-python.mjs"
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "program.py"
        file.write_text(program, encoding="utf-8")
        where = [f"{inside}={outside.resolve()}" for inside, outside in (mounts or {}).items()]
        command = [node, str(script), str(runtime.resolve()), str(file), *where]
        done = subprocess.run(
            command, input=argument, capture_output=True, text=True, encoding="utf-8", timeout=patience, check=False
        )
    if done.returncode:
        raise SiteError(f"The Python runtime for the browser failed under Node: {done.stderr.strip()[-2000:]}")
    return done.stdout
