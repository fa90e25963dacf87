"""The shelf of drills: lists and loads the files in ``scenarios/``, or any drill file by its path."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path

from trainer import resources
from trainer.drills import sense
from trainer.drills.expressions import Catalogue, nearest
from trainer.drills.filled import included
from trainer.drills.prepare import Prepared, prepare
from trainer.drills.rules import graded, rules
from trainer.drills.runner import Runner
from trainer.drills.schema import LARGEST_FILE, Drill, DrillError, Problem, read_drill

GUIDED = "guided"
"""The folder of the guided runs beside the shipped drills."""
CREWS = "crews"
"""The folder of the drills for several people beside the shipped drills."""


def files(folder: Path | None = None) -> list[Path]:
    """The drill files of a folder, in the order of their names; the shipped ones if none is given."""
    return sorted((folder or resources.scenarios()).glob("*.toml"))


def every_file() -> dict[str, Path]:
    """The shipped drill files by id, and those that staff brought in that do not take their names."""
    return {path.stem: path for path in [*files(resources.own_drills()), *files()]}


def guided() -> dict[str, Path]:
    """The shipped guided runs by id: drill files played with the coach, without a score, and on no list."""
    return {path.stem: path for path in files(resources.scenarios() / GUIDED)}


def crewed() -> dict[str, Path]:
    """The shipped drills for several people by id: they stand on a list of their own, and a classroom runs them."""
    return {path.stem: path for path in files(resources.scenarios() / CREWS)}


def load_file(path: Path) -> Drill:
    """A drill from its file; ``DrillError`` lists every fault of form, and says so when it cannot be read."""
    try:
        if path.stat().st_size > 4 * LARGEST_FILE:
            raise DrillError(path.name, [Problem("", "far too large for a drill file.")])
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise DrillError(path.name, [Problem("", f"cannot be read: {error.strerror or error}.")]) from None
    except UnicodeDecodeError:
        raise DrillError(path.name, [Problem("", "is not UTF-8 text.")]) from None
    drill = read_drill(text, path.name)
    if path.stem != drill.id:
        problem = Problem("id", f"{drill.id!r} is not the file's name; call the file {drill.id}.toml.")
        raise DrillError(path.name, [problem])
    return drill


def all_drills(folder: Path | None = None) -> dict[str, Drill]:
    """Every drill of a folder (None: the shipped ones) by id, in their order; DrillError for a file that is wrong."""
    return {path.stem: load_file(path) for path in files(folder)}


def find(name: str, folder: Path | None = None) -> Path:
    """The file of a drill given by id or by path; ``DrillError`` names the nearest ids."""
    known = every_file() if folder is None else {path.stem: path for path in files(folder)}
    if name in known:
        return known[name]
    if folder is None and name in (apart := guided() | crewed()):
        return apart[name]
    if name.endswith(".toml") and Path(name).is_file():
        return Path(name)
    raise DrillError(name, [Problem("", f"there is no such drill; {nearest(name, known)}")])


def file_hash(path: Path) -> str:
    """SHA-256 of a drill file's bytes and of the rules that it includes, hexadecimal."""
    taken = hashlib.sha256(path.read_bytes())
    known, drill = {**rules(), **graded()}, load_file(path)
    for name in (*included(drill), *drill.graded):
        taken.update(known[name].model_dump_json().encode() if name in known else b"")
    return taken.hexdigest()


def runner(path: Path, catalogue: Catalogue, seed: int = 0, plant: str = "") -> Runner:
    """The referee for a drill file on a plant with this catalogue; DrillError when the file does not fit it."""
    return Runner(prepare(load_file(path), catalogue, path.name), seed, plant)


def check(path: Path, catalogue_of: Callable[[str], Catalogue]) -> Sequence[Problem]:
    """Everything wrong with a drill file on every plant it names; empty when it is sound.

    ``catalogue_of`` gives a plant's catalogue by id and raises ``LookupError`` or ``ValueError`` for none.
    """
    try:
        drill = load_file(path)
    except DrillError as error:
        return error.problems
    problems: list[Problem] = []
    for n, plant in enumerate(drill.plants, 1):
        try:
            catalogue = catalogue_of(plant)
        except (LookupError, ValueError) as error:
            problems.append(Problem(f"plants[{n}]", str(error)))
            continue
        try:
            found: Sequence[Problem] = sense.problems(prepare(drill, catalogue))
        except DrillError as error:
            found = error.problems
        problems += [p for p in found if p not in problems]
    return problems


def prepared(path: Path, catalogue: Catalogue) -> Prepared:
    """A drill file with its conditions compiled for a plant's catalogue; DrillError when the file does not fit it."""
    return prepare(load_file(path), catalogue, path.name)
