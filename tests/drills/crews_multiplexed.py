"""Crews for the drills on the rig whose orders are messages; the bad ones with the reasons they must fail for."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from tests.drills.crew import SHUT_IN, Crew
from tests.drills.crews_closed import riser_gas
from tests.drills.crews_operating import Reasons
from tests.drills.crews_position import Amiss, nothing

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


RAMS = ("upper_pipe_ram", "middle_pipe_ram", "lower_pipe_ram")
PREVENTERS = ("upper_annular", "lower_annular", *RAMS)
SIDES = {"a": ("on", "off"), "b": ("off", "on"), "both": ("on", "on")}
ANSWERED = 0


def answers(crew: Crew, function: str, limit: float = 6.0) -> bool:
    """Whether the pod answers the last order of a function before somebody gives up."""
    return crew.until(lambda: crew[f"{function}.answer"] == ANSWERED, limit)


def sides(crew: Crew, pod: str, a: str, b: str, at: str = "driller") -> None:
    """Switch the sides of a pod's electronics, one after the other, never both off."""
    for letter, way in sorted((("a", a), ("b", b)), key=lambda one: one[1] != "on"):
        crew.do("set", f"pod_{pod}.side_{letter}", way, at)
    crew.wait(1.0)


def reversed_coil(
    seed: int,
    order: tuple[str, ...] = ("a", "b", "both"),
    at: str = "driller",
    says: str = "failed",
    restores: bool = True,
    guesses: str = "",
    bench: str = "driller",
    last: Amiss = nothing,
) -> Crew:
    """``order``: which tests are made; ``guesses``: the kind of fault that is named, whatever was seen; ``last``: done
    wrong at the end.

    ``bench``: where the sides are switched; in the subsea workshop the coils' currents tell which kind it is.
    """
    crew = Crew("reversed-coil", seed)
    crew.do("set", "pod_selector", "blue", at)
    crew.wait(14.0)
    crew.settled()
    seen: dict[tuple[str, str], bool] = {}
    dead: list[str] = []
    for test in order:
        sides(crew, "blue", *SIDES[test], bench)
        for ram in RAMS:
            if bench == "workshop":
                crew.do("set", "workshop.solenoid", ram, bench)
            crew.close(ram, at)
            crew.wait(1.0)
            seen[ram, test] = answers(crew, ram)
            if bench == "workshop" and test == "both" and not crew["pod_blue.coil_close_a"] > 0.0:
                dead.append(ram)
            crew.wait(8.0)
            if test == "both":
                crew.read(f"{ram.removesuffix('_pipe_ram')}_count", "pod_blue.count")
            if (ram, test) == (RAMS[0], order[-1]):
                crew.read("manifold", "manifold_regulator.readback")
            crew.open(ram, at)
            crew.wait(10.0)
    bad = next((ram for ram in RAMS if not all(seen[ram, test] for test in order)), RAMS[0])
    alone = all(seen[bad, test] for test in order if test != "both")
    if bench == "workshop":
        bad, alone = (dead[0], False) if dead else (bad, True)
    crew.do("name", f"{bad}.{guesses or ('coil_reversed' if alone else 'coil_dead')}_blue")
    if restores:
        sides(crew, "blue", "on", "on", bench)
    crew.do("set", "pod_selector", "yellow", at)
    crew.wait(12.0)
    last(crew)
    crew.end_with(says)
    return crew


def function_test(
    seed: int,
    pods: tuple[tuple[str, str], ...] = (("yellow", "driller"), ("blue", "remote")),
    says: str = "failed",
    by_answer: bool = False,
    opens: bool = True,
) -> Crew:
    """``by_answer``: takes the time to the answer for the closing time; ``opens``: each before the next test."""
    crew = Crew("mux-function-test", seed)
    times: dict[tuple[str, str], float] = {}
    for pod, at in pods:
        if pod != "yellow" or crew["pod_selector.position"] != 1.0:
            crew.do("set", "pod_selector", pod, at)
            crew.wait(14.0)
            crew.settled()
        for preventer in PREVENTERS:
            begun = crew.time
            crew.close(preventer, at)
            if by_answer:
                answers(crew, preventer, 15.0)
            else:
                # A ram takes its fluid in some seconds: nobody looks away meanwhile, at whatever pace.
                crew.desk.until(lambda pod=pod: crew[f"pod_{pod}.flow"] > 5.0, 20.0, 1.0)
                crew.desk.until(lambda pod=pod: crew[f"pod_{pod}.flow"] <= 2.0, 60.0, 1.0)
            times[pod, preventer] = crew.time - begun
            crew.wait(16.0 if by_answer else 6.0)
            crew.enter(f"{pod}_{preventer}_time", times[pod, preventer])
            crew.read(f"{pod}_{preventer}_count", f"pod_{pod}.count")
            if opens or pod == pods[-1][0]:
                crew.open(preventer, at)
            crew.wait(12.0)
            crew.until(lambda pod=pod: crew[f"pod_{pod}.flow"] < 2.0, 40.0)
            crew.wait(2.0)
    other = {"yellow": "blue", "blue": "yellow"}
    slow = max(times, key=lambda one: times[one] - times.get((other[one[0]], one[1]), 0.0))
    crew.do("name", f"{slow[1]}.pod_valve_slow_{slow[0]}")
    crew.do("set", "pod_selector", "yellow", pods[-1][1])
    crew.wait(14.0)
    crew.end_with(says)
    return crew


