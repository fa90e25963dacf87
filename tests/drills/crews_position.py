"""Crews for the drills of position and riser; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons

Amiss = Callable[[Crew], None]
"""Something done wrong at a moment that the crew gives."""


def nothing(crew: Crew) -> None:
    """Nothing is done wrong."""


def disconnects(crew: Crew, at: str = "driller") -> None:
    """Enable, arm and start."""
    crew.do("push", "driller.enable", None, "driller")
    crew.do("push", "eds.arm", None, at)
    crew.do("push", "eds.start", None, at)


def drift_off(
    seed: int,
    on: str = "red",
    sequence: str = "",
    slow: float = 0.0,
    at: str = "driller",
    stops: bool = True,
    amiss: Amiss = nothing,
) -> Crew:
    """``on``: the alert that starts the sequence; ``sequence``: another one chosen; ``slow``: hesitates so long, s;
    ``amiss``: done on yellow."""
    crew = Crew("drift-off", seed)
    crew.read("red_circle", "position.red_at")
    if sequence:
        crew.do("set", "eds.sequence", sequence)
    assert crew.hears(2, 400.0)
    if stops:
        crew.do("set", "floor.rotary", 0)
        crew.do("set", "floor.mud_pumps", 0)
    crew.say("ready")
    amiss(crew)
    if on == "red":
        # At the buttons, with the clock as it is: the call leaves ten seconds.
        assert crew["eds.state"] == 0.0
        assert crew.desk.until(lambda: len(crew.desk.told) > 3, 200.0, 1.0)
    crew.wait(slow)
    disconnects(crew, at)
    crew.say("disconnecting")
    crew.wait(60.0)
    crew.read("clock", "eds.clock")
    crew.read("load", "floor.hook_load")
    crew.end_with("free")
    return crew


def casing_across(
    seed: int,
    circles: bool = True,
    sequence: bool = True,
    late: bool = False,
    waits: bool = True,
    first: str = "eds",
    early: bool = False,
    amiss: Amiss = nothing,
) -> Crew:
    """``early``: sets both while drill pipe is across; ``late``: when the casing is in the stack; ``waits``: for the
    call that it is through; ``amiss``: done with casing in the stack."""
    crew = Crew("casing-across", seed)
    crew.read("red_pipe", "position.red_at")
    if not early:
        assert crew.hears(1, 400.0)
    if late:
        assert crew.hears(2, 400.0)
        crew.wait(20.0)
    for one in ("eds", "position") if first == "eds" else ("position", "eds"):
        if one == "eds" and sequence:
            crew.do("set", "eds.sequence", "casing")
        if one == "position" and circles:
            crew.do("set", "position.circles", "casing", "bridge")
    crew.wait(1.0)
    crew.read("red_casing", "position.red_at")
    crew.say("briefed")
    assert late or crew.hears(2, 600.0)
    crew.wait(15.0)
    amiss(crew)
    if waits:
        assert crew.hears(3, 700.0)
    stays = "empty" if "Nothing is in the stack" in crew.desk.told[-1] else "pipe"
    crew.do("set", "eds.sequence", stays)
    crew.do("set", "position.circles", stays, "bridge")
    crew.wait(10.0 if waits else 300.0)
    crew.end_with("empty_now" if stays == "empty" else "pipe_again")
    return crew


def false_alert(
    seed: int, holds: bool = True, says: str = "", stops: bool = True, turned: bool = False, amiss: Amiss = nothing
) -> Crew:
    """``holds``: does not disconnect; ``says``: what is reported, whatever the instruments show; ``amiss``: done once
    all is still."""
    crew = Crew("false-alert", seed)
    assert crew.hears(1, 500.0)
    if stops:
        for what in ("mud_pumps", "rotary") if turned else ("rotary", "mud_pumps"):
            crew.do("set", f"floor.{what}", 0)
    crew.wait(14.0)
    amiss(crew)
    assert crew.hears(2, 200.0)
    if not holds:
        disconnects(crew)
        crew.wait(60.0)
    crew.wait(4.0)
    rows = ("reference_a", "reference_b", "angle", "stroke")
    shown = {name: crew[f"position.{name}"] for name in rows}
    for name in rows[::-1] if turned else rows:
        crew.read(name, f"position.{name}")
    crew.say(says or ("a_wrong" if shown["reference_a"] > shown["reference_b"] else "b_wrong"))
    crew.until(lambda: crew["position.alert"] == 0.0, 120.0)
    crew.wait(3.0)
    crew.end_with("held")
    return crew


def planned(
    seed: int,
    locks: bool = True,
    says: str = "barriers",
    sequence: str = "secured",
    disarms: bool = True,
    waits: bool = True,
    first: str = "eds",
    at: str = "driller",
    early: bool = False,
) -> Crew:
    """``early``: closes with the running tool in the stack; ``locks``: the ram; ``disarms``: the autoshear.

    ``waits``: for the riser to be displaced; ``first``: which of the three is set first.
    """
    crew = Crew("planned-disconnect", seed)
    assert early or crew.hears(1, 500.0)
    if early:
        crew.wait(10.0)
    crew.do("push", "driller.enable", None, at)
    crew.close("blind_shear_ram", at)
    crew.until(lambda: crew["pod_yellow.flow"] == 0.0 and crew["pod_yellow.count"] > 20.0, 60.0)
    crew.wait(3.0)
    crew.read("ram_count", "pod_yellow.count")
    if locks:
        crew.close("ram_locks", at)
        crew.wait(8.0)
    crew.say(says)
    jobs: dict[str, Callable[[], None]] = {
        "eds": lambda: crew.do("set", "eds.sequence", sequence),
        "circles": lambda: crew.do("set", "position.circles", sequence, "bridge"),
        "autoshear": lambda: _disarm(crew) if disarms else None,
    }
    for job in sorted(jobs, key=lambda name: name != first):
        jobs[job]()
        crew.wait(2.0)
    if waits:
        assert crew.hears(2, 400.0) or not (locks and says == "barriers")
    crew.say("disconnecting")
    disconnects(crew, at)
    crew.wait(20.0)
    crew.read("clock", "eds.clock")
    crew.read("bank", "deadman.pressure")
    crew.end_with("free")
    return crew


def _disarm(crew: Crew) -> None:
    crew.do("push", "driller.enable", None, "driller")
    crew.do("set", "autoshear.arm", "disarmed")


def closes(function: str) -> Amiss:
    """Enable, and a function closed."""

    def amiss(crew: Crew) -> None:
        crew.do("push", "driller.enable", None, "driller")
        crew.close(function)
        crew.wait(8.0)

    return amiss


def turns(crew: Crew) -> None:
    """The string is turned again."""
    crew.do("set", "floor.rotary", 100)
    crew.wait(8.0)


def blocks(crew: Crew) -> None:
    """The pod selector stands in block for a while."""
    crew.do("set", "pod_selector", "block")
    crew.wait(20.0)
    crew.do("set", "pod_selector", "yellow")


def disarms_both(crew: Crew) -> None:
    """Deadman and autoshear are disarmed, and stay so."""
    for which in ("deadman", "autoshear"):
        crew.do("push", "driller.enable", None, "driller")
        crew.do("set", f"{which}.arm", "disarmed")


CREWS: dict[str, Callable[[int], Crew]] = {
    "drift-off": drift_off,
    "casing-across": casing_across,
    "false-alert": false_alert,
    "planned-disconnect": planned,
}

OTHER: dict[str, list[Callable[[int], Crew]]] = {
    "drift-off": [lambda seed: drift_off(seed, at="remote")],
    "casing-across": [lambda seed: casing_across(seed, first="position")],
    "false-alert": [lambda seed: false_alert(seed, turned=True)],
    "planned-disconnect": [lambda seed: planned(seed, first="autoshear"), lambda seed: planned(seed, at="remote")],
}
"""Other ways that are right too."""

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "drift-off.starts-on-yellow": (lambda seed: drift_off(seed, on="yellow"), {"early": "before the red alert"}),
    "drift-off.hesitates": (
        lambda seed: drift_off(seed, slow=24.0),
        {"late": "within 20 seconds", "started": "Too late"},
    ),
    "drift-off.well-left-open": (
        lambda seed: drift_off(seed, sequence="secured"),
        {"wrong_sequence": "not the one for drill pipe"},
    ),
    "drift-off.shears-by-hand": (
        lambda seed: drift_off(seed, amiss=closes("blind_shear_ram")),
        {"early": "or one of its shear rams"},
    ),
    "drift-off.turns-again": (lambda seed: drift_off(seed, amiss=turns), {"turning": "on a turning string"}),
    "casing-across.closes-on-casing": (
        lambda seed: casing_across(seed, amiss=closes("upper_pipe_ram")),
        {"closed_across": "while a tool or casing passed the stack"},
    ),
    "casing-across.in-block": (
        lambda seed: casing_across(seed, amiss=blocks),
        {"blocked_across": "in block with casing in the stack"},
    ),
    "casing-across.left-disarmed": (
        lambda seed: casing_across(seed, amiss=disarms_both),
        {"back_ups_disarmed": "left disarmed with the riser on the well"},
    ),
    "false-alert.turns-again": (
        lambda seed: false_alert(seed, amiss=turns),
        {"drilled_on": "while the alert was yellow or red"},
    ),
    "casing-across.circles-only": (
        lambda seed: casing_across(seed, sequence=False),
        {"old_sequence": "does not fit", "both": "Not done"},
    ),
    "casing-across.old-circles": (
        lambda seed: casing_across(seed, circles=False),
        {"old_circles": "circles for another", "both": "Not done"},
    ),
    "casing-across.too-late": (lambda seed: casing_across(seed, late=True), {"old_circles": "circles for another"}),
    "casing-across.too-early": (lambda seed: casing_across(seed, early=True), {"too_soon": "still in the stack"}),
    "casing-across.back-too-soon": (
        lambda seed: casing_across(seed, waits=False),
        {"old_circles": "circles for another"},
    ),
    "false-alert.disconnects": (
        lambda seed: false_alert(seed, holds=False),
        {"disconnecting": "on one reference alone", "held": "not"},
    ),
    "false-alert.calls-it-a-drift": (
        lambda seed: false_alert(seed, says="drift"),
        {"called_drift": "had not moved", "which": "We drift"},
    ),
    "planned-disconnect.shears-are-two": (
        lambda seed: planned(seed, says="both_shears"),
        {"no_barrier": "does not seal", "one_barrier": "before two barriers"},
    ),
    "planned-disconnect.annular-is-one": (
        lambda seed: planned(seed, says="annular"),
        {"no_barrier": "leaves with the riser", "one_barrier": "before two barriers"},
    ),
    "planned-disconnect.cuts-the-tool": (
        lambda seed: planned(seed, early=True),
        {"tool_cut": "running tool of the packer stood"},
    ),
    "planned-disconnect.not-locked": (
        lambda seed: planned(seed, locks=False),
        {"one_barrier": "before two barriers", "locked": "Not done"},
    ),
    "planned-disconnect.cuts": (
        lambda seed: planned(seed, sequence="pipe"),
        {"wrong_sequence": "nothing to cut", "ready": "Not done"},
    ),
    "planned-disconnect.autoshear-armed": (
        lambda seed: planned(seed, disarms=False),
        {"fired": "spent its bank", "ready": "Not done"},
    ),
    "planned-disconnect.full-of-mud": (
        lambda seed: planned(seed, waits=False),
        {"not_displaced": "mud goes to the sea"},
    ),
    "false-alert.drills-on": (lambda seed: false_alert(seed, stops=False), {"still": "Not done"}),
}
