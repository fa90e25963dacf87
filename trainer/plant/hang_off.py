"""The string on a closed pipe ram: landing a tool joint on it, slacking off, pulling against it, and what is cut off.

A pipe ram closed round plain pipe lets pipe slide through, but no tool joint. Lowered, the joint above it lands; the
hook then goes on down while the string above relaxes, and the ram takes its weight. Raised, the joint below comes up
against it. The driller stops when the weight is off, or at the overpull that the rig allows. Cut off above the ram, the
string below stays hung when it rests on a ram that holds it or stands on the bottom of the hole; else it falls until
something stops it.

A ram holds the string while it is locked, or while pressure closes it. One that is neither lets go.

Stiffness of the string above the ram: E A / length, steel 207 GPa (handbooks). Left out: bending, buckling, shock.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import reading
from trainer.plant.functions import Function
from trainer.units import Force, ForcePerLength, Length, Number, Pressure, Seconds, Velocity, from_unit

STEEL_MODULUS = 2.07e11
"""Pa, elastic modulus of steel: 30 million psi (common practice)."""
FREE = 1.0e3
"""Way left to pipe that no ram stops, m."""
LANDED = 0.003
"""A joint this near a ram rests on it, m."""
CLOSED_ROUND = 0.95
"""Share of the stroke from which a ram is round the pipe: no joint passes."""
LEAST_HOLD = from_unit(200.0, "psi")
"""Net closing pressure below which an unlocked ram lets a hung string go. Invented."""
OVERPULL = from_unit(100.0, "klbf")
"""What the driller pulls against a closed ram at most, over the string's weight. Invented."""
PAST = 0.3
"""Hook travel after the last of the weight is off, m."""
ON_BOTTOM = 0.3
"""Pipe this near the bottom stands on it when it is cut, m."""
NO_CUT = -1.0e3
"""m: the height of a cut that was not made."""


def declare_hang_off(net: Network) -> None:
    """Add the state: slack of the string above a ram, way left down and up, what was cut off and how far it fell."""
    reading(
        net, "floor.slack", "m", -5, 100,
        "Hook travel below where the string rests on a ram; negative: stretched against one.", (),
    )  # fmt: skip
    reading(net, "stack.hung", "klbf", 0, 1000, "Weight that rams bear.", ())
    reading(net, "stack.weight_below", "klbf", 0, 1000, "Weight of the string below the stack.", ())
    for name, start, unit in (
        ("hang.down", FREE, "m"),
        ("hang.up", FREE, "m"),
        ("fish.cut", NO_CUT, "m"),
        ("fish.drop", 0.0, "m"),
        ("floor.across", 1.0, "1"),
        ("floor.pipe_velocity", 0.0, "m/s"),
    ):
        net.var(name, start, unit)


def build_hang_off(net: Network, functions: Sequence[Function], length: float, tool_joint: float) -> None:
    """Fold the rams into how far pipe may go; ``length`` from joint to joint and ``tool_joint`` of one, m."""
    net.block(free, outputs=dict(down="hang.down", up="hang.up", cut="fish.cut"))
    for f in functions:
        i = f.id
        if f.kind == "shear_ram":
            net.block(lowest_cut, inputs=dict(cut=f"{i}.cut", below=f.below), states=dict(so_far="fish.cut"))
        if f.kind == "pipe_ram":
            reading(net, f"{i}.hung", "klbf", 0, 1000, f"{f.name}: weight of the string that it bears.", ())
            locked: str | float = f"{i}.locked" if f"{i}.locked" in net.variables else 0.0
            net.block(
                stops,
                inputs=dict(
                    **under(i, "pipe", "x", "closing"),
                    height="floor.tool_joint",
                    drop="fish.drop",
                    locked=locked,
                    below=f.below,
                    length=length,
                    reach=0.5 * (tool_joint + f.block_height),
                ),
                states=under("hang", "down", "up"),
                outputs=dict(gap=f"{i}.gap"),
            )
            net.var(f"{i}.gap", FREE, "m")
    for f in functions:
        if f.kind == "pipe_ram":
            net.block(
                bears,
                inputs=dict(gap=f"{f.id}.gap", down="hang.down", hung="stack.hung"),
                outputs=dict(borne=f"{f.id}.hung"),
                rate="observe",
            )


