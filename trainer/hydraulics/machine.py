"""A compiled plant: one flat buffer of doubles, one function that advances it, and what can be read and commanded."""

from __future__ import annotations

import hashlib
import math
from array import array
from collections.abc import Callable
from typing import ClassVar, Protocol

from trainer.constants import TICKS_PER_SCAN
from trainer.hydraulics.catalogue import Fault, Operable, Order, Signal
from trainer.hydraulics.compile import Advance, Numbers, check_wiring, compile_network
from trainer.hydraulics.network import Network
from trainer.hydraulics.refusal import Refusal
from trainer.hydraulics.storage import Fixed, Gas, Line, bottle_heat, bottle_step, line_pressure

Run = Callable[[int], bool]
"""Advances a plant by a number of scans; False when its numbers gave out on the way."""

StartAt = Callable[[str, float | None, float | None], dict[str, float]]
"""Variables to put, SI, by a start's name, depth of hole and depth of bit (None: as the start has them)."""


class NumbersError(ArithmeticError):
    """A scan divided by zero, took the root of a negative number, or left a state that is not finite."""

    def __init__(self) -> None:
        super().__init__(
            "The plant cannot be computed further: a quantity is no longer a finite number. "
            "Start again; if the plant file is your own, check the values that you changed."
        )


class Computer(Protocol):
    """Holds the numbers of one plant and advances them, in plain Python or as a compiled module."""

    numbers: Numbers

    def bind(self, net: Network) -> Run:
        """The function that advances ``numbers``, the state of ``net``, by a number of scans."""


class PlainPython:
    """Advances a plant by the flat Python function: the reference, which runs everywhere."""

    def __init__(self, size: int) -> None:
        self.numbers: Numbers = array("d", bytes(8 * size))

    def bind(self, net: Network) -> Run:
        """The function that advances ``numbers``, the state of ``net``, by a number of scans."""
        return advancing(compile_network(net).advance, self.numbers)


def advancing(advance: Advance, state: Numbers) -> Run:
    """The function that advances ``state`` by so many scans of the flat function; False when numbers gave out."""

    def run(scans: int) -> bool:
        try:
            for _ in range(scans):
                advance(state)
                # A total is finite unless a part is not, or parts of 1e305 are added: then each is looked at.
                if not math.isfinite(sum(state)) and not all(map(math.isfinite, state)):
                    return False
        except (ZeroDivisionError, ValueError):
            return False
        return True

    return run


class Machine:
    """A plant that runs. ``state`` holds every variable in the order of ``names``; all else follows from it."""

    maker: ClassVar[Callable[[int], Computer]] = PlainPython
    """Makes what holds and advances so many numbers. Every maker gives the same bits; see ``trainer.runtime``."""

    def __init__(self, net: Network, plant_hash: str = "") -> None:
        self.net = net
        self.plant_hash = plant_hash
        self.signals: dict[str, Signal] = net.signals
        self.operables: dict[tuple[str, str], Operable] = net.operables
        self.faults: dict[str, Fault] = net.faults
        self.names: list[str] = list(net.variables)
        self.index: dict[str, int] = {n: i for i, n in enumerate(self.names)}
        self._computer = Machine.maker(len(self.names))
        self.state = self._computer.numbers
        self.state[:] = array("d", net.variables.values())
        self.tick = 0
        self.starts: dict[str, dict[str, float]] = {}
        """Named initial conditions of a drill: variables to put, SI."""
        self.start_at: StartAt | None = None
        """The same for a hole and a bit at other depths, m; None where there is no well."""
        self.depths: tuple[float, float] = (0.0, 0.0)
        """Depths of hole with which a drill may begin, m."""
        self.kinds: dict[str, tuple[str, ...]] = {}
        """Ids of the functions of each kind."""
        self.walks: dict[str, float] = {}
        """The ways on foot from the driller's panel to the plant's further panels by their stations, s."""
        self.figures: Callable[[str], float] | None = None
        """The figure (SI) at a place of the plant file; LookupError for none."""
        self._run: Run | None = None
        if not net.finished:
            check_wiring(net)
        self.settle_pressures()

    def scan(self, scans: int = 1) -> None:
        """Advance by ``scans`` of 100 ms; NumbersError when the numbers gave out."""
        if self._run is None:
            self._run = self._computer.bind(self.net)
        if not self._run(scans):
            raise NumbersError
        self.tick += scans * TICKS_PER_SCAN

    def saved(self) -> bytes:
        """The whole state as bytes, for ``restore`` on a machine of the same plant."""
        return bytes(self.state)

    def restore(self, saved: bytes) -> None:
        """Take back what ``saved`` gave, in place; ValueError for the state of another plant."""
        memoryview(self.state).cast("B")[:] = saved

    def read(self, tag: str) -> float:
        """A variable's value in SI units; gauge pressures of instruments are gauge."""
        return self.state[self.index[tag]]

    def put(self, name: str, value: float) -> None:
        """Set a variable, SI; KeyError for none. Pressures of nodes follow by ``settle_pressures``."""
        self.state[self.index[name]] = float(value)

    def apply(self, command: Order) -> Refusal | None:
        """Carry out a command; returns None, or the sentence that says why it was refused."""
        return self.net.carry_out(self, command)

    def set_fault(self, fault_id: str, severity: float) -> None:
        """Set a fault's severity, 0 (healthy) to 1 (worst), kept inside; KeyError for no fault of this plant."""
        self.net.set_fault(self, fault_id, severity)

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
    """SHA-256 over the bytes of a plant or drill file, 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()
