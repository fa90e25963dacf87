"""Named ports: a law's parameters and results, and how a plant's variables are bound to them.

A law's inputs are its parameters. Its results are named beside it by ``gives``; a result that has the name of a
parameter is a *state*: the law reads the variable and writes it again. Everything is bound by name when the plant is
built, so two neighbours cannot change places unseen.

A port's unit is that of its type (``trainer.units``: ``p: Pressure``); the variable bound to it must have the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TypeAlias, TypeVar, get_args, get_origin, get_type_hints

from trainer.hydraulics.inline import Law
from trainer.units import Quantity

Input = str | float
"""What a port takes: the name of a variable, or a number."""
Bound: TypeAlias = Input | tuple[Input, ...]
"""What is bound to one port: a value, or as many as the plant has where the law takes a list."""
Written: TypeAlias = str | tuple[str, ...]
Wires: TypeAlias = Mapping[str, Input | Sequence[Input]]
"""What is bound to the ports that a law reads, by their names."""
Writes: TypeAlias = Mapping[str, str | Sequence[str]]
"""The variables bound to the ports that a law writes, by their names."""
AnyInput = TypeVar("AnyInput", str, Input)
AnyLaw = TypeVar("AnyLaw", bound=Law)


ALIKE, ANY = "alike", "any"


class WiringError(TypeError):
    """A law is bound wrongly; the message is one sentence that names the law, the port and what to do."""


def gives(*names: str) -> Callable[[AnyLaw], AnyLaw]:
    """Name the results of a law, in their order; one that has a parameter's name is a state that is written back."""

    def mark(law: AnyLaw) -> AnyLaw:
        law.__dict__["gives"] = names
        return law

    return mark


@dataclass(frozen=True)
class Ports:
    """The ports of a law: ``inputs`` it only reads, ``states`` it reads and writes, ``outputs`` it only writes."""

    law: str
    parameters: tuple[str, ...]
    results: tuple[str, ...]
    units: Mapping[str, str]
    """SI unit by port; ``ALIKE``: any, but one for all such ports; ``ANY``: each its own. No type, no unit."""
    lists: frozenset[str]
    """Ports that take as many variables as the plant has."""

    @property
    def inputs(self) -> tuple[str, ...]:
        return tuple(name for name in self.parameters if name not in self.results)

    @property
    def states(self) -> tuple[str, ...]:
        return tuple(name for name in self.results if name in self.parameters)

    @property
    def outputs(self) -> tuple[str, ...]:
        return tuple(name for name in self.results if name not in self.parameters)


@cache
def ports_of(law: Law, given: int = 0) -> Ports:
    """The ports of ``law``; the first ``given`` parameters are no ports (an edge's two pressures).

    WiringError when its results are named too few, too many or twice.
    """
    # By the function itself, not by its source: the edition without a server ships no sources to read.
    parameters = law.__code__.co_varnames[: law.__code__.co_argcount]
    results = tuple(law.__dict__.get("gives", ()))
    hints = get_type_hints(law, include_extras=True)
    returned = hints.pop("return", float)
    parts = get_args(returned) if get_origin(returned) is tuple else (returned,)
    if not given and len(set(results)) != len(parts):
        raise WiringError(f"{law.__name__} gives {len(parts)} results and names {len(set(results))}: name each once")
    if results:
        hints |= dict(zip(results, parts, strict=True))
    lists = frozenset(name for name, hint in hints.items() if get_origin(hint) is list)
    units = {name: _unit(get_args(hint)[0] if name in lists else hint) for name, hint in hints.items()}
    return Ports(law.__name__, parameters[given:], results, {n: unit for n, unit in units.items() if unit}, lists)


def _unit(hint: object) -> str:
    """The SI unit of a port's type; an empty string for a plain float."""
    return next((q.unit for q in get_args(hint) if isinstance(q, Quantity)), "")


