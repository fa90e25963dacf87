"""What the preventers together do to the well: how open the annulus is, which lines are lined up, what is cut or gone.

When the riser connector unlocks, the lower riser package lifts off with the riser, the pods and all that stands on it;
that cannot be undone. The same goes for the whole stack when the wellhead connector lets go.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.hydraulics.network import Network
from trainer.plant.base import reading, state_reading
from trainer.plant.functions import RAMS, Function
from trainer.plant.space_out import PREVENTERS

LEAK_K = 3.0e-6
PARTED = 0.15
LINES = ("choke", "kill")
ACROSS = ("none", "pipe", "collars")
OUTLETS = ("shut", "flow line", "overboard", "over the drill floor")


def declare_bore(net: Network) -> None:
    """Add the bore's variables.

    ``bore.area`` (0 to 1) is the opening left in the annulus, ``bore.leak`` m3/(s sqrt(Pa)) what passes an imperfect
    seal, ``bore.choke_path`` and ``bore.kill_path`` 1 with the valves of a line open, ``bore.sheared`` 1 once cut,
    ``bore.parted`` 1 once the riser connector has let go (the lines have then parted too, and what stood on the riser
    package no longer closes anything), ``bore.wellhead_open`` 1 once the stack is off the wellhead, and
    ``bore.disconnected`` 1 after either: riser and well no longer meet. ``bore.outlet`` is where returns leave above
    the riser, an index of ``OUTLETS``; a diverter sets it.
    """
    net.var("bore.outlet", 1.0)
    net.var("bore.area", 1.0)
    net.var("bore.leak", 0.0)
    net.var("bore.choke_path", 0.0)
    net.var("bore.kill_path", 0.0)
    net.var("bore.sheared", 0.0)
    net.var("bore.parted", 0.0)
    yes = ("no", "yes")
    state_reading(net, "bore.disconnected", yes, "The riser no longer meets the well.", ())
    state_reading(net, "bore.wellhead_open", yes, "The stack has parted from the wellhead.", ())
    state_reading(net, "bore.pipe", ACROSS, "What stands across the stack.", (), 1.0)
    reading(net, "bore.pipe_speed", "m/s", -3, 3, "Speed of the pipe through the stack, upward.", ())
    state_reading(net, "stack.all_clear", yes, "No ram has a tool joint or collar in it.", (), 1.0)
    for line in LINES:
        meaning = f"The {line} line is open to the well: valves open, no sealing preventer between outlet and well."
        state_reading(net, f"{line}_line.sees_well", yes, meaning, ())


def build_bore(net: Network, functions: Sequence[Function], riser: str, wellhead: str) -> None:
    """Fold the functions into ``bore.*``; ``riser`` and ``wellhead``: the connectors' ids, or empty."""
    net.block(across, ["floor.pipe_in_stack"], ["bore.pipe"])
    net.block(moves, ["floor.velocity", "bore.pipe"], ["bore.pipe_speed"])
    net.block(start, [], ["bore.area", "bore.leak", "bore.choke_path", "bore.kill_path"])
    for f in functions:
        if f.kind in PREVENTERS:
            gone = _gone(f)
            net.block(
                narrow,
                ["bore.area", "bore.leak", f"{f.id}.x", f"{f.id}.limit", f"{f.id}.sealing", f"{f.id}.leaks", gone],
                ["bore.area", "bore.leak"],
            )
        if f.kind == "shear_ram":
            net.block(either, ["bore.sheared", f"{f.id}.cut"], ["bore.sheared"])
    net.block(all_clear, [], ["stack.all_clear"])
    for f in functions:
        if f.kind in RAMS:
            net.block(still_clear, ["stack.all_clear", f"{f.id}.on_joint"], ["stack.all_clear"])
    for line in LINES:
        path, sees = f"bore.{line}_path", f"{line}_line.sees_well"
        net.block(blind, [], [sees])
        for inner, outer in pairs(functions, line):
            net.block(line_up, [path, f"{inner.id}.x", f"{outer.id}.x", "bore.disconnected"], [path])
            shut = net.var(f"{inner.id}.shut_off")
            net.block(blind, [], [shut])
            for f in functions:
                if f.kind in PREVENTERS and f.below > inner.below:
                    net.block(shuts_off, [shut, f"{f.id}.sealing", _gone(f)], [shut])
            net.block(looks, [sees, f"{inner.id}.x", f"{outer.id}.x", shut, "bore.disconnected"], [sees])
    for latch, flag in ((wellhead, "bore.wellhead_open"), (riser, "bore.parted")):
        if latch:
            net.block(parted, [f"{latch}.x", flag], [flag])
    net.block(either, ["bore.parted", "bore.wellhead_open"], ["bore.disconnected"])


