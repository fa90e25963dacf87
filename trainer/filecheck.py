"""Validates files by what they hold: plants, drills, action files and evidence. For ``trainer check``."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from trainer import toml
from trainer.session import actions, evidence
from trainer.session.verify import broken_seal

MOST_FILES = 10_000
MOST_BYTES = 1_000_000
"""Size of a plant or drill file."""
_KINDS = {".toml": "plant or drill", ".json": "evidence", ".jsonl": "actions"}


@dataclass
class Report:
    """What was found in one file: its kind and every fault or hint, each with its place."""

    file: str
    kind: str
    faults: list[str] = field(default_factory=list)
    hints: list[str] = field(default_factory=list)
    """What could be better, in a file that is sound."""

    def good(self) -> list[str]:
        """Lines about a file without faults: that it has none, and what could be better."""
        if self.faults:
            return []
        told = [f"could be better: {hint}" for hint in self.hints]
        return [f"{self.file}: {line}" for line in (f"{self.kind}, no faults", *told)]

    def to_json(self) -> dict[str, object]:
        """The report as a row of ``trainer check --json``: file, kind, ok, faults and hints."""
        return {"file": self.file, "kind": self.kind, "ok": not self.faults, "faults": self.faults, "hints": self.hints}


Lessons = Callable[[Path], list[str]]
"""Everything wrong with a lesson file, as a classroom tells it."""


def _toml(path: Path, lessons: Lessons | None) -> Report:
    # Imported here: a check of evidence alone needs neither the plant's nor the drills' rooms.
    from trainer.simulator import check_drill, check_plant, check_rules, drill_hints

    if path.stat().st_size > MOST_BYTES:
        return Report(str(path), "TOML", [f"larger than {MOST_BYTES} bytes: neither a drill nor a plant is"])
    try:
        data = toml.loads(path.read_text(encoding="utf-8"))
    except ValueError as error:
        return Report(str(path), "TOML", [f"is not TOML: {error}"])
    # A drill has criteria and a plant has functions; a broken file may lack either, so several keys decide.
    drill_keys, plant_keys = (
        {"criterion", "purpose", "initial", "pass_mark"},
        {"function", "pump", "bank", "pod"},
    )
    # A lesson has steps as a course has, around a drill or a starting point.
    if "step" in data and {"drill", "start"} & data.keys() and not {"rig", "criterion", *plant_keys} & data.keys():
        faults = (
            ["is a lesson: trainer check, where a class is held, looks at it"] if lessons is None else lessons(path)
        )
        return Report(str(path), "lesson", faults)
    # A course has a purpose as a drill has, and a rig as a plant has; its steps are its own.
    if {"step", "rig"} & data.keys() and not {"criterion", "initial", "pass_mark", *plant_keys} & data.keys():
        return Report(str(path), "course", _course(path))
    if len(drill_keys & data.keys()) >= len(plant_keys & data.keys()) and drill_keys & data.keys():
        faults = check_drill(path)
        return Report(str(path), "drill", faults, [] if faults else drill_hints(path))
    if data.keys() and data.keys() <= {"rule", "graded"}:
        return Report(str(path), "rules", check_rules(path))
    if plant_keys & data.keys():
        return Report(str(path), "plant", check_plant(path))
    return Report(
        str(path),
        "TOML",
        [
            "is neither a drill (no [[criterion]]) nor a plant (no [[function]]); "
            "see scenarios/ and assets/plants/ for examples"
        ],
    )


def _course(path: Path) -> list[str]:
    """Everything wrong with a course file."""
    from trainer import resources
    from trainer.drills import library
    from trainer.learn import courses

    try:
        course = courses.load_course(path)
    except courses.CourseError as error:
        return error.problems
    beside = {file.stem for file in path.parent.glob("*.toml")} | {one.id for one in courses.shipped()}
    drills = {name: library.load_file(library.find(name)) for name in course.drills if name in library.every_file()}
    return courses.problems(course, drills, list(resources.plant_files()), beside)


def _evidence(path: Path) -> Report:
    report = Report(str(path), "evidence")
    try:
        broken = broken_seal(evidence.read(path))
    except evidence.EvidenceError as error:
        report.faults.append(str(error))
    else:
        if broken is not None:
            report.faults.append(f"seal: {broken}; trainer verify re-computes what can be trusted")
    return report


def _actions(path: Path) -> Report:
    try:
        actions.read(path)
    except actions.ActionFileError as error:
        # The path stands before each line already.
        return Report(str(path), "actions", [fault.removeprefix(f"{path}:").strip() for fault in error.faults])
    return Report(str(path), "actions")


def check_file(path: Path, lessons: Lessons | None = None) -> Report:
    """Validate one file, of the kind that its ending tells; the report holds every fault with its place.

    lessons: what looks at a lesson; without it a lesson is only told to be one.
    """
    kind = _KINDS.get(path.suffix)
    if kind is None:
        return Report(str(path), "unknown", [f"ends in none of {', '.join(_KINDS)}: nothing here to check"])
    try:
        with path.open("rb"):
            pass
    except OSError as error:
        return Report(str(path), kind, [f"cannot be read: {error.strerror or error}"])
    if path.suffix == ".toml":
        return _toml(path, lessons)
    return _evidence(path) if path.suffix == ".json" else _actions(path)


def _files(path: Path) -> list[Path]:
    if not path.is_dir():
        return [path]
    return sorted(found for found in path.rglob("*") if found.suffix in _KINDS and found.is_file())[:MOST_FILES]


def check_paths(paths: Iterable[Path], lessons: Lessons | None = None) -> list[Report]:
    """Validate files, and in folders all files of a known kind; one report each, in the order of names."""
    reports = []
    for path in paths:
        files = _files(path)
        if not files:
            reports.append(Report(str(path), "folder", [f"holds no file that ends in {', '.join(_KINDS)}"]))
        reports += [check_file(file, lessons) for file in files]
    return reports
