"""What an ensemble is to compute: all of it plain data, so that it can be sent to another process or machine."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from trainer.drills import library
from trainer.drills.prepare import Prepared, prepare
from trainer.drills.schema import Drill, read_drill
from trainer.hydraulics.machine import Machine, file_hash
from trainer.planning.ensemble import operator, streams
from trainer.planning.ensemble.rests import give_own_rests
from trainer.planning.ensemble.tolerances import Tolerances
from trainer.planning.ensemble.tolerances import parse as spreads_of
from trainer.planning.ensemble.tolerances import read as read_spreads
from trainer.planning.errors import PlanningError
from trainer.plant.rig import build_machine, fit_out, load_plant, parse_plant, plant_path
from trainer.session import actions
from trainer.session.commands import Command
from trainer.simulator import Session, vocabulary
from trainer.version import __version__

TRACED = ("accumulator.pressure", "manifold_regulator.readback", "annular_regulator.readback", "well.pit_gain")


@dataclass(frozen=True)
class Order:
    """A drill over many plants.

    ``seed`` picks the drill's variation, ``plants_seed`` the plants. ``vary`` lets the variation differ from plant to
    plant as well. With ``waits`` each crew waits for its plant's own milestones: ``reached`` says when the script's run
    came to them, s, and ``shown`` what it saw where it entered a reading, SI.
    """

    drill: str
    drill_name: str
    plant: str
    plant_text: str
    tolerances: str
    tolerances_name: str
    commands: tuple[dict[str, object], ...]
    seed: int = 0
    plants_seed: int = 0
    vary: bool = False
    waits: bool = False
    reached: tuple[tuple[str, float], ...] = ()
    shown: tuple[float | None, ...] = ()
    traces: tuple[str, ...] = TRACED
    every: float = 2.0
    version: str = __version__

    def identity(self) -> str:
        """SHA-256 of all that the result depends on, hexadecimal: two orders with one give the same bits."""
        return hashlib.sha256(json.dumps(asdict(self), sort_keys=True).encode()).hexdigest()

    def machine(self) -> Machine:
        """The plant of the description, all alike before the draw, ready to keep what is drawn."""
        data = self.plant_text.encode()
        plant = parse_plant(data, self.plant)
        net = plant.network()
        give_own_rests(net)
        return fit_out(Machine(net, file_hash(data)), plant)

    def drill_seeds(self, numbers: Sequence[int]) -> list[int]:
        """The seed of the drill's variation on each of the plants ``numbers`` (in order, without gaps)."""
        return streams.seeds(self.seed, "drill", numbers) if self.vary else [self.seed for _ in numbers]

    def prepared(self, machine: Machine) -> Prepared:
        """The drill joined to the plant; DrillError where they do not fit together."""
        return prepare(read_drill(self.drill, self.drill_name), machine, self.drill_name)

    def spreads(self) -> Tolerances:
        """How the plants differ: the tolerances of the file that the order names."""
        return spreads_of(self.tolerances, self.tolerances_name)

    def script(self) -> list[Command]:
        """The commands of the crew that works each plant, in order of time."""
        return [Command.model_validate(record) for record in self.commands]

    def steps(self) -> tuple[operator.Step, ...]:
        """The same commands as a crew that waits for its plant keeps them in mind."""
        return operator.steps(self.script(), dict(self.reached), self.shown)


def drill_faults(drill: Drill) -> set[str]:
    """Ids of the faults that a drill may bring, whatever its variation."""
    named = [name for event in drill.event for name in (event.fault, event.clear) if name]
    named += [setting.fault for setting in drill.initial.faults]
    choices = {f"vary.{item.id}": item.one_of or [] for item in drill.vary}
    return {fault for name in named for fault in choices.get(name, [name])}


def make(
    drill: str,
    *,
    plant: str | None = None,
    actions_file: Path | None = None,
    spread: str = "usual",
    seed: int = 0,
    plants_seed: int = 0,
    vary: bool = False,
    waits: bool = False,
    traces: tuple[str, ...] = (),
) -> Order:
    """An order from what a person gives; every mistake raises the error of the module that reads it."""
    path = library.find(drill)
    loaded: Drill = library.load_file(path)
    chosen = plant or loaded.plants[0]
    declared, plant_hash = load_plant(chosen)
    if not loaded.is_for(chosen, declared.base):
        raise PlanningError(f"the drill {loaded.id!r} is not for {chosen!r} (its plants: {', '.join(loaded.plants)})")
    machine = build_machine(declared, plant_hash)
    commands = [] if actions_file is None else actions.read(actions_file, machine, vocabulary(loaded))
    text, name = read_spreads(spread)
    spreads_of(text, name)
    unknown = [tag for tag in traces if tag not in machine.signals]
    if unknown:
        raise PlanningError(f"the plant {chosen!r} has no signal {unknown[0]!r}; see trainer signals")
    reached, shown = operator.seen(Session.start(path, chosen, seed=seed), commands) if waits else ({}, [])
    wanted = traces or tuple(tag for tag in TRACED if tag in machine.signals)
    return Order(
        path.read_text(encoding="utf-8"),
        path.name,
        chosen,
        plant_path(chosen).read_text(encoding="utf-8"),
        text,
        name,
        tuple(command.record() for command in commands),
        seed,
        plants_seed,
        vary,
        waits,
        tuple(sorted(reached.items())),
        tuple(shown),
        wanted,
    )
