"""Where the shipped data lies: beside the package in a working tree, inside it when installed as a wheel."""

from __future__ import annotations

from pathlib import Path


def _root() -> Path:
    here = Path(__file__).resolve().parent
    packaged = here / "_data"
    return packaged if packaged.is_dir() else here.parent


def assets() -> Path:
    """Folder with plants, tables, component texts, rule sets, style and browser script."""
    return _root() / "assets"


def scenarios() -> Path:
    """Folder with the shipped drills, one TOML file each."""
    return _root() / "scenarios"


def plants() -> Path:
    """Folder with the shipped plant files, one TOML file each."""
    return assets() / "plants"
