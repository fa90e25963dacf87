"""The trainer's front door: plants, drills and sessions by name.

The command line, the pages, the browser edition and the tests all come in here::

    session = Session.start("kick-while-drilling", seed=3)
    session.submit({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"})
    session.advance(10.0)
    session.signals()["well.pit_gain"]
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Self

from trainer.drills import library
from trainer.drills.coach import Coach
from trainer.drills.hints import hints
from trainer.drills.prepare import figure_units
from trainer.drills.rules import read_rules
from trainer.drills.runner import Runner
from trainer.drills.schema import Drill, DrillError
from trainer.hydraulics.catalogue import Signal
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.refusal import Refusal
from trainer.plant import rig
from trainer.plant.shakedown import shakedown
from trainer.session import evidence
from trainer.session.commands import FREE, Command, Vocabulary
from trainer.session.crewing import CallRule, Crewing, Post
from trainer.session.protocols import FreePracticeReferee, Referee
from trainer.session.session import Identity, SessionCore, Snapshot, read_snapshot
from trainer.session.verify import Rebuild
from trainer.session.walking import Walking

MODES = ("check", "practice")
"""In practice mode a coach helps; in check mode nobody does. Both are scored alike."""

DEFAULT_PLANT = "quillback"


class ChoiceError(ValueError):
    """A mode, seed or combination of drill and plant that is not here, as one sentence for people."""


PlantError = rig.PlantError


def build(plant: str) -> Machine:
    """A freshly built plant by id, at its charged rest; PlantError when there is none or it is wrong."""
    return rig.build_machine(*rig.load_plant(plant))


def check_plant(path: Path) -> list[str]:
    """Everything wrong with a plant file, each with its key path; empty when it is sound. It is run for a minute."""
    try:
        return shakedown(rig.build_machine(*rig.read_plant(path)))
    except PlantError as error:
        return [line.removeprefix(f"{path.name}: ") for line in str(error).splitlines()]


def check_drill(path: Path) -> list[str]:
    """Everything wrong with a drill file on every plant that it names; empty when it is sound."""
    return [str(problem) for problem in library.check(path, build)]


def check_rules(path: Path) -> list[str]:
    """Everything wrong with a file of rules that drills include; empty when it is sound."""
    try:
        read_rules(path)
    except ValueError as error:
        return [str(error).removeprefix(f"{path.name}: ")]
    return []


def drill_hints(path: Path) -> list[str]:
    """What a sound drill file could say better; empty for one that is not sound."""
    try:
        return [str(hint) for hint in hints(library.load_file(path))]
    except DrillError:
        return []


def drill_list() -> list[dict[str, Any]]:
    """The shipped drills as ``trainer drills --json`` prints them: id, title, level, minutes, plants, learning."""
    return [
        {
            "id": drill.id,
            "title": drill.title,
            "level": drill.level,
            "minutes": drill.minutes,
            "plant": drill.plants[0],
            "plants": drill.plants,
            "learning": drill.learning,
        }
        for drill in library.all_drills().values()
    ]


def catalogue(plant: str | None = None) -> dict[str, Any]:
    """The document of ``trainer signals --json``: every reading and every command of a plant."""
    machine = build(plant or DEFAULT_PLANT)
    return {
        "plant": plant or DEFAULT_PLANT,
        "signals": [
            {
                "tag": signal.tag,
                "unit": signal.unit,
                "low": signal.low,
                "high": signal.high,
                "meaning": signal.meaning,
                "station": list(signal.station),
                "normal": None if signal.normal is None else list(signal.normal),
                "states": list(signal.states),
            }
            for signal in machine.signals.values()
        ],
        "commands": [
            {
                "do": operable.do,
                "target": operable.target,
                "values": None if operable.values is None else list(operable.values),
                "unit": operable.unit,
                "station": list(operable.station),
                "meaning": operable.meaning,
            }
            for operable in machine.operables.values()
        ],
    }


def vocabulary(drill: Drill) -> Vocabulary:
    """What can be said in a drill: its statements and its named readings."""
    return Vocabulary(
        tuple(statement.id for statement in drill.statement),
        {reading.id: reading.tag for reading in drill.reading if reading.tag},
        {reading.id: reading.unit for reading in drill.reading if reading.unit},
        {call.id: call.figure for call in drill.call if call.figure},
    )


def crew_of(drill: Drill, ways: Mapping[str, float], signals: Mapping[str, Signal]) -> Crewing:
    """The crew of a drill for several people; ``ways`` gives the seconds on foot from the driller's panel.

    signals: of the plant, whose instruments have the units of the figures that are called.
    """
    shown = figure_units(drill, signals)
    posts = [
        Post(one.id, one.title, tuple(one.at), tuple(one.only), tuple(one.without), one.walks) for one in drill.post
    ]
    calls = [CallRule(one.id, one.text, tuple(one.by), tuple(one.to), shown.get(one.id, "")) for one in drill.call]
    return Crewing(posts, calls, ways)


class Session(SessionCore):
    """A run of a drill on a plant, by name. In practice mode a ``coach`` looks on and never touches it."""

    machine: Machine
    coach: Coach | None = None

    @classmethod
    def start(cls, drill: str | Path | None, plant: str | None = None, seed: int = 0, mode: str = "check") -> Self:
        """Start a drill, given by id or as the path of a drill file; None is free practice.

        Without a ``plant`` the drill's first is taken. The seed picks the drill's variation. ChoiceError
        for what does not go together, DrillError or PlantError for a name or file that is wrong.
        """
        return cls._built(drill, plant, seed, mode).begin()

    @classmethod
    def fitted(cls, drill: str, plant: rig.Plant, seed: int = 0) -> Self:
        """Start a drill on a plant that need not be saved; DrillError when the plant lacks what the drill names."""
        path = library.find(drill)
        return cls._on(rig.build_machine(plant), plant.id, library.load_file(path), path, seed, "check").begin()

    @classmethod
    def restore(cls, snapshot: object) -> Self:
        """The session of which ``snapshot()`` was taken, at the same tick.

        SnapshotError when the data is no snapshot or was taken of another version of the plant or drill.
        """
        kept = read_snapshot(snapshot)
        fixed = kept.identity
        return cls._built(fixed.drill, fixed.plant, fixed.seed, fixed.mode).resume(kept)

    @classmethod
    def _built(cls, drill: str | Path | None, plant: str | None, seed: int, mode: str) -> Self:
        if mode not in MODES:
            raise ChoiceError(f"there is no mode {mode!r} (modes: {', '.join(MODES)})")
        if not 0 <= seed < 2**53:
            raise ChoiceError(f"there is no seed {seed}; give a whole number from 0 to 2^53 - 1")
        if drill is None:
            return cls._joined(plant or DEFAULT_PLANT, None, None, seed, mode)
        path = drill if isinstance(drill, Path) else library.find(drill)
        loaded = library.load_file(path)
        chosen = plant or loaded.plants[0]
        if not loaded.is_for(chosen) and not loaded.is_for(chosen, rig.load_plant(chosen)[0].base):
            raise ChoiceError(f"the drill {loaded.id!r} is not for {chosen!r} (its plants: {', '.join(loaded.plants)})")
        return cls._joined(chosen, loaded, path, seed, mode)

    @classmethod
    def _joined(cls, plant: str, drill: Drill | None, path: Path | None, seed: int, mode: str) -> Self:
        return cls._on(build(plant), plant, drill, path, seed, mode)

    @classmethod
    def _on(cls, machine: Machine, plant: str, drill: Drill | None, path: Path | None, seed: int, mode: str) -> Self:
        if drill is None or path is None:
            free = Identity(plant=plant, plant_hash=machine.plant_hash, seed=seed, mode=mode)
            return cls(machine, FreePracticeReferee(), free, FREE)
        identity = Identity(
            plant=plant,
            plant_hash=machine.plant_hash,
            drill=drill.id,
            drill_hash=library.file_hash(path),
            seed=seed,
            mode=mode,
        )
        referee: Referee = library.runner(path, machine, seed, plant)
        ways = drill.ways.model_dump() | machine.walks
        walking = Walking(ways) if drill.crew == "alone" else None
        crewing = crew_of(drill, ways, machine.signals) if drill.crew == "shared" else None
        return cls(machine, referee, identity, vocabulary(drill), walking, crewing)

    def begin(self) -> Self:
        """Set the drill up at t = 0 and return the session itself; in practice mode a coach looks on."""
        super().begin()
        return self._coached()

    def resume(self, snapshot: Snapshot) -> Self:
        """Take a snapshot back; the coach, if any, looks at it afresh."""
        super().resume(snapshot)
        return self._coached()

    def _coached(self) -> Self:
        # The coach leads one person; a crew has each other.
        if self.identity.mode == "practice" and self.crewing is None and isinstance(self.referee, Runner):
            self.coach = Coach(self.referee)
        return self

    def _carry_out(self, command: Command) -> Refusal | None:
        refusal = super()._carry_out(command)
        if self.coach is not None:
            self.coach.notice(self.time, command, refusal)
        return refusal

    def evidence(self, name: str = "", role: str = "", date: str = "") -> dict[str, Any]:
        """The evidence document of the run as it stands, unsigned, as plain JSON data."""
        return evidence.make(self, name=name, role=role, date=date).record()


def rebuilder(drill_files: Sequence[Path] = ()) -> Rebuild:
    """What ``trainer.session.verify.verify`` needs to play evidence again.

    Drills are looked up among the shipped ones, those that staff brought in, and among ``drill_files`` by the name of
    the file.
    """
    own = {path.stem: path for path in drill_files}

    def rebuild(identity: Identity) -> Session:
        drill = identity.drill
        # Evidence comes from strangers: its drill is a name to look up, never a path to open.
        known = library.every_file() | library.crewed() | own
        if drill is not None and drill not in known:
            raise LookupError(f"there is no drill {drill!r} here; give its file with --drill if it is one of your own")
        try:
            return Session.start(None if drill is None else known[drill], identity.plant, identity.seed, identity.mode)
        except DrillError as error:
            raise LookupError(f"the drill {drill!r} here does not fit: {error}") from error

    return rebuild
