"""Which engine made a run: the version, and a hash over every source file that can change a result."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Sequence
from pathlib import Path

from trainer.version import __version__

LAYERS = (
    *("constants.py", "naming.py", "units.py", "wording.py"),
    *("fluids", "hydraulics", "plant", "session", "drills", "simulator.py"),
)
"""What decides states and scores, relative to the package."""


def sources(package: Path, layers: Sequence[str] = LAYERS) -> list[Path]:
    """The engine's source files below ``package``, in the order of their names."""
    found: list[Path] = []
    for layer in layers:
        place = package / layer
        found += place.rglob("*.py") if place.is_dir() else [place] if place.is_file() else []
    return sorted(found, key=lambda path: path.relative_to(package).as_posix())


def hash_of(package: Path, layers: Sequence[str] = LAYERS) -> str:
    """SHA-256 over names and contents of the engine's source files below ``package``."""
    total = hashlib.sha256()
    for path in sources(package, layers):
        # A checkout with other line ends is the same engine.
        content = path.read_bytes().replace(b"\r\n", b"\n")
        name = path.relative_to(package).as_posix().encode()
        total.update(b"%d %s\n%d " % (len(name), name, len(content)) + content)
    return total.hexdigest()


@functools.cache
def engine_hash() -> str:
    """SHA-256 over the sources that decide states and scores, hexadecimal, of the engine that runs."""
    return hash_of(Path(__file__).resolve().parents[1])


def engine_version() -> str:
    """The version of the trainer that runs, as it stands in evidence: "major.minor.patch"."""
    return __version__
