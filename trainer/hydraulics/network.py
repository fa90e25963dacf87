"""A plant as a netlist: variables, nodes that hold fluid, edges that carry it, blocks of logic, and what people see.

Components add themselves to a ``Network``; the compiler turns the whole into one flat function. All names are dotted
and share one flat space. A *group* is a part that may sleep (a function at rest with settled lines): it is computed
only while its ``awake`` variable is non-zero, and holds exactly still otherwise.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from trainer.constants import SCAN, TICKS_PER_SCAN
from trainer.hydraulics.catalogue import Effect, Fault, Operable, Order, Signal, Variables
from trainer.hydraulics.inline import Law
from trainer.hydraulics.ports import Bound, Input, Wires, Writes, Written, bound, bound_flow, flat, under
from trainer.hydraulics.refusal import Refusal
from trainer.hydraulics.storage import Fixed, Gas, Storage, bottle_heat
from trainer.units import SI_UNITS, dimension_of, si_unit

NOTHING: Mapping[str, str] = MappingProxyType({})
Rate = Literal["logic", "tick", "after", "observe"]


@dataclass(frozen=True)
class Node:
    """A place that holds fluid: its storage says how much at what pressure, its group when it sleeps."""

    name: str
    storage: Storage
    group: str = ""


@dataclass(frozen=True)
class Edge:
    """An element that carries fluid: q = ``law(pa + head, pb, *args)`` leaves ``a``, ``ratio`` q enters ``b``."""

    name: str
    a: str
    b: str
    law: Law
    args: tuple[Bound, ...]
    ratio: float = 1.0
    head: float = 0.0
    group: str = ""
    fault: str = ""


@dataclass(frozen=True)
class Block:
    """A step of logic: ``results = law(*inputs)`` at its rate, both in the law's order; a tuple is a list.

    logic: every scan before the physics; tick: each tick before the flows are worked out; after: each tick once the
    flows are known; observe: every scan after the physics (instruments and lamps). A logic or observe step with a
    ``gate`` is passed over while that variable is zero.
    """

    law: Law
    inputs: tuple[Bound, ...]
    results: tuple[Written, ...]
    rate: Rate = "logic"
    group: str = ""
    gate: str = ""

    @property
    def reads(self) -> tuple[Input, ...]:
        """The variables and numbers that it reads, in the order of its law's parameters, lists written out."""
        return flat(self.inputs)

    @property
    def outputs(self) -> tuple[str, ...]:
        """The names of the variables that it writes, in the order of its law's results, lists written out."""
        return flat(self.results)


