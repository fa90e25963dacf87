"""Crews on a well that is shut in: gas in the riser, a float, stripping in; the bad ones with their reasons."""

from __future__ import annotations

from collections.abc import Callable

from tests import killsheet
from tests.drills.crew import Crew
from tests.drills.crews import turn
from tests.drills.crews_operating import Reasons


def riser_gas(
    seed: int,
    at: str = "driller",
    how: str = "button",
    wind: bool = True,
    first: str = "",
    slow: float = 0.0,
    drill: str = "riser-gas",
) -> Crew:
    """``how``: diverts by the 'button', by 'hand' (line, then packer), or 'never'; ``wind``: looks which way it blows;
    ``first``: before that 'opens' the annular, 'pumps' or 'unlatches'; ``slow``: waits first, s."""
    crew = Crew(drill, seed)
    assert crew.hears(1, 300.0)
    crew.wait(4.0)
    crew.read("wind", "weather.wind_from")
    from_port = 0.0 < (crew["rig.heading"] - crew["weather.wind_from"]) % 360.0 < 180.0
    side = "starboard" if from_port is wind else "port"
    crew.wait(14.0)
    crew.until(lambda: 20.0 < crew["well.flow_out"] < 400.0, 60.0)
    crew.wait(2.0)
    crew.read("return_flow", "well.flow_out")
    crew.say("riser")
    if first == "opens":
        crew.open("upper_annular")
        crew.wait(30.0)
    elif first == "pumps":
        crew.do("set", "floor.mud_pumps", 20)
        crew.wait(20.0)
    elif first == "unlatches":
        crew.do("push", "driller.enable")
        crew.do("set", "riser_connector", "open")
        crew.wait(20.0)
    crew.wait(slow)
    if how == "button":
        crew.do("set", "diverter.side", side, at)
        crew.do("push", "driller.enable", at=at)
        crew.do("push", "diverter.divert", at=at)
    elif how == "hand":
        crew.open(f"{side}_overboard", at)
        crew.wait(9.0)
        crew.do("push", "driller.enable", at=at)
        crew.close("diverter_packer", at)
        crew.do("set", "diverter_flowline", "close", at)
    crew.until(lambda: crew["diverter.flow"] > 900.0, 700.0)
    crew.wait(40.0)
    if how != "never":
        crew.until(lambda: crew["diverter.flow"] < 12.0, 900.0)
        crew.wait(25.0)
        crew.read("sicp", "well.casing_pressure")
        crew.read("overboard", "diverter.flow")
        crew.say("over")
    crew.finish()
    return crew


def lifts_float(seed: int, rate: float = 1.0, over: float = 0.0, bleeds: bool = False, wrong: str = "") -> Crew:
    """Inches the pump until the casing pressure begins to rise, and ``over`` s longer; ``bleeds`` what is trapped then.

    ``wrong``: 'zero' takes the gauge as it is, 'fast' pumps at 20 strokes a minute, 'choke' opens the choke instead,
    'opens' the annular.
    """
    crew = Crew("float-in-the-string", seed)
    assert crew.hears(1, 600.0)
    crew.wait(5.0)
    depth = crew.told("at", "ft")
    casing = crew["well.casing_pressure"]
    crew.read("sicp", "well.casing_pressure")
    crew.read("before", "well.drillpipe_pressure")
    crew.read("log_pit", "well.pit_gain")
    crew.say("zero" if wrong == "zero" else "holds")
    if wrong == "choke":
        crew.do("set", "floor.choke", 30)
        crew.wait(60.0)
        crew.do("set", "floor.choke", 0)
    elif wrong == "opens":
        crew.open("upper_annular")
        crew.wait(40.0)
    elif wrong != "zero":
        crew.do("set", "floor.mud_pumps", 20 if wrong == "fast" else rate)
        risen = crew.until(lambda: crew["well.casing_pressure"] > casing + 6.0, 120.0)
        crew.wait(over + (20.0 if wrong == "fast" or not risen else 0.0))
        crew.do("set", "floor.mud_pumps", 0)
        crew.wait(25.0)
    if bleeds:
        for _ in range(8):
            before = crew["well.drillpipe_pressure"]
            if crew["well.casing_pressure"] < casing + 12.0:
                break
            crew.do("set", "floor.choke", 1.5)
            crew.wait(1.5)
            crew.do("set", "floor.choke", 0)
            crew.wait(20.0)
            if before - crew["well.drillpipe_pressure"] < 3.0:
                break
    sidpp = crew["well.drillpipe_pressure"]
    crew.read("sidpp", "well.drillpipe_pressure")
    crew.enter("weight", killsheet.rounded_up(killsheet.kill_weight(sidpp, 10.4, depth)))
    crew.say("handed_over")
    crew.finish()
    return crew


