"""Crews for the drills that prove a whole system fit for service; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import PUMPS, Reasons

SYSTEMS = (PUMPS, PUMPS[:2], PUMPS[2:])
"""What the charging test may be ordered with."""
PREVENTERS = ("upper_annular", "lower_annular", "upper_pipe_ram", "middle_pipe_ram", "lower_pipe_ram")
LINES = tuple(
    f"{height}_{place}_{line}"
    for line in ("choke", "kill")
    for height in ("upper", "lower")
    for place in ("inner", "outer")
)


def charging(seed: int, ordered: tuple[str, ...] = (), verdict: str = "", patience: float = 1.0) -> Crew:
    """``ordered``: the pumps that run, whatever the order; ``verdict``: what is said, whatever the stop-watch shows;
    ``patience``: share of the limit that is waited for."""
    crew = Crew("charging-test", seed)
    crew.wait(4.0)
    crew.read("start_pressure", "accumulator.pressure")
    ordered = ordered or SYSTEMS[crew.asked("system")]
    limit = 900.0 if ordered == PUMPS else 1800.0
    for pump in ordered:
        crew.unit(f"{pump}.mode", "auto")
    began = crew.time
    good = crew.until(lambda: crew["accumulator.pressure"] > 2980.0, patience * limit + 5.0)
    crew.enter("time", (crew.time - began) / 60.0)
    crew.read("end_pressure", "accumulator.pressure")
    crew.say(verdict or ("passed" if good else "failed"))
    for pump in PUMPS:
        crew.unit(f"{pump}.mode", "auto")
    crew.wait(2.0)
    crew.say("restored")
    crew.finish()
    return crew


def drawdown(seed: int, off: bool = True, verdict: str = "", restores: bool = True) -> Crew:
    """``verdict``: what is said whatever the gauge shows."""
    crew = Crew("drawdown-by-sequence", seed)
    crew.wait(4.0)
    crew.read("start_pressure", "accumulator.pressure")
    for pump in PUMPS if off else ():
        crew.unit(f"{pump}.mode", "off")
    crew.do("push", "totaliser.reset")

    def spent() -> bool:
        return crew["accumulator.pressure"] < 1195.0

    for reading, strokes in (
        ("after_closing", [(name, "close") for name in PREVENTERS]),
        ("after_opening", [(name, "open") for name in PREVENTERS]),
        ("end_pressure", [("upper_annular", "close"), ("upper_pipe_ram", "close")]),
    ):
        for name, way in strokes:
            if spent() and not verdict:
                break
            crew.do("set", name, way)
            crew.wait(8.0)
            crew.until(lambda: crew["totaliser.flow"] < 8.0, 40.0)
            crew.wait(6.0)
        crew.read(reading, "accumulator.pressure")
    crew.read("count", "totaliser.count")
    crew.say(verdict or ("failed" if spent() else "passed"))
    if restores:
        for pump in PUMPS:
            crew.unit(f"{pump}.mode", "auto")
        for name in PREVENTERS:
            crew.open(name)
        crew.wait(20.0)
        crew.until(lambda: crew["accumulator.pressure"] > 2620.0, 900.0)
    crew.say("restored")
    crew.finish()
    return crew


def function_everything(seed: int, blue_at: str = "remote", valves: bool = True, honest: bool = True) -> Crew:
    """``blue_at``: the panel from which the blue pod is tested; ``valves``: tests choke and kill valves too."""
    crew = Crew("full-function-test", seed)
    dead = ""
    for pod, at in (("yellow", "driller"), ("blue", blue_at)):
        if pod == "blue":
            crew.do("set", "pod_selector", "blue")
            crew.wait(5.0)
        for name in PREVENTERS:
            crew.do("push", "totaliser.reset")
            crew.close(name, at)
            crew.wait(12.0)
            crew.settled()
            if crew["totaliser.count"] < 6.0:
                dead = f"{name}.pod_valve_stuck_{pod}"
            crew.read(f"{pod}_{name}", "totaliser.count")
            crew.open(name, at)
            crew.wait(14.0)
            crew.settled()
        for name in LINES if valves else ():
            crew.open(name, at)
            crew.wait(5.0)
            crew.close(name, at)
            crew.wait(4.0)
    crew.do("set", "pod_selector", "yellow")
    crew.wait(20.0)
    crew.do("name", dead)
    crew.say("failed" if honest else "passed")
    crew.finish()
    return crew


def pressure_test(
    seed: int, plug: bool = True, low: bool = True, honest: bool = True, bleeds: bool = True, holds: float = 305.0
) -> Crew:
    """``low``: tests at low pressure first; ``holds``: how long, s; ``bleeds``: before a preventer is opened."""
    crew = Crew("stack-pressure-test", seed)

    def unit(part: str, way: str) -> None:
        crew.do("set", f"test.{part}", way, "floor")

    def to(pressure: float, pace: str) -> None:
        unit("pump", pace)
        crew.until(lambda: crew["test.pressure"] > pressure, 400.0)
        unit("pump", "stop")
        crew.wait(30.0)

    def stable(most: float) -> bool:
        """Whether it holds; a crew that sees it go on falling waits no longer."""
        unit("chart", "off")
        crew.wait(1.0)
        unit("chart", "running")
        crew.until(lambda: crew["test.fall"] > most + 5.0, holds)
        return crew["test.fall"] < most

    if plug:
        unit("plug", "landed")
    unit("chart", "running")
    for part, preventer in (("annular", "lower_annular"), ("ram", "upper_pipe_ram")):
        high = crew.told(
            "annular to 250 to 350 psi and to" if part == "annular" else "ram to 250 to 350 psi and to", "psi"
        )
        crew.close(preventer)
        crew.wait(30.0)
        unit("bleed", "shut")
        good = True
        if low:
            to(290.0, "slow")
            good = stable(15.0)
        if good:
            to(high + 150.0, "fast")
            good = stable(60.0)
        crew.read(f"{part}_end", "test.pressure")
        crew.say(f"{part}_{'good' if good or not honest else 'bad'}")
        if bleeds:
            unit("bleed", "open")
            crew.until(lambda: crew["test.pressure"] < 5.0, 120.0)
        crew.open(preventer)
        crew.wait(30.0)
    unit("plug", "out")
    unit("chart", "off")
    crew.wait(2.0)
    crew.say("ended")
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "charging-test": charging,
    "drawdown-by-sequence": drawdown,
    "full-function-test": function_everything,
    "stack-pressure-test": pressure_test,
}

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "charging-test.one-group-for-all-pumps": (
        lambda seed: charging(seed, ordered=PUMPS[:2]),
        {"tested": "Not done"},
    ),
    "charging-test.judges-too-early": (
        lambda seed: charging(seed, patience=0.4),
        {"verdict": "not met"},
    ),
    "charging-test.calls-a-bad-unit-good": (
        lambda seed: charging(seed, verdict="passed"),
        {"called_good": "reported as passed"},
    ),
    "drawdown-by-sequence.pumps-on": (
        lambda seed: drawdown(seed, off=False),
        {"tested": "Not done"},
    ),
    "drawdown-by-sequence.calls-bad-bottles-good": (
        lambda seed: drawdown(seed, verdict="passed"),
        {"called_good": "reported as passed"},
    ),
    "drawdown-by-sequence.leaves-it-empty": (
        lambda seed: drawdown(seed, restores=False),
        {"restored": "Not done"},
    ),
    "full-function-test.one-panel-only": (
        lambda seed: function_everything(seed, blue_at="driller"),
        {"blue_preventers": "Not done", "blue_valves": "Not done"},
    ),
    "full-function-test.no-valves": (
        lambda seed: function_everything(seed, valves=False),
        {"yellow_valves": "Not done"},
    ),
    "full-function-test.reports-all-good": (
        lambda seed: function_everything(seed, honest=False),
        {"called_good": "reported as passed"},
    ),
    "stack-pressure-test.no-plug": (
        lambda seed: pressure_test(seed, plug=False),
        {"no_plug": "no plug in the wellhead"},
    ),
    "stack-pressure-test.high-only": (
        lambda seed: pressure_test(seed, low=False),
        {"gentle": "Out of limits", "ram_tested": "Not done"},
    ),
    "stack-pressure-test.two-minutes": (
        lambda seed: pressure_test(seed, holds=110.0),
        {"ram_tested": "Not done"},
    ),
    "stack-pressure-test.calls-a-leak-good": (
        lambda seed: pressure_test(seed, honest=False),
        {"annular_false": "reported as holding"},
    ),
    "stack-pressure-test.opens-under-pressure": (
        lambda seed: pressure_test(seed, bleeds=False),
        {"opened_under_pressure": "released at once"},
    ),
}
