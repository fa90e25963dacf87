"""What every component's module uses: the declaration's base, readings, commands and their checks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from pydantic import BaseModel, ConfigDict, Field

from trainer import naming, units
from trainer.constants import ATMOSPHERE
from trainer.hydraulics.catalogue import Fault, Operable, Order, Signal, Variables
from trainer.hydraulics.network import Network, Rate
from trainer.hydraulics.ports import gives
from trainer.hydraulics.refusal import Refusal
from trainer.units import Alike, Number, Pressure, Seconds
from trainer.wording import written

PSI = units.from_unit(1.0, "psi")
Guard = Callable[[Variables, Order], Refusal | None]


class Part(BaseModel):
    """A declaration in a plant file. Unknown keys are refused, so that a slip of the pen is not silently lost."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Component(Part):
    """A part with a name of its own: an id for files and readings, a title for people."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)
    title: str = Field(default="", max_length=60)

    @property
    def name(self) -> str:
        """What people read: the title of the plant's file, or the id in plain words where it gives none."""
        return self.title or naming.title(self.id)

    @property
    def known_as(self) -> str:
        """What its readings and faults begin with, and drawings call it."""
        return self.id

    @property
    def card(self) -> str:
        """The entry of ``assets/text`` that describes it: its class's own name where it does not say otherwise."""
        return type(self).__name__.lower()

    @property
    def fittings(self) -> tuple[tuple[str, str, str], ...]:
        """What belongs to it and has a card of its own: the end of its name, its card, and what it is in words."""
        return ()


@gives("reading")
def gauge_reading(pressure: Pressure, offset: Pressure) -> Pressure:
    """A gauge's reading, Pa above atmosphere, of an absolute pressure; ``offset`` is a fault of the instrument."""
    return max(pressure - ATMOSPHERE + offset, 0.0)


@gives("left")
def run_down(left: Seconds, scan: Seconds) -> Seconds:
    """A timer that runs out: what is left of it (s) after a scan, never below 0."""
    rest = left - scan
    return rest if rest > 1.0e-6 else 0.0


@gives("copy")
def same(value: Alike) -> Alike:
    """The value itself, in the same unit, under another name: for two ports that one variable feeds."""
    return value


def gauge(
    net: Network,
    tag: str,
    source: str,
    high: float,
    meaning: str,
    station: Sequence[str] = ("unit",),
    normal: tuple[float, float] | None = None,
    unit: str = "psi",
    against: str = "",
) -> str:
    """A pressure gauge on ``source`` (Pa absolute), with a drift fault; ``high`` and ``normal`` in field units.

    ``against`` is the reading that a drift is found out by.
    """
    net.signal(Signal(tag, unit, 0.0, high, meaning, tuple(station), normal))
    drift = net.fault(
        Fault(
            f"{tag}.drift",
            tag.rsplit(".", 1)[0],
            "drift",
            f"Gauge '{tag}' reads high",
            (tag, against) if against else (tag,),
            "Compare with a second gauge on the same line; have the gauge or transducer calibrated.",
        )
    )
    net.block(
        drifting_gauge,
        inputs=dict(pressure=source, drift=drift, span=0.1 * units.from_unit(high, unit)),
        outputs=dict(reading=tag),
        rate="observe",
    )
    return tag


@gives("reading")
def drifting_gauge(pressure: Pressure, drift: Number, span: Pressure) -> Pressure:
    """A gauge's reading, Pa above atmosphere; ``drift`` (0 to 1) adds up to a tenth of the scale, ``span``."""
    return max(pressure - ATMOSPHERE + drift * span, 0.0)


def true_gauge(net: Network, tag: str, source: str, meaning: str, station: Sequence[str], gate: str) -> None:
    """A pressure gauge of 6,000 psi on ``source`` (Pa absolute) that does not drift, looked at while ``gate`` is on."""
    reading(net, tag, "psi", 0, 6000, meaning, station)
    net.block(
        gauge_reading,
        inputs=dict(pressure=source, offset=0.0),
        outputs=dict(reading=tag),
        rate="observe",
        gate=gate,
    )


def reading(
    net: Network,
    tag: str,
    unit: str,
    low: float,
    high: float,
    meaning: str,
    station: Sequence[str] = (),
    normal: tuple[float, float] | None = None,
    initial: float = 0.0,
) -> str:
    """A reading held in a variable of its own (SI), shown in ``unit``; no station makes it a true value."""
    return net.signal(Signal(tag, unit, low, high, meaning, tuple(station), normal), initial)


