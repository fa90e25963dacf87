"""What the drawings need to know of a plant: its parts by kind, in order, with their titles.

The adapter takes a parsed plant file, a pydantic plant or a path, so that every drawing follows the plant
description and none knows a particular rig.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from trainer import naming
from trainer.units import parse


@dataclass(frozen=True, slots=True)
class DrawnPart:
    """One declared part: identity, title and the declared fields."""

    id: str
    title: str
    kind: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)

    def get(self, name: str, default: Any = None) -> Any:
        """A declared field, or ``default`` when the plant does not declare it."""
        return self.facts.get(name, default)


def height_of(part: DrawnPart) -> float:
    """Height of a preventer, or of the outlet that a valve stands on, m under the upper pipe ram."""
    given = part.get("below", 0.0)
    return parse(given, "length") if isinstance(given, str) else float(given)


@dataclass(frozen=True, slots=True)
class RigView:
    """The parts of a plant, each list in the order of the plant file."""

    id: str
    title: str
    well_name: str
    subsea: bool
    tank: str
    pumps: tuple[DrawnPart, ...]
    filters: tuple[DrawnPart, ...]
    banks: tuple[DrawnPart, ...]
    regulators: tuple[DrawnPart, ...]
    pods: tuple[DrawnPart, ...]
    functions: tuple[DrawnPart, ...]
    has_glycol: bool
    outlets: Mapping[str, str] = field(default_factory=dict)
    """Which function works the diverter's packer, flow line, port and starboard side."""

    def functions_of(self, *kinds: str) -> tuple[DrawnPart, ...]:
        """The functions of these kinds, in stack order."""
        return tuple(f for f in self.functions if f.kind in kinds)

    def line_valves(self, line: str) -> tuple[DrawnPart, ...]:
        """The valves of the choke or kill line, in the order of the plant file."""
        return tuple(f for f in self.functions if f.get("line") == line)

    @property
    def surface_banks(self) -> tuple[DrawnPart, ...]:
        """Main accumulator banks on the surface header."""
        return tuple(b for b in self.banks if b.get("place", "surface") == "surface")

    @property
    def pilot_banks(self) -> tuple[DrawnPart, ...]:
        """Bottles kept for the pilot system."""
        return tuple(b for b in self.banks if b.get("place") == "pilot")

    @property
    def stack_banks(self) -> tuple[DrawnPart, ...]:
        """Bottles on the stack."""
        return tuple(b for b in self.banks if b.get("place") == "stack")

    @property
    def main_filters(self) -> tuple[DrawnPart, ...]:
        """Filters in the pump discharge."""
        return tuple(f for f in self.filters if f.get("place") != "pilot")

    @property
    def pilot_filters(self) -> tuple[DrawnPart, ...]:
        """Filters in the pilot supply."""
        return tuple(f for f in self.filters if f.get("place") == "pilot")

    @property
    def pilot_regulators(self) -> tuple[DrawnPart, ...]:
        """Regulators of the pilot supply, at the unit."""
        return tuple(r for r in self.regulators if r.get("serves") == "pilot")

    @property
    def power_regulators(self) -> tuple[DrawnPart, ...]:
        """Regulators of the fluid that works the functions."""
        return tuple(r for r in self.regulators if r.get("serves") not in ("pilot", "diverter"))

    @property
    def diverter_regulators(self) -> tuple[DrawnPart, ...]:
        """Regulators of the diverter's own supply, at the unit."""
        return tuple(r for r in self.regulators if r.get("serves") == "diverter")

    def diverter(self) -> tuple[DrawnPart, ...]:
        """The diverter's functions, packer first."""
        return (*self.functions_of("diverter_packer"), *self.functions_of("diverter_valve"))

    def joining(self, pod: str) -> DrawnPart | None:
        """The connector that holds a pod, if the plant has one."""
        return next((f for f in self.functions if f.get("joins") == pod), None)

    def isolating(self, bank: str) -> DrawnPart | None:
        """The function that shuts a bank off, if the plant has one."""
        return next((f for f in self.functions if f.get("isolates") == bank), None)

    def listed(self) -> tuple[DrawnPart, ...]:
        """Functions that the sheet lists below the column: locks, pod connectors, isolations, choke and kill valves."""
        placed = {f.id for f in self.diverter()}
        aside = tuple(f for f in self.aside() if f.id not in placed)
        return (*self.others(), *aside, *self.line_valves("kill"), *self.line_valves("choke"))

    def column(self) -> tuple[DrawnPart, ...]:
        """Everything stacked on the well, top down by its height: connectors of riser above, of the wellhead below."""
        top = tuple(f for f in self.functions if f.kind == "connector" and "riser" in f.id)
        bottom = tuple(f for f in self.functions if f.kind == "connector" and "wellhead" in f.id)
        body = tuple(sorted(self.functions_of("annular", "shear_ram", "pipe_ram"), key=height_of))
        annulars = tuple(f for f in body if f.kind == "annular")
        # The riser parts from the stack below the upper annular: the lower riser package carries that one.
        if len(annulars) > 1 and top:
            rest = tuple(f for f in body if f is not annulars[0])
            return (annulars[0], *top, *rest, *bottom)
        return (*top, *body, *bottom)

    def others(self) -> tuple[DrawnPart, ...]:
        """Functions that are neither in the column nor choke or kill valves nor seldom used."""
        placed = {f.id for f in (*self.column(), *self.aside())}
        return tuple(f for f in self.functions if f.id not in placed and not f.get("line"))

    def aside(self) -> tuple[DrawnPart, ...]:
        """Functions for which a hand seldom reaches: the diverter's, the pods' connectors, plain isolations."""
        placed = {f.id for f in self.column()}
        seldom = ("diverter_packer", "diverter_valve", "connector", "valve")
        return tuple(f for f in self.functions if f.id not in placed and f.kind in seldom and not f.get("line"))


