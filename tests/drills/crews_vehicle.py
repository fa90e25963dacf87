"""Crews for the drill of the vehicle's panel; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons


def stabs(crew: Crew, port: int) -> None:
    """Pump off, vehicle to the port, stab in, valve open, pump on."""
    crew.do("set", "rov.pump", "off", "vehicle")
    crew.do("push", "rov.reset", None, "vehicle")
    crew.do("set", "rov.port", f"port {port}", "vehicle")
    crew.wait(1.0)
    crew.until(lambda: crew["rov.stabbed"] == float(port), 200.0)
    crew.do("set", "rov.valve", "open", "vehicle")
    crew.do("set", "rov.pump", "on", "vehicle")


def rov_close(
    seed: int, by: str = "list", proves: bool = True, locks: bool = True, says: str = "closed", early: bool = False
) -> Crew:
    """``by``: the as-built list, or another; ``proves``: enters what proves it; ``early``: stops half-way."""
    crew = Crew("rov-close", seed)
    assert crew.hears(1, 30.0)
    crossed = any("ports 2 and 3 are crossed" in text for text in crew.desk.told)
    stabs(crew, 3 if crossed is (by == "list") else 2)
    if early:
        crew.wait(12.0)
    else:
        crew.until(lambda: crew["rov.pressure"] > 4000.0 and crew["rov.flow"] < 1.0, 90.0)
        crew.wait(4.0)
    if proves:
        crew.read("volume", "rov.count")
        crew.read("pressure", "rov.pressure")
    if locks:
        stabs(crew, 4)
        crew.until(lambda: crew["rov.pressure"] > 4000.0 and crew["rov.flow"] < 1.0, 60.0)
        crew.wait(4.0)
        crew.read("lock_pressure", "rov.pressure")
    crew.do("set", "rov.pump", "off", "vehicle")
    crew.wait(2.0)
    crew.end_with(says)
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {"rov-close": rov_close}

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "rov-close.not-by-the-list": (
        lambda seed: rov_close(seed, by="memory"),
        {"test_ram": "holds from above only", "closed": "Not done"},
    ),
    "rov-close.it-flowed": (
        lambda seed: rov_close(seed, early=True, proves=False, says="flowed"),
        {"called_closed": "did not hold it", "volume": "Not entered"},
    ),
    "rov-close.not-locked": (
        lambda seed: rov_close(seed, locks=False),
        {"locked": "Not done", "report": "too early"},
    ),
}
