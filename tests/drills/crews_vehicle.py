"""Crews for the drills of vehicle, sound and second unlatch; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons
from tests.drills.crews_position import Amiss, disconnects, nothing, turns


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
    seed: int,
    by: str = "list",
    proves: bool = True,
    locks: bool = True,
    says: str = "closed",
    early: bool = False,
    first: Amiss = nothing,
    then: Amiss = nothing,
) -> Crew:
    """``by``: the as-built list, or another; ``proves``: enters what proves it; ``early``: stops half-way; ``first``:
    done wrong before the ram is closed, ``then``: when it is locked."""
    crew = Crew("rov-close", seed)
    assert crew.hears(1, 30.0)
    first(crew)
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
    then(crew)
    crew.do("set", "rov.pump", "off", "vehicle")
    crew.wait(2.0)
    crew.end_with(says)
    return crew


def lowers(crew: Crew, to: str) -> None:
    """Transducer to a stand, and wait until it hangs there."""
    crew.do("set", "acoustic.transducer", to, "boat")
    crew.wait(1.0)
    crew.until(lambda: crew["acoustic.left"] <= 0.0, 300.0)
    crew.wait(1.0)


def sends(crew: Crew, order: str) -> float:
    """Send an order from the acoustic case and wait for its outcome; what came back, as its place in the list."""
    crew.do("push", f"acoustic.{order}", None, "boat")
    crew.wait(1.0)
    crew.until(lambda: crew["acoustic.reply"] > 1.5, 60.0)
    return crew["acoustic.reply"]


def looks(crew: Crew, mark: str) -> float:
    """Pull the stab, look at a mark, and wait for the picture."""
    crew.do("set", "rov.pump", "off", "vehicle")
    crew.do("set", "rov.port", "none", "vehicle")
    crew.wait(1.0)
    crew.do("set", "rov.look", mark, "vehicle")
    crew.wait(1.0)
    crew.until(lambda: crew["rov.look_left"] <= 0.0, 90.0)
    crew.wait(1.0)
    return crew["rov.picture"]


def pumps_shut(crew: Crew, port: int) -> None:
    """Pump a function shut by the vehicle, until the flow has stopped and the pressure stands."""
    stabs(crew, port)
    crew.until(lambda: crew["rov.pressure"] > 4000.0 and crew["rov.flow"] < 1.0, 150.0)
    crew.wait(4.0)


def acoustic_last(
    seed: int,
    by: str = "status",
    sees: bool = True,
    locks: bool = True,
    says: str = "closed",
    deep: bool = False,
    turned: bool = False,
    first: Amiss = nothing,
) -> Crew:
    """``by``: what decides whether the bank is counted on, its status, or "sound" or "vehicle" whatever it says;
    ``sees``: has the vehicle look; ``deep``: goes there at once; ``turned``: keys on before anything is asked;
    ``first``: done wrong before the ram is closed."""
    crew = Crew("acoustic-last", seed)
    if turned:
        keys(crew, "on")
    lowers(crew, "deep" if deep else "shallow")
    if crew["acoustic.noise"] > crew["acoustic.most"]:
        lowers(crew, "deep")
    crew.read("noise", "acoustic.noise")
    sends(crew, "status")
    crew.read("bank", "acoustic.bank")
    good = crew["acoustic.bank"] >= 3100.0
    crew.say("bank_good" if good or by == "sound" else "bank_short")
    first(crew)
    if by == "sound" or (good and by == "status"):
        keys(crew, "on")
        sends(crew, "blind_shear_ram")
        crew.wait(15.0)
        if locks:
            sends(crew, "ram_locks")
            crew.wait(10.0)
    else:
        pumps_shut(crew, 1)
        if locks:
            pumps_shut(crew, 4)
    if sees:
        looks(crew, "blind_shear_ram")
    keys(crew, "off")
    crew.wait(2.0)
    crew.end_with(says)
    return crew


def keys(crew: Crew, to: str) -> None:
    """Both keys of the acoustic case."""
    for number in (1, 2):
        crew.do("set", f"acoustic.key_{number}", to, "boat")
    crew.wait(1.0)


def unlatch_fails(
    seed: int,
    over: float = 80.0,
    sees: bool = True,
    then: str = "second",
    late: bool = False,
    says: str = "free",
    looks_last: bool = True,
    first: Amiss = nothing,
    last: Amiss = nothing,
) -> Crew:
    """``over``: how much is pulled above the weight, klbf; ``then``: what follows when the connector holds; ``late``:
    pulls only once the vehicle has seen the ring open; ``first`` and ``last``: done wrong before the sequence and once
    the riser is free."""
    crew = Crew("unlatch-fails", seed)
    weight = crew.told("package weigh", "klbf")
    crew.read("readback", "connector_regulator.readback")
    if not late:
        pulls(crew, weight + over)
    first(crew)
    disconnects(crew)
    crew.until(lambda: crew["eds.state"] == 3.0, 60.0)
    crew.wait(3.0)
    if sees:
        looks(crew, "riser_connector")
        crew.say("latched" if then != "pull" else "pull")
    if then == "pull":
        pulls(crew, weight + 400.0)
    if then != "nothing":
        crew.do("push", "driller.enable")
        crew.close("secondary_unlatch")
        crew.wait(20.0)
        crew.read("count", "pod_yellow.count")
    if late:
        looks(crew, "nothing")
        looks(crew, "riser_connector")
        pulls(crew, weight + over)
    if looks_last:
        looks(crew, "nothing")
        looks(crew, "riser_connector")
    last(crew)
    crew.read("tension", "position.tension")
    crew.end_with(says)
    return crew


def pulls(crew: Crew, tension: float) -> None:
    """Set the riser tension, klbf, and wait until it stands."""
    crew.do("set", "position.pull", tension)
    crew.wait(1.0)
    crew.until(lambda: abs(crew["position.tension"] - tension) < 1.0, 90.0)


def pumps(crew: Crew) -> None:
    """The mud pumps are started."""
    crew.do("set", "floor.mud_pumps", 40)
    crew.wait(10.0)


def unlocks(crew: Crew) -> None:
    """The rams are unlocked."""
    crew.open("ram_locks")
    crew.wait(8.0)


def arms(crew: Crew) -> None:
    """The autoshear is armed again."""
    crew.do("push", "driller.enable")
    crew.do("set", "autoshear.arm", "armed")


CREWS: dict[str, Callable[[int], Crew]] = {
    "rov-close": rov_close,
    "acoustic-last": acoustic_last,
    "unlatch-fails": unlatch_fails,
}

OTHER: dict[str, list[Callable[[int], Crew]]] = {
    "acoustic-last": [
        lambda seed: acoustic_last(seed, by="vehicle"),
        lambda seed: acoustic_last(seed, deep=True, turned=True),
    ],
    "unlatch-fails": [lambda seed: unlatch_fails(seed, late=True), lambda seed: unlatch_fails(seed, over=55.0)],
}
"""Other ways that are right too."""

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
    "rov-close.pipe-turns": (
        lambda seed: rov_close(seed, first=turns),
        {"on_moving_pipe": "on pipe that turned", "turned_in_closed": "turned in a closed preventer"},
    ),
    "rov-close.pumps-start": (lambda seed: rov_close(seed, then=pumps), {"pumped_shut": "against a closed well"}),
    "acoustic-last.pipe-turns": (
        lambda seed: acoustic_last(seed, first=turns),
        {"on_moving_pipe": "on a string that turned"},
    ),
    "acoustic-last.counts-on-an-empty-bank": (
        lambda seed: acoustic_last(seed, by="sound"),
        {"empty_bank": "too low for the ram", "sealed": "Not done"},
    ),
    "acoustic-last.a-reply-is-enough": (
        lambda seed: acoustic_last(seed, sees=False, says="replied"),
        {"seen": "Not done", "report": "Wrong report"},
    ),
    "acoustic-last.not-locked": (
        lambda seed: acoustic_last(seed, locks=False),
        {"locked": "Not done", "report": "too early"},
    ),
    "unlatch-fails.pulls": (
        lambda seed: unlatch_fails(seed, then="pull"),
        {"pulled": "while its connector was latched", "latched": "Wrong report"},
    ),
    "unlatch-fails.confirmed-is-enough": (
        lambda seed: unlatch_fails(seed, sees=False, then="nothing", says="confirmed", looks_last=False),
        {"called_free": "it was latched", "second": "Not done"},
    ),
    "unlatch-fails.unlocks": (
        lambda seed: unlatch_fails(seed, first=unlocks),
        {"opened": "opened or unlocked"},
    ),
    "unlatch-fails.autoshear-armed": (
        lambda seed: unlatch_fails(seed, first=arms),
        {"fired": "armed again before the riser package lifted"},
    ),
    "unlatch-fails.sets-it-down": (
        lambda seed: unlatch_fails(seed, last=lambda crew: pulls(crew, 900.0)),
        {"set_down": "the package comes down on the stack"},
    ),
    "unlatch-fails.nobody-looks": (
        lambda seed: unlatch_fails(seed, sees=False, looks_last=False),
        {"seen_latched": "Not done", "seen_free": "Not done"},
    ),
}
