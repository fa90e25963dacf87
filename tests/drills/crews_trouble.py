"""Crews for drills on trouble at the panels and in the pods; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons


def dead_panel(seed: int, lever: bool = True, proves: bool = True) -> Crew:
    crew = Crew("dead-panel", seed)
    crew.hears(1, 120.0)
    crew.wait(6.0)
    crew.say("dead" if lever else "wait")
    if lever:
        crew.do("name", "battery.open_circuit")
        crew.go("unit")
    crew.hears(2, 120.0)
    crew.wait(4.0)
    annular = ("upper_annular", "lower_annular")[crew.asked("which")]
    if lever:
        crew.close(annular, "unit")
        crew.until(lambda: crew["totaliser.count"] > 15.0 and crew["totaliser.flow"] < 8.0, 60.0)
        crew.wait(4.0)
        if proves:
            crew.read("count", "totaliser.count")
            crew.read("readback", "annular_regulator.readback")
        crew.say("suspended")
    crew.say("closed")
    crew.finish(log=lever)
    return crew


def drift(seed: int, changes: bool = True, lowers: bool = False) -> Crew:
    crew = Crew("regulator-drift", seed)

    def over(name: str) -> float:
        return crew[f"{name}_regulator.readback"] - crew[f"{name}_regulator.pilot"]

    crew.until(lambda: max(over("manifold"), over("annular")) > 70.0, 150.0)
    crew.wait(4.0)
    which = "manifold" if over("manifold") > over("annular") else "annular"
    crew.read(f"{which}_high", f"{which}_regulator.readback")
    crew.say(which if changes else "gauge")
    if lowers:
        crew.do("lower", f"{which}_regulator", 2)
        crew.wait(30.0)
    if changes:
        crew.do("set", "pod_selector", "blue")
        crew.wait(30.0)
        crew.read("manifold_now", "manifold_regulator.readback")
        crew.read("annular_now", "annular_regulator.readback")
        crew.do("name", f"pod_yellow.{which}_creeps")
    crew.say("done")
    crew.finish()
    return crew


def stuck_valve(seed: int, lever: bool = True, other: bool = True) -> Crew:
    crew = Crew("stuck-valve", seed)
    crew.wait(4.0)
    crew.close("upper_pipe_ram")
    crew.wait(8.0)
    crew.read("nothing", "totaliser.count")
    crew.say("no_answer")
    if lever:
        crew.close("upper_pipe_ram", "unit")
        crew.wait(6.0)
        works = crew["totaliser.flow"] > 5.0 or crew["totaliser.count"] > 5.0
        crew.say("solenoid" if works else "stuck")
        crew.do("name", f"upper_pipe_ram.{'solenoid_dead' if works else 'valve_stuck'}")
        if not works and other:
            crew.do("push", "totaliser.reset")
            crew.close("middle_pipe_ram")
        if works or other:
            crew.settled()
            crew.read("count", "totaliser.count")
    crew.say("closed")
    crew.finish()
    return crew


def pushes_again(seed: int) -> Crew:
    """Pushes the same button, over and over, and trusts that it will have gone."""
    crew = Crew("stuck-valve", seed)
    for _ in range(10):
        crew.close("upper_pipe_ram")
        crew.wait(5.0)
    crew.say("closed")
    crew.do("name", "upper_pipe_ram.stuck")
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "dead-panel": dead_panel,
    "regulator-drift": drift,
    "stuck-valve": stuck_valve,
}
BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "dead-panel.waits": (lambda s: dead_panel(s, lever=False), {"closed": "Not done", "told": "We wait"}),
    "dead-panel.not-proved": (lambda s: dead_panel(s, proves=False), {"count": "Not entered"}),
    "regulator-drift.calls-it-a-gauge": (
        lambda s: drift(s, changes=False),
        {"cured": "Not done", "report": "reads"},
    ),
    "regulator-drift.lowers-only": (
        lambda s: drift(s, changes=False, lowers=True),
        {"cured": "Not done", "named": "Fault not named"},
    ),
    "stuck-valve.pushes-again": (pushes_again, {"closed": "Not done", "named": "Wrong faults reported"}),
    "stuck-valve.stays-at-the-panel": (lambda s: stuck_valve(s, lever=False), {"lever": "Not done"}),
}
