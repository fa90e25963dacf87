"""ESLint, pinned, over every script that runs in the browser."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

from tests import npm
from trainer import resources

ESLINT = "9.9.1"
CONFIG = Path(__file__).with_name("eslint.config.mjs")


def test_the_scripts_have_no_lint(tmp_path: Path) -> None:
    """No undeclared or unused name, no doubtful construct, in any of them."""
    scripts = sorted((resources.assets() / "script").glob("*.*js"))
    assert len(scripts) >= 5
    for script in scripts:
        # The service worker's list of files is filled in when a site is built.
        (tmp_path / script.name).write_text(
            re.sub(r"(?<== )@[A-Z]+@$", "{}", script.read_text("utf-8"), flags=re.M), "utf-8"
        )
    shutil.copy(CONFIG, tmp_path)
    linter = npm.installed("eslint", ESLINT) / "node_modules" / "eslint" / "bin" / "eslint.js"
    command = ["node", str(linter), "--max-warnings", "0", *(script.name for script in scripts)]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
