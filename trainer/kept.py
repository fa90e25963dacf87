"""Files that people bring in, one an id, with every earlier version kept beside them; written whole or not at all."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from pathlib import Path


def put(path: Path, text: str) -> None:
    """Write a text file whole, beside its place, and move it there: whoever reads meanwhile finds the old or the new.

    The folder is made where it is not there, for its owner only. OSError where the disk takes nothing; then the file
    stands as it was.
    """
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = path.with_name(f"{path.stem}.{secrets.token_hex(4)}.part")
    try:
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


@dataclass(frozen=True)
class KeptFiles:
    """TOML files of a folder: ``ID.toml``, and what stood there before as ``ID.1.toml``, ``ID.2.toml`` in ``aside``.

    An id is letters, digits and dashes: a file's name and nothing more. what: one of them in words, as messages say it.
    most: so many may stand at once. versions: so many of one id are kept.
    """

    folder: Path
    what: str
    most: int
    versions: int
    aside: str = "earlier"

    def standing(self) -> dict[str, Path]:
        """The files that hold, by id, in the order of the ids; empty where the folder is not there."""
        return {path.stem: path for path in sorted(self.folder.glob("*.toml"))}

    def earlier(self) -> dict[str, dict[int, Path]]:
        """The files laid aside, by id and number, from 1 on; those of removed ones too."""
        found: dict[str, dict[int, Path]] = {}
        for path in sorted((self.folder / self.aside).glob("*.toml")):
            name, _, number = path.stem.rpartition(".")
            if number.isdecimal():
                found.setdefault(name, {})[int(number)] = path
        return {name: dict(sorted(versions.items())) for name, versions in found.items()}

    def version(self, name: str) -> int:
        """The number of the version that holds, or of the next one where none does."""
        return max(self.earlier().get(name, {}), default=0) + 1

    def text(self, name: str, version: int | None = None) -> str | None:
        """The text that holds under an id, or that of a version; None where there is none."""
        path = self.standing().get(name)
        if version is not None and not (path and version == self.version(name)):
            path = self.earlier().get(name, {}).get(version)
        return path.read_text("utf-8") if path is not None else None

    def keep(self, name: str, text: str) -> int:
        """Let a text hold from now on and lay aside what held before; its number.

        ValueError where the same text holds already, or too many of them or of its versions are kept.
        """
        if text == self.text(name):
            raise ValueError(f"{name}.toml stands already, the same to the letter")
        if name not in (standing := self.standing()) and len(standing) >= self.most:
            raise ValueError(f"{self.most} {self.what}s are kept already; remove one first")
        self._lay_aside(name)
        put(self.folder / f"{name}.toml", text)
        return self.version(name)

    def remove(self, name: str) -> None:
        """Let nothing hold under an id; what held stays among the versions. ValueError where nothing does."""
        if name not in self.standing():
            raise ValueError(f"there is no such {self.what} of your own")
        self._lay_aside(name)

    def _lay_aside(self, name: str) -> None:
        path = self.folder / f"{name}.toml"
        if not path.is_file():
            return
        number = self.version(name)
        if number > self.versions:
            raise ValueError(f"{self.versions} versions of {name} are kept already; give the {self.what} another id")
        folder = self.folder / self.aside
        folder.mkdir(exist_ok=True, mode=0o700)
        path.replace(folder / f"{name}.{number}.toml")
