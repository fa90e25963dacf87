"""Operators who look before they act: they read the same instruments as a trainee and adapt to the seed."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from tests.drills import instruments
from tests.drills.instruments import AtTheEngine, Desk, UnseenError, read_number
from trainer.drills import library
from trainer.simulator import Session

LOG = ("tank_level", "log_annular", "log_manifold", "log_mix", "log_depth", "log_bit", "log_pit")
"""Readings that are entered last, for whoever comes next."""
SHUT_IN = {
    "readback": "annular_regulator.readback",
    "manifold_readback": "manifold_regulator.readback",
    "return_flow": "well.flow_out",
}
"""Readings that are taken as soon as a well is shut in, with their instruments."""
PRESSURES = {
    "sidpp": "well.drillpipe_pressure",
    "sicp": "well.casing_pressure",
    "pit_gain": "well.pit_gain",
}
"""Those that are taken once the pressures stand."""
QUICKLY, STEADILY = 20.0, 5.0
"""At which pace a crew waits: for what lasts long, or for what must be seen when it comes."""
LONG = 550.0
"""Who is ready to wait so long, s, hurries."""


class Crew:
    """Hands at a desk: ``do`` acts, ``wait`` and ``until`` let time pass.

    A crew knows the drill's file (its words, not what the seed drew) and what its desk shows. The run itself, its
    ``session``, is for those who judge the crew when it has finished.
    """

    def __init__(self, drill: str, seed: int = 0, mode: str = "check", desk: Desk | None = None) -> None:
        self.drill = library.load_file(library.find(drill))
        self.desk = desk if desk is not None else instruments.desk(drill, seed, mode)
        self.refused: list[str] = []
        self._finished = self._logged = False

    def __getitem__(self, tag: str) -> float:
        return self.desk.shown(tag)

    @property
    def time(self) -> float:
        """The run's clock, s."""
        return self.desk.time

    @property
    def over(self) -> bool:
        """Whether the run has ended."""
        return self.desk.over

    def do(self, do: str, target: str, value: Any = None, at: str = "") -> None:
        """Work something, at the driller's panel or, where that is its place, on the drill floor."""
        refusal = self.desk.do(do, target, value, at or ("floor" if target.startswith("floor.") else "driller"))
        if refusal is not None:
            self.refused.append(f"{target}: {refusal}")

    def close(self, function: str, at: str = "driller") -> None:
        self.do("set", function, "close", at)

    def open(self, function: str, at: str = "driller") -> None:
        self.do("set", function, "open", at)

    def hoist(self, to: float) -> None:
        """Bring the hook to a height, ft."""
        if self["floor.hook"] < to:
            self.desk.hoist("up", lambda: self["floor.hook"] >= to)
        else:
            self.desk.hoist("down", lambda: self["floor.hook"] <= to)

    def go(self, station: str) -> None:
        """Walk to a station, where the drill has one person alone."""
        self.desk.go(station)

    def say(self, statement: str) -> None:
        self.do("say", statement)

    def read(self, name: str, tag: str, off: float = 0.0) -> None:
        self.do("read", name, self[tag] + off)

    def read_each(self, readings: Mapping[str, str], each: float) -> None:
        """Instruments by the names of their readings, one after the other; each takes so long, s."""
        for name, tag in readings.items():
            self.read(name, tag)
            self.wait(each)

    def enter(self, name: str, value: float) -> None:
        """A reading that no instrument shows, such as a time by the stop-watch."""
        self.do("read", name, round(value, 1))

    def asked(self, vary: str) -> int:
        """Which of its alternatives the drill has put to the trainee, by the words last told."""
        choices = next(spec.one_of or [] for spec in self.drill.vary if spec.id == vary)
        for text in reversed(self.desk.told):
            found = [n for n, words in enumerate(choices) if words in text]
            if found:
                # One alternative may be a part of another: the longest that fits is meant.
                return max(found, key=lambda n: len(choices[n]))
        raise UnseenError(f"none of {choices} was told")

    def told(self, after: str, unit: str) -> float:
        """The figure with this unit that the situation gives first after some words."""
        found = re.search(rf"{after}\D*?([\d,.]*\d) ?{re.escape(unit)}", self.desk.told[0])
        if found is None:
            raise UnseenError(f"the situation gives no {unit} after {after!r}: {self.desk.told[0]!r}")
        return read_number(found[1])

    def hears(self, calls: int = 1, limit: float = 300.0) -> bool:
        """Wait until so many calls have come since the situation was told."""
        return self.until(lambda: len(self.desk.told) > calls, limit)

    def unit(self, target: str, value: Any = None) -> None:
        """At the control unit: set a valve, switch or mode; push a button where there is no value."""
        self.do("push" if value is None else "set", target, value, "unit")

    def settled(self, limit: float = 90.0) -> None:
        """Wait until the flow meter has come back to the trickle that recharges the stack bottles."""
        self.wait(2.0)
        self.until(lambda: self["totaliser.flow"] < 8.0, limit)
        self.wait(1.0)

    def wait(self, seconds: float) -> None:
        self.desk.wait(seconds)

    def until(self, so: Callable[[], bool], limit: float = 300.0) -> bool:
        """Wait until it is so, or the limit (s) or the run has come to its end; whether it is so."""
        return self.desk.until(so, limit, QUICKLY if limit >= LONG else STEADILY)

    def finish(self, log: bool = True) -> None:
        """The entries in the log that the drill asks for, unless it is forgotten; then nothing more."""
        if log:
            self.enter_log()
        self.desk.finish()
        self._finished = True

    def enter_log(self, each: float = 0.0) -> None:
        """The entries in the log that the drill asks for, if they are not made yet; ``each`` takes so long, s."""
        for reading in () if self._logged else self.drill.reading:
            if reading.id in LOG and reading.tag is not None and not self.over:
                try:
                    self.wait(each)
                    self.read(reading.id, reading.tag)
                except AssertionError:
                    # At the page the run may end while somebody goes to an instrument.
                    if not self.over:
                        raise
        self._logged = True

    def end_with(self, statement: str) -> None:
        """The log, and the report that ends the drill; then nothing more."""
        self.enter_log()
        self.say(statement)
        self.finish()

    def hand_over(self) -> None:
        """The pressures and the gain of a well that is shut in, the log, and the word that it is handed over."""
        self.read_each(PRESSURES, 2.0)
        self.enter_log(2.0)
        self.wait(2.0)
        self.say("handed_over")
        self.finish()

    @property
    def sheet(self) -> dict[str, Any]:
        return self.desk.sheet

    @property
    def session(self) -> Session:
        """The run, after the crew has finished."""
        assert self._finished, "a crew reads its instruments, not the run"
        assert isinstance(self.desk, AtTheEngine)
        return self.desk.session