def check_units(
    law: Law, read: Sequence[Bound], written: Sequence[Written], units: Mapping[str, str], given: int = 0
) -> None:
    """WiringError when a variable bound to a port of ``law`` is not in the port's unit.

    ``read`` and ``written`` are what ``bound`` gives, ``units`` the unit of each variable. Numbers have none.
    """
    ports = ports_of(law, given)
    alike = ("", "")
    ends = (*zip(ports.parameters, read, strict=True), *zip(ports.results, written, strict=True))
    for name, variable in ((name, variable) for name, value in ends for variable in flat((value,))):
        wanted = ports.units.get(name, "")
        unit = units.get(variable, "") if isinstance(variable, str) else ""
        if not unit or wanted in ("", ANY, unit):
            continue
        if wanted != ALIKE:
            raise WiringError(
                f"{ports.law} has '{name}' in {wanted}, but {variable} is in {unit}: bind a variable in {wanted}"
            )
        if alike[1] not in ("", unit):
            raise WiringError(
                f"{ports.law} needs one unit throughout, but {alike[0]} is in {alike[1]} and {variable} in {unit}"
            )
        alike = (str(variable), unit)


def bound(law: Law, inputs: Wires, states: Writes, outputs: Writes) -> tuple[tuple[Bound, ...], tuple[Written, ...]]:
    """What is bound to a step's parameters, and to its results, both in the law's own order; a list as a tuple.

    WiringError for a port that is missing, unknown or bound as what it is not, and for a variable written twice.
    """
    ports = ports_of(law)
    for kind, wanted, given in (
        ("input", ports.inputs, inputs), ("state", ports.states, states), ("output", ports.outputs, outputs),
    ):  # fmt: skip
        _check(ports, kind, wanted, given)
    read, written = {**inputs, **states}, {**states, **outputs}
    by_variable: dict[str, str] = {}
    for name, variable in ((name, variable) for name, value in written.items() for variable in _each(value)):
        if variable in by_variable:
            raise WiringError(
                f"{ports.law} writes {variable} by '{by_variable[variable]}' and '{name}': give each its own variable"
            )
        by_variable[variable] = name
    return (
        tuple(_bound(read[name]) for name in ports.parameters),
        tuple(value if isinstance(value, str) else tuple(value) for value in (written[n] for n in ports.results)),
    )


def bound_flow(law: Law, inputs: Wires) -> tuple[Bound, ...]:
    """What is bound to the parameters of a flow law after its two pressures, in the law's own order; see ``bound``."""
    ports = ports_of(law, 2)
    _check(ports, "input", ports.parameters, inputs)
    return tuple(_bound(inputs[name]) for name in ports.parameters)


def flat(values: Sequence[AnyInput | tuple[AnyInput, ...]]) -> tuple[AnyInput, ...]:
    """What is bound, with every list written out in its place: one entry a variable or number, in order."""
    return tuple(one for value in values for one in (value if isinstance(value, tuple) else (value,)))


def _each(value: str | Sequence[str]) -> Sequence[str]:
    return (value,) if isinstance(value, str) else value


def _bound(value: Input | Sequence[Input]) -> Bound:
    return value if isinstance(value, str | int | float) else tuple(value)


def under(stem: str, *names: str) -> dict[str, str]:
    """Ports bound to the variables of their own names under ``stem``.

    >>> under("bank_a", "p", "v")
    {'p': 'bank_a.p', 'v': 'bank_a.v'}
    """
    return {name: f"{stem}.{name}" for name in names}


def _check(ports: Ports, kind: str, wanted: tuple[str, ...], given: Mapping[str, object]) -> None:
    for name in given:
        if name not in wanted:
            other = next((k for k in ("inputs", "states", "outputs") if name in getattr(ports, k)), "")
            known = f"its {kind}s are {', '.join(wanted)}" if wanted else f"it has no {kind}s"
            mend = f"bind it under {other}" if other else known
            raise WiringError(f"{ports.law} has no {kind} '{name}': {mend}")
    for name in wanted:
        if name not in given:
            raise WiringError(f"{ports.law} needs its {kind} '{name}': bind a variable to it")
        several = not isinstance(given[name], str | int | float)
        if several != (name in ports.lists):
            raise WiringError(f"{ports.law} takes {'one value' if several else 'a list'} as its {kind} '{name}'")
