"""What stands in each preventer: nothing, drill pipe, a tool joint or collars, and how far the nearest joint is.

Tool joints follow each other at the length of a joint of pipe. A preventer ``below`` m under the upper pipe ram holds
one when the nearest joint's middle is nearer than half a joint and half a block: then the blocks meet the joint, not
the pipe. The figures (length of a tool joint, height of a block) stand in the plant file.
"""

from __future__ import annotations

from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import reading, state_reading
from trainer.plant.functions import RAMS, YES, Function
from trainer.units import Length, Number

PREVENTERS = ("annular", *RAMS)
HOLDS = ("nothing", "pipe", "joint", "collar")
CONTACT_AT = 0.6
"""Share of the stroke it can make past which a closing preventer is taken to touch what stands in it."""
MOST_CLEAR = 100.0
"""Clearance shown when nothing stands in a preventer, m."""


def build_space_out(net: Network, function: Function, length: float, tool_joint: float) -> None:
    """Add what stands in a preventer; ``length`` from joint to joint, ``tool_joint`` length of one, both in m."""
    i, name = function.id, function.name
    reading(net, f"{i}.clearance", "m", -40, 100, f"{name}: from its block to the nearest tool joint's edge.", ())
    state_reading(net, f"{i}.on_joint", YES, f"{name}: a tool joint or collar stands in it.", ())
    state_reading(net, f"{i}.pipe", HOLDS, f"{name}: what stands in it.", (), 1.0)
    state_reading(net, f"{i}.contact", YES, f"{name}: closed so far that it touches what stands in it.", ())
    reach = 0.5 * (tool_joint + function.block_height)
    net.var(f"{i}.across", 1.0)
    net.block(
        stands_in,
        inputs=dict(
            height="floor.tool_joint",
            through="floor.across",
            sheared="bore.sheared",
            cut="fish.cut",
            drop="fish.drop",
            slack="floor.slack",
            below=function.below,
            length=length,
            reach=reach,
        ),
        outputs=under(i, "clearance", "on_joint", "pipe", "across"),
        gate="pipe.stirs",
    )
    net.block(
        touches, inputs=under(i, "x", "limit"), outputs=dict(contact=f"{i}.contact"), rate="observe", gate=f"{i}.attend"
    )


@gives("clearance", "on_joint", "pipe", "across")
def stands_in(
    height: Length,
    through: Number,
    sheared: Number,
    cut: Length,
    drop: Length,
    slack: Length,
    below: Length,
    length: Length,
    reach: Length,
) -> tuple[Length, Number, Number, Number]:
    """Clearance (m) from block to joint, whether a joint or collar stands in the preventer, and what does.

    ``height`` m is that of the nearest joint above the upper pipe ram, ``length`` m from joint to joint, ``through`` 0
    nothing, 1 drill pipe, 2 collars through the stack; a joint's middle nearer than ``reach`` m is in the preventer.
    A ``sheared`` string leaves what hangs from the hook over the ``cut`` (m under the upper pipe ram), raised since by
    -``slack`` m, and what has fallen by ``drop`` m below it. Returns last 0 nothing, 1 drill pipe, 2 collars in this
    one.
    """
    lower = below > cut + drop
    upper = below < cut + min(slack, 0.0)
    here = sheared < 0.5 or lower or upper
    across = through if here else 0.0
    at = height + below - (drop if sheared > 0.5 and lower else 0.0)
    nearest = min(min(abs(at), abs(at - length)), min(abs(at + length), abs(at - length - length)))
    left = nearest - reach
    collars = across > 1.5
    piped = across > 0.5
    clear = MOST_CLEAR if not piped else (-reach if collars else left)
    holds = 0.0 if not piped else (3.0 if collars else (2.0 if left < 0.0 else 1.0))
    return clear, (1.0 if clear < 0.0 else 0.0), holds, across


def build_pipe_stirs(net: Network) -> None:
    """Add ``pipe.stirs``: on in the scan after the pipe, or what is left of it, has moved. At rest nothing is computed.

    It is built before the preventers.
    """
    seen = under("pipe", *(f"seen_{name}" for name in ("height", "hook", "across", "cut", "drop")))
    for name in seen.values():
        net.var(name, 0.0, "1" if name.endswith("across") else "m")
    net.var("pipe.stirs", 1.0)
    net.block(
        stirs,
        inputs=dict(
            height="floor.tool_joint",
            hook="floor.hook",
            across="floor.across",
            cut="fish.cut",
            drop="fish.drop",
            sheared="bore.sheared",
        ),
        states=seen,
        outputs=dict(stirs="pipe.stirs"),
    )


@gives("stirs", "seen_height", "seen_hook", "seen_across", "seen_cut", "seen_drop")
def stirs(
    height: Length,
    hook: Length,
    across: Number,
    cut: Length,
    drop: Length,
    seen_height: Length,
    seen_hook: Length,
    seen_across: Number,
    seen_cut: Length,
    seen_drop: Length,
    sheared: Number,
) -> tuple[Number, Length, Length, Number, Length, Length]:
    """1 when anything has changed that decides what stands in a preventer, and what is now seen of it."""
    through = across - sheared
    moved = height != seen_height or hook != seen_hook or through != seen_across or cut != seen_cut or drop != seen_drop
    return (1.0 if moved else 0.0), height, hook, through, cut, drop


@gives("contact")
def touches(x: Number, limit: Number) -> Number:
    """1 when a preventer is past ``CONTACT_AT`` of the stroke that it can make here."""
    return 1.0 if x >= CONTACT_AT * limit else 0.0
