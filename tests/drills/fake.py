"""A plant of one ram and one well, small enough to reckon by hand: the ram takes 10 s and 20 gal to close."""

from __future__ import annotations

from array import array
from typing import Any

from trainer import units
from trainer.hydraulics.catalogue import Fault, Operable, Signal
from trainer.hydraulics.refusal import Refusal

SPEED = 0.1  # of the stroke, 1/s
VOLUME = units.from_unit(20.0, "gal")
FLOW = units.from_unit(400.0, "gpm")
KICK = units.from_unit(240.0, "gpm")

SIGNALS = [
    Signal("header.pressure", "psi", 0.0, 5000.0, "Accumulator pressure", ("driller",), (2500.0, 3000.0)),
    Signal("ram.valve", "state", 0, 2, "Valve of the ram", ("driller",), None, ("block", "open", "close")),
    Signal("ram.position", "%", 0.0, 100.0, "Ram, closed share"),
    Signal("ram.sealing", "state", 0, 1, "Ram seals", (), None, ("no", "yes")),
    Signal("ram.lamp", "state", 0, 1, "Lamp of the ram", ("driller",), None, ("off", "on")),
    Signal("totaliser.count", "gal", 0.0, 9999.0, "Fluid counted", ("driller",)),
    Signal("well.flow_out", "gpm", 0.0, 1500.0, "Return flow", ("floor",)),
    Signal("well.pit_gain", "bbl", -100.0, 200.0, "Pit gain", ("floor",)),
    Signal("well.casing_pressure", "psi", 0.0, 10000.0, "Shut-in casing pressure", ("floor",)),
    Signal("well.formation", "psi", 0.0, 15000.0, "Formation pressure over hydrostatic"),
    Signal("floor.mud_pumps", "1/min", 0.0, 120.0, "Mud pumps", ("floor",)),
    Signal("well.temperature", "degF", 0.0, 300.0, "Flow-line temperature", ("floor",)),
]
OPERABLES = [
    Operable("set", "ram", ("block", "open", "close"), "state", ("driller", "unit"), "Ram", critical=True),
    Operable("set", "floor.mud_pumps", (0.0, 120.0), "1/min", ("floor",), "Mud pumps"),
    Operable("push", "totaliser.reset", None, "state", ("driller",), "Reset the count"),
    Operable("push", "driller.enable", None, "state", ("driller",), "Enable"),
]
FAULTS = [
    Fault("well.kick", "well", "kick", "The well kicks", ("well.flow_out",), "Shut in"),
    Fault("ram.stuck", "ram", "stuck", "The ram does not move", ("totaliser.count",), "Use another"),
    Fault("ram.lamp", "ram", "lamp", "The lamp lies", ("ram.lamp",), "Read the flow count"),
]


class FakeMachine:
    """Satisfies the machine of ``trainer.drills.runner``."""

    def __init__(self) -> None:
        self.signals = {s.tag: s for s in SIGNALS}
        self.operables = {(o.do, o.target): o for o in OPERABLES}
        self.faults = {f.id: f for f in FAULTS}
        names = [*self.signals, *(f"fault.{f}" for f in self.faults), "enabled"]
        self.index = {name: n for n, name in enumerate(names)}
        self.state = array("d", [0.0] * len(names))
        self.tick = 0
        self.starts: dict[str, dict[str, float]] = {}
        self.start_at = None
        self.put("header.pressure", units.from_unit(3000.0, "psi"))
        self.put("well.formation", units.from_unit(500.0, "psi"))
        self.put("well.temperature", units.from_unit(90.0, "degF"))
        self.put("floor.mud_pumps", units.from_unit(70.0, "1/min"))

    def read(self, tag: str) -> float:
        return self.state[self.index[tag]]

    def put(self, name: str, value: float) -> None:
        self.state[self.index[name]] = value

    def set_fault(self, fault: str, severity: float) -> None:
        self.put(f"fault.{fault}", severity)

    def apply(self, command: Any) -> Refusal | None:
        if command.target == "ram":
            if command.value == "close" and self.read("enabled") < 0.5:
                return Refusal("not_enabled", "push enable first")
            self.put("ram.valve", float(("block", "open", "close").index(command.value)))
        elif command.target == "floor.mud_pumps":
            self.put("floor.mud_pumps", units.from_unit(command.value, "1/min"))
        elif command.target == "totaliser.reset":
            self.put("totaliser.count", 0.0)
        else:
            self.put("enabled", 1.0)
        return None

    def scan(self, scans: int = 1) -> None:
        for _ in range(scans):
            self._scan()

    def _scan(self) -> None:
        self.tick += 5
        way = self.read("ram.valve")
        old = position = self.read("ram.position")
        if self.read("fault.ram.stuck") < 0.5:
            if way == 2.0:
                position = min(1.0, old + SPEED * 0.1)
            elif way == 1.0:
                position = max(0.0, old - SPEED * 0.1)
        moved = abs(position - old)
        self.put("ram.position", position)
        self.put("totaliser.count", self.read("totaliser.count") + moved * VOLUME)
        sealing = position > 0.99
        self.put("ram.sealing", float(sealing))
        self.put("ram.lamp", float(sealing or (way == 2.0 and self.read("fault.ram.lamp") > 0.5)))
        kick = self.read("fault.well.kick")
        pumped = FLOW if self.read("floor.mud_pumps") > 0.0 else 0.0
        flow = 0.0 if sealing else pumped + kick * KICK
        self.put("well.flow_out", flow)
        gain = 0.0 if sealing else kick * KICK * 0.1
        self.put("well.pit_gain", self.read("well.pit_gain") + gain)
        self.put("well.casing_pressure", self.read("well.formation") if sealing and kick else 0.0)


def run(
    runner: Any, machine: FakeMachine, commands: list[dict[str, Any]], until: float, coach: Any = None
) -> list[str | None]:
    """Play commands against a begun runner to ``until`` seconds; returns what was refused."""
    from trainer.session.commands import Command

    waiting = [Command.model_validate(c) for c in commands]
    refused: list[str | None] = []
    start = runner.state()["t"]
    scan = round(start * 10)
    while scan < round(until * 10) and not runner.finished:
        t = scan / 10
        while waiting and waiting[0].t <= t + 1e-9:
            command = waiting.pop(0)
            spoken = command.do in ("say", "read", "name")
            refusal = None if spoken else machine.apply(command)
            refused.append(refusal)
            runner.before(t, command, refusal)
            if coach is not None:
                coach.notice(t, command, refusal)
        machine.scan()
        scan += 1
        runner.after(scan / 10)
    return refused