def state_reading(
    net: Network,
    tag: str,
    states: Sequence[str],
    meaning: str,
    station: Sequence[str] = (),
    initial: float = 0.0,
) -> str:
    """Publish a discrete reading, whose value is the place of its state in ``states``."""
    return net.signal(
        Signal(tag, "state", 0.0, float(len(states) - 1), meaning, tuple(station), None, tuple(states)),
        initial,
    )


def choice(
    net: Network,
    target: str,
    values: Sequence[str],
    meaning: str,
    station: Sequence[str],
    variable: str = "",
    guard: Guard | None = None,
    critical: bool = False,
    then: Callable[[Variables, Order, int], None] | None = None,
) -> None:
    """A selector, lever or button group: ``set target value`` puts the value's index into ``variable``."""
    where = variable or target
    operable = Operable("set", target, tuple(values), "state", tuple(station), meaning, critical)

    def act(machine: Variables, command: Order) -> Refusal | None:
        if command.value not in values:
            return Refusal("out_of_range", f"'{target}' takes {', '.join(values)}, not {command.value!r}.")
        machine.put(where, float(values.index(command.value)))
        if then:
            then(machine, command, values.index(command.value))
        return None

    worked(net, operable, act, guard)


def amount(
    net: Network,
    target: str,
    low: float,
    high: float,
    unit: str,
    meaning: str,
    station: Sequence[str],
    variable: str = "",
    do: str = "set",
    guard: Guard | None = None,
    add: bool = False,
) -> None:
    """A setting with a number in ``unit``: put into ``variable`` (SI), or added to it when ``add`` is true."""
    where = variable or target
    operable = Operable(do, target, (low, high), unit, tuple(station), meaning)

    def act(machine: Variables, command: Order) -> Refusal | None:
        if command.value is None:
            return Refusal("no_value", written(f"'{do} {target}' needs a value from {low:g} to {high:g} {unit}."))
        value = units.edge_value(command.value, unit)
        if not units.from_unit(low, unit) <= value <= units.from_unit(high, unit):
            return Refusal("out_of_range", written(f"'{do} {target}' takes {low:g} to {high:g} {unit}."))
        machine.put(where, machine.read(where) + value if add else value)
        return None

    worked(net, operable, act, guard)


def button(
    net: Network,
    target: str,
    meaning: str,
    station: Sequence[str],
    press: Callable[[Variables], None],
    guard: Guard | None = None,
) -> None:
    """Publish a push-button: ``push target`` calls ``press`` unless ``guard`` refuses."""
    operable = Operable("push", target, None, "state", tuple(station), meaning)

    def act(machine: Variables, command: Order) -> Refusal | None:
        press(machine)
        return None

    worked(net, operable, act, guard)


def worked(
    net: Network,
    operable: Operable,
    act: Callable[[Variables, Order], Refusal | None],
    guard: Guard | None = None,
) -> None:
    """Publish a control: ``act`` works it, or says why not, where the station is right and ``guard`` lets it."""

    def effect(machine: Variables, command: Order) -> Refusal | None:
        refusal = _wrong_station(operable, command) or (guard(machine, command) if guard else None)
        return refusal or act(machine, command)

    net.operable(operable, effect)


def _wrong_station(operable: Operable, command: Order) -> Refusal | None:
    """Why a command cannot be given from where the person stands; None where it can."""
    if command.from_ in operable.station:
        return None
    places = " or ".join(map(naming.station, operable.station))
    return Refusal(
        "wrong_station",
        f"'{operable.target}' is operated from {places}, not from {naming.station(command.from_)}.",
    )


def component_fault(net: Network, component: str, kind: str, title: str, shows: Sequence[str], remedy: str) -> str:
    """Publish a fault of a component and return the name of its severity variable."""
    return net.fault(Fault(f"{component}.{kind}", component, kind, title, tuple(shows), remedy))


def keep_known(net: Network) -> None:
    """A fault names every reading that may show it: keep those that this plant has."""
    for name, fault in net.faults.items():
        net.faults[name] = replace(fault, shows=tuple(tag for tag in fault.shows if tag in net.signals))


__all__ = [
    "PSI",
    "Component",
    "Network",
    "Part",
    "Rate",
    "amount",
    "button",
    "choice",
    "component_fault",
    "keep_known",
]
