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


CREWS: dict[str, Callable[[int], Crew]] = {
    "charging-test": charging,
    "drawdown-by-sequence": drawdown,
    "full-function-test": function_everything,
}

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "charging-test.one-group-for-all-pumps": (
        lambda seed: charging(seed, ordered=PUMPS[:2]),
        {"tested": "Not done"},
    ),
    "charging-test.judges-too-early": (
        lambda seed: charging(seed, patience=0.4),
        {"verdict": "Not done"},
    ),
    "charging-test.calls-a-bad-unit-good": (
        lambda seed: charging(seed, verdict="passed"),
        {"called_good": "called passed"},
    ),
    "drawdown-by-sequence.pumps-on": (
        lambda seed: drawdown(seed, off=False),
        {"tested": "Not done"},
    ),
    "drawdown-by-sequence.calls-bad-bottles-good": (
        lambda seed: drawdown(seed, verdict="passed"),
        {"called_good": "called passed"},
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
        {"called_good": "called passed"},
    ),
}