@gives("down", "up", "cut")
def free() -> tuple[Length, Length, Length]:
    """How far the string may go up and down (m) while nothing stops it, and the height of a cut where there is none."""
    return FREE, FREE, NO_CUT


@gives("so_far")
def lowest_cut(so_far: Length, cut: Number, below: Length) -> Length:
    """Height of the lowest cut so far, m under the upper pipe ram; ``below`` is that of the ram looked at now."""
    return max(so_far, below) if cut > 0.5 else so_far


@gives("down", "up", "gap")
def stops(
    down: Length,
    up: Length,
    height: Length,
    drop: Length,
    pipe: Number,
    x: Number,
    closing: Pressure,
    locked: Number,
    below: Length,
    length: Length,
    reach: Length,
) -> tuple[Length, Length, Length]:
    """Way left to the pipe, down and up (m), after one more ram, and the gap from that ram up to the joint above it.

    ``pipe`` is what stands in the ram (1: plain pipe), ``reach`` half a joint and half a block.
    """
    at = height + below - drop
    above = at - length if at >= length else (at + length if at < 0.0 else at)
    holds = pipe > 0.5 and pipe < 1.5 and x >= CLOSED_ROUND and (locked > 0.5 or closing >= LEAST_HOLD)
    gap = max(above - reach - 0.5 * LANDED, 0.0) if holds else FREE
    room = max(length - above - reach - 0.5 * LANDED, 0.0) if holds else FREE
    return min(down, gap), min(up, room), gap


@gives("borne")
def bears(gap: Length, down: Length, hung: Force) -> Force:
    """The weight (N) that a ram bears: all that is ``hung`` when the string rests on it."""
    return hung if gap <= LANDED and gap <= down else 0.0


@gives("weight_below")
def weight_below(
    bit: Length, stack: Length, pipe: ForcePerLength, collar: ForcePerLength, collar_length: Length, buoyancy: Number
) -> Force:
    """Buoyed weight of the string below the stack, N; ``pipe`` and ``collar`` N/m in air."""
    below = max(bit - stack, 0.0)
    heavy = min(below, collar_length)
    return (pipe * (below - heavy) + collar * heavy) * buoyancy


@gives("hook", "hook_set", "slack", "pipe_velocity")
def hang(
    hook: Length,
    hook_set: Length,
    velocity: Velocity,
    slack: Length,
    down: Length,
    up: Length,
    weight: Force,
    stiff: ForcePerLength,
    sheared: Number,
    scan: Seconds,
) -> tuple[Length, Length, Length, Velocity]:
    """Let the pipe follow the hook as far as closed rams allow.

    ``hook`` m has just moved at ``velocity`` m/s; the pipe stood at hook + ``slack`` before. Returns hook, wanted hook,
    slack (m) and the pipe's speed (m/s, upward). A ``sheared`` string stays where it is.
    """
    was = hook - velocity * scan + slack
    whole = sheared < 0.5
    pipe = min(max(hook, was - down), was + up) if whole else was
    most_down = pipe - weight / stiff - PAST
    most_up = pipe + OVERPULL / stiff
    held = min(max(hook, most_down), most_up) if whole else hook
    return held, (held if held != hook else hook_set), pipe - held, (pipe - was) / scan


@gives("hung")
def borne(slack: Length, stiff: ForcePerLength, weight: Force, sheared: Number, down: Length) -> Force:
    """Weight on the rams, N: as the string above slacks off, or all of it once it is cut and rests on one."""
    cut = sheared > 0.5
    return (weight if down <= LANDED else 0.0) if cut else min(max(slack, 0.0) * stiff, weight)


@gives("drop")
def falls(drop: Length, sheared: Number, down: Length, hole: Length, bit: Length) -> Length:
    """How far the cut-off string has fallen, m: until a ram or the bottom stops it."""
    left = max(hole - bit - drop, 0.0)
    way = 0.0 if left < ON_BOTTOM or down <= LANDED else min(down, left)
    return drop + (way if sheared > 0.5 else 0.0)
