"""A compiled plant: one flat list of floats, one function that advances it, and what can be read and commanded."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from typing import Any, ClassVar

from trainer.hydraulics.compile import Advance, check_names, compile_network
from trainer.hydraulics.network import TICKS_PER_SCAN, Network
from trainer.hydraulics.refusal import Refusal
from trainer.hydraulics.storage import Fixed, Gas, Line, bottle_heat, bottle_step, line_pressure

StartAt = Callable[[str, float | None, float | None], dict[str, float]]
"""Variables to put, SI, by a start's name, depth of hole and depth of bit (None: as the start has them)."""


class Machine:
    """A plant that runs. ``state`` holds every variable in the order of ``names``; all else follows from it."""

    maker: ClassVar[Callable[[str], Advance | None] | None] = None
    """What may make quicker code of a flat function's text, for as long as somebody offers it: the same to the bit."""

    def __init__(self, net: Network, plant_hash: str = "") -> None:
        self.net = net
        self.plant_hash = plant_hash
        self.signals: dict[str, Any] = net.signals
        self.operables: dict[tuple[str, str], Any] = net.operables
        self.faults: dict[str, Any] = net.faults
        self.names: list[str] = list(net.variables)
        self.index: dict[str, int] = {n: i for i, n in enumerate(self.names)}
        self.state: list[float] = list(net.variables.values())
        self.armed: frozenset[str] = frozenset()
        self.tick = 0
        self.starts: dict[str, dict[str, float]] = {}
        """Named initial conditions of a drill: variables to put, SI."""
        self.start_at: StartAt | None = None
        """The same for a hole and a bit at other depths, m; None where there is no well."""
        self.depths: tuple[float, float] = (0.0, 0.0)
        """Depths of hole with which a drill may begin, m."""
        self._advance: Advance | None = None
        check_names(net)
        self.settle_pressures()

    def compiled(self) -> Advance:
        """The code of the plant with its armed faults, written when it is first wanted: by then they are known."""
        if self._advance is None:
            made = compile_network(self.net, self.armed)
            quicker = None if Machine.maker is None else Machine.maker(made.source)
            self._advance = quicker or made.advance
        return self._advance

    def scan(self) -> None:
        """Advance by one scan (100 ms)."""
        (self._advance or self.compiled())(self.state)
        self.tick += TICKS_PER_SCAN

    def read(self, tag: str) -> float:
        """A variable's value in SI units; gauge pressures of instruments are gauge."""
        return self.state[self.index[tag]]

    def put(self, name: str, value: float) -> None:
        """Set a variable."""
        self.state[self.index[name]] = float(value)

    def apply(self, command: Any) -> Refusal | None:
        """Carry out a command; returns None, or the sentence that says why it was refused."""
        effect = self.net.effects.get((command.do, command.target))
        if effect is None:
            return Refusal("not_here", f"Nothing here takes '{command.do}' on '{command.target}'.")
        return effect(self, command)

    def arm(self, fault_ids: Iterable[str]) -> None:
        """Compile the named faults into the code; what a fault nobody armed would cost is nothing."""
        wanted = self.armed | frozenset(fault_ids)
        if wanted != self.armed:
            self.armed = wanted
            self._advance = None

    def set_fault(self, fault_id: str, severity: float) -> None:
        """Set a fault's severity, 0 (healthy) to 1 (worst)."""
        if fault_id not in self.faults:
            raise KeyError(f"this plant has no fault '{fault_id}'")
        self.arm([fault_id])
        self.put(f"fault.{fault_id}", min(max(severity, 0.0), 1.0))

    def settle_pressures(self) -> None:
        """Work out node pressures from what the nodes hold (at load, and after volumes were set by hand)."""
        for n, node in self.net.nodes.items():
            storage = node.storage
            if isinstance(storage, Line):
                p, c = line_pressure(self.read(f"{n}.v"), storage.volume, storage.stiffness)
                self.put(f"{n}.p", p)
                self.put(f"{n}.c", c)
            elif isinstance(storage, Gas):
                mass = self.read(storage.mass)
                fluid, temp = self.read(f"{n}.v"), self.read(f"{n}.t")
                rho = mass / (storage.shell - fluid)
                warm, heat = bottle_heat(rho, temp)
                wall = self.read(storage.wall)
                p, c, _, _ = bottle_step(fluid, temp, rho, warm, heat, storage.shell, mass, wall, 0.0)
                for part, value in (("p", p), ("c", c), ("rho", rho), ("warm", warm), ("heat", heat)):
                    self.put(f"{n}.{part}", value)

    def fluid(self) -> float:
        """All fluid in the plant, m3: tanks, lines, bottles, chambers, vented and leaked. Constant to rounding."""
        total = 0.0
        for n in self.net.nodes:
            total += self.read(f"{n}.v")
        for x, close, open_ in self.net.swept:
            position = self.read(x)
            total += close * position + open_ * (1.0 - position)
        return total

    def pressures(self) -> dict[str, float]:
        """Pressure (Pa, absolute) of every node that is not a boundary."""
        return {n: self.read(f"{n}.p") for n, k in self.net.nodes.items() if not isinstance(k.storage, Fixed)}


def file_hash(data: bytes) -> str:
    """SHA-256 of a plant or drill file, hexadecimal."""
    return hashlib.sha256(data).hexdigest()