def below(preventer: str) -> str:
    """The choke line whose outlet lies under a preventer."""
    return "upper" if preventer.endswith("annular") else "lower"


def shut_in_while_drilling(
    seed: int, preventer: str = "upper_annular", line: str = "", slow: float = 0.0, at: str = "driller"
) -> Crew:
    """A sound crew on the kick taken while drilling, with any preventer, any choke line under it, slow or quick."""
    line = line or below(preventer)
    crew = Crew("kick-while-drilling", seed)
    assert crew.until(lambda: crew["well.flow_out"] > crew["well.flow_in"] + 45.0)
    crew.wait(3.0 + slow)
    crew.say("well_flows")
    crew.wait(2.0)
    crew.do("set", "floor.rotary", 0)
    crew.wait(4.0 + slow)
    crew.hoist(66.0)
    crew.wait(2.0 + slow)
    crew.do("set", "floor.mud_pumps", 0)
    crew.until(lambda: crew["floor.mud_pumps"] < 0.5, 30.0)
    crew.wait(10.0)
    crew.say("flow_check_positive")
    crew.do("push", "totaliser.reset")
    crew.close(preventer, at)
    crew.until(lambda: crew["well.flow_out"] < 3.0, 120.0)
    crew.wait(5.0 + slow)
    crew.open(f"{line}_inner_choke")
    crew.open(f"{line}_outer_choke")
    crew.wait(5.0)
    crew.read_each({"flow_count": "totaliser.count", **SHUT_IN}, 2.0)
    crew.say("shut_in")
    crew.wait(50.0 + slow)
    crew.hand_over()
    return crew
