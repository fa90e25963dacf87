"""How the plants of an ensemble differ: spreads as data, and what a seed draws from them for one plant."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from statistics import NormalDist
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from trainer import resources, toml, units
from trainer.fluids.gas import density
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.storage import Gas
from trainer.planning.ensemble import streams
from trainer.planning.ensemble.rests import rest_of, worked_out
from trainer.planning.errors import PlanningError
from trainer.units import Fraction

_NORMAL = NormalDist()
_HAIR = 1.0e-12


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
    """One way in which plants differ, for each thing that the pattern names.

    ``precharge``: banks, by ``share`` more or less about ``shift``. ``variable``: by ``plus_minus``, or by ``share`` of
    its value. ``fault``: a severity from ``least`` to ``most``, on a ``chance`` of the plants. How values lie between
    those ends says ``distribution``: evenly, in a triangle about the middle, or as a normal distribution whose ends are
    two standard deviations from it (and which is cut there). Things of the same ``together``, in whatever spreads, have
    a cause in common: any two of them are correlated by ``correlation`` squared (of their normal scores).
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
    distribution: Literal["even", "triangle", "normal"] = "even"
    together: str = Field(default="", max_length=40)
    correlation: float = Field(default=1.0, ge=0.0, le=1.0)

    @model_validator(mode="after")
    def _one(self) -> Spread:
        if len([name for name in (self.precharge, self.variable, self.fault) if name]) != 1:
            raise ValueError(f"'{self.title}' needs exactly one of precharge, variable and fault")
        if self.fault and not self.least <= self.most:
            raise ValueError(f"'{self.title}': least is above most")
        if self.precharge and self.share + abs(self.shift) >= 0.95:
            raise ValueError(f"'{self.title}' would leave bottles without gas")
        if "correlation" in self.model_fields_set and not self.together:
            raise ValueError(f"'{self.title}': correlation goes with together, the name of the cause in common")
        return self

    def lot(self, drawn: float, common: float) -> float:
        """Where a value lies between its ends, -1 to 1, from two even draws (0 to 1): its own and its cause's."""
        if self.together:
            own, cause = (_NORMAL.inv_cdf(min(max(u, _HAIR), 1.0 - _HAIR)) for u in (drawn, common))
            score = self.correlation * cause + math.sqrt(1.0 - self.correlation * self.correlation) * own
            drawn = _NORMAL.cdf(score)
        if self.distribution == "normal":
            low = _NORMAL.cdf(-2.0)
            return 0.5 * _NORMAL.inv_cdf(low + drawn * (1.0 - 2.0 * low))
        if self.distribution == "triangle":
            return math.sqrt(2.0 * drawn) - 1.0 if drawn < 0.5 else 1.0 - math.sqrt(2.0 * (1.0 - drawn))
        return 2.0 * drawn - 1.0


class Tolerances(_Strict):
    """A named list of spreads, as in ``assets/tolerances/<id>.toml``."""

    id: str
    title: str
    note: str = ""
    spread: tuple[Spread, ...] = ()

    def draws(self, machine: Machine, seed: int, numbers: Sequence[int]) -> list[dict[str, float]]:
        """What the plants ``numbers`` (in order, without gaps) of ``seed`` are like.

        Bank or variable to its factor or change (SI), fault to its severity. PlanningError for a variable that the
        plant works out itself: it would not keep what was drawn.
        """
        drawn: list[dict[str, float]] = [{} for _ in numbers]
        for spread in self.spread:
            for kind, name in _named(spread, machine):
                key = f"{kind}:{name}"
                for plant, value in zip(drawn, _values(spread, machine, key, seed, numbers), strict=True):
                    if value is not None:
                        plant[key] = value
        return drawn


def _values(spread: Spread, machine: Machine, key: str, seed: int, numbers: Sequence[int]) -> list[float | None]:
    """What each plant draws of one thing; None where it has none of it."""
    drawn = streams.shares(seed, key, numbers).tolist()
    cause = streams.shares(seed, f"together:{spread.together}", numbers).tolist() if spread.together else drawn
    lots = [spread.lot(own, common) for own, common in zip(drawn, cause, strict=True)]
    if spread.precharge:
        return [1.0 + spread.shift + spread.share * lot for lot in lots]
    if spread.variable:
        reach = spread.plus_minus or spread.share * abs(machine.read(key.split(":", 1)[1]))
        return [lot * reach for lot in lots]
    chances = streams.shares(seed, f"chance:{key}", numbers).tolist()
    severities = [spread.least + 0.5 * (lot + 1.0) * (spread.most - spread.least) for lot in lots]
    return [s if chance < spread.chance else None for s, chance in zip(severities, chances, strict=True)]


def _named(spread: Spread, machine: Machine) -> list[tuple[str, str]]:
    """What a spread names in this plant, with its kind."""
    if spread.precharge:
        banks = [n for n, node in machine.net.nodes.items() if isinstance(node.storage, Gas)]
        return [("precharge", bank) for bank in banks if fnmatchcase(bank, spread.precharge)]
    if spread.variable:
        found = [n for n in machine.names if fnmatchcase(n, spread.variable)]
        if lost := sorted(worked_out(machine.net).intersection(found)):
            raise PlanningError(
                f"'{spread.title}': the plant works out {lost[0]!r} itself and would not keep what is drawn; "
                "name what it follows from instead"
            )
        return [("variable", n) for n in found]
    return [("fault", f) for f in machine.faults if fnmatchcase(f, spread.fault)]


def apply(machine: Machine, drawn: dict[str, float]) -> None:
    """Make a machine at its charged rest the plant that was drawn, for good: what it goes back to is drawn with it.

    Bottles keep their pressure: with more gas, or in warmer air, they hold less fluid. Their gas is as warm as what is
    about them.
    """
    gases = {n: node.storage for n, node in machine.net.nodes.items() if isinstance(node.storage, Gas)}
    for key, value in drawn.items():
        kind, name = key.split(":", 1)
        if kind == "precharge":
            _put(machine, gases[name].mass, machine.read(gases[name].mass) * value)
        elif kind == "variable":
            _put(machine, name, machine.read(name) + value)
        else:
            machine.put(f"fault.{name}", value)
    changed = {key.split(":", 1)[1] for key in drawn}
    for name, storage in gases.items():
        if name in changed or storage.wall in changed:
            wall = machine.read(storage.wall)
            space = machine.read(storage.mass) / density(machine.read(f"{name}.p"), wall)
            machine.put(f"{name}.t", wall)
            machine.put(f"{name}.v", max(storage.shell - space, 0.0))
    machine.settle_pressures()


def _put(machine: Machine, name: str, value: float) -> None:
    machine.put(name, value)
    if rest_of(name) in machine.index:
        machine.put(rest_of(name), value)


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
