"""Crews for the drills on parts, readings and operating; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews import turn

PUMPS = ("triplex_1", "triplex_2", "air_pump_1", "air_pump_2")
Reasons = dict[str, str]

PARTS = {
    "store": ("tank", "banks", "pilot_bottles", "stack_bottles", "glycol", "concentrate"),
    "supply": ("triplex", "air_pump", "filter", "relief", "strainer", "discharge_check"),
    "control": ("annular_regulator", "cylinder", "pod_selector", "check", "pilot_regulator"),
    "subsea": ("shuttle", "umbilical", "riser_connector", "blind_shear", "lock", "failsafe"),
    "panel": ("enable", "pilot_gauge", "battery", "lamp", "disconnect"),
    "proof": ("totaliser", "readback", "return_flow", "low_level", "pit"),
}


def name_the_parts(seed: int, wrong: str = "") -> Crew:
    crew = Crew("name-the-parts", seed)
    for question, answers in PARTS.items():
        crew.wait(12.0)
        crew.say("lamp" if question in wrong.split() else answers[crew.asked(question)])
    crew.finish()
    return crew


def everything_in_a_row(seed: int) -> Crew:
    """Says every name there is, one after the other."""
    crew = Crew("name-the-parts", seed)
    for answers in PARTS.values():
        for answer in answers:
            crew.wait(2.0)
            crew.say(answer)
    crew.finish()
    return crew


WAY = ("tank", "pump", "filter", "accumulators", "selector", "line", "pod", "shuttle", "chamber")


def follow_the_fluid(seed: int, way: tuple[str, ...] = WAY, close: bool = True) -> Crew:
    crew = Crew("follow-the-fluid", seed)
    function = ("upper_pipe_ram", "lower_annular", "lower_pipe_ram")[crew.asked("function")]
    crew.wait(8.0)
    crew.say("annular" if function == "lower_annular" else "manifold")
    crew.wait(8.0)
    crew.say(("to_sea", "pilot_line")[crew.asked("where")])
    for place in way:
        crew.wait(4.0)
        crew.say(place)
    if close:
        crew.close(function)
        crew.settled()
        crew.read("count", "totaliser.count")
        crew.read("manifold_readback", "manifold_regulator.readback")
        crew.read("annular_readback", "annular_regulator.readback")
        crew.open(function)
        crew.settled()
        crew.wait(10.0)
        crew.say("done")
    crew.finish()
    return crew


ROUND = {
    "level": "tank.level",
    "mix": "mix.concentrate",
    "accumulator": "accumulator.pressure",
    "gauge": "unit.accumulator_gauge",
    "bank_a": "bank_a.pressure",
    "bank_b": "bank_b.pressure",
    "pilot": "pilot.pressure",
    "pilot_gauge": "unit.pilot_gauge",
    "manifold": "manifold_regulator.readback",
    "annular": "annular_regulator.readback",
    "air": "air.pressure",
    "box_air": "boxes.air_pressure",
    "volts": "battery.volts",
    "weakest": "battery.weakest",
}


def daily_round(seed: int, blind: bool = False) -> Crew:
    crew = Crew("daily-round", seed)
    for name, tag in ROUND.items():
        crew.wait(8.0)
        if blind:  # writes down what it should be
            usual = {"level": 85.0, "mix": 3.0, "volts": 136.0, "weakest": 13.6, "air": 125.0, "box_air": 125.0}
            crew.enter(name, usual.get(name, 3000.0))
        else:
            crew.read(name, tag)
    if blind:
        crew.say("nothing")
    else:
        if abs(crew["accumulator.pressure"] - crew["unit.accumulator_gauge"]) > 150.0:
            crew.do("name", "accumulator.pressure.drift")
        elif abs(crew["pilot.pressure"] - crew["unit.pilot_gauge"]) > 150.0:
            crew.do("name", "pilot.pressure.drift")
        else:
            crew.do("name", "bank_a.pressure.drift")
        if crew["boxes.air_pressure"] < 60.0:
            crew.do("name", "boxes.filter_blocked")
        elif crew["battery.amps"] > 2.0:
            crew.do("name", "battery.charger_failed")
        else:
            crew.do("name", "battery.weak_cell")
        crew.wait(2.0)
        crew.say("two")
    crew.finish()
    return crew


def mends_on_the_round(seed: int) -> Crew:
    crew = Crew("daily-round", seed)
    for name in list(ROUND)[:6]:
        crew.read(name, ROUND[name])
        crew.wait(5.0)
    crew.unit("boxes.change_filter")
    crew.unit("bank_a.isolation", "shut")
    crew.do("name", "boxes.filter_blocked")
    crew.do("name", "bank_b.pressure.drift")
    crew.do("name", "pilot_bottles.pressure.drift")
    crew.say("two")
    crew.finish()
    return crew


def start_up(seed: int, dry: bool = False, pumps_first: bool = False) -> Crew:
    crew = Crew("start-up-from-cold", seed)
    if not dry and not pumps_first:
        crew.read("level", "tank.level")
    crew.unit("power.main", "on")
    crew.unit("power.charger", "on")
    crew.wait(5.0)
    crew.unit("air.supply", "open")
    crew.until(lambda: crew["air.pressure"] > 95.0, 60.0)
    if not dry:
        for pump in PUMPS:
            crew.unit(f"{pump}.suction", "open")
    if not pumps_first:
        crew.unit("bank_a.isolation", "open")
        crew.unit("bank_b.isolation", "open")
    crew.say("starting")
    for pump in PUMPS:
        crew.wait(3.0)
        crew.unit(f"{pump}.mode", "auto")
    if dry:
        crew.finish()
        return crew
    if pumps_first:
        crew.wait(80.0)
        crew.say("ready")
        crew.finish()
        return crew
    crew.unit("alarms.acknowledge")
    crew.until(lambda: crew["accumulator.pressure"] > 2760.0, 900.0)
    crew.wait(8.0)
    for name in ("manifold", "annular"):
        turn(crew, f"{name}_regulator", crew.told(name, "psi"), "unit")
    for name, tag in {
        "accumulator": "accumulator.pressure",
        "pilot": "pilot.pressure",
        "manifold": "manifold_regulator.readback",
        "annular": "annular_regulator.readback",
    }.items():
        crew.read(name, tag)
    crew.unit("manifold_regulator.authority", "remote")
    crew.unit("annular_regulator.authority", "remote")
    crew.wait(2.0)
    crew.say("ready")
    crew.finish()
    return crew


TESTED = {"annular": "upper_annular", "ram": "upper_pipe_ram", "middle": "middle_pipe_ram"}


def function_test(seed: int, lamps_only: bool = False, one_pod: bool = False) -> Crew:
    crew = Crew("function-test", seed)
    dead = ""
    for pod, station in (("yellow", "driller"), ("blue", "remote")):
        if pod == "blue":
            if one_pod:
                break
            crew.do("set", "pod_selector", "blue", station)
            crew.wait(15.0)
        for name, function in TESTED.items():
            crew.do("push", "totaliser.reset", at="driller")
            crew.close(function, station)
            crew.wait(12.0)
            crew.settled()
            count = crew["totaliser.count"]
            if not lamps_only:
                crew.read(f"{pod}_{name}", "totaliser.count")
            if pod == "blue" and count < 8.0:
                dead = function
            crew.open(function, station)
            crew.wait(12.0)
            crew.settled()
    crew.do("set", "pod_selector", "yellow")
    crew.wait(30.0)
    if lamps_only:
        crew.say("passed")
    elif dead:
        crew.do("name", f"{dead}.pod_valve_stuck_blue")
        crew.say("failed")
    crew.finish()
    return crew


def recharge_test(seed: int, together: bool = False, leaves_off: bool = False) -> Crew:
    crew = Crew("pump-recharge-test", seed)
    worn, times = "", {}
    for group, pumps in (("electric", PUMPS[:2]), ("air", PUMPS[2:])):
        for pump in PUMPS:
            crew.unit(f"{pump}.mode", "off")
        crew.unit("bank_a.bleed", "open")
        crew.until(lambda: crew["accumulator.pressure"] < 2200.0, 200.0)
        crew.unit("bank_a.bleed", "shut")
        crew.wait(15.0)
        begun = crew.time
        for pump in PUMPS if together else pumps:
            crew.unit(f"{pump}.mode", "auto")
        crew.wait(20.0)
        first, second = (f"{pump}.{'amps' if group == 'electric' else 'strokes'}" for pump in pumps)
        one, two = crew[first], crew[second]
        if abs(one - two) > 3.0:
            # A worn triplex pump draws less; a worn air-driven one strokes faster.
            less = pumps[0] if one < two else pumps[1]
            worn = less if group == "electric" else pumps[1 - pumps.index(less)]
        # The stop-watch must not be late: the last of it is watched closely.
        crew.until(lambda: crew["accumulator.pressure"] > 2750.0, 600.0)
        crew.desk.until(lambda: crew["accumulator.pressure"] > 2900.0, 100.0, 2.0)
        times[group] = crew.time - begun
        crew.wait(2.0)
        crew.enter(group, times[group])
        for pump in pumps:
            crew.unit(f"{pump}.mode", "off")
    crew.say("electric_short" if worn.startswith("triplex") else "air_short" if worn else "both_good")
    if worn:
        crew.do("name", f"{worn}.worn")
    if not leaves_off:
        for pump in PUMPS:
            crew.unit(f"{pump}.mode", "auto")
    crew.wait(10.0)
    crew.say("restored")
    crew.finish()
    return crew


def closing_time(seed: int, one_pod: bool = False, by_lamp: bool = False) -> Crew:
    crew = Crew("closing-time-test", seed)
    times: dict[str, float] = {}
    for pod in ("yellow", "blue"):
        if pod == "blue":
            if one_pod:
                break
            crew.do("set", "pod_selector", "blue")
            crew.wait(15.0)
        crew.do("push", "totaliser.reset")
        begun = crew.time
        crew.close("upper_pipe_ram")
        top = 0.0
        if by_lamp:
            crew.until(lambda: crew["upper_pipe_ram.lamp_close"] > 0.5, 60.0)
        else:
            crew.wait(3.0)
            while crew["totaliser.flow"] > 0.9 * top and crew.time < begun + 60.0:
                top = max(top, crew["totaliser.flow"])
                crew.wait(0.2)
        times[pod] = crew.time - begun
        crew.settled()
        crew.enter(f"{pod}_time", times[pod])
        crew.read(f"{pod}_count", "totaliser.count")
        crew.open("upper_pipe_ram")
        crew.wait(15.0)
        crew.settled()
    crew.do("set", "pod_selector", "yellow")
    crew.wait(10.0)
    if not one_pod:
        crew.say("yellow_slow" if times["yellow"] > times["blue"] else "blue_slow")
    crew.say("done")
    crew.finish()
    return crew


def mix_fluid(seed: int, watches: bool = True, overfills: bool = False) -> Crew:
    crew = Crew("mix-fluid", seed)
    wanted, start, found = crew.told("concentrate to", "%"), crew["tank.level"], crew["mix.concentrate"]
    crew.read("before", "mix.concentrate")
    end = 88.0
    dose = (wanted * end - found * start) / (end - start)
    crew.unit("water.rate_set", 70)
    rate = min(120.0, 1.4 * 35.1 * dose / 3.0)
    crew.unit("concentrate_pump.rate", round(rate, 1))
    crew.unit("mixing.mode", "manual")
    content = crew["tank.concentrate"]
    while crew["tank.level"] < (99.8 if overfills else end) and not crew.over:
        crew.wait(10.0 if crew["tank.level"] < end - 6.0 else 4.0)
        if watches and crew["concentrate_pump.strokes"] > crew["concentrate_pump.rate"] + 3.0:
            crew.say("lost")
            crew.do("name", "concentrate_pump.lost_prime")
            crew.unit("mixing.mode", "off")
            crew.wait(3.0)
            crew.unit("concentrate_pump.prime")
            crew.wait(3.0)
            crew.unit("mixing.mode", "manual")
        level, share = crew["tank.level"], crew["mix.concentrate"]
        if watches and level < end - 1.0:
            dose = max(0.0, (wanted * end - share * level) / (end - level))
            better = min(120.0, 1.4 * 35.1 * dose / 3.0)
            if abs(better - rate) > 6.0:
                rate = better
                crew.unit("concentrate_pump.rate", round(rate, 1))
    assert content >= crew["tank.concentrate"]
    crew.unit("concentrate_pump.rate", 35.1 * wanted / 3.0)
    crew.unit("water.rate_set", 50)
    crew.unit("mixing.mode", "auto")
    crew.wait(2.0)
    crew.read("after", "mix.concentrate")
    crew.say("right")
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "name-the-parts": name_the_parts,
    "follow-the-fluid": follow_the_fluid,
    "daily-round": daily_round,
    "start-up-from-cold": start_up,
    "function-test": function_test,
    "pump-recharge-test": recharge_test,
    "closing-time-test": closing_time,
    "mix-fluid": mix_fluid,
}
BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "name-the-parts.lamp-for-all": (
        lambda seed: name_the_parts(seed, "store supply control subsea proof"),
        {"proof": "Correct answer", "store": "Wrong answer at 12.0 s: 'The control-valve lamp.'"},
    ),
    "name-the-parts.says-them-all": (everything_in_a_row, {"supply": "Correct answer"}),
    "follow-the-fluid.backwards": (
        lambda seed: follow_the_fluid(seed, WAY[::-1], close=False),
        {"way": "before 'Triplex pump'", "closed": "Not done"},
    ),
    "follow-the-fluid.does-not-close": (
        lambda seed: follow_the_fluid(seed, close=False),
        {"closed": "Not done", "count": "Not entered"},
    ),
    "daily-round.writes-what-should-be": (
        lambda seed: daily_round(seed, blind=True),
        {"round": "Wrong value", "gauge": "Fault not named", "report": "nothing out of limits"},
    ),
    "daily-round.mends": (mends_on_the_round, {"gauge": "Fault not named", "round": "Not entered"}),
    "start-up-from-cold.dry": (lambda seed: start_up(seed, dry=True), {"dry": "ran with its suction shut"}),
    "start-up-from-cold.banks-shut": (
        lambda seed: start_up(seed, pumps_first=True),
        {"charged": "Not done", "report": "too early", "tank_first": "none"},
    ),
    "function-test.lamps-only": (
        lambda seed: function_test(seed, lamps_only=True),
        {"dead": "Fault not named", "yellow_ram": "Not entered", "report": "all functions moved on both pods"},
    ),
    "function-test.one-pod": (
        lambda seed: function_test(seed, one_pod=True),
        {"blue": "Not done", "dead": "Fault not named"},
    ),
    "pump-recharge-test.all-together": (
        lambda seed: recharge_test(seed, together=True),
        {"electric_done": "Not done", "air": "too early"},
    ),
    "pump-recharge-test.left-off": (lambda seed: recharge_test(seed, leaves_off=True), {"left": "not met"}),
    "closing-time-test.one-pod": (lambda seed: closing_time(seed, one_pod=True), {"blue_closed": "Not done"}),
    "closing-time-test.by-lamp": (lambda seed: closing_time(seed, by_lamp=True), {"yellow_time": "limit ±2.5 s"}),
    "mix-fluid.looks-away": (
        lambda seed: mix_fluid(seed, watches=False),
        {"right": "Not done", "lost": "Fault not named"},
    ),
    "mix-fluid.overfills": (lambda seed: mix_fluid(seed, overfills=True), {"overfilled": "ran over"}),
}
