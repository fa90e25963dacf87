"""Drill and plant files of one's own in the browser edition: checked, laid where the trainer looks, kept as texts.

The worker's memory of files is gone with the page, so each file also stands in the browser's store, and is written
again when the page opens.
"""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Mapping
from pathlib import Path

from trainer import filecheck, resources
from trainer.console.own import OwnFile
from trainer.drills import library
from trainer.drills.schema import Drill, DrillError
from trainer.plant.rig import PlantError, parse_plant, read_plant

KEY = "~own/"
"""Keys of the store from this sign on are not the log's: a new run leaves them alone."""

MOST_FILES = 100
LARGEST = 1_000_000
_NAME = re.compile(r"[a-z][a-z0-9_-]{0,59}\.toml")


class OwnFiles:
    """The files in a folder of two rooms, ``drills`` and ``plants``; ``drills`` holds what is offered.

    The plants' room is made the one where the trainer looks for plants of one's own. shipped: ids of shipped drills.
    """

    def __init__(self, folder: Path, shipped: Collection[str]) -> None:
        self._rooms = {"drill": folder / "drills", "plant": folder / "plants"}
        self._desk = folder / "check"
        for room in (*self._rooms.values(), self._desk):
            room.mkdir(parents=True, exist_ok=True)
        os.environ[resources.OWN] = str(self._rooms["plant"])
        self._shipped = shipped
        self._listed: dict[str, OwnFile] = {}
        self.drills: dict[str, Drill] = {}
        self.hints: list[str] = []
        """What could be better in the file that was taken last."""

    @property
    def files(self) -> list[OwnFile]:
        """Every kept file, drills first, then plants, in the order of their names."""
        return sorted(self._listed.values(), key=lambda own: (own.kind, own.file))

    @property
    def drill_files(self) -> list[Path]:
        """The paths of the files of all drills of one's own, in the browser's own file system."""
        return [self._rooms["drill"] / f"{drill}.toml" for drill in self.drills]

    def path(self, drill: str) -> Path | None:
        """The file of a drill of one's own, or None for a shipped one."""
        return self._rooms["drill"] / f"{drill}.toml" if drill in self.drills else None

    def restore(self, kept: Mapping[str, str]) -> None:
        """Lays out the files that the store has; one that this version cannot read is listed with its faults."""
        for key, text in sorted(kept.items()):
            kind, _, file = key.removeprefix(KEY).partition("/")
            if key.startswith(KEY) and kind in self._rooms and _NAME.fullmatch(file):
                self._lay(kind, file, text)

    def take(self, file: str, text: str) -> tuple[list[str], dict[str, str | None]]:
        """Checks a file and keeps it when it is in order: its faults, and what to change in the store."""
        self.hints = []
        file = file.replace("\\", "/").rpartition("/")[2][:100]
        if fault := self._refused(file, text):
            return [fault], {}
        trial = self._desk / file
        trial.write_text(text, encoding="utf-8")
        found = filecheck.check_file(trial)
        trial.unlink()
        if not found.faults and found.kind == "plant" and (called := parse_plant(text.encode(), file).id) != file[:-5]:
            found.faults.append(f"id: {called!r} is not the file's name; call the file {called}.toml")
        if found.faults:
            return found.faults, {}
        self.hints = found.hints
        gone = self.drop(file)
        self._lay(found.kind, file, text)
        return [], {**gone, f"{KEY}{found.kind}/{file}": text}

    def drop(self, file: str) -> dict[str, str | None]:
        """Forgets a file; gives what to change in the store, None for a key that goes."""
        own = self._listed.pop(file, None)
        if own is None:
            return {}
        (self._rooms[own.kind] / file).unlink(missing_ok=True)
        self.drills.pop(own.id, None)
        return {f"{KEY}{own.kind}/{file}": None}

    def _refused(self, file: str, text: str) -> str:
        if not file.endswith(".toml"):
            return "does not end in .toml; only drills and plants are taken in here"
        if not _NAME.fullmatch(file):
            return (
                "the file's name is the drill's or plant's id and .toml: small letters, digits and dashes, such as "
                "my-drill.toml; rename the file"
            )
        if len(text) > LARGEST:
            return "is larger than 1 MB, far too large for a drill or a plant"
        if len(self._listed) >= MOST_FILES and file not in self._listed:
            return f"{MOST_FILES} files are kept already; take one away first"
        return self._taken(file)

    def _taken(self, file: str) -> str:
        name = file.removesuffix(".toml")
        if name in self._shipped or (resources.plants() / file).is_file():
            return f"{name!r} is the name of a shipped drill or plant; give yours an id and a file name of its own"
        return ""

    def _lay(self, kind: str, file: str, text: str) -> None:
        path = self._rooms[kind] / file
        path.write_text(text, encoding="utf-8")
        title, base, faults = file, "", [fault] if (fault := self._taken(file)) else []
        try:
            if kind == "plant":
                plant = read_plant(path)[0]
                title, base = plant.title, plant.base
            elif not faults:
                drill = library.load_file(path)
                self.drills[drill.id] = drill
                title = drill.title
        except (DrillError, PlantError) as error:
            faults += str(error).splitlines()
        self._listed[file] = OwnFile(file, kind, title, base, tuple(faults))
