"""Operators who look before they act: they read the same instruments as a trainee and adapt to the seed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from trainer.simulator import Session

LOG = ("tank_level", "log_annular", "log_manifold", "log_mix", "log_depth", "log_bit", "log_pit")
"""Readings that are entered last, for whoever comes next."""


class Crew:
    """Hands on a session: ``do`` acts, ``wait`` and ``until`` let time pass."""

    def __init__(self, drill: str, seed: int = 0, mode: str = "check") -> None:
        self.session = Session.start(drill, seed=seed, mode=mode)
        self.refused: list[str] = []

    def __getitem__(self, tag: str) -> float:
        machine = self.session.machine
        from trainer import units

        return units.to_unit(machine.read(tag), machine.signals[tag].unit)

    def do(self, do: str, target: str, value: Any = None, at: str = "driller") -> None:
        refusal = self.session.submit({"do": do, "target": target, "value": value, "from": at})
        if refusal is not None:
            self.refused.append(f"{target}: {refusal}")

    def close(self, function: str, at: str = "driller") -> None:
        self.do("set", function, "close", at)

    def open(self, function: str, at: str = "driller") -> None:
        self.do("set", function, "open", at)

    def go(self, station: str) -> None:
        """Walk to a station, where the drill has one person alone."""
        self.do("go", station)
        assert self.session.walking is not None
        self.wait(self.session.walking.left(self.session.tick))

    def say(self, statement: str) -> None:
        self.do("say", statement)

    def read(self, name: str, tag: str, off: float = 0.0) -> None:
        self.do("read", name, self[tag] + off)

    def enter(self, name: str, value: float) -> None:
        """A reading that no instrument shows, such as a time by the stop-watch."""
        self.do("read", name, value)

    def asked(self, vary: str) -> int:
        """Which of its alternatives the drill has put to the trainee."""
        return int(self.session.referee.drawn[vary])

    def told(self, vary: str, unit: str) -> float:
        """A figure that the drill has told the trainee, in a field unit."""
        from trainer import units

        return units.to_unit(self.session.referee.drawn[vary], unit)

    def unit(self, target: str, value: Any = None) -> None:
        """At the control unit: set a valve, switch or mode; push a button where there is no value."""
        self.do("push" if value is None else "set", target, value, "unit")

    def settled(self, limit: float = 90.0) -> None:
        """Wait until the flow meter has come back to the trickle that recharges the stack bottles."""
        self.wait(2.0)
        self.until(lambda: self["totaliser.flow"] < 8.0, limit)
        self.wait(1.0)

    def wait(self, seconds: float) -> None:
        self.session.advance(seconds)

    def until(self, so: Callable[[], bool], limit: float = 300.0) -> bool:
        end = self.session.time + limit
        while not so() and self.session.time < end and not self.session.finished:
            self.session.advance(0.1)
        return so()

    def finish(self) -> None:
        """The entries in the log that the drill asks for; then nothing more."""
        for reading in self.session.referee.drill.reading:
            if reading.id in LOG:
                self.read(reading.id, reading.tag)
        self.session.advance_to(4 * 3600.0)

    @property
    def sheet(self) -> dict[str, Any]:
        return self.session.sheet()


def shut_in_while_drilling(
    seed: int, preventer: str = "upper_annular", line: str = "upper", slow: float = 0.0, at: str = "driller"
) -> Crew:
    """A sound crew on the kick taken while drilling, with any preventer, either choke line, slow or quick."""
    crew = Crew("kick-while-drilling", seed)
    assert crew.until(lambda: crew["well.flow_out"] > crew["well.flow_in"] + 45.0)
    crew.wait(3.0 + slow)
    crew.say("well_flows")
    crew.wait(2.0)
    crew.do("set", "floor.rotary", 0)
    crew.wait(4.0 + slow)
    crew.do("hoist", "floor.hook", 66.0 - crew["floor.hook"])
    crew.until(lambda: crew["floor.hook"] > 65.5, 60.0)
    crew.wait(2.0 + slow)
    crew.do("set", "floor.mud_pumps", 0)
    crew.until(lambda: crew["floor.mud_pumps"] < 0.5, 30.0)
    crew.wait(10.0)
    crew.say("flow_check_positive")
    crew.do("push", "totaliser.reset")
    crew.close(preventer, at)
    crew.until(lambda: crew["well.flow_out"] < 3.0, 120.0)
    crew.wait(5.0 + slow)
    crew.read("flow_count", "totaliser.count")
    crew.read("readback", "annular_regulator.readback")
    crew.read("manifold_readback", "manifold_regulator.readback")
    crew.read("return_flow", "well.flow_out")
    crew.say("shut_in")
    crew.open(f"{line}_inner_choke")
    crew.open(f"{line}_outer_choke")
    crew.wait(60.0 + slow)
    crew.read("sidpp", "well.drillpipe_pressure")
    crew.read("sicp", "well.casing_pressure")
    crew.read("pit_gain", "well.pit_gain")
    crew.say("handed_over")
    crew.finish()
    return crew
