"""Crews for the drills of deadman and autoshear; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons

BATTERIES = (("yellow", "a"), ("yellow", "b"), ("blue", "a"), ("blue", "b"))
NEEDED = 18.0
"""V under load below which a battery does not drive its coils."""


def battery_load(
    seed: int,
    order: tuple[tuple[str, str], ...] = BATTERIES,
    loaded: bool = True,
    says: str = "weak",
    disarms: bool = False,
    dumps: bool = False,
) -> Crew:
    """``order``: which batteries are tested; ``loaded``: whether the test's voltage is read, or that without load;
    ``dumps``: opens the dump valves of the conduits and leaves them so."""
    crew = Crew("battery-load", seed)
    if disarms:
        crew.do("push", "driller.enable")
        crew.do("set", "deadman.arm", "disarmed")
    if dumps:
        crew.do("set", "conduits.dump", "open")
    volts: dict[tuple[str, str], float] = {}
    for pod, letter in order:
        battery = f"deadman.battery_{pod}_{letter}"
        if loaded:
            crew.do("push", f"{battery}.test")
            crew.wait(7.0)
        volts[pod, letter] = crew[f"{battery}.{'lowest' if loaded else 'volts'}"]
        crew.read(f"{pod}_{letter}_load", f"{battery}.{'lowest' if loaded else 'volts'}")
    weak = min(volts, key=lambda one: volts[one])
    if volts[weak] < NEEDED:
        crew.do("name", f"deadman.battery_weak_{weak[0]}_{weak[1]}")
    crew.wait(2.0)
    crew.end_with(says)
    return crew


def enabled(crew: Crew, do: str, target: str, value: str | None = None) -> None:
    """Enable, then the critical button."""
    crew.do("push", "driller.enable")
    crew.do(do, target, value)
    crew.wait(1.0)


def deadman_test(
    seed: int,
    clears: bool = True,
    dumps_first: bool = True,
    arms: bool = True,
    says: str = "failed",
    looks: bool = True,
) -> Crew:
    """``clears``: raises the bit first; ``dumps_first``: fluid before power; ``looks``: at the bank, not the state."""
    crew = Crew("deadman-test", seed)
    if clears:
        crew.desk.hoist("up", lambda: crew["well.bit_depth"] < 7440.0)
        crew.wait(5.0)
    before = crew["deadman.pressure"]
    crew.read("bank_before", "deadman.pressure")
    sides = [f"pod_{pod}.side_{letter}" for pod in ("yellow", "blue") for letter in "ab"]
    crew.do("set", "pod_selector", "block")
    crew.wait(2.0)
    crew.do("set", "conduits.dump", "open")
    crew.until(lambda: crew["pod_yellow.conduit_pressure"] < 250.0, 90.0)
    crew.wait(15.0)
    crew.read("conduit", "pod_yellow.conduit_pressure")
    fell = before - crew["deadman.pressure"] > 60.0
    for side in sides if dumps_first else sides[::-1]:
        crew.do("set", side, "off")
    crew.wait(70.0)
    for side in sides if dumps_first else sides[::-1]:
        crew.do("set", side, "on")
    crew.wait(2.0)
    after = crew["deadman.pressure"]
    crew.read("bank_after", "deadman.pressure")
    shut = before - after < 300.0
    found = "isolation_shut" if shut and not fell else ("check_leaks" if fell else "bottle_lost")
    crew.do("name", f"deadman.{found if looks else 'not_armed'}")
    crew.do("set", "conduits.dump", "shut")
    crew.do("set", "pod_selector", "yellow")
    crew.until(lambda: crew["pod_yellow.conduit_pressure"] > 3500.0, 120.0)
    crew.wait(5.0)
    enabled(crew, "push", "deadman.reset")
    crew.wait(30.0)
    crew.until(lambda: crew["deadman.pressure"] > 4270.0, 540.0)
    crew.wait(2.0)
    if arms:
        for name in ("deadman", "autoshear") if dumps_first else ("autoshear", "deadman"):
            enabled(crew, "set", f"{name}.arm", "armed")
    crew.wait(6.0)
    crew.end_with(says)
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "battery-load": battery_load,
    "deadman-test": deadman_test,
}

OTHER: dict[str, list[Callable[[int], Crew]]] = {
    "battery-load": [lambda seed: battery_load(seed, BATTERIES[::-1])],
    "deadman-test": [lambda seed: deadman_test(seed, dumps_first=False)],
}
"""Other ways that are right too."""

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "battery-load.valves-dumped": (
        lambda seed: battery_load(seed, dumps=True),
        {"made_deaf": "selected pod could not work", "unit_deaf": "left unable to work"},
    ),
    "battery-load.believes-idle-volts": (
        lambda seed: battery_load(seed, loaded=False, says="idle"),
        {"called_good": "shows nothing", "tested": "Not done"},
    ),
    "battery-load.one-pod": (
        lambda seed: battery_load(seed, BATTERIES[2:], says="passed"),
        {"called_good": "does not hold", "tested": "Not done"},
    ),
    "battery-load.disarms": (
        lambda seed: battery_load(seed, disarms=True),
        {"disarmed": "was disarmed", "left": "not met"},
    ),
    "deadman-test.pipe-across": (
        lambda seed: deadman_test(seed, clears=False),
        {"pipe_across": "pipe was across", "fired": "Not done"},
    ),
    "deadman-test.left-disarmed": (
        lambda seed: deadman_test(seed, arms=False),
        {"left_disarmed": "left disarmed", "report": "too early"},
    ),
    "deadman-test.it-fired": (
        lambda seed: deadman_test(seed, says="passed", looks=False),
        {"called_good": "reported serviceable", "finding": "Wrong"},
    ),
}
