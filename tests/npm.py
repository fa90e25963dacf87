"""Programs from the npm registry, kept in the cache folder."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from tests.waiting import alone
from trainer.takeaway.fetch import cache_folder


def installed(package: str, version: str) -> Path:
    """The folder in which npm has installed a package, fetched the first time; without npm the test is skipped."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("npm is not installed")
    folder = cache_folder() / f"{package}-{version}"
    folder.mkdir(parents=True, exist_ok=True)
    with alone(folder):
        # What npm writes last of all: an install that was broken off is begun again.
        if not (folder / "node_modules" / ".package-lock.json").is_file():
            options = ["--prefix", str(folder), "--ignore-scripts", "--no-audit", "--no-fund", "--silent"]
            subprocess.run([npm, "install", *options, f"{package}@{version}"], check=True, timeout=300)
    return folder