def lost_link(
    seed: int,
    at: str = "driller",
    deaf: bool = False,
    says: str = "",
    stops: bool = True,
    valve: str = VALVE,
    lowers: bool = False,
    ends_deaf: bool = False,
) -> Crew:
    """``deaf``: works with the pod whose link is lost; ``says``: what is reported of the links; ``lowers``: to bottom
    again before it is reported; ``ends_deaf``: selects the other pod again after it."""
    crew = Crew("lost-link", seed)
    assert crew.hears(limit=200.0)
    crew.wait(4.0)
    up = {pod: crew[f"link_{pod}.up"] > 0.5 for pod in ("yellow", "blue")}
    good = "yellow" if up["yellow"] is not deaf else "blue"
    crew.say(says or ("blue_lost" if up["yellow"] else "yellow_lost"))
    if stops:
        crew.do("set", "floor.rotary", 0)
        crew.wait(5.0)
    if good == "blue":
        crew.do("set", "pod_selector", "blue", at)
    if stops:
        crew.hoist(74.0)
    crew.wait(20.0)
    crew.settled()
    crew.open(valve, at)
    crew.wait(1.0)
    answers(crew, valve)
    crew.wait(4.0)
    crew.read(f"{good}_count", f"pod_{good}.count")
    crew.read("manifold", "manifold_regulator.readback")
    crew.close(valve, at)
    crew.wait(12.0)
    if lowers:
        crew.hoist(44.0)
    crew.enter_log()
    crew.say("suspended")
    if ends_deaf:
        crew.do("set", "pod_selector", "yellow" if good == "blue" else "blue", at)
    crew.finish()
    return crew


def kick(
    seed: int,
    preventer: str = "middle_pipe_ram",
    line: str = "lower",
    at: str = "driller",
    ram: str = "",
    locks: bool = True,
    watches: bool = True,
    says: str = "riser_clear",
    unlocks: bool = False,
) -> Crew:
    """``ram``: closed under an annular afterwards; ``watches``: waits a minute before the riser is reported;
    ``unlocks``: the ram again before the well is handed over."""
    crew = Crew("mux-kick", seed)
    assert crew.until(lambda: crew["well.flow_out"] > crew["well.flow_in"] + 45.0)
    crew.wait(3.0)
    crew.say("well_flows")
    crew.wait(2.0)
    crew.do("set", "floor.rotary", 0)
    crew.wait(3.0)
    crew.hoist(74.0)
    crew.wait(2.0)
    crew.do("set", "floor.mud_pumps", 0)
    crew.until(lambda: crew["floor.mud_pumps"] < 0.5, 30.0)
    crew.wait(8.0)
    crew.say("flow_check_positive")
    crew.close(preventer, at)
    crew.until(lambda: crew["well.flow_out"] < 3.0, 120.0)
    crew.wait(4.0)
    crew.read("flow_count", "pod_yellow.count")
    shut = crew.time
    if ram:
        crew.close(ram, at)
        crew.wait(14.0)
    if locks:
        crew.close("ram_locks", at)
        crew.wait(8.0)
    crew.open(f"{line}_inner_choke", at)
    crew.open(f"{line}_outer_choke", at)
    crew.wait(5.0)
    crew.read_each(SHUT_IN, 1.0)
    crew.say("shut_in")
    if watches:
        crew.wait(max(shut + 62.0 - crew.time, 0.0))
    crew.say(says)
    crew.wait(max(shut + 66.0 - crew.time, 0.0))
    if unlocks:
        crew.open("ram_locks", at)
    crew.hand_over()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "mux-kick": kick,
    "mux-riser-gas": partial(riser_gas, drill="mux-riser-gas"),
    "mux-first-look": first_look,
    "mux-function-test": function_test,
    "reversed-coil": reversed_coil,
    "lost-link": lost_link,
}

