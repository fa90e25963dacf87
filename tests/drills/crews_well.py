"""Crews for the well-control drills; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew, below
from tests.drills.crews_operating import Reasons


def sees_the_kick(crew: Crew) -> None:
    """Return flow above the pump rate, called out."""
    assert crew.until(lambda: crew["well.flow_out"] > crew["well.flow_in"] + 45.0, 500.0)
    crew.wait(3.0)
    crew.say("well_flows")


def makes_ready(crew: Crew, counter: bool = True, hook: float = 66.0) -> None:
    """Rotation off, off bottom and spaced out, pumps off; the flow count, where there is one, at nothing."""
    crew.do("set", "floor.rotary", 0)
    crew.wait(3.0)
    crew.hoist(hook)
    crew.wait(3.0)
    crew.do("set", "floor.mud_pumps", 0)
    crew.until(lambda: crew["floor.mud_pumps"] < 0.5, 30.0)
    crew.wait(4.0)
    if counter:
        crew.do("push", "totaliser.reset")


def _reads_and_hands_over(crew: Crew, line: str) -> None:
    crew.until(lambda: crew["well.flow_out"] < 3.0, 60.0)
    crew.wait(4.0)
    crew.read("flow_count", "totaliser.count")
    crew.read("return_flow", "well.flow_out")
    crew.say("shut_in")
    crew.open(f"{line}_inner_choke")
    crew.open(f"{line}_outer_choke")
    crew.wait(90.0)
    crew.read("sidpp", "well.drillpipe_pressure")
    crew.read("sicp", "well.casing_pressure")
    crew.say("handed_over")
    crew.finish()


def annular_leaks(
    seed: int, second: bool = True, pressure: bool = False, other: str = "middle_pipe_ram", line: str = ""
) -> Crew:
    crew = Crew("annular-leaks-during-shut-in", seed)
    sees_the_kick(crew)
    makes_ready(crew)
    crew.close("upper_annular")
    crew.wait(18.0)
    if pressure:
        crew.do("raise", "annular_regulator", 10)
        crew.wait(60.0)
    if second:
        crew.say("leaks")
        crew.close(other)
        crew.do("name", "upper_annular.seal_worn")
    _reads_and_hands_over(crew, line or below(other))
    return crew


def stored_fluid(seed: int, preventer: str = "upper_pipe_ram", wasteful: bool = False, line: str = "") -> Crew:
    crew = Crew("shut-in-on-stored-fluid", seed)
    sees_the_kick(crew)
    crew.say("stored")
    if wasteful:
        for function in ("lower_annular", "upper_annular", "middle_pipe_ram"):
            crew.close(function)
            crew.wait(12.0)
            crew.open(function)
            crew.wait(12.0)
    makes_ready(crew)
    crew.close(preventer)
    crew.wait(12.0)
    crew.read("left", "accumulator.pressure")
    crew.until(lambda: crew["well.flow_out"] < 3.0, 60.0)
    crew.wait(4.0)
    crew.read("left", "accumulator.pressure")
    _reads_and_hands_over(crew, line or below(preventer))
    return crew


def lost_pod(
    seed: int, changes: bool = True, shears: bool = False, preventer: str = "upper_annular", line: str = ""
) -> Crew:
    crew = Crew("kick-with-lost-pod", seed)
    sees_the_kick(crew)
    makes_ready(crew)
    crew.close(preventer)
    crew.wait(7.0)
    if shears:
        crew.do("push", "driller.enable")
        crew.close("blind_shear_ram")
        crew.wait(20.0)
    elif crew["totaliser.count"] < 5.0 and changes:
        crew.do("set", "pod_selector", "blue")
        crew.say("lost")
        crew.wait(15.0)
    else:
        crew.wait(30.0)
    crew.until(lambda: crew["well.flow_out"] < 3.0, 60.0)
    if crew["pod_selector.position"] > 1.5 and crew["well.flow_out"] < 3.0:
        crew.wait(6.0)
        crew.say("suspended")
    _reads_and_hands_over(crew, line or below(preventer))
    return crew


def tripping(
    seed: int, inside: bool = True, waits: float = 0.0, preventer: str = "upper_annular", line: str = ""
) -> Crew:
    line = line or below(preventer)
    crew = Crew("kick-while-tripping", seed)
    before = crew["trip_tank.volume"]
    assert crew.until(lambda: crew["trip_tank.volume"] > before + 0.5, 500.0)
    crew.wait(2.0)
    crew.say("drains" if waits else "flows")
    crew.wait(waits)
    if inside:
        crew.do("push", "floor.stab", at="floor")
        crew.until(lambda: crew["floor.stabbed"] > 0.5, 30.0)
        crew.do("set", "floor.safety_valve", "shut", "floor")
        crew.wait(2.0)
    crew.close(preventer)
    crew.until(lambda: crew["well.flow_out"] < 3.0, 60.0)
    crew.wait(5.0)
    crew.read("flow_count", "totaliser.count")
    crew.read("return_flow", "well.flow_out")
    crew.read("trip_tank", "trip_tank.volume")
    crew.say("shut_in")
    crew.open(f"{line}_inner_choke")
    crew.open(f"{line}_outer_choke")
    crew.wait(170.0 if inside else 5.0)
    crew.read("sicp", "well.casing_pressure")
    crew.say("handed_over")
    crew.finish()
    return crew


def hang_off(seed: int, hang: bool = True, waits: bool = True, raises_first: bool = False, at: str = "driller") -> Crew:
    crew = Crew("hang-off-and-shear", seed)
    crew.wait(4.0)
    # A joint close above the lower pipe ram, and none in any ram.
    makes_ready(crew, hook=crew.told("hook at", "ft"))
    if raises_first:
        _to_cut(crew)
    if hang:
        crew.close("lower_pipe_ram", at)
        crew.wait(14.0)
        full = crew["floor.hook_load"]
        _land(crew, full)
        crew.close("ram_locks", at)
        crew.wait(8.0)
        crew.read("hung_load", "floor.hook_load")
        crew.say("hung")
    if not raises_first:
        _to_cut(crew)
    if waits:
        crew.hears(limit=600.0)
    crew.wait(3.0)
    crew.read("manifold", "manifold_regulator.readback")
    crew.do("push", "totaliser.reset")
    crew.do("push", "driller.enable", at=at)
    crew.close("blind_shear_ram", at)
    crew.until(lambda: crew["totaliser.count"] > 25.0, 60.0)
    crew.wait(12.0)
    crew.read("count", "totaliser.count")
    crew.read("cut_load", "floor.hook_load")
    crew.read("pit", "well.pit_volume")
    crew.say("cut")
    crew.finish()
    return crew


def _to_cut(crew: Crew) -> None:
    """Raise the manifold pressure to what a cut takes."""
    for _ in range(4):
        off = 2300.0 - crew["manifold_regulator.readback"]
        if off < 50.0:
            return
        crew.do("raise", "manifold_regulator", round(max(0.5, off / 75.0), 1))
        crew.wait(12.0)


def _land(crew: Crew, full: float) -> None:
    """Lower until the hook load has fallen and falls no more: all the weight stands on the ram."""
    last = full
    for _ in range(12):
        _lower(crew)
        now = crew["floor.hook_load"]
        if now < full - 60.0 and last - now < 8.0:
            return
        last = now


def _lower(crew: Crew) -> bool:
    to, end = crew["floor.hook"] - 1.0, crew.time + 5.0
    # A string that stands on the ram lets the hook down no further.
    crew.desk.hoist("down", lambda: crew["floor.hook"] <= to or crew.time > end)
    crew.wait(3.0)
    return False


def divert(seed: int, wind: bool = True, shut: bool = False, at: str = "driller") -> Crew:
    return diverts(Crew("shallow-gas-diverter", seed), wind, "upper_annular" if shut else None, 60.0, at)


def diverts(
    crew: Crew, wind: bool, shuts: str | None, held: float, at: str = "driller", pumps_first: bool = False
) -> Crew:
    """Sees shallow gas and diverts it, down the wind or not; ``shuts`` a preventer before, for ``held`` s."""
    crew.wait(6.0)
    crew.read("wind", "weather.wind_from")
    from_port = 0.0 < (crew["rig.heading"] - crew["weather.wind_from"]) % 360.0 < 180.0
    assert crew.until(lambda: crew["well.flow_out"] > crew["well.flow_in"] + 45.0, 500.0)
    crew.say("flows" if shuts is None else "shut")
    if shuts is not None:
        crew.close(shuts)
        crew.wait(held)
    if at == "remote" or pumps_first:
        # Mud first, then the panel away from the floor: the well gains no more for it.
        crew.do("set", "floor.mud_pumps", 110)
    crew.do("set", "diverter.side", "starboard" if from_port is wind else "port", at)
    crew.do("push", "driller.enable", at=at)
    crew.do("push", "diverter.divert", at=at)
    crew.do("set", "floor.mud_pumps", 110)
    crew.until(lambda: crew["diverter.stage"] > 2.5, 60.0)
    crew.wait(6.0)
    crew.read("overboard_flow", "diverter.flow")
    crew.say("diverted")
    crew.finish()
    return crew


def disconnect(
    seed: int, at_yellow: bool = False, rides: bool = False, at: str = "driller", hook: float = 66.0
) -> Crew:
    crew = Crew("emergency-disconnect", seed)
    crew.hears(limit=300.0)
    crew.wait(3.0)
    if not at_yellow:
        makes_ready(crew, hook=hook)
        crew.say("ready")
        crew.hears(2, 600.0)
        crew.wait(2.0)
    crew.say("ride" if rides else "disconnecting")
    if not rides:
        crew.do("push", "driller.enable", at=at)
        crew.do("push", "eds.arm", at=at)
        crew.wait(1.5)
        crew.do("push", "eds.start", at=at)
        crew.until(lambda: crew["eds.state"] > 2.5, 120.0)
        crew.wait(4.0)
        crew.read("clock", "eds.clock")
        crew.read("load", "floor.hook_load")
        crew.do("read", "locks", "on" if crew["ram_locks.lamp_close"] > 0.5 else "off")
        crew.read("accumulator", "accumulator.pressure")
        crew.read("pit", "well.pit_volume")
        crew.say("free")
    crew.finish()
    return crew


FRICTION = 135.0
"""Of the choke line at 40 strokes a minute, psi: from the slow-rate sheet in the drill's method."""
SHEET_RATE = 40.0


