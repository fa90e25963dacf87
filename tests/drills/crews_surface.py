"""Crews for the drills on the surface stack; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews import ordered_ram
from tests.drills.crews_operating import Reasons
from tests.drills.crews_well import diverts, makes_ready, sees_the_kick

PUMPS = ("triplex_1", "air_pump_1", "air_pump_2")


def kick(seed: int, preventer: str = "annular", late: float = 0.0, line: bool = True, hook: float = 66.0) -> Crew:
    crew = Crew("surface-kick-while-drilling", seed)
    sees_the_kick(crew)
    crew.wait(late)
    makes_ready(crew, counter=False, hook=hook)
    crew.say("flow_check")
    crew.close(preventer)
    crew.wait(10.0)
    crew.read("accumulator", "accumulator.pressure")
    crew.until(lambda: crew["well.flow_out"] < 3.0, 60.0)
    crew.wait(6.0)
    crew.read("flow_count", "annular_regulator.readback")
    crew.read("return_flow", "well.flow_out")
    crew.say("shut_in")
    if line:
        crew.open("choke_valve")
    crew.wait(60.0)
    crew.read("sidpp", "well.drillpipe_pressure")
    crew.read("sicp", "well.casing_pressure")
    crew.read("gain", "well.pit_gain")
    crew.say("handed_over")
    crew.finish()
    return crew


def lamp(
    seed: int,
    trusts: bool = False,
    shears: bool = False,
    leaking: bool = False,
    closes_first: bool = False,
    at: str = "driller",
) -> Crew:
    """``leaking``: closes the preventer that is out of service. ``closes_first``: reads and reports afterwards."""
    crew = Crew("surface-lamp-lies", seed)
    out = ("annular", "pipe ram")[crew.asked("out")]
    crew.hears(limit=600.0)
    crew.wait(5.0)
    ordered = ordered_ram(crew)
    crew.close(ordered)
    crew.wait(8.0)
    assert crew[f"{ordered}.lamp_close"] == 1.0
    other = "lower_pipe_ram" if ordered == "upper_pipe_ram" else "upper_pipe_ram"
    second = other if (out == "annular") is not leaking else "annular"
    if trusts:
        crew.say("closed")
        crew.finish()
        return crew
    if closes_first:
        crew.close(second, at)
    crew.read("return_flow", "well.flow_out")
    crew.say("not_moved")
    if shears:
        crew.do("push", "driller.enable")
    if not closes_first:
        crew.close("blind_shear_ram" if shears else second, at)
    if shears:
        crew.do("raise", "manifold_regulator", 20)
    crew.do("name", f"{ordered}.stuck")
    crew.wait(9.0)
    crew.read("accumulator", "accumulator.pressure")
    crew.until(lambda: crew["well.flow_out"] < 3.0, 60.0)
    crew.wait(4.0)
    crew.read("after", "well.flow_out")
    crew.read("gain", "well.pit_gain")
    crew.read("pit", "well.pit_volume")
    crew.say("shut_in")
    crew.finish()
    return crew


def air(seed: int, lever: bool = True, proves: bool = True) -> Crew:
    crew = Crew("surface-lost-rig-air", seed)
    crew.until(lambda: crew["air.pressure"] < 55.0, 300.0)
    crew.wait(3.0)
    crew.do("push", "alarms.acknowledge")
    crew.read("air", "air.pressure")
    crew.say("lost" if lever else "wait")
    crew.do("name", "air.lost")
    crew.hears(limit=120.0)
    crew.wait(2.0)
    function = ("annular", "upper_pipe_ram")[crew.asked("which")]
    crew.read("before", "accumulator.pressure")
    if lever:
        crew.close(function, "unit")
        crew.wait(10.0)
        if proves:
            crew.read("after", "accumulator.pressure")
    else:
        crew.close(function)
        crew.wait(20.0)
    if lever:
        crew.say("suspended")
    crew.say("closed")
    crew.finish()
    return crew


def drawdown(seed: int, off: bool = True, restores: bool = True, honest: bool = True) -> Crew:
    """``honest``: gives the verdict that the pressure asks for."""
    crew = Crew("surface-accumulator-drawdown", seed)
    crew.wait(3.0)
    crew.read("start", "accumulator.pressure")
    if off:
        for pump in PUMPS:
            crew.unit(f"{pump}.mode", "off")
    for function in ("annular", "upper_pipe_ram", "lower_pipe_ram"):
        crew.close(function)
        crew.wait(18.0)
    crew.read("left", "accumulator.pressure")
    crew.read("level", "tank.level")
    crew.say("passed" if crew["accumulator.pressure"] > 1200.0 or not honest else "failed")
    if restores:
        for pump in PUMPS:
            crew.unit(f"{pump}.mode", "auto")
        for function in ("annular", "upper_pipe_ram", "lower_pipe_ram"):
            crew.open(function)
            crew.wait(18.0)
        crew.until(lambda: crew["accumulator.pressure"] > 2750.0, 600.0)
    crew.wait(2.0)
    crew.say("restored")
    crew.finish()
    return crew


def gas(seed: int, wind: bool = True, shut: bool = False, at: str = "driller") -> Crew:
    return diverts(Crew("surface-shallow-gas", seed), wind, "annular" if shut else None, 30.0, at)


def first_test(seed: int, spend: float = 30.0, trusts: bool = False, skips: bool = False, leaves: bool = False) -> Crew:
    """``spend``: what a preventer that moves uses, psi. ``trusts``: believes the lamps. ``skips``: one is not tried."""
    crew = Crew("surface-first-function-test", seed)
    crew.wait(4.0)
    dead = ""
    for function in ("annular", "upper_pipe_ram", "lower_pipe_ram")[: 2 if skips else 3]:
        before = crew["accumulator.pressure"]
        crew.close(function)
        crew.wait(14.0)
        if before - crew["accumulator.pressure"] < spend:
            dead = function
        if not (leaves and function == "lower_pipe_ram"):
            crew.open(function)
            crew.wait(14.0)
    if not trusts and dead:
        crew.do("name", f"{dead}.stuck")
    crew.read("accumulator", "accumulator.pressure")
    crew.say("passed" if trusts else "failed")
    crew.wait(8.0)
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "surface-first-function-test": first_test,
    "surface-kick-while-drilling": kick,
    "surface-lamp-lies": lamp,
    "surface-lost-rig-air": air,
    "surface-accumulator-drawdown": drawdown,
    "surface-shallow-gas": gas,
}
BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "surface-first-function-test.trusts-the-lamps": (
        lambda s: first_test(s, trusts=True),
        {"dead": "Fault not named", "report": "all three preventers moved"},
    ),
    "surface-first-function-test.one-not-tried": (lambda s: first_test(s, skips=True), {"tried": "Not done"}),
    "surface-first-function-test.left-closed": (lambda s: first_test(s, leaves=True), {"report": "too early"}),
    "surface-kick-while-drilling.late": (lambda s: kick(s, late=400.0), {"shut_in": "Not done"}),
    "surface-kick-while-drilling.no-preventer": (lambda s: kick(s, "kill_valve"), {"shut_in": "Not done"}),
    "surface-lamp-lies.trusts-the-lamp": (
        lambda s: lamp(s, trusts=True),
        {"shut_in": "Not done", "not_moved": "closed"},
    ),
    "surface-lamp-lies.out-of-service": (lambda s: lamp(s, leaking=True), {"shut_in": "Not done"}),
    "surface-lamp-lies.shears": (lambda s: lamp(s, shears=True), {"shear_on_pipe": "string is lost"}),
    "surface-lost-rig-air.at-the-panel": (lambda s: air(s, lever=False), {"closed": "Not done", "told": "We wait"}),
    "surface-lost-rig-air.not-proved": (lambda s: air(s, proves=False), {"after": "Not entered"}),
    "surface-accumulator-drawdown.pumps-on": (lambda s: drawdown(s, off=False), {"closed": "Not done"}),
    "surface-accumulator-drawdown.left": (lambda s: drawdown(s, restores=False), {"restored": "Not done"}),
    "surface-shallow-gas.up-wind": (lambda s: gas(s, wind=False), {"gas_upwind": "windward"}),
    "surface-shallow-gas.shuts-in": (lambda s: gas(s, shut=True), {"gas_shut_in": "cannot hold it"}),
}
