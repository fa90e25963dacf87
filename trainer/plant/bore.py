"""What the preventers together do to the well: how open the annulus is, which lines are lined up, what is cut or gone.

When the riser connector unlocks, the lower riser package lifts off with the riser, the pods and all that stands on it;
that cannot be undone. The same goes for the whole stack when the wellhead connector lets go.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import reading, same, state_reading
from trainer.plant.functions import RAMS, Function
from trainer.plant.sections import gone
from trainer.plant.space_out import PREVENTERS
from trainer.units import Coefficient, Number, Velocity

LEAK_K = 3.0e-6
"""m3/(s sqrt(Pa)) past a closed preventer that leaks as badly as it can, about 4 Cv. Invented."""
PARTED = 0.15
"""Position below which an unlatched connector no longer holds (1 latched). Invented."""
ACROSS = ("none", "pipe", "collars")
OUTLETS = ("shut", "flow line", "overboard", "over the drill floor")


def declare_bore(net: Network) -> None:
    """Add the bore's variables.

    ``bore.area`` (0 to 1) is the opening left in the annulus, ``bore.leak`` m3/(s sqrt(Pa)) what passes an imperfect
    seal, ``bore.sheared`` 1 once cut,
    ``bore.parted`` 1 once the riser connector has let go (the lines have then parted too, and what stood on the riser
    package no longer closes anything), ``bore.wellhead_open`` 1 once the stack is off the wellhead, and
    ``bore.disconnected`` 1 after either: riser and well no longer meet. ``bore.outlet`` is where returns leave above
    the riser, an index of ``OUTLETS``; a diverter sets it.
    """
    net.var("bore.outlet", 1.0)
    net.var("bore.area", 1.0)
    net.var("bore.leak", 0.0, "m3/(s sqrt(Pa))")
    net.var("bore.sheared", 0.0)
    net.var("bore.parted", 0.0)
    yes = ("no", "yes")
    state_reading(net, "bore.disconnected", yes, "The riser no longer meets the well.", ())
    state_reading(net, "bore.wellhead_open", yes, "The stack has parted from the wellhead.", ())
    state_reading(net, "bore.pipe", ACROSS, "What is across the stack.", (), 1.0)
    reading(net, "bore.pipe_speed", "ft/s", -10, 10, "Speed of the pipe through the stack, upward.", ())
    state_reading(net, "stack.all_clear", yes, "No ram has a tool joint or collar in it.", (), 1.0)


def build_bore(net: Network, functions: Sequence[Function], riser: str, wellhead: str, lifts: str = "") -> None:
    """Fold the functions into ``bore.*``; ``riser`` and ``wellhead``: the connectors' ids, or empty.

    lifts: the variable that is 1 while what stands on an unlatched riser connector comes off it; empty: always.
    """
    net.block(same, inputs=dict(value="floor.pipe_in_stack"), outputs=dict(copy="bore.pipe"))
    net.block(
        moves, inputs=dict(velocity="floor.pipe_velocity", pipe="bore.pipe"), outputs=dict(pipe_speed="bore.pipe_speed")
    )
    net.block(start, outputs=under("bore", "area", "leak"))
    for f in functions:
        if f.kind in PREVENTERS:
            net.block(
                narrow,
                inputs=dict(**under(f.id, "x", "limit", "sealing", "leaks"), gone=gone(f)),
                states=under("bore", "area", "leak"),
            )
        if f.kind == "shear_ram":
            net.block(either, inputs=dict(a="bore.sheared", b=f"{f.id}.cut"), outputs=dict(either="bore.sheared"))
    net.block(all_clear, outputs=dict(all_clear="stack.all_clear"))
    for f in functions:
        if f.kind in RAMS:
            net.block(still_clear, inputs=dict(on_joint=f"{f.id}.on_joint"), states=dict(clear="stack.all_clear"))
    seconds = {f.releases: f.id for f in functions if f.releases}
    for latch, flag in ((wellhead, "bore.wellhead_open"), (riser, "bore.parted")):
        if not latch:
            continue
        second = seconds.get(latch, "")
        if not second and not (lifts and latch == riser):
            net.block(parted, inputs=dict(x=f"{latch}.x"), states=dict(was=flag))
            continue
        ring = net.var(f"{latch}.ring", 1.0)
        other = f"{second}.x" if second else 0.0
        net.block(driven_ring, inputs=dict(x=f"{latch}.x", second=other), outputs=dict(ring=ring))
        comes = lifts if lifts and latch == riser else 1.0
        net.block(let_go, inputs=dict(ring=ring, lifts=comes), states=dict(was=flag))
    net.block(either, inputs=dict(a="bore.parted", b="bore.wellhead_open"), outputs=dict(either="bore.disconnected"))


@gives("pipe_speed")
def moves(velocity: Velocity, pipe: Number) -> Velocity:
    """Speed of the pipe that stands across the stack, m/s, as the floor moves it; 0 with no pipe there."""
    return velocity if pipe > 0.5 else 0.0


@gives("all_clear")
def all_clear() -> Number:
    """1, before the rams are gone through: no joint has been met so far. See ``still_clear``."""
    return 1.0


@gives("clear")
def still_clear(clear: Number, on_joint: Number) -> Number:
    """1 while none of the rams counted so far has a tool joint in it, 0 from the first that has."""
    return 0.0 if on_joint > 0.5 else clear


@gives("area", "leak")
def start() -> tuple[Number, Coefficient]:
    """Before the preventers are gone through: the way up is wide open (1), and nothing leaks by (m3/(s sqrt(Pa)))."""
    return 1.0, 0.0


@gives("area", "leak")
def narrow(
    area: Number, leak: Coefficient, x: Number, limit: Number, sealing: Number, leaks: Number, gone: Number
) -> tuple[Number, Coefficient]:
    """Opening left after one more preventer, x closed of the stroke it can make here; of two seals the tighter counts.

    A preventer that has ``gone`` closes nothing.
    """
    seals = sealing > 0.5 and gone < 0.5
    left = 1.0 if gone > 0.5 else (0.0 if seals else max(1.0 - x / limit, 0.01))
    past = leaks * LEAK_K
    tighter = past if area > 0.0 else min(leak, past)
    return min(area, left), (tighter if seals else leak)


@gives("either")
def either(a: Number, b: Number) -> Number:
    """1 when either of two flags is 1, else 0: the larger of the two, as flags are only ever 0 or 1."""
    return max(a, b)


@gives("was")
def parted(x: Number, was: Number) -> Number:
    """1 once a connector has been unlocked: what stood on it has gone."""
    return 1.0 if was > 0.5 or x < PARTED else 0.0


@gives("ring")
def driven_ring(x: Number, second: Number) -> Number:
    """Where a connector's ring stands (1 latched) that its own piston at ``x`` or a ``second`` one drives open."""
    return min(x, 1.0 - second)


@gives("was")
def let_go(ring: Number, lifts: Number, was: Number) -> Number:
    """1 once an unlatched connector has come off: not before what stands on it is pulled."""
    return 1.0 if was > 0.5 or (ring < PARTED and lifts > 0.5) else 0.0
