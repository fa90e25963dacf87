"""Where the shipped data lies: beside the package in a working tree, inside it when installed as a wheel."""

from __future__ import annotations

import os
from pathlib import Path

OWN = "TRAINER_PLANTS"
"""Environment variable that names the folder with plant files of one's own."""


def _root() -> Path:
    here = Path(__file__).resolve().parent
    packaged = here / "_data"
    return packaged if packaged.is_dir() else here.parent


def assets() -> Path:
    """Folder with plants, tables, component texts, rule sets, style and browser script."""
    return _root() / "assets"


def scenarios() -> Path:
    """The folder with the shipped drills, one TOML file each, in the tree or in the installed package."""
    return _root() / "scenarios"


def modules() -> Path:
    """Folder with the shipped plants as WebAssembly, made when the trainer is packed; not in a working tree."""
    return _root() / "modules"


def plants() -> Path:
    """The folder with the shipped plant files, one TOML file each, in the tree or in the installed package."""
    return assets() / "plants"


def own_plants() -> Path:
    """Folder with plant files fitted to one's own rigs; it need not be there."""
    named = os.environ.get(OWN, "")
    return Path(named) if named else _own() / "plants"


def own_drills() -> Path:
    """Folder with drill files that staff brought in; it need not be there."""
    return _own() / "drills"


def own_courses() -> Path:
    """Folder with course files of an instructor's own; it need not be there."""
    return _own() / "courses"


def lessons() -> Path:
    """The folder with the shipped lessons, one TOML file each, in the tree or in the installed package."""
    return scenarios() / "lessons"


def own_lessons() -> Path:
    """Folder with lesson files of a class's own and their versions; it need not be there."""
    return _own() / "lessons"


def _own() -> Path:
    data = os.environ.get("TRAINER_DATA", "")
    return Path(data) if data else Path.home() / "bop-panel-trainer"


def plant_files() -> dict[str, Path]:
    """Every plant file by its id, the file's name: the shipped ones, and one's own that do not take their names."""
    own = sorted(own_plants().glob("*.toml"))
    return {path.stem: path for path in [*own, *sorted(plants().glob("*.toml"))]}