def _gone(function: Function) -> str:
    """The flag that a preventer no longer stands on the well."""
    return "bore.disconnected" if function.place == "riser_package" else "bore.wellhead_open"


def pairs(functions: Sequence[Function], line: str) -> list[tuple[Function, Function]]:
    """The valves of a line, inner and outer of each outlet; a single one stands alone."""
    valves = [f for f in functions if f.line == line]
    return [(valves[at], valves[min(at + 1, len(valves) - 1)]) for at in range(0, len(valves), 2)]


def moves(velocity: float, pipe: float) -> float:
    """Speed of pipe that stands across the stack, m/s."""
    return velocity if pipe > 0.5 else 0.0


def all_clear() -> float:
    """No joint met so far."""
    return 1.0


def still_clear(clear: float, on_joint: float) -> float:
    """1 while no ram counted so far has a joint in it."""
    return 0.0 if on_joint > 0.5 else clear


def blind() -> float:
    """Nothing seen, or nothing shut off, so far."""
    return 0.0


def shuts_off(shut: float, sealing: float, gone: float) -> float:
    """1 when a preventer that seals stands between an outlet and the well."""
    return 1.0 if shut > 0.5 or (sealing > 0.5 and gone < 0.5) else 0.0


def looks(sees: float, inner: float, outer: float, shut: float, gone: float) -> float:
    """1 when both valves of a pair are open and no seal lies between outlet and well."""
    return 1.0 if sees > 0.5 or (line_up(0.0, inner, outer, gone) > 0.5 and shut < 0.5) else 0.0


def across(in_stack: float) -> float:
    """0 nothing, 1 drill pipe, 2 collars through the stack."""
    return in_stack


def start() -> tuple[float, float, float, float]:
    """Wide open, nothing lined up."""
    return 1.0, 0.0, 0.0, 0.0


def narrow(
    area: float, leak: float, x: float, limit: float, sealing: float, leaks: float, gone: float
) -> tuple[float, float]:
    """Opening left after one more preventer, x closed of the stroke it can make here; of two seals the tighter counts.

    A preventer that has ``gone`` closes nothing.
    """
    seals = sealing > 0.5 and gone < 0.5
    left = 1.0 if gone > 0.5 else (0.0 if seals else max(1.0 - x / limit, 0.01))
    past = leaks * LEAK_K
    tighter = past if area > 0.0 else min(leak, past)
    return min(area, left), (tighter if seals else leak)


def either(a: float, b: float) -> float:
    """1 when either is."""
    return max(a, b)


def line_up(path: float, inner: float, outer: float, gone: float) -> float:
    """1 when both valves of a pair are open (x is 0 open, 1 closed), or another pair is already."""
    through = min(1.0 - inner, 1.0 - outer)
    return max(path, 1.0 if through > 0.7 and gone < 0.5 else 0.0)


def parted(x: float, was: float) -> float:
    """1 once a connector has been unlocked: what stood on it has gone."""
    return 1.0 if was > 0.5 or x < PARTED else 0.0
