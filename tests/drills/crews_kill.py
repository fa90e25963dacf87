"""Crews that kill a well, by the driller's method and by wait and weight; the bad ones with their reasons."""

from __future__ import annotations

import math
from collections.abc import Callable

from tests import killsheet
from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons

RATE = 40.0
STEPS = (10.0, 20.0, 30.0, RATE)
MUD, OUTPUT, INSIDE = 10.0, 0.105, 4.276
"""What the kill sheet of this well begins with: lb/gal, bbl a stroke, in."""
LOOK, QUICK = 8.0, 2.0
"""A choke hand looks and corrects so often, s, and so often with gas near the choke."""
AHEAD = 6.0
"""How far ahead a gauge that moves is read, s."""


class Killing:
    """A choke hand with a kill sheet."""

    def __init__(self, drill: str, seed: int, rate: float = RATE) -> None:
        self.crew, self.rate = Crew(drill, seed), rate
        self.place, self.gas_from, self.gas_until = 0.0, 0.0, 0.0

    def read(self) -> None:
        crew = self.crew
        assert crew.hears()
        crew.wait(15.0)
        for name, tag in (("sidpp", "drillpipe_pressure"), ("sicp", "casing_pressure"), ("gain", "pit_gain")):
            crew.read(name, f"well.{tag}")
        self.sidpp, self.sicp = crew["well.drillpipe_pressure"], crew["well.casing_pressure"]
        self.depth = crew.told("at", "ft")
        self.gas_from, self.gas_until = 0.6 * self.to_surface, 1.08 * self.to_surface

    def hold(
        self, tag: str, wanted: Callable[[], float], until: Callable[[], bool], limit: float, look: float = 0.0
    ) -> None:
        """Keep a gauge where it is wanted with the choke, by small corrections, quicker ones once gas comes up; psi."""
        crew, last = self.crew, self.crew[tag]
        end = crew.time + limit
        while crew.time < end and not crew.over and not until():
            pace = look or (QUICK if self.gas_from < crew["floor.strokes"] < self.gas_until else LOOK)
            crew.wait(pace)
            now = crew[tag]
            off = wanted() - now - AHEAD / pace * (now - last)
            last = now
            if abs(off) < 6.0:
                continue
            share = off / (2.0 * max(crew["well.casing_pressure"], 60.0))
            gain = 1.5 if pace == QUICK else 0.6
            self.place = min(max(self.place * (1.0 - gain * max(min(share, 0.3), -0.3)), 0.5), 100.0)
            crew.do("set", "floor.choke", round(self.place, 2))

    def start(self) -> None:
        """Bring the pump up by steps, the casing pressure held where it stands."""
        crew, casing = self.crew, self.crew["well.casing_pressure"]
        before = 0.0
        for rate in (*(step for step in STEPS if step < self.rate), self.rate):
            self.place = 3.2 * math.sqrt(300.0 / max(casing, 60.0)) if before == 0.0 else self.place * rate / before
            before = rate
            crew.do("set", "floor.mud_pumps", rate)
            crew.wait(1.0)
            crew.do("set", "floor.choke", round(min(self.place, 100.0), 2))
            self.hold("well.casing_pressure", lambda: casing, lambda: False, 40.0, LOOK / 2.0)
        self.hold("well.casing_pressure", lambda: casing, lambda: False, 60.0)

    def stop(self) -> None:
        """Bring the pump down by steps with the casing pressure held, and shut the choke."""
        crew, casing = self.crew, self.crew["well.casing_pressure"]
        before = self.rate
        for rate in (30.0, 20.0, 10.0):
            self.place = max(self.place * rate / before, 0.5)
            before = rate
            crew.do("set", "floor.choke", round(self.place, 2))
            crew.do("set", "floor.mud_pumps", rate)
            self.hold("well.casing_pressure", lambda: casing, lambda: False, 32.0)
        crew.do("set", "floor.mud_pumps", 0)
        crew.wait(0.8)
        crew.do("set", "floor.choke", 0)
        crew.wait(40.0)
        self.bleed()

    def bleed(self) -> None:
        """Let off what is trapped, a little at a time, while the drill-pipe pressure falls with it."""
        crew = self.crew
        for _ in range(12):
            before = crew["well.drillpipe_pressure"]
            if before < 3.0:
                break
            crew.do("set", "floor.choke", 1.5)
            crew.wait(2.0)
            crew.do("set", "floor.choke", 0)
            crew.wait(30.0)
            if before - crew["well.drillpipe_pressure"] < 4.0:
                break

    def mix(self, light: float = 0.0) -> None:
        """Work out the kill weight, set it and line up to it; ``light``: lb/gal too little."""
        crew = self.crew
        exact = killsheet.kill_weight(self.sidpp, MUD, self.depth)
        self.weight = killsheet.rounded_up(exact) - light
        crew.enter("weight", self.weight)
        crew.do("set", "pits.kill_weight", self.weight, "floor")
        crew.do("set", "pits.line_up", "kill pit", "floor")

    @property
    def to_bit(self) -> float:
        """Strokes from the surface to the bit."""
        return killsheet.pipe_capacity(INSIDE) * (self.depth + 60.0) / OUTPUT

    @property
    def to_surface(self) -> float:
        """Strokes from the bit to the surface."""
        return 1.02 * (
            killsheet.annular_capacity(8.681, 5.0) * 5400.0
            + killsheet.annular_capacity(8.5, 5.0) * (self.depth - 6200.0)
            + killsheet.annular_capacity(8.5, 6.5) * 800.0
        ) / OUTPUT  # fmt: skip

    def strokes(self, count: float) -> Callable[[], bool]:
        return lambda: self.crew["floor.strokes"] >= count


