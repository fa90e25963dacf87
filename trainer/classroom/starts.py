"""Starting points: the plant's named ones, and states of runs that an instructor saved to begin from again."""

from __future__ import annotations

import json
import re
from pathlib import Path

from trainer import units
from trainer.hydraulics.machine import Machine
from trainer.kept import put
from trainer.session.interventions import INSTRUCTOR
from trainer.session.session import SnapshotError
from trainer.simulator import Session

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,59}")
MOST_SAVED = 200
MOST_BYTES = 8_000_000

#: What else a free practice can begin with: name, and interventions on the plant at rest.
_MADE: dict[str, tuple[tuple[str, str, float | str], ...]] = {
    "rig air lost": (("set", "air.supply", "shut"),),
    "on battery": (("set", "power.main", "off"),),
    "one bank isolated": (("set", "bank_a.isolation", "shut"),),
    "pumps off": (("set", "triplex_1.mode", "off"), ("set", "triplex_2.mode", "off")),
}


AS_BUILT = "as built"
"""The starting point of a plant as it stands when it is built, at its charged rest."""


class StartError(ValueError):
    """A starting point that cannot be used; one sentence."""


class Starts:
    """Saved starting points, one file each."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)

    def saved(self) -> list[str]:
        """Names of the saved ones."""
        return sorted(path.stem for path in self.folder.glob("*.json"))

    def save(self, name: str, run: Session) -> None:
        """Save the run's present state under a name; one of that name is written over."""
        path = self._path(name)
        if len(self.saved()) >= MOST_SAVED and not path.exists():
            raise StartError(f"{MOST_SAVED} starting points are saved; delete one first")
        state = run.snapshot()
        # Whoever begins here knows what came before: it is practice, whatever it was saved in.
        state["identity"]["mode"] = "practice"
        put(path, json.dumps(state))

    def delete(self, name: str) -> None:
        """Forget a saved one."""
        self._path(name).unlink(missing_ok=True)

    def run(self, name: str) -> Session:
        """A run at a saved state."""
        path = self._path(name)
        try:
            if path.stat().st_size > MOST_BYTES:
                raise StartError(f"the starting point {name!r} is too large")
            data: object = json.loads(path.read_text(encoding="utf-8"))
            return Session.restore(data)
        except OSError as error:
            raise StartError(f"there is no saved starting point {name!r}") from error
        except (SnapshotError, ValueError) as error:
            raise StartError(f"the starting point {name!r} does not fit this version: {error}") from error

    def _path(self, name: str) -> Path:
        # The name is a file's name and nothing more.
        if not _NAME.fullmatch(name):
            raise StartError("a name is letters, digits, blanks, dashes and underscores, at most 60")
        return self.folder / f"{name}.json"


def built_in(machine: Machine) -> list[str]:
    """Names of the starting points of free practice that this plant has without anybody saving one."""
    made = [name for name, steps in _MADE.items() if all((do, target) in machine.operables for do, target, _ in steps)]
    return [AS_BUILT, *machine.starts, *made]


def practice(plant: str, name: str) -> Session:
    """A free practice from a built-in starting point. What sets it up stands in the log, so that it re-computes."""
    session = Session.start(None, plant, 0, "practice")
    steps: list[tuple[str, str, float | str]]
    if name in session.machine.starts:
        steps = [
            ("put", variable, _shown(session, variable, value))
            for variable, value in session.machine.starts[name].items()
        ]
    elif name in _MADE or name == AS_BUILT:
        steps = list(_MADE.get(name, ()))
    else:
        raise StartError(f"there is no starting point {name!r}")
    for do, target, value in steps:
        refusal = session.intervene(do, target, value, INSTRUCTOR)
        if refusal is not None:
            raise StartError(f"the starting point {name!r} does not fit this plant: {refusal}")
    return session


def _shown(session: Session, variable: str, value: float) -> float:
    """A variable's SI value as an intervention gives it."""
    signal = session.machine.signals.get(variable)
    return value if signal is None or signal.unit == "state" else units.to_unit(value, signal.unit)