@dataclass
class Network:
    """The netlist under construction. Adding the same name twice is an error that names it.

    A sleeping part wakes when a pressure is off its rest by ``wake`` (Pa, about 10 psi) and falls asleep again within
    ``settled`` (about 2 psi).
    """

    ticks: int = TICKS_PER_SCAN
    wake: float = 7.0e4
    settled: float = 1.4e4
    variables: dict[str, float] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    nodes: dict[str, Node] = field(default_factory=dict)
    edges: dict[str, Edge] = field(default_factory=dict)
    blocks: list[Block] = field(default_factory=list)
    groups: dict[str, str] = field(default_factory=dict)
    gates: dict[str, str] = field(default_factory=dict)
    swept: list[tuple[str, float, float]] = field(default_factory=list)
    signals: dict[str, Signal] = field(default_factory=dict)
    operables: dict[tuple[str, str], Operable] = field(default_factory=dict)
    effects: dict[tuple[str, str], Effect] = field(default_factory=dict)
    faults: dict[str, Fault] = field(default_factory=dict)
    finished: str = ""
    """The fingerprint of a network to which nothing is added any more: it has been checked and is not again."""

    @property
    def tick(self) -> float:
        """The physics' step, s: a scan divided by ``ticks``. Finer than usual only to measure the step's error."""
        return SCAN / self.ticks

    def fingerprint(self) -> str:
        """A hash of all that the compiled code depends on; start values of variables are not part of it."""
        if self.finished:
            return self.finished
        held = hashlib.sha256()
        for part in (self.ticks, self.wake, self.settled, self.groups, self.gates, self.nodes):
            held.update(repr(part).encode())
        held.update("\n".join(self.variables).encode())
        for e in self.edges.values():
            law = f"{e.law.__module__}.{e.law.__qualname__}"
            held.update(repr((e.name, e.a, e.b, law, e.args, e.ratio, e.head, e.group, e.fault)).encode())
        for b in self.blocks:
            law = f"{b.law.__module__}.{b.law.__qualname__}"
            held.update(repr((law, b.inputs, b.outputs, b.rate, b.group, b.gate)).encode())
        return held.hexdigest()

    def var(self, name: str, initial: float = 0.0, unit: str = "1") -> str:
        """Add a state variable, which is in the SI ``unit`` ("1": a share, a state, a count); returns its name."""
        if name in self.variables:
            raise ValueError(f"the plant names {name} twice; give one of them another id")
        if unit not in SI_UNITS:
            raise ValueError(
                f"{name} is in {unit!r}, which is no SI unit known here: write one of {', '.join(SI_UNITS)}"
            )
        self.variables[name] = float(initial)
        self.units[name] = unit
        return name

    def group(self, name: str, gate: str = "", awake: float = 1.0) -> str:
        """Add a part that may sleep; its switch is the variable ``<name>.awake``, on only while ``gate`` is on."""
        self.groups[name] = self.var(f"{name}.awake", awake)
        if gate:
            self.gates[name] = gate
        return name

    def node(self, name: str, storage: Storage, group: str = "") -> str:
        """Add a node; its variables are ``name.p`` (Pa), ``name.v`` (m3) and, off the boundaries, ``name.c``."""
        self.nodes[name] = Node(name, storage, group)
        if isinstance(storage, Fixed):
            self.var(f"{name}.v", storage.initial, "m3")
            self.var(f"{name}.p", storage.pressure, "Pa")
            return name
        if isinstance(storage, Gas):
            self.var(f"{name}.v", storage.fluid, "m3")
            self.var(f"{name}.t", storage.temperature, "K")
            self.var(f"{name}.p", 0.0, "Pa")
            self.var(f"{name}.c", 0.0, "m3/Pa")
            self.var(f"{name}.rho", 0.0, "kg/m3")
            self.var(f"{name}.warm", 0.0, "K m3/kg")
            self.var(f"{name}.heat", 0.0, "Pa/K")
            self.block(
                bottle_heat,
                inputs=dict(rho=f"{name}.rho", temperature=f"{name}.t"),
                outputs=under(name, "warm", "heat"),
            )
            return name
        self.var(f"{name}.v", storage.initial, "m3")
        self.var(f"{name}.p", 0.0, "Pa")
        self.var(f"{name}.c", 0.0, "m3/Pa")
        return name

    def edge(
        self,
        name: str,
        a: str,
        b: str,
        law: Law,
        inputs: Wires,
        *,
        ratio: float = 1.0,
        head: float = 0.0,
        group: str = "",
        fault: str = "",
    ) -> str:
        """Add an edge and return the name of its flow, ``name.q`` (m3/s); ``inputs`` by the names of the law's own
        parameters, its two pressures apart."""
        if name in self.edges:
            raise ValueError(f"the plant names {name} twice; give one of them another id")
        self.edges[name] = Edge(name, a, b, law, bound_flow(law, inputs), ratio, head, group, fault)
        return self.var(f"{name}.q", 0.0, "m3/s")

    def block(
        self,
        law: Law,
        *,
        inputs: Wires = NOTHING,
        states: Writes = NOTHING,
        outputs: Writes = NOTHING,
        rate: Rate = "logic",
        group: str = "",
        gate: str = "",
    ) -> None:
        """Add a step of logic, see Block: variables by the names of the law's ports, see ``trainer.hydraulics.ports``.

        ``inputs`` are only read, ``states`` read and written, ``outputs`` only written.
        """
        read, written = bound(law, inputs, states, outputs)
        self.blocks.append(Block(law, read, written, rate, group, gate))

    def stroke(self, x: str, close: float, open_: float) -> None:
        """Count the fluid behind a piston: ``close`` x + ``open_`` (1 - x) m3 with x the variable's value."""
        self.swept.append((x, close, open_))

    def signal(self, signal: Signal, initial: float = 0.0) -> str:
        """Publish a reading; a variable of that name is added when there is none."""
        if signal.tag not in self.variables:
            self.var(signal.tag, initial, si_unit(dimension_of(signal.unit)))
        self.signals[signal.tag] = signal
        return signal.tag

    def operable(self, operable: Operable, effect: Effect) -> None:
        """Publish a command and what it does; a second one of the same verb and target takes its place."""
        key = (operable.do, operable.target)
        self.operables[key] = operable
        self.effects[key] = effect

    def carry_out(self, plant: Variables, command: Order) -> Refusal | None:
        """Let a command work on a running plant of this network; None, or why it was refused."""
        effect = self.effects.get((command.do, command.target))
        if effect is None:
            return Refusal("not_here", f"Nothing here takes '{command.do}' on '{command.target}'.")
        return effect(plant, command)

    def set_fault(self, plant: Variables, fault_id: str, severity: float) -> None:
        """Set a fault's severity in a running plant, 0 (healthy) to 1 (worst), kept inside; KeyError for no fault."""
        if fault_id not in self.faults:
            raise KeyError(f"this plant has no fault '{fault_id}'")
        plant.put(f"fault.{fault_id}", min(max(severity, 0.0), 1.0))

    def fault(self, fault: Fault) -> str:
        """Publish a fault; its severity is the variable ``fault.<id>``."""
        self.faults[fault.id] = fault
        return self.var(f"fault.{fault.id}")