def drillers(seed: int, drops: bool = False, one: bool = False, light: float = 0.0, rate: float = RATE) -> Crew:
    """``drops``: holds the casing, not the drill pipe, while the influx comes up; ``one``: takes the well for dead
    after the first circulation; ``light``: kill mud too light, lb/gal."""
    hand = Killing("kill-drillers-method", seed, rate)
    crew = hand.crew
    hand.read()
    hand.start()
    crew.do("push", "floor.strokes", None, "floor")
    icp = crew["well.drillpipe_pressure"]
    crew.read("icp", "well.drillpipe_pressure")
    if drops:
        casing = crew["well.casing_pressure"]
        hand.hold("well.casing_pressure", lambda: casing, hand.strokes(hand.to_surface), 6000.0)
    else:
        hand.hold("well.drillpipe_pressure", lambda: icp, hand.strokes(1.1 * hand.to_surface), 6000.0)
    hand.stop()
    hand.gas_until = 0.0
    if one:
        crew.say("dead")
        crew.open("annular")
        crew.wait(40.0)
        crew.finish()
        return crew
    crew.say("equal")
    hand.mix(light)
    crew.do("push", "floor.strokes", None, "floor")
    casing = crew["well.casing_pressure"]
    hand.start()
    hand.hold("well.casing_pressure", lambda: casing, hand.strokes(hand.to_bit * 1.03), 4000.0)
    return finish(hand)


def wrong_start(drill: str, seed: int, what: str) -> Crew:
    """Begins with one wrong thing: 'against' the closed choke, the choke 'wide' open, or the annular 'opened'."""
    hand = Killing(drill, seed)
    crew = hand.crew
    hand.read()
    if what == "opened":
        crew.open("annular")
    else:
        crew.do("set", "floor.mud_pumps", RATE)
        if what == "wide":
            crew.do("set", "floor.choke", 60)
    crew.wait(90.0)
    crew.finish()
    return crew


def finish(hand: Killing) -> Crew:
    """From kill mud at the bit to the end."""
    crew = hand.crew
    crew.wait(70.0)
    fcp = crew["well.drillpipe_pressure"]
    crew.read("fcp", "well.drillpipe_pressure")
    done = hand.strokes(1.04 * (hand.to_bit + hand.to_surface))
    hand.hold("well.drillpipe_pressure", lambda: fcp, done, 8000.0)
    hand.stop()
    crew.wait(90.0)
    crew.say("dead")
    crew.finish()
    return crew


def wait_and_weight(seed: int, follows: bool = True, light: float = 0.0, rate: float = RATE) -> Crew:
    """``follows``: lets the drill-pipe pressure fall by the kill sheet, else holds ICP all the way to the bit."""
    hand = Killing("kill-wait-and-weight", seed, rate)
    crew = hand.crew
    hand.read()
    hand.mix(light)
    crew.do("push", "floor.strokes", None, "floor")
    hand.start()
    icp = crew["well.drillpipe_pressure"]
    crew.read("icp", "well.drillpipe_pressure")
    fallen = min(crew["floor.strokes"] / hand.to_bit, 1.0)
    slow = icp - hand.sidpp * (1.0 - fallen)
    fcp = killsheet.final_circulating(slow, hand.weight, MUD)
    begun = crew["floor.strokes"]

    def sheet() -> float:
        share = min((crew["floor.strokes"] - begun) / (hand.to_bit - begun), 1.0)
        return icp + (fcp - icp) * share if follows else icp

    hand.hold("well.drillpipe_pressure", sheet, hand.strokes(hand.to_bit * 1.03), 4000.0)
    return finish(hand)


CREWS: dict[str, Callable[[int], Crew]] = {
    "kill-drillers-method": drillers,
    "kill-wait-and-weight": wait_and_weight,
}

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "kill-drillers-method.holds-the-casing": (
        lambda seed: drillers(seed, drops=True),
        {"let_in": "a second kick"},
    ),
    "kill-drillers-method.dead-after-one": (
        lambda seed: drillers(seed, one=True),
        {"false_dead": "opened on that report", "barrier_opened": "second influx"},
    ),
    "kill-drillers-method.against-the-choke": (
        lambda seed: wrong_start("kill-drillers-method", seed, "against"),
        {"pumped_shut": "against a closed well"},
    ),
    "kill-drillers-method.choke-wide-open": (
        lambda seed: wrong_start("kill-drillers-method", seed, "wide"),
        {"let_in": "a second kick"},
    ),
    "kill-wait-and-weight.opens-the-annular": (
        lambda seed: wrong_start("kill-wait-and-weight", seed, "opened"),
        {"barrier_opened": "second influx"},
    ),
    "kill-wait-and-weight.against-the-choke": (
        lambda seed: wrong_start("kill-wait-and-weight", seed, "against"),
        {"pumped_shut": "against a closed well"},
    ),
    "kill-wait-and-weight.holds-icp": (
        lambda seed: wait_and_weight(seed, follows=False),
        {"band": "Out of limits"},
    ),
    "kill-wait-and-weight.too-light": (
        lambda seed: wait_and_weight(seed, light=0.4),
        {"false_dead": "opened on that report"},
    ),
}
