"""Joins each function's piston to what it works: the laws of ``trainer.plant.mechanics`` by kind, and the ram locks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.constants import SCAN
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant import mechanics
from trainer.plant.base import PSI, reading, same, state_reading
from trainer.plant.function_laws import net_closing
from trainer.plant.functions import RAMS, YES, Function
from trainer.plant.space_out import PREVENTERS, build_space_out
from trainer.units import Number, Pressure, from_unit

RAM_CONTACT = 150.0 * PSI
"""Pa that moves a ram against its friction. Common practice: 100 to 300 psi to move freely (from memory)."""
ANNULAR_CONTACT = 200.0 * PSI
"""Pa that moves an annular piston against its friction and the packing element. As above."""
PACKING = 250.0 * PSI
"""Pa more for each share of the stroke once the packing element meets the pipe. Invented."""
WELL_HELPS = 0.05
"""Share of the well's pressure that lifts an annular's piston. Invented; handbooks give curves by model."""
SLID_IN_RAM, SLID_IN_ANNULAR = 0.03, 0.002
"""Damage of a packer by one metre of pipe slid through it. Invented."""
SLID_AT = from_unit(600.0, "psi")
"""Net closing pressure of an annular at which that damage holds; it grows with the pressure. Invented."""
STILL_TIGHT = 0.15
"""So far the packing of an annular can be worn by sliding pipe and is tight all the same. Invented."""
ON_JOINT_DAMAGE = 0.6
"""Damage of ram packers in the end by pressing them on a tool joint. Invented."""
NO_LOAD = from_unit(20.0, "klbf")
"""Weight that a ram not made to bear the string stands all the same. Invented."""
GRIP = 0.62
"""Position from which a closing annular grips the pipe. Invented."""


@dataclass(frozen=True)
class Bench:
    """What the mechanics need of the rest: pressure outside (Pa), from tool joint to tool joint and its length (m)."""

    outside: float
    joint: float
    tool_joint: float


def locked_by(functions: Sequence[Function]) -> dict[str, str]:
    """For each ram that has a lock, the id of the function that works the lock; rams without one are left out."""
    found = {}
    for lock in functions:
        for ram in lock.locks:
            found[ram] = lock.id
    return found


def build_mechanics(net: Network, function: Function, bench: Bench, locks: dict[str, str]) -> None:
    """Add force balance, end of stroke and seal of one function, each by its kind; ``locks`` as of ``locked_by``."""
    i, gate = function.id, f"{function.id}.attend"
    state_reading(net, f"{i}.sealing", YES, f"{function.name} holds the well.", ())
    if function.kind in PREVENTERS:
        build_space_out(net, function, bench.joint, bench.tool_joint)
    if function.kind in RAMS:
        _ram(net, function, bench, locks.get(i, ""))
    elif function.kind in ("annular", "diverter_packer"):
        _annular(net, function, bench)
    elif function.kind == "failsafe_valve":
        net.block(
            mechanics.sprung,
            inputs=dict(
                outside=bench.outside,
                ratio=function.ratio,
                spring=function.spring,
                broken=function.fault("spring_broken"),
            ),
            outputs=dict(against=f"{i}.against"),
            gate=gate,
        )
    elif function.kind == "connector":
        net.block(
            mechanics.latch_limit,
            inputs=dict(part=function.fault("not_home"), x=f"{i}.x"),
            outputs=dict(limit=f"{i}.limit"),
            gate=gate,
        )
    elif function.kind == "lock":
        room = net.var(f"{i}.room", 0.0)
        net.block(none_yet, outputs=dict(room=room), gate=gate)
        for ram in function.locks:
            net.block(mechanics.or_closed, inputs=dict(x=f"{ram}.x"), states=dict(room=room), gate=gate)
        net.block(
            mechanics.behind_closed,
            inputs=dict(any_closed=room, slips=function.fault("slips"), x=f"{i}.x"),
            outputs=dict(limit=f"{i}.limit"),
            gate=gate,
        )
    if function.isolates:
        net.block(
            open_while, inputs=dict(x=f"{i}.x"), outputs=dict(isolation=f"{function.isolates}.isolation"), gate=gate
        )


def _closing(net: Network, function: Function) -> str:
    i = function.id
    closing = net.var(f"{i}.closing", 0.0, "Pa")
    net.block(
        net_closing,
        inputs=dict(pc=f"{i}.close.p", po=f"{i}.open.p", ratio=function.ratio, against=f"{i}.against"),
        outputs=dict(closing=closing),
        gate=f"{i}.attend",
    )
    return closing


def _ram(net: Network, function: Function, bench: Bench, lock: str) -> None:
    i, gate = function.id, f"{function.id}.attend"
    shears = function.kind == "shear_ram"
    cut = net.var(f"{i}.cut", 0.0)
    joint = f"{i}.on_joint"
    closing = _closing(net, function)
    locked: str | float = 0.0
    if lock:
        locked = f"{i}.locked"
        state_reading(net, locked, YES, f"{function.name} is locked: it cannot open.", ())
        net.block(mechanics.engaged, inputs=dict(lock=f"{lock}.x", x=f"{i}.x"), states=dict(locked=locked), gate=gate)
        net.block(same, inputs=dict(value=locked), outputs=dict(copy=f"{i}.held"), gate=gate)
    blunt = function.fault("blunt")
    need = net.var(f"{i}.need", function.shear_pressure if shears else 0.0, "Pa")
    if shears:
        net.block(blunted, inputs=dict(shear=function.shear_pressure, blunt=blunt), outputs=dict(need=need), gate=gate)
    net.block(
        mechanics.ram,
        inputs=dict(
            well="well.stack_pressure",
            outside=bench.outside,
            ratio=function.ratio,
            inverse_closing=1.0 / function.closing_ratio,
            inverse_opening=1.0 / function.opening_ratio,
            x=f"{i}.x",
            pipe=f"{i}.across",
            joint=joint,
            closing=closing,
            shear=need if shears else 0.0,
            tough=function.collar_factor,
            sealing=f"{i}.sealing",
        ),
        states=dict(cut=cut),
        outputs=under(i, "against", "limit"),
        gate=gate,
    )
    leaks = net.var(f"{i}.leaks", 0.0)
    hung: str | float = 0.0 if shears else f"{i}.hung"
    worn = _worn(net, function, closing, hung, 0.0 if shears else SLID_IN_RAM, ON_JOINT_DAMAGE)
    net.block(
        mechanics.ram_seals,
        inputs=dict(
            x=f"{i}.x",
            pipe=f"{i}.across",
            joint=joint,
            cut=cut,
            blind=1.0 if shears else 0.0,
            seals=1.0 if function.seals else 0.0,
            net=closing,
            locked=locked,
            need=RAM_CONTACT,
            worn=worn,
        ),
        outputs=dict(sealing=f"{i}.sealing", leaks=leaks),
        gate=gate,
    )


def _annular(net: Network, function: Function, bench: Bench) -> None:
    i, gate = function.id, f"{function.id}.attend"
    closing = _closing(net, function)
    leaks = net.var(f"{i}.leaks", 0.0)
    # A diverter is never shut in: the well reaches it at no more than the pressure of its overboard lines.
    annular = function.kind == "annular"
    well: str | float = "well.stack_pressure" if annular else bench.outside
    across = f"{i}.across" if annular else "bore.pipe"
    worn = _worn(net, function, closing, 0.0, SLID_IN_ANNULAR, 0.0) if annular else function.fault("seal_worn")
    net.block(
        mechanics.annular,
        inputs=dict(
            well=well,
            outside=bench.outside,
            ratio=function.ratio,
            stiffness=PACKING,
            lift=WELL_HELPS,
            x=f"{i}.x",
            pipe=across,
            grip=GRIP,
        ),
        outputs=under(i, "against", "limit"),
        gate=gate,
    )
    net.block(
        mechanics.annular_seals,
        inputs=dict(
            x=f"{i}.x",
            limit=f"{i}.limit",
            net=closing,
            well=well,
            outside=bench.outside,
            need=ANNULAR_CONTACT,
            worn=worn,
        ),
        outputs=dict(sealing=f"{i}.sealing", leaks=leaks),
        gate=gate,
    )


def _worn(net: Network, function: Function, closing: str, hung: str | float, a_metre: float, on_joint: float) -> str:
    """Add the damage that a packer has taken; returns the variable of how worn it is in all, by fault or damage."""
    i = function.id
    reading(net, f"{i}.damage", "%", 0, 100, f"{function.name}: damage of its packing.", ())
    worn = net.var(f"{i}.worn", 0.0)
    if not function.seals:
        return worn
    net.block(
        mechanics.wear,
        inputs=dict(
            x=f"{i}.x",
            limit=f"{i}.limit",
            pipe=f"{i}.across",
            joint=f"{i}.on_joint",
            closing=closing,
            turns="floor.rotary",
            speed="bore.pipe_speed",
            hung=hung,
            bears=function.bears or NO_LOAD,
            a_metre=a_metre,
            pressed=SLID_AT if function.kind == "annular" else 0.0,
            on_joint=on_joint,
            scan=SCAN,
        ),
        states=dict(damage=f"{i}.damage"),
        gate=f"{i}.attend",
    )
    tight = STILL_TIGHT if function.kind == "annular" else 0.0
    net.block(
        worse,
        inputs=dict(damage=f"{i}.damage", fault=function.fault("seal_worn"), tight=tight),
        outputs=dict(worn=worn),
        gate=f"{i}.attend",
    )
    return worn


@gives("worn")
def worse(damage: Number, fault: Number, tight: Number) -> Number:
    """How worn a packer is: by what was done to it beyond what leaves it ``tight``, or by what it came with."""
    return max(max(damage - tight, 0.0) / (1.0 - tight), fault)


@gives("need")
def blunted(shear: Pressure, blunt: Number) -> Pressure:
    """Pressure that cuts pipe with blades that are ``blunt`` (0 to 1)."""
    return shear * (1.0 + 0.5 * blunt)


@gives("room")
def none_yet() -> Number:
    """0, before the functions are gone through: none of them has been found closed so far."""
    return 0.0


@gives("isolation")
def open_while(x: Number) -> Number:
    """An isolation valve that its function closes: 1 open, 0 shut."""
    return 1.0 if x < 0.5 else 0.0
