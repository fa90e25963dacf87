"""Crews for the drills that test the equipment; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import STEADILY, Crew
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
    crew.until(lambda: abs(crew["floor.mud_pumps"] - rate) < 1.0, 30.0, STEADILY)
    crew.wait(seconds)


def _stop(crew: Crew) -> None:
    crew.do("set", "floor.mud_pumps", 0)
    crew.until(lambda: crew["floor.mud_pumps"] < 0.5, 60.0, STEADILY)
    crew.wait(20.0)


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


CREWS: dict[str, Callable[[int], Crew]] = {
    "slow-circulating-rates": slow_rates,
    "diverter-function-test": diverter_test,
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
}
