"""Which drills a plant suits: those that it has the parts for, once their good crews have passed on it."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from trainer.drills import library
from trainer.drills.prepare import prepare
from trainer.drills.schema import Drill, DrillError
from trainer.hydraulics.machine import Machine
from trainer.planning.errors import PlanningError
from trainer.planning.rehearsal import beside, by_choke, rehearse
from trainer.plant.rig import Plant, base_of, build_machine

MOST_REASONS = 4
TABLES = {"diverter": "Diverter", "test": "Test unit", "eds": "Disconnect sequence"}
"""What a rig may be without, by what its readings begin with."""
BY_ROTE = (
    "Its reference run repeats the choke positions that held the pressure on the base rig's well, which another well "
    "need not have. Run it by hand: this does not show that your rig cannot do it."
)
Outcome = Literal["suits", "does not suit", "not tried yet"]


@dataclass(frozen=True, slots=True)
class Suits:
    """A drill held against a plant: ``outcome``, and ``why`` it does not suit, a sentence a step."""

    drill: str
    title: str
    outcome: Outcome
    why: tuple[str, ...] = ()

    def record(self) -> dict[str, object]:
        """Plain data for JSON: the drill by id and title, the outcome, and why it does not suit."""
        return {"id": self.drill, "title": self.title, "outcome": self.outcome, "why": list(self.why)}


def suited(machine: Machine, plant: str, base: str = "") -> list[Suits]:
    """Every drill, not tried yet or with what the plant lacks for it: its base, or parts that the drill names."""
    found, before = [], base_of(base)
    for name, drill in library.all_drills().items():
        why: list[str] = []
        if not drill.is_for(plant, base):
            why.append(f"it is written for {', '.join(drill.plants)}")
        else:
            try:
                prepare(drill, machine, f"{name}.toml")
            except DrillError as error:
                lost = _taken_out(drill, machine, before)
                if lost:
                    why = [f"this rig has not what the drill works with: {', '.join(lost)}"]
                else:
                    why = [str(problem) for problem in error.problems][:MOST_REASONS]
                if not lost and len(error.problems) > MOST_REASONS:
                    why.append(f"and {len(error.problems) - MOST_REASONS} more")
        found.append(Suits(name, drill.title, "does not suit" if why else "not tried yet", tuple(why)))
    # First those that may suit, by title.
    return sorted(found, key=lambda row: (row.outcome == "does not suit", row.title.casefold()))


def _taken_out(drill: Drill, machine: Machine, base: Plant | None) -> list[str]:
    """Parts and tables of the base, by title, that the drill names and this rig no longer has."""
    if base is None:
        return []
    here = {name.partition(".")[0] for name in machine.signals}
    text = drill.model_dump_json()
    words, owners = set(re.findall(r"\w+", text)), set(re.findall(r"\b(\w+)\.\w", text))
    return [
        *(title for name, title in TABLES.items() if name not in here and name in owners),
        *(part.name for name, part in base.parts.items() if name not in here and name in words),
    ]


def unfit(plant: Plant) -> dict[str, str]:
    """Drills of the plant's base that cannot start on it, with the titles of what it lacks; it builds no machine."""
    base = base_of(plant.base)
    if base is None:
        return {}
    here = set(plant.parts) | {table for table in ("diverter", "test") if getattr(plant, table) is not None}
    gone = {name: part.name for name, part in base.parts.items()}
    gone |= {table: TABLES[table] for table in ("diverter", "test") if getattr(base, table) is not None}
    gone = {name: title for name, title in gone.items() if name not in here}
    found = {}
    for drill, declared in library.all_drills().items() if gone else ():
        if declared.is_for(plant.id, plant.base):
            text = declared.model_dump_json()
            # A reading of it, or itself as the target of a command.
            used = set(re.findall(r"\b(\w+)\.[a-z_]", text)) | set(re.findall(r'"(\w+)"', text))
            lacks = [name for name in gone if name in used]
            # A table that is gone says it all.
            if lacks := [name for name in lacks if name in TABLES] or lacks:
                found[drill] = ", ".join(dict.fromkeys(gone[name] for name in lacks)).lower()
    return found


def tried(plant: Plant, drills: Collection[str] = ()) -> list[Suits]:
    """As ``suited``, with these drills tried by their good crews; PlanningError for a drill that there is not."""
    rows = suited(build_machine(plant), plant.id, plant.base)
    unknown = sorted(set(drills) - {row.drill for row in rows})
    if unknown:
        raise PlanningError(f"there is no drill {unknown[0]!r}; `trainer drills` lists them")
    return [_tried(plant, row) if row.drill in drills and row.outcome == "not tried yet" else row for row in rows]


def _tried(plant: Plant, row: Suits) -> Suits:
    try:
        found = rehearse(plant, row.drill)
    except PlanningError as error:
        return Suits(row.drill, row.title, "does not suit", (str(error),))
    if found.passed:
        return Suits(row.drill, row.title, "suits")
    moved = {part for parts in beside(plant).values() for part in parts}
    new = added(plant, moved)
    told = (
        (f"Its reference run does not work what was added to this rig: {', '.join(new)}. Run it by hand.",)
        if new
        else ()
    )
    if plant.base and by_choke(row.drill):
        told = (*told, BY_ROTE)
    return Suits(row.drill, row.title, "does not suit", (*found.why(), *told))


def added(plant: Plant, moved: Collection[str] = ()) -> list[str]:
    """What a crew could work on this plant that its base does not have, but for what is ``moved``: functions and
    pumps, by title."""
    base = base_of(plant.base)
    if base is None:
        return []
    known = {part.id for part in (*base.function, *base.pump)}
    return [part.name for part in (*plant.function, *plant.pump) if part.id not in known and part.id not in moved]