def _facts(plant: object) -> Mapping[str, Any]:
    if isinstance(plant, Path):
        return tomllib.loads(plant.read_text(encoding="utf-8"))
    if isinstance(plant, Mapping):
        return plant
    dump = getattr(plant, "model_dump", None)
    if callable(dump):
        found: Mapping[str, Any] = dump(by_alias=True)
        return found
    raise TypeError(f"a plant is a mapping, a path or a pydantic model, not {type(plant).__name__}")


def _parts(facts: Mapping[str, Any], *names: str) -> tuple[DrawnPart, ...]:
    for name in names:
        rows = facts.get(name)
        if rows:
            return tuple(
                DrawnPart(str(r["id"]), str(r.get("title") or naming.title(str(r["id"]))), str(r.get("kind") or ""), r)
                for r in rows
            )
    return ()


def read_rig(plant: object) -> RigView:
    """The drawing's view of a plant (mapping, path of a plant file, or pydantic model)."""
    if isinstance(plant, RigView):
        return plant
    facts = _facts(plant)
    reservoir = facts.get("reservoir") or {}
    return RigView(
        id=str(facts["id"]),
        title=str(facts.get("title") or naming.title(str(facts["id"]))),
        well_name=str(facts.get("well_name") or ""),
        subsea=bool(facts.get("subsea", True)),
        tank=str(reservoir.get("id") or "tank"),
        pumps=_parts(facts, "pump", "pumps"),
        filters=_parts(facts, "filter", "filters"),
        banks=_parts(facts, "bank", "banks"),
        regulators=_parts(facts, "regulator", "regulators"),
        pods=_parts(facts, "pod", "pods"),
        functions=_parts(facts, "function", "functions"),
        has_glycol=bool(reservoir.get("glycol_volume")),
        outlets={k: str(v) for k, v in (facts.get("diverter") or {}).items() if isinstance(v, str)},
    )