def choke(
    seed: int,
    holds: bool = True,
    opens: bool = False,
    friction: float = FRICTION,
    steps: tuple[int, ...] = (10, 20, 30),
) -> Crew:
    """Starts and stops a pump on a shut-in well; the casing pressure is let fall by ``friction`` psi at 40/min."""
    crew = Crew("choke-practice", seed)
    assert crew.hears()
    crew.wait(12.0)
    crew.read("sidpp", "well.drillpipe_pressure")
    crew.read("sicp", "well.casing_pressure")
    crew.say("starting")
    crew.wait(3.0)
    sicp, place, rate = crew["well.casing_pressure"], 0.0, 0.0

    def wanted() -> float:
        return sicp - friction * (rate / SHEET_RATE) ** 2

    def hold(seconds: float) -> None:
        nonlocal place
        last = crew["well.casing_pressure"]
        end = crew.time + seconds
        while crew.time < end and not crew.over:
            crew.wait(2.0)
            now = crew["well.casing_pressure"]
            place += 0.006 * (now - wanted()) + 0.02 * (now - last)
            place, last = max(1.0, min(25.0, place)), now
            crew.do("set", "floor.choke", place)

    steps = (*steps, int(crew.told("pump to", "spm")))
    for rate in steps:
        place = 40.0 if opens else 0.0 if not holds else place * rate / max(rate - 10, 5) if place else 3.0
        crew.do("set", "floor.choke", place)
        crew.do("set", "floor.mud_pumps", rate)
        hold(20.0) if holds and not opens else crew.wait(8.0)
    if holds and not opens:
        hold(60.0)
        crew.read("icp", "well.drillpipe_pressure")
        hold(130.0)
        for rate in (*reversed(steps[:-1]), 0):
            crew.do("set", "floor.mud_pumps", rate)
            place *= rate / (rate + 10.0)
            crew.do("set", "floor.choke", place)
            if rate:
                hold(14.0)
        crew.wait(30.0)
        crew.read("after", "well.casing_pressure")
        crew.say("done")
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "annular-leaks-during-shut-in": annular_leaks,
    "shut-in-on-stored-fluid": stored_fluid,
    "kick-with-lost-pod": lost_pod,
    "kick-while-tripping": tripping,
    "hang-off-and-shear": hang_off,
    "shallow-gas-diverter": divert,
    "emergency-disconnect": disconnect,
    "choke-practice": choke,
}
BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "annular-leaks-during-shut-in.trusts-it": (
        lambda s: annular_leaks(s, second=False),
        {"shut_in": "Not done", "second": "Not done"},
    ),
    "annular-leaks-during-shut-in.raises-pressure": (
        lambda s: annular_leaks(s, second=False, pressure=True),
        {"shut_in": "Not done", "worn": "Fault not named"},
    ),
    "shut-in-on-stored-fluid.tests-first": (lambda s: stored_fluid(s, wasteful=True), {"spent": "none above 90 gal"}),
    "shut-in-on-stored-fluid.no-ram": (lambda s: stored_fluid(s, "ram_locks"), {"shut_in": "Not done"}),
    "kick-with-lost-pod.stays-on-yellow": (lambda s: lost_pod(s, changes=False), {"blue": "Not done"}),
    "kick-with-lost-pod.shears": (lambda s: lost_pod(s, shears=True), {"shear_on_pipe": "string is lost"}),
    "kick-while-tripping.never-inside": (lambda s: tripping(s, inside=False), {"shut_in": "Not done"}),
    "kick-while-tripping.lets-it-drain": (lambda s: tripping(s, waits=300.0), {"call": "mud drains back"}),
    "hang-off-and-shear.not-hung": (lambda s: hang_off(s, hang=False), {"dropped": "falls into the well"}),
    "hang-off-and-shear.before-the-order": (
        lambda s: hang_off(s, hang=False, waits=False),
        {"shear_before_order": "before the order"},
    ),
    "shallow-gas-diverter.up-wind": (lambda s: divert(s, wind=False), {"gas_upwind": "windward"}),
    "shallow-gas-diverter.shuts-in": (lambda s: divert(s, shut=True), {"gas_shut_in": "cannot hold it"}),
    "emergency-disconnect.at-yellow": (lambda s: disconnect(s, at_yellow=True), {"early": "before red alert"}),
    "emergency-disconnect.rides-it-out": (lambda s: disconnect(s, rides=True), {"late": "latched", "call": "ride"}),
    "choke-practice.choke-shut": (lambda s: choke(s, holds=False), {"shoe_broken": "at the shoe"}),
    "choke-practice.opens-wide": (lambda s: choke(s, opens=True), {"second_influx": "allowed to flow again"}),
}
