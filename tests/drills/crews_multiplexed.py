"""Crews for the drills on the rig whose orders are messages; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons

VALVE = "upper_inner_kill"


def first_look(
    seed: int, pods: tuple[str, ...] = ("yellow", "blue"), both: bool = False, said: str = "", at: str = "driller"
) -> Crew:
    """``both``: opens the outer valve too; ``said``: what is reported of the links, whatever the retries show."""
    crew = Crew("mux-first-look", seed)
    for pod in pods:
        if pod != "yellow":
            crew.do("set", "pod_selector", pod, at)
            crew.wait(12.0)
            crew.settled()
        crew.do("push", "totaliser.reset")
        begun = crew.time
        crew.open(VALVE, at)
        while crew[f"{VALVE}.lamp_open"] < 0.5 and crew.time < begun + 15.0:
            crew.wait(0.2)
        taken = crew.time - begun
        if both:
            crew.open("upper_outer_kill", at)
        crew.settled()
        crew.enter(f"{pod}_time", taken)
        crew.read(f"{pod}_count", "totaliser.count")
        crew.close(VALVE, at)
        if both:
            crew.close("upper_outer_kill", at)
        crew.until(lambda: crew[f"{VALVE}.lamp_close"] > 0.5, 15.0)
        crew.wait(3.0)
        crew.settled()
    retries = {pod: crew[f"link_{pod}.retries"] for pod in ("yellow", "blue")}
    crew.do("set", "pod_selector", "yellow", at)
    crew.wait(12.0)
    crew.say(said or ("yellow_noisy" if retries["yellow"] > retries["blue"] else "blue_noisy"))
    crew.say("done")
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {"mux-first-look": first_look}

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "mux-first-look.one-pod": (lambda seed: first_look(seed, ("yellow",)), {"blue_answered": "Not done"}),
    "mux-first-look.hears-no-retries": (lambda seed: first_look(seed, said="alike"), {"noisy": "both links are quiet"}),
    "mux-first-look.opens-the-line": (lambda seed: first_look(seed, both=True), {"line_open": "open to the kill line"}),
}
