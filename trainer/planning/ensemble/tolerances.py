"""How the plants of an ensemble differ: spreads as data, and what a seed draws from them for one plant."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from trainer import resources, toml, units
from trainer.drills import chance
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.storage import Gas
from trainer.planning.errors import PlanningError
from trainer.units import Fraction


def _difference(value: object) -> float:
    """A difference with its unit as SI: a temperature's has no zero point."""
    match = re.fullmatch(r"\s*([0-9.]+)\s*(\S+)\s*", value if isinstance(value, str) else "")
    if match is None or match[2] not in units.UNITS:
        raise ValueError(f'{value!r} is no difference; write it like "12 K" or "100 psi"')
    return float(match[1]) * units.UNITS[match[2]].factor


Difference = Annotated[float, BeforeValidator(_difference)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Spread(_Strict):
    """One way in which plants differ; each thing that the pattern names is drawn for itself, evenly.

    ``precharge``: banks, by ``share`` more or less about ``shift``. ``variable``: by ``plus_minus``, or by ``share`` of
    its value. ``fault``: a severity from ``least`` to ``most``, on a ``chance`` of the plants.
    """

    title: str
    precharge: str = ""
    variable: str = ""
    fault: str = ""
    share: Fraction = Field(default=0.0, ge=0.0, le=0.9)
    shift: Fraction = Field(default=0.0, ge=-0.5, le=0.5)
    plus_minus: Difference = 0.0
    least: Fraction = Field(default=0.0, ge=0.0, le=1.0)
    most: Fraction = Field(default=0.0, ge=0.0, le=1.0)
    chance: Fraction = Field(default=1.0, ge=0.0, le=1.0)

    @model_validator(mode="after")
    def _one(self) -> Spread:
        if len([name for name in (self.precharge, self.variable, self.fault) if name]) != 1:
            raise ValueError(f"'{self.title}' needs exactly one of precharge, variable and fault")
        if self.fault and not self.least <= self.most:
            raise ValueError(f"'{self.title}': least is above most")
        if self.precharge and self.share + abs(self.shift) >= 0.95:
            raise ValueError(f"'{self.title}' would leave bottles without gas")
        return self


class Tolerances(_Strict):
    """A named list of spreads, as in ``assets/tolerances/<id>.toml``."""

    id: str
    title: str
    note: str = ""
    spread: tuple[Spread, ...] = ()

    def draw(self, machine: Machine, seed: int) -> dict[str, float]:
        """What plant number ``seed`` is like: bank or variable to its factor or change (SI), fault to its severity."""
        return self.draws(machine, [seed])[0]

    def draws(self, machine: Machine, seeds: Iterable[int]) -> list[dict[str, float]]:
        """The same for many plants."""
        named = [(spread, _named(spread, machine)) for spread in self.spread]
        return [self._draw(machine, seed, named) for seed in seeds]

    def _draw(self, machine: Machine, seed: int, named: list[tuple[Spread, list[tuple[str, str]]]]) -> dict[str, float]:
        drawn: dict[str, float] = {}
        for spread, found in named:
            for key, name in found:
                lot = 2.0 * chance.share(seed, f"{key}:{name}") - 1.0
                if spread.precharge:
                    drawn[f"precharge:{name}"] = 1.0 + spread.shift + spread.share * lot
                elif spread.variable:
                    drawn[f"variable:{name}"] = lot * (spread.plus_minus or spread.share * abs(machine.read(name)))
                elif chance.share(seed, f"chance:{name}") < spread.chance:
                    drawn[f"fault:{name}"] = spread.least + 0.5 * (lot + 1.0) * (spread.most - spread.least)
        return drawn


def _named(spread: Spread, machine: Machine) -> list[tuple[str, str]]:
    """What a spread names in this plant, with its kind."""
    if spread.precharge:
        banks = [n for n, node in machine.net.nodes.items() if isinstance(node.storage, Gas)]
        return [("precharge", bank) for bank in banks if fnmatchcase(bank, spread.precharge)]
    if spread.variable:
        return [("variable", n) for n in machine.names if fnmatchcase(n, spread.variable)]
    return [("fault", f) for f in machine.faults if fnmatchcase(f, spread.fault)]


def apply(machine: Machine, drawn: dict[str, float]) -> None:
    """Make a machine at its charged rest the plant that was drawn.

    Bottles keep their pressure: with more gas they hold less fluid.
    """
    for key, value in drawn.items():
        kind, name = key.split(":", 1)
        if kind == "precharge":
            storage = machine.net.nodes[name].storage
            assert isinstance(storage, Gas)
            mass = machine.read(storage.mass) * value
            machine.put(storage.mass, mass)
            machine.put(f"{name}.v", max(storage.shell - mass / machine.read(f"{name}.rho"), 0.0))
        elif kind == "variable":
            machine.put(name, machine.read(name) + value)
        else:
            machine.put(f"fault.{name}", value)
    machine.settle_pressures()


def parse(text: str, where: str) -> Tolerances:
    """Tolerances from a file's text; PlanningError tells everything wrong with it."""
    try:
        return Tolerances.model_validate(toml.loads(text))
    except ValidationError as error:
        lines = [f"{where}: {'.'.join(map(str, e['loc']))}: {e['msg']}" for e in error.errors(include_url=False)]
        raise PlanningError("\n".join(lines)) from error
    except ValueError as error:
        raise PlanningError(f"{where}: not a TOML file: {error}") from error


def read(name: str) -> tuple[str, str]:
    """Text and name of a shipped tolerance file by its id, or of one by its path."""
    folder = resources.assets() / "tolerances"
    known: dict[str, Any] = {path.stem: path for path in sorted(folder.glob("*.toml"))}
    path = known.get(name, Path(name))
    if not path.is_file():
        raise PlanningError(f"there are no tolerances {name!r}; give a file, or one of {', '.join(known)}")
    try:
        return path.read_text(encoding="utf-8"), path.name
    except (OSError, UnicodeDecodeError) as error:
        raise PlanningError(f"{path}: cannot be read: {error}") from error
