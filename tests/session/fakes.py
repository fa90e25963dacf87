"""A tiny plant and a tiny referee, so that sessions are tested apart from physics and drills."""

from __future__ import annotations

from array import array
from typing import Any

from trainer.hydraulics.catalogue import Fault, Operable, Signal
from trainer.hydraulics.refusal import Refusal
from trainer.session.commands import Command
from trainer.session.session import Identity, SessionCore
from trainer.units import from_unit


class FakeMachine:
    """A tank that a valve drains into a second tank; a choke throttles; a hatch that never opens."""

    plant_hash = "a" * 64

    def __init__(self) -> None:
        self.state = array("d", [1.0, 0.0, 0.0, 0.5])
        self.tick = 0
        self.signals = {
            "tank.volume": Signal("tank.volume", "gal", 0.0, 300.0, "fluid in the tank", ("unit",)),
            "valve.position": Signal("valve.position", "state", 0, 1, "valve", (), None, ("shut", "open")),
        }
        self.operables = {
            ("set", "valve"): Operable("set", "valve", ("shut", "open"), "", ("driller", "unit"), "drain valve"),
            ("set", "choke"): Operable("set", "choke", (0.0, 100.0), "%", ("floor",), "choke opening"),
            ("raise", "setting"): Operable("raise", "setting", (0.1, 10.0), "s", ("driller",), "regulator"),
            ("push", "hatch"): Operable("push", "hatch", None, "", ("driller",), "hatch"),
        }
        self.faults = {"valve.slow": Fault("valve.slow", "valve", "slow", "slow valve", (), "clean it")}

    def read(self, tag: str) -> float:
        return self.state[0] if tag == "tank.volume" else self.state[2]

    def scan(self, scans: int = 1) -> None:
        for _ in range(scans):
            flow = 0.01 * self.state[0] * self.state[2] * self.state[3]
            self.state[0] -= flow
            self.state[1] += flow
            self.tick += 5

    def apply(self, command: Command) -> Refusal | None:
        if command.target == "hatch":
            return Refusal("bolted", "The hatch is bolted.")
        if command.target == "valve":
            self.state[2] = 1.0 if command.value == "open" else 0.0
        elif command.target == "choke":
            assert isinstance(command.value, float)
            self.state[3] = command.value / 100.0
        return None


class _Sheet:
    def __init__(self, referee: FakeReferee) -> None:
        self.referee = referee

    def to_json(self) -> dict[str, Any]:
        opened = self.referee.opened
        earned = 10.0 if opened is not None else 0.0
        return {
            "passed": opened is not None,
            "score": earned * 10,
            "critical": [],
            "criteria": [{"id": "opened", "title": "Open", "points": 10, "earned": earned, "t": opened}],
        }


class FakeReferee:
    """Wants the valve open; ends at a minute."""

    def __init__(self) -> None:
        self.opened: float | None = None
        self.refused = 0
        self.t = 0.0
        self.messages: list[tuple[float, str]] = []
        self.left: float | None = None
        self.open_titles: list[tuple[str, str]] = []

    def waiting(self) -> None:
        """Nothing to skip."""

    @property
    def finished(self) -> bool:
        return self.t >= 60.0

    def begin(self, machine: FakeMachine) -> None:
        machine.state[0] = from_unit(250.0, "gal")
        machine.tick = 1000

    def attach(self, machine: FakeMachine) -> None:
        """Nothing to bind."""

    def before(self, t: float, command: Command, refusal: Refusal | None) -> None:
        self.refused += refusal is not None
        if self.opened is None and command.target == "valve" and command.value == "open":
            self.opened = t

    def after(self, t: float) -> None:
        self.t = t

    def state(self) -> dict[str, Any]:
        return {"opened": self.opened, "refused": self.refused, "t": self.t}

    def load(self, state: dict[str, Any]) -> None:
        self.opened, self.refused, self.t = state["opened"], state["refused"], state["t"]

    def sheet(self) -> _Sheet:
        return _Sheet(self)


def identity(seed: int = 0) -> Identity:
    return Identity(plant="fake", plant_hash="a" * 64, drill="drain", drill_hash="b" * 64, seed=seed)


def start(seed: int = 0) -> SessionCore:
    return SessionCore(FakeMachine(), FakeReferee(), identity(seed)).begin()


def rebuild(wanted: Identity) -> SessionCore:
    if wanted.plant != "fake":
        raise LookupError(f"there is no plant {wanted.plant!r} here")
    return start(wanted.seed)