STAND, AT_FIRST = 93.0, 2.2
"""Length of a stand, ft, and how far the choke is opened as soon as pipe goes in, %."""


def strips(
    seed: int, low: float = 600.0, over: float = 70.0, look: float = 3.0, at: str = "driller", wrong: str = ""
) -> Crew:
    """Strips in at ``low`` psi of annular pressure, holding ``over`` psi more than SICP, looking every ``look`` s.

    ``wrong``: 'choke shut' bleeds nothing, 'choke open' bleeds all the time, 'full pressure' does not lower the annular
    first, 'string' opens the safety valve, 'annular' opens the annular, 'low' lowers it far too much.
    """
    crew = Crew("strip-in", seed)
    assert crew.hears(1, 900.0)
    crew.wait(4.0)
    stands = 3 if "three" in crew.desk.told[0] else 2
    sicp, bit = crew["well.casing_pressure"], crew["well.bit_depth"]
    crew.read("sicp", "well.casing_pressure")
    crew.enter("stand", 25.0 / 1029.4 * STAND)
    if wrong == "string":
        crew.do("set", "floor.safety_valve", "open", "floor")
        crew.wait(15.0)
    elif wrong == "annular":
        crew.open("upper_annular")
        crew.wait(40.0)
    if wrong != "full pressure":
        turn(crew, "annular_regulator", 250.0 if wrong == "low" else low, at)
    crew.read("readback", "annular_regulator.readback")
    crew.say("ready")
    crew.do("set", "floor.trip", "in", "floor")
    place, was, end = 0.0, bit, bit + STAND * stands - 4.0
    if wrong == "choke open":
        crew.do("set", "floor.choke", 25)
    while crew["well.bit_depth"] < end and not crew.over:
        crew.wait(look)
        now, pressure = crew["well.bit_depth"], crew["well.casing_pressure"]
        off, down = pressure - sicp - over, now - was > 0.2
        was = now
        if wrong in ("choke shut", "choke open"):
            continue
        begun = max(place, AT_FIRST) if off > -20.0 else place
        wanted = min(max(begun + look * 0.002 * off, 0.3), 8.0) if down and off > -60.0 else 0.0
        if abs(wanted - place) > 0.05 or (place > 0.0 and wanted == 0.0):
            place = round(wanted, 2)
            crew.do("set", "floor.choke", place)
    crew.do("set", "floor.trip", "stop", "floor")
    crew.do("set", "floor.choke", 0)
    crew.wait(20.0)
    crew.read("gain", "well.pit_gain")
    crew.read("tank", "trip_tank.volume")
    if wrong != "choke open":
        turn(crew, "annular_regulator", 950.0, at)
    crew.wait(4.0)
    crew.end_with("in")
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "riser-gas": riser_gas,
    "float-in-the-string": lifts_float,
    "strip-in": strips,
}

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "riser-gas.opens-the-annular": (
        lambda seed: riser_gas(seed, first="opens"),
        {"barrier_opened": "second influx"},
    ),
    "riser-gas.not-diverted": (
        lambda seed: riser_gas(seed, how="never"),
        {"at_the_rotary": "no closed diverter", "diverted": "Not done"},
    ),
    "riser-gas.upwind": (
        lambda seed: riser_gas(seed, wind=False),
        {"gas_upwind": "windward side"},
    ),
    "riser-gas.pumps": (
        lambda seed: riser_gas(seed, first="pumps"),
        {"pumped_shut": "against a closed well"},
    ),
    "float-in-the-string.zero-is-sidpp": (
        lambda seed: lifts_float(seed, wrong="zero"),
        {"lifted": "Not done", "call": "no underbalance"},
    ),
    "float-in-the-string.pumps-fast": (
        lambda seed: lifts_float(seed, wrong="fast"),
        {"pumped_shut": "against a closed well"},
    ),
    "float-in-the-string.pumps-on": (
        lambda seed: lifts_float(seed, over=90.0),
        {"free": "Correct value", "small": "Out of limits"},
    ),
    "float-in-the-string.opens-the-choke": (
        lambda seed: lifts_float(seed, wrong="choke"),
        {"second_influx": "allowed to flow again"},
    ),
    "strip-in.choke-shut": (
        lambda seed: strips(seed, wrong="choke shut"),
        {"above_maasp": "most that the shoe holds", "held": "Out of limits"},
    ),
    "strip-in.choke-open": (
        lambda seed: strips(seed, wrong="choke open"),
        {"second_influx": "allowed to flow again"},
    ),
    "strip-in.full-pressure": (
        lambda seed: strips(seed, wrong="full pressure"),
        {"lowered": "Out of limits"},
    ),
    "strip-in.opens-the-string": (
        lambda seed: strips(seed, wrong="string"),
        {"string_opened": "up the string"},
    ),
}
