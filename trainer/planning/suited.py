"""Which drills a plant suits, and why it does not suit the others."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.drills import library
from trainer.drills.prepare import prepare
from trainer.drills.schema import DrillError
from trainer.hydraulics.machine import Machine

MOST_REASONS = 4


@dataclass(frozen=True, slots=True)
class Suits:
    """A drill held against a plant; ``why`` is empty when it suits."""

    drill: str
    title: str
    why: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """Whether the drill can be run on the plant."""
        return not self.why


def suited(machine: Machine, plant: str, base: str = "") -> list[Suits]:
    """Every shipped drill with whether it suits the plant: one of its plants, or fitted from one, and all it needs."""
    found = []
    for name, drill in library.all_drills().items():
        why: list[str] = []
        if not drill.is_for(plant, base):
            why.append(f"it is written for {', '.join(drill.plants)}")
        else:
            try:
                prepare(drill, machine, f"{name}.toml")
            except DrillError as error:
                why = [str(problem) for problem in error.problems][:MOST_REASONS]
                if len(error.problems) > MOST_REASONS:
                    why.append(f"and {len(error.problems) - MOST_REASONS} more")
        found.append(Suits(name, drill.title, tuple(why)))
    return found
