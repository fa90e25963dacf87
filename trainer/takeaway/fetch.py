"""Brings the pinned files from the package registries once and keeps them in the user's cache folder.

The registries are reached through their ordinary clients, npm and pip, so that a company's mirror, proxy and
certificates, set up for those, hold here too. A file counts only when its hash is the pinned one.
"""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import platformdirs

from trainer.takeaway.errors import SiteError
from trainer.takeaway.pins import ABI, EVERYTHING, PLATFORM, PYTHON, Pin

PATIENCE_S = 300.0


def cache_folder() -> Path:
    """Folder that survives between builds; safe to delete, then the next build needs the network again."""
    return Path(platformdirs.user_cache_dir("bop-panel-trainer", appauthor=False)) / "takeaway"


def matches(path: Path, pin: Pin) -> bool:
    """Whether the file at path is there and carries the pinned hash."""
    if not path.is_file():
        return False
    name, _, wanted = pin.digest.partition(":")
    with path.open("rb") as file:
        return hashlib.file_digest(file, name).hexdigest() == wanted


def fetch(
    cache: Path, pins: Iterable[Pin] = EVERYTHING, say: Callable[[str], None] = lambda _: None
) -> dict[str, Path]:
    """Every pinned file by its package name, from the cache folder or, when it is not there, from the registry.

    A file in the cache that was damaged is fetched again. Raises SiteError with one message that names what is
    missing, what the client said, and the two ways to mend it.
    """
    cache.mkdir(parents=True, exist_ok=True)
    found: dict[str, Path] = {}
    for pin in pins:
        path = cache / pin.file
        if not matches(path, pin):
            say(f"fetching {pin.title}")
            _bring(pin, path)
        found[pin.name] = path
    return found


def _bring(pin: Pin, path: Path) -> None:
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        complaint = _download(pin, Path(folder))
        fresh = Path(folder) / pin.file
        if complaint:
            raise SiteError(
                f"{pin.title} is not in the cache and could not be fetched: {complaint} "
                f"Connect to the network and run this again (later builds do not need it), "
                f"or put the file {pin.file} into {path.parent}."
            )
        if not matches(fresh, pin):
            raise SiteError(
                f"{pin.title} arrived with other contents than the pinned ones ({pin.digest[:20]}…), so it is not "
                f"used. Ask the owner of the package mirror here, or put the right {pin.file} into {path.parent}."
            )
        fresh.replace(path)


def _download(pin: Pin, folder: Path) -> str:
    """Runs the client; an empty string, or one sentence on what went wrong."""
    if pin.kind == "npm":
        npm = shutil.which("npm")
        if npm is None:
            return "the npm command is not installed (it comes with Node.js)."
        options = ["--pack-destination", str(folder), "--ignore-scripts", "--fetch-retries=1", "--silent"]
        return _run([npm, "pack", f"{pin.name}@{pin.version}", *options], folder)
    target = ["--platform", PLATFORM, "--python-version", PYTHON, "--implementation", "cp", "--abi", ABI]
    options = ["--no-deps", "--only-binary=:all:", "--quiet", "--retries", "1", "--dest", str(folder)]
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check"]
    return _run([*pip, "download", *options, *target, f"{pin.name}=={pin.version}"], folder)


def _run(command: Sequence[str], folder: Path) -> str:
    name = "pip" if "pip" in command else "npm"
    try:
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=PATIENCE_S, check=False)
    except subprocess.TimeoutExpired:
        return f"{name} gave no answer within {PATIENCE_S:.0f} s."
    if done.returncode == 0:
        return ""
    lines = [line.strip() for line in (done.stderr + done.stdout).splitlines() if line.strip()]
    telling = [line for line in lines if "ERROR" in line or "code E" in line or "request to" in line]
    last = (telling or lines or [f"exit code {done.returncode}"])[-1]
    return f"{name} said “{last[:200].rstrip('.')}”."
