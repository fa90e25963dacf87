"""Crews for the drills on looking after the unit; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import PUMPS, Reasons


def filter_change(
    seed: int, twin_first: bool = True, wrong: bool = False, locks: bool = True, bleeds: bool = True
) -> Crew:
    crew = Crew("filter-change", seed)
    crew.until(lambda: crew["triplex_1.running"] > 0.5, 300.0)
    crew.wait(3.0)
    crew.read("before", "filter_1.dp")
    crew.say("loaded")
    crew.do("name", "filter_2.blocked" if wrong else "filter_1.blocked")
    if wrong:
        crew.unit("filter_2.change_element")
        crew.wait(2.0)
        crew.say("done")
        crew.finish()
        return crew
    if twin_first:
        _filter_valves(crew, "filter_2", "open")
        crew.wait(4.0)
    _filter_valves(crew, "filter_1", "shut")
    crew.wait(2.0)
    for end in ("upstream", "downstream") if locks else ():
        crew.unit(f"filter_1.{end}_lock", "hung")
    if bleeds:
        crew.unit("filter_1.bleed", "open")
        crew.until(lambda: crew["filter_1.pressure"] < 20.0, 60.0)
    crew.wait(2.0)
    crew.unit("filter_1.change_element")
    if bleeds:
        crew.unit("filter_1.bleed", "shut")
    for end in ("upstream", "downstream") if locks else ():
        crew.unit(f"filter_1.{end}_lock", "off")
    if not twin_first:
        _filter_valves(crew, "filter_2", "open")
    crew.until(lambda: crew["triplex_1.running"] > 0.5, 300.0)
    crew.wait(5.0)
    crew.read("after", "filter_2.dp")
    crew.say("done")
    crew.finish()
    return crew


def _filter_valves(crew: Crew, name: str, way: str) -> None:
    crew.unit(f"{name}.upstream", way)
    crew.unit(f"{name}.downstream", way)


def bank_isolation(seed: int, guess: str = "", verifies: bool = True) -> Crew:
    crew = Crew("bank-isolation", seed)
    leaking = guess
    for bank in () if guess else ("bank_a", "bank_b"):
        crew.unit(f"{bank}.isolation", "shut")
        crew.wait(3.0)
        before = crew[f"{bank}.pressure"]
        crew.wait(25.0)
        if before - crew[f"{bank}.pressure"] > 5.0:
            leaking = bank
            break
        crew.unit(f"{bank}.isolation", "open")
        crew.wait(5.0)
    crew.unit(f"{leaking}.isolation", "shut")
    crew.wait(15.0)
    crew.say(leaking[-1])
    crew.do("name", f"{leaking}.bleed_leaks")
    crew.read("system", "accumulator.pressure")
    crew.unit(f"{leaking}.bleed", "open")
    if verifies:
        crew.until(lambda: crew[f"{leaking}.pressure"] < 5.0, 800.0)
        crew.wait(5.0)
    else:
        crew.wait(20.0)
    crew.say("safe")
    crew.finish()
    return crew


def precharge_check(seed: int, waits: bool = True, isolates: bool = True) -> Crew:
    crew = Crew("precharge-check", seed)
    if isolates:
        crew.unit("bank_b.isolation", "shut")
    crew.wait(3.0)
    crew.unit("bank_b.bleed", "open")
    crew.until(lambda: crew["bank_b.pressure"] < 2.0, 900.0 if waits and isolates else 60.0)
    crew.wait(6.0)
    crew.read("found", "bank_b.precharge")
    crew.say("low" if crew["bank_b.precharge"] < 900.0 else "high")
    crew.unit("bank_b.charge_nitrogen")
    crew.wait(5.0)
    crew.read("set", "bank_b.precharge")
    crew.unit("bank_b.bleed", "shut")
    crew.wait(2.0)
    if isolates:
        crew.unit("bank_b.isolation", "open")
    crew.until(lambda: crew["bank_b.pressure"] > 2600.0, 600.0)
    crew.wait(2.0)
    crew.say("back")
    crew.finish()
    return crew


def battery_test(seed: int, minutes: float = 10.2, reads: bool = True) -> Crew:
    crew = Crew("battery-endurance-test", seed)
    crew.wait(3.0)
    crew.read("before", "battery.volts")
    discharging = crew["battery.amps"] > 2.0
    crew.unit("power.charger", "off")
    crew.wait(60.0 * minutes)
    if reads:
        crew.read("volts", "battery.volts")
        crew.read("amps", "battery.amps")
        crew.read("weakest", "battery.weakest")
    weak = crew["battery.weakest"] < 11.9
    crew.unit("power.charger", "on")
    crew.wait(8.0)
    crew.read("charge", "battery.amps")
    if reads:
        crew.do("name", "battery.weak_cell" if weak and not discharging else "battery.charger_failed")
        crew.say("weak" if weak and not discharging else "no_charge")
    else:
        crew.say("sound")
    crew.wait(1.0)
    crew.say("done")
    crew.finish()
    return crew


def line_flush(seed: int, patient: bool = True, blue: bool = True) -> Crew:
    crew = Crew("control-line-flush", seed)
    crew.wait(3.0)
    crew.say("flushing")
    if blue:
        crew.do("set", "pod_selector", "blue")
        crew.wait(12.0)
    began = crew["totaliser.count"]
    while crew["totaliser.count"] - began < crew.told("at least", "gal") + 3.0 and not crew.over:
        for way in ("close", "open"):
            crew.do("set", "lower_annular", way)
            crew.wait(16.0 if patient else 9.0)
            if patient:
                crew.until(lambda: crew["accumulator.pressure"] > 2500.0, 300.0)
    crew.read("count", "totaliser.count")
    crew.read("level", "tank.level")
    crew.open("lower_annular")
    crew.wait(15.0)
    crew.do("set", "pod_selector", "yellow")
    crew.wait(15.0)
    crew.say("done")
    crew.finish()
    return crew


def leak_back(seed: int, restores: bool = True, draws: bool = True) -> Crew:
    crew = Crew("check-valve-leaks-back", seed)
    for pump in PUMPS if draws else ():
        crew.unit(f"{pump}.mode", "off")
    if draws:
        crew.unit("bank_a.bleed", "open")
        crew.until(lambda: crew["accumulator.pressure"] < 2250.0, 200.0)
        crew.unit("bank_a.bleed", "shut")
    crew.wait(2.0)
    crew.read("first", "pilot_bottles.pressure")
    crew.wait(61.0)
    crew.read("later", "pilot_bottles.pressure")
    crew.unit("pilot_bottles.isolation", "shut")
    crew.wait(5.0)
    before = crew["pilot_bottles.pressure"]
    crew.wait(25.0)
    falls = before - crew["pilot_bottles.pressure"] > 4.0
    crew.say("bleed" if falls else "check")
    if draws:
        crew.do("name", "pilot_bottles.bleed_leaks" if falls else "pilot_check.leaks_back")
    crew.unit("pilot_bottles.isolation", "open")
    for pump in PUMPS if restores else ():
        crew.unit(f"{pump}.mode", "auto")
    crew.until(lambda: crew["accumulator.pressure"] > 2750.0 and crew["pilot.pressure"] > 2650.0, 300.0)
    crew.wait(2.0)
    crew.say("restored")
    crew.finish()
    return crew


def wrong_mix(seed: int, cures: bool = True, guess: bool = False) -> Crew:
    crew = Crew("low-level-wrong-mix", seed)
    crew.wait(3.0)
    crew.do("push", "alarms.acknowledge", at="unit")
    crew.read("level", "tank.level")
    crew.read("share", "mix.concentrate")
    crew.wait(5.0)
    little = crew["water.flow"] < 18.0
    if guess:
        little = not little
    if little:
        if cures:
            crew.unit("water.gate", "shut")
            crew.wait(2.0)
            crew.unit("water.clean_strainer")
            crew.wait(2.0)
            crew.unit("water.gate", "open")
    elif cures:
        crew.unit("mixing.mode", "off")
        crew.wait(3.0)
        crew.unit("concentrate_pump.prime")
        crew.wait(2.0)
        crew.unit("mixing.mode", "auto")
    crew.wait(15.0)
    crew.read("water", "water.flow")
    crew.say("strainer" if little else "prime")
    crew.do("name", "water.strainer_blocked" if little else "concentrate_pump.lost_prime")
    crew.say("filling")
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "filter-change": filter_change,
    "bank-isolation": bank_isolation,
    "precharge-check": precharge_check,
    "battery-endurance-test": battery_test,
    "control-line-flush": line_flush,
    "check-valve-leaks-back": leak_back,
    "low-level-wrong-mix": wrong_mix,
}
BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "filter-change.shuts-first": (lambda s: filter_change(s, twin_first=False), {"both": "against two shut filters"}),
    "filter-change.wrong-one": (lambda s: filter_change(s, wrong=True), {"changed": "Not done", "loaded": "not named"}),
    "filter-change.not-bled": (lambda s: filter_change(s, bleeds=False), {"injury": "surgical emergency"}),
    "filter-change.no-lock": (lambda s: filter_change(s, locks=False), {"safe": "without 'Both valves locked"}),
    "bank-isolation.guesses": (
        lambda s: bank_isolation(s, guess="bank_b"),
        {"isolated": "Not done", "named": "Fault not named"},
    ),
    "bank-isolation.not-verified": (
        lambda s: bank_isolation(s, verifies=False),
        {"report": "too early", "unsafe": "under pressure"},
    ),
    "precharge-check.hurries": (lambda s: precharge_check(s, waits=False), {"found": "too early", "charged": "Not"}),
    "precharge-check.not-isolated": (lambda s: precharge_check(s, isolates=False), {"bled": "Not done"}),
    "battery-endurance-test.three-minutes": (lambda s: battery_test(s, 3.0), {"tested": "Not done"}),
    "battery-endurance-test.does-not-look": (
        lambda s: battery_test(s, reads=False),
        {"weakest": "Not entered", "wrong": "Fault not named", "told": "Correct answer"},
    ),
    "control-line-flush.hurries": (lambda s: line_flush(s, patient=False), {"stored": "above 2,250 psi"}),
    "control-line-flush.wrong-pod": (lambda s: line_flush(s, blue=False), {"flushed": "Not done"}),
    "check-valve-leaks-back.left-off": (lambda s: leak_back(s, restores=False), {"restored": "Not done"}),
    "check-valve-leaks-back.not-drawn": (lambda s: leak_back(s, draws=False), {"drawn": "Not done"}),
    "low-level-wrong-mix.guesses": (
        lambda s: wrong_mix(s, guess=True),
        {"cured": "Not done", "told": "Correct answer"},
    ),
    "low-level-wrong-mix.only-talks": (lambda s: wrong_mix(s, cures=False), {"cured": "Not done"}),
}
