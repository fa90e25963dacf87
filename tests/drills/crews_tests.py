"""Crews for the drills that test the equipment; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons

RATES = (20, 30, 40)


def slow_rates(seed: int, waits: float = 30.0, line_first: bool = True, restores: bool = True) -> Crew:
    """``waits``: seconds at each rate; ``line_first``: opens the choke line before it pumps."""
    crew = Crew("slow-circulating-rates", seed)
    riser: dict[int, float] = {}
    line: dict[int, float] = {}
    for rate in RATES:
        _pump(crew, rate, waits)
        riser[rate] = crew["well.drillpipe_pressure"]
        crew.read(f"riser_{rate}", "well.drillpipe_pressure")
    _stop(crew)
    crew.close("upper_annular")
    crew.wait(15.0)
    if line_first:
        for valve in ("upper_inner_choke", "upper_outer_choke"):
            crew.open(valve)
        crew.do("set", "floor.choke", 100)
        crew.wait(18.0)
        crew.say("line_open")
    for rate in RATES:
        _pump(crew, rate, waits + 10.0)
        line[rate] = crew["well.drillpipe_pressure"]
        crew.read(f"line_{rate}", "well.drillpipe_pressure")
    crew.enter("clf", line[40] - riser[40])
    _stop(crew)
    if restores:
        crew.open("upper_annular")
        for valve in ("upper_outer_choke", "upper_inner_choke"):
            crew.close(valve)
        crew.do("set", "floor.choke", 0)
        crew.wait(25.0)
    crew.say("restored")
    crew.wait(6.0)
    crew.finish()
    return crew


def _pump(crew: Crew, rate: int, seconds: float) -> None:
    crew.do("set", "floor.mud_pumps", rate)
    crew.until(lambda: abs(crew["floor.mud_pumps"] - rate) < 1.0, 30.0)
    crew.wait(seconds)


def _stop(crew: Crew) -> None:
    crew.do("set", "floor.mud_pumps", 0)
    crew.until(lambda: crew["floor.mud_pumps"] < 0.5, 60.0)
    crew.wait(20.0)


def collars(
    seed: int,
    preventer: str = "",
    inside: bool = True,
    line: str = "lower",
    inside_first: bool = True,
    at: str = "driller",
) -> Crew:
    """``preventer``: what is closed, else the annular in service; ``inside_first``: before it the string is shut."""
    crew = Crew("kick-with-collars", seed)
    preventer = preventer or ("lower_annular", "upper_annular")[crew.asked("out")]
    before = crew["trip_tank.volume"]
    assert crew.until(lambda: crew["trip_tank.volume"] > before + 0.5, 500.0)
    crew.wait(2.0)
    crew.say("flows")
    if not inside_first:
        crew.close(preventer, at)
    if inside:
        crew.do("push", "floor.stab", at="floor")
        crew.until(lambda: crew["floor.stabbed"] > 0.5, 30.0)
        crew.do("set", "floor.safety_valve", "shut", "floor")
        crew.wait(2.0)
    if inside_first:
        crew.close(preventer, at)
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


def valve_stuck(
    seed: int, preventer: str = "upper_annular", line: str = "upper", top_first: bool = False, top: bool = True
) -> Crew:
    """``top_first``: makes up the top drive before the annulus is closed; ``top``: at all."""
    crew = Crew("safety-valve-stuck", seed)
    before = crew["trip_tank.volume"]
    assert crew.until(lambda: crew["trip_tank.volume"] > before + 0.5, 500.0)
    crew.wait(2.0)
    crew.say("flows")
    crew.do("push", "floor.stab", at="floor")
    crew.until(lambda: crew["floor.stabbed"] > 0.5, 30.0)
    crew.do("set", "floor.safety_valve", "shut", "floor")
    crew.hears(1, 15.0)
    crew.say("failed")
    if top and top_first:
        crew.do("set", "floor.top_drive", "on", "floor")
        crew.wait(3.0)
    if preventer == "blind_shear_ram":
        crew.do("push", "driller.enable")
    crew.close(preventer)
    if top and not top_first:
        crew.do("set", "floor.top_drive", "on", "floor")
    crew.until(lambda: crew["well.flow_out"] < 3.0, 60.0)
    crew.wait(8.0)
    crew.read("flow_count", "totaliser.count")
    crew.read("return_flow", "well.flow_out")
    crew.read("trip_tank", "trip_tank.volume")
    crew.do("name", "floor.safety_valve_stuck")
    crew.say("shut_in")
    crew.open(f"{line}_inner_choke")
    crew.open(f"{line}_outer_choke")
    crew.wait(170.0)
    crew.read("sicp", "well.casing_pressure")
    crew.say("handed_over")
    crew.finish()
    return crew


OVERBOARD = ("port_overboard", "starboard_overboard")


def diverter_test(
    seed: int, second_panel: bool = True, lever: bool = True, way_out: bool = True, honest: bool = True
) -> Crew:
    """``way_out``: leaves the overboard line that answers open for the packer; ``honest``: reports the finding."""
    crew = Crew("diverter-function-test", seed)
    crew.wait(3.0)
    dead = ""
    for at in ("driller", "remote") if second_panel else ("driller",):
        for line in OVERBOARD:
            crew.open(line, at)
            crew.wait(9.0)
            if crew[f"{line}.lamp_open"] < 0.5:
                dead = line
            crew.close(line, at)
            crew.wait(8.0)
    alive = next(line for line in OVERBOARD if line != dead)
    if way_out:
        crew.open(alive)
        crew.wait(8.0)
    crew.do("push", "driller.enable")
    crew.close("diverter_packer")
    crew.wait(22.0)
    crew.do("push", "driller.enable")
    crew.open("diverter_packer")
    crew.wait(22.0)
    if lever:
        crew.unit(dead, "open")
        crew.wait(10.0)
        crew.unit(dead, "close")
        crew.wait(10.0)
    crew.do("name", f"{dead}.solenoid_dead")
    crew.close(alive)
    crew.wait(10.0)
    crew.do("set", "diverter_flowline", "open")
    crew.wait(8.0)
    crew.read("readback", "diverter_regulator.readback")
    crew.say("not_ready" if honest else "ready")
    crew.wait(8.0)
    crew.finish()
    return crew


def handover(seed: int, looks: bool = True, reports: bool = True, mends: bool = True) -> Crew:
    """``looks``: at the selectors and valves, else the note is believed."""
    crew = Crew("station-handover", seed)
    crew.wait(6.0)
    for name, tag in (
        ("accumulator", "accumulator.pressure"),
        ("annular", "annular_regulator.readback"),
        ("manifold", "manifold_regulator.readback"),
        ("level", "tank.level"),
        ("volts", "battery.volts"),
    ):
        crew.read(name, tag)
    found = "nothing"
    if looks:
        if crew["bank_b.isolation"] < 0.5:
            found = "bank"
        elif crew["air_pump_2.mode"] < 0.5:
            found = "pump"
        elif crew["power.charger"] < 0.5:
            found = "charger"
        else:
            found = "set_at_unit"
    if reports:
        crew.say(found)
    if mends and looks:
        target, value = {
            "bank": ("bank_b.isolation", "open"),
            "pump": ("air_pump_2.mode", "auto"),
            "charger": ("power.charger", "on"),
            "set_at_unit": ("annular_regulator.authority", "remote"),
        }[found]
        crew.unit(target, value)
    crew.wait(8.0)
    crew.say("accepted")
    crew.wait(5.0)
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "slow-circulating-rates": slow_rates,
    "diverter-function-test": diverter_test,
    "station-handover": handover,
    "kick-with-collars": collars,
    "safety-valve-stuck": valve_stuck,
}

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "slow-circulating-rates.pumps-against-a-closed-line": (
        lambda seed: slow_rates(seed, line_first=False),
        {"pumped_shut": "against a closed well", "through": "Not done"},
    ),
    "slow-circulating-rates.leaves-it-closed": (
        lambda seed: slow_rates(seed, restores=False),
        {"restored": "not met"},
    ),
    "diverter-function-test.reports-ready": (
        lambda seed: diverter_test(seed, honest=False),
        {"ready_with_fault": "reported ready"},
    ),
    "diverter-function-test.one-panel-only": (
        lambda seed: diverter_test(seed, second_panel=False),
        {"remote": "Not done"},
    ),
    "station-handover.believes-the-note": (
        lambda seed: handover(seed, looks=False),
        {"found": "Wrong answer", "right": "not met"},
    ),
    "station-handover.reports-and-leaves-it": (
        lambda seed: handover(seed, mends=False),
        {"right": "not met"},
    ),
    "kick-with-collars.pipe-ram": (
        lambda seed: collars(seed, "upper_pipe_ram"),
        {"ram_on_collars": "Only an annular seals on collars"},
    ),
    "kick-with-collars.string-open": (
        lambda seed: collars(seed, inside=False),
        {"shut_in": "Not done"},
    ),
    "safety-valve-stuck.trusts-the-handle": (
        lambda seed: valve_stuck(seed, top=False),
        {"shut_in": "Not done"},
    ),
    "safety-valve-stuck.shears": (
        lambda seed: valve_stuck(seed, "blind_shear_ram", "lower"),
        {"shear_on_pipe": "string is lost"},
    ),
}
