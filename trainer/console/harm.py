"""Free practice says at once what a drill would count as a critical error: a packer closed on pipe that moves, or a
housing opened under pressure."""

from __future__ import annotations

from typing import Final

from trainer import naming
from trainer.console.reading import Readable

#: Damage that is more than wear of good practice, share of the packer. Invented.
HARMED: Final = 0.02
#: For how long the panel says it, s. Invented.
SAID: Final = 60.0
JOINT: Final = "closed on a tool joint. It cannot seal there. Space out, then close."
TURNS: Final = "closed on turning pipe. Stop the rotation, then close."
MOVES: Final = "closed on moving pipe. Stop the hoist, then close."
OPENED: Final = "was opened under pressure: a crew member is hurt. Isolate, lock, bleed, read zero, then open."
LOADED: Final = "carries more load than it is rated for. Pick up the load."


class Harm:
    """Watches the damage of every packer and who was hurt; keeps when each was harmed, and what did it."""

    def __init__(self) -> None:
        self.told: list[tuple[float, str]] = []
        self._base: dict[str, float] = {}

    def start(self, t: float, machine: Readable) -> None:
        """Begin, or begin again at an earlier moment: what was done until then stays."""
        self.told = [each for each in self.told if each[0] <= t]
        self._base = {tag: machine.read(tag) for tag in machine.signals if tag.endswith((".damage", ".injury"))}

    def look(self, t: float, machine: Readable) -> None:
        """Note each packer whose damage has grown since the start, and each injury, once."""
        for tag, base in list(self._base.items()):
            if machine.read(tag) - base > HARMED:
                del self._base[tag]
                part, _, kind = tag.rpartition(".")
                cause = OPENED if kind == "injury" else f"{_cause(part, machine)} Its packing is damaged."
                self.told.append((t, f"{naming.target(part)} {cause}"))

    def line(self, t: float) -> str:
        """What the panel says now; empty where nothing was harmed of late."""
        return self.told[-1][1] if self.told and t - self.told[-1][0] <= SAID else ""


def _cause(part: str, machine: Readable) -> str:
    def shown(tag: str) -> float:
        return machine.read(tag) if tag in machine.signals else 0.0

    if shown(f"{part}.on_joint") > 0.5:
        return JOINT
    if shown("floor.rotary") > 0.0:
        return TURNS
    return MOVES if shown("bore.pipe_speed") != 0.0 else LOADED