KICKS: list[Callable[[int], Crew]] = [
    lambda seed: kick(seed, "upper_pipe_ram"),
    lambda seed: kick(seed, "lower_annular", ram="middle_pipe_ram", at="remote"),
]
"""Other ways that are right on the kick."""
GAS: list[Callable[[int], Crew]] = [
    lambda seed: riser_gas(seed, at="remote", drill="mux-riser-gas"),
    lambda seed: riser_gas(seed, how="hand", slow=10.0, drill="mux-riser-gas"),
]
"""Other ways that are right with gas in the riser."""
OTHER: dict[str, list[Callable[[int], Crew]]] = {
    "mux-function-test": [lambda seed: function_test(seed, (("blue", "remote"), ("yellow", "driller")))],
    "reversed-coil": [
        lambda seed: reversed_coil(seed, ("both", "b", "a"), at="remote"),
        lambda seed: reversed_coil(seed, ("both", "a", "b"), bench="workshop"),
        lambda seed: reversed_coil(seed, ("a", "b", "both"), bench="workshop"),
    ],
    "lost-link": [lambda seed: lost_link(seed, at="remote", valve="lower_outer_kill")],
}
"""Other ways that are right too."""

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "mux-riser-gas.upwind": (
        lambda seed: riser_gas(seed, wind=False, drill="mux-riser-gas"),
        {"gas_upwind": "windward side", "downwind": "not met"},
    ),
    "mux-riser-gas.opens": (
        lambda seed: riser_gas(seed, first="opens", drill="mux-riser-gas"),
        {"barrier_opened": "opened", "kept": "Out of limits"},
    ),
    "mux-riser-gas.never": (
        lambda seed: riser_gas(seed, how="never", drill="mux-riser-gas"),
        {"at_the_rotary": "no closed diverter", "diverted": "Not done"},
    ),
    "mux-kick.test-ram": (
        lambda seed: kick(seed, "test_ram"),
        {"test_ram": "flowed on under it", "shut_in": "Not done"},
    ),
    "mux-kick.not-locked": (lambda seed: kick(seed, locks=False), {"locked": "Not done"}),
    "mux-kick.unlocks": (lambda seed: kick(seed, unlocks=True), {"unlocked": "was unlocked again"}),
    "mux-kick.riser-unchecked": (lambda seed: kick(seed, watches=False), {"riser": "when this was not met"}),
    "mux-kick.line-above": (lambda seed: kick(seed, line="upper"), {"lined_up": "Not done"}),
    "mux-first-look.one-pod": (lambda seed: first_look(seed, ("yellow",)), {"blue_answered": "Not done"}),
    "mux-first-look.hears-no-retries": (lambda seed: first_look(seed, said="alike"), {"noisy": "both links are quiet"}),
    "mux-first-look.opens-the-line": (lambda seed: first_look(seed, both=True), {"line_open": "open to the kill line"}),
    "mux-function-test.one-pod": (
        lambda seed: function_test(seed, (("yellow", "driller"),)),
        {"pod_skipped": "not every preventer", "blue": "Not done"},
    ),
    "mux-function-test.one-panel": (
        lambda seed: function_test(seed, (("yellow", "driller"), ("blue", "driller"))),
        {"pod_skipped": "from its panel", "blue": "Not done"},
    ),
    "mux-function-test.left-closed-between": (
        lambda seed: function_test(seed, opens=False),
        {"pod_skipped": "not every preventer", "blue": "Not done"},
    ),
    "mux-function-test.by-the-answer": (
        lambda seed: function_test(seed, says="passed", by_answer=True),
        {"called_good": "reported as passed"},
    ),
    "reversed-coil.singles-only": (
        lambda seed: reversed_coil(seed, ("a", "b"), says="singles"),
        {"called_good": "fails when both sides are on", "both": "Not done"},
    ),
    "reversed-coil.both-only": (
        lambda seed: reversed_coil(seed, ("both",), guesses="coil_dead"),
        {"single": "Not done", "report": "too early"},
    ),
    "reversed-coil.yellow-left-off": (
        lambda seed: reversed_coil(seed, last=lambda crew: sides(crew, "yellow", "off", "off")),
        {"left": "not met", "unit_deaf": "left unable to work"},
    ),
    "reversed-coil.side-left-off": (
        lambda seed: reversed_coil(seed, ("both", "b", "a"), restores=False),
        {"left": "not met", "report": "too early"},
    ),
    "lost-link.drills-on": (lambda seed: lost_link(seed, stops=False), {"stopped": "Not done", "report": "too early"}),
    "lost-link.on-bottom-again": (lambda seed: lost_link(seed, lowers=True), {"report": "when this was not met"}),
    "lost-link.ends-on-the-deaf-pod": (
        lambda seed: lost_link(seed, ends_deaf=True),
        {"unit_deaf": "left unable to work"},
    ),
    "lost-link.trusts-the-lamps": (
        lambda seed: lost_link(seed, says="both_up", stops=False),
        {"which": "Both links are up", "stopped": "Not done"},
    ),
    "lost-link.takes-the-deaf-pod": (
        lambda seed: lost_link(seed, deaf=True),
        {"deaf_pod": "not one that hears orders", "confirmed": "not done"},
    ),
}
