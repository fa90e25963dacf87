"""Force balances of what the stack's pistons work: rams, annulars, spring-closed valves, connectors and locks.

All in terms of pressure on the closing area (Pa). With closing ratio CR = closing area / ram-shaft area, wellbore
pressure pushes an open ram open with p_well / CR; the opening area is ``ratio`` of the closing area, and the rest faces
the outside (sea, or air at a surface stack). Once a ram seals, the well gets behind its blocks and holds it shut with
p_well / OR, OR being the opening ratio (both ratios are defined in API Spec 16A, from memory).
"""

from __future__ import annotations

from trainer.hydraulics.ports import gives
from trainer.units import Force, Frequency, Number, PerLength, Pressure, Seconds, Velocity

SEAT = 0.985
"""Position from which a ram or gate is shut (1 closed). Ours."""
CONTACT = 0.62
"""Where shear blades meet pipe."""
ON_COLLARS = 0.45
"""Where whatever closes is stopped by a drill collar."""
ON_JOINT = 0.8
"""Share of its stroke at which an annular is round a tool joint instead of pipe. Invented."""
ANNULAR_SHARE = 0.15
"""Contact pressure that an annular needs for each unit of well pressure; invented."""
A_TURN = 0.01
"""Damage of a packer by one turn of the pipe in it: a hundred turns wear it out. Invented."""
PRESSED = 0.25
"""Damage in a second by blocks pressed hard on a tool joint. Invented."""
HARD = 3.4e6
"""Net closing pressure that does it, Pa (500 psi)."""
OVERLOAD = 0.05
"""Damage in a second by more weight than a ram is made to bear. Invented."""
MOST_SHORT = 0.35
"""Share of the contact pressure that may be missing before a seal no longer holds at all."""


@gives("against", "limit", "cut")
def ram(
    well: Pressure,
    outside: Pressure,
    ratio: Number,
    inverse_closing: Number,
    inverse_opening: Number,
    x: Number,
    pipe: Number,
    joint: Number,
    closing: Pressure,
    shear: Pressure,
    tough: Number,
    cut: Number,
    sealing: Number,
) -> tuple[Pressure, Number, Number]:
    """Ram: pressure against closing, where its stroke ends, and whether the pipe is cut.

    ``pipe`` 0 none, 1 drill pipe, 2 collars across; ``joint`` 1 with a tool joint at the ram; ``closing`` is the net
    pressure now on the closing side, the well's push taken off; ``shear`` the net pressure that cuts drill pipe (0:
    this ram does not cut and closes round the pipe), ``tough`` times as much for collars.
    """
    opposed = well * inverse_closing + (1.0 - ratio - inverse_closing) * outside
    helped = (1.0 - ratio) * outside - inverse_opening * max(well - outside, 0.0)
    against = helped if sealing > 0.5 else opposed
    uncut = pipe > 0.5 and cut < 0.5
    need = shear * (tough if pipe > 1.5 else 1.0 + 0.5 * joint)
    stopped = uncut and shear > 0.0 and closing <= need
    blades = ON_COLLARS if pipe > 1.5 else CONTACT
    round_pipe = ON_COLLARS if pipe > 1.5 else (ON_JOINT if joint > 0.5 else 1.0)
    limit = blades if stopped else (round_pipe if uncut and shear <= 0.0 else 1.0)
    severed = 1.0 if cut > 0.5 or (uncut and shear > 0.0 and closing > need and x >= blades - 0.02) else 0.0
    return against, max(limit, min(x, 1.0)), severed


@gives("sealing", "leaks")
def ram_seals(
    x: Number,
    pipe: Number,
    joint: Number,
    cut: Number,
    blind: Number,
    seals: Number,
    net: Pressure,
    locked: Number,
    need: Pressure,
    worn: Number,
) -> tuple[Number, Number]:
    """Seal (0 or 1) of a ram and the share of its leak.

    A pipe ram needs plain drill pipe between its blocks, a blind ram nothing (or what it has cut); either must be
    pressed together by ``need`` Pa (net closing pressure, the well's help counted, or a lock). ``worn`` packers leak.
    """
    seated = x >= SEAT
    round_pipe = blind < 0.5 and pipe > 0.5 and pipe < 1.5 and joint < 0.5
    nothing = blind > 0.5 and (pipe < 0.5 or cut > 0.5)
    short = 0.0 if locked > 0.5 else min(max((need - net) / need, 0.0), 1.0)
    sealed = 1.0 if seals > 0.5 and seated and (round_pipe or nothing) and short < MOST_SHORT else 0.0
    return sealed, (min(short + 0.5 * worn, 1.0) if seated else 0.0)


@gives("damage")
def wear(
    damage: Number,
    x: Number,
    limit: Number,
    pipe: Number,
    joint: Number,
    closing: Pressure,
    turns: Frequency,
    speed: Velocity,
    hung: Force,
    bears: Force,
    a_metre: PerLength,
    pressed: Pressure,
    on_joint: Number,
    scan: Seconds,
) -> Number:
    """Damage of a packer (0 to 1) after ``scan`` s: pipe that turns or slides in it, a joint it is pressed on, load.

    ``turns`` revolutions a second, ``speed`` m/s of ``pipe`` (0: nothing there) through what has closed to its
    ``limit``; ``a_metre`` is the damage of one metre slid through, which grows with the closing pressure over
    ``pressed`` Pa (0: it does not); ``on_joint`` what a joint does to it in the end.
    A ram that bears more than it is made for (``hung`` over ``bears``, N) is damaged too.
    """
    touching = x >= limit - 0.02 and closing > 0.0 and pipe > 0.5
    hard = max(closing, 0.0) / pressed if pressed > 0.0 else 1.0
    slid = abs(speed) * a_metre * hard + turns * A_TURN
    crushed = PRESSED if joint > 0.5 and damage < on_joint and closing > HARD else 0.0
    over = OVERLOAD if hung > bears else 0.0
    rate = (slid if touching and joint < 0.5 else 0.0) + (crushed if touching else 0.0) + over
    return min(damage + rate * scan, 1.0)


@gives("against", "limit")
def annular(
    well: Pressure,
    outside: Pressure,
    ratio: Number,
    stiffness: Pressure,
    lift: Number,
    x: Number,
    pipe: Number,
    grip: Number,
) -> tuple[Pressure, Number]:
    """Annular: its packing pushes back as it is squeezed, the well helps it by ``lift`` of its pressure.

    On drill pipe it stops at ``grip`` of the stroke, on collars earlier, with nothing in it at the full stroke.
    """
    against = (1.0 - ratio) * outside + stiffness * x - lift * max(well - outside, 0.0) * x
    limit = ON_COLLARS if pipe > 1.5 else (grip if pipe > 0.5 else 1.0)
    return against, max(limit, min(x, 1.0))


@gives("sealing", "leaks")
def annular_seals(
    x: Number, limit: Number, net: Pressure, well: Pressure, outside: Pressure, need: Pressure, worn: Number
) -> tuple[Number, Number]:
    """Seal (0 or 1) of an annular, and the share of its leak: it needs contact pressure that grows with the well's."""
    touching = x >= limit - 0.02
    wanted = (need + ANNULAR_SHARE * max(well - outside, 0.0)) * (1.0 + 0.4 * worn)
    short = min(max((wanted - net) / wanted, 0.0), 1.0)
    sealed = 1.0 if touching and short < MOST_SHORT else 0.0
    return sealed, (min(short + 0.3 * worn, 1.0) if touching else 0.0)


@gives("against")
def sprung(outside: Pressure, ratio: Number, spring: Pressure, broken: Number) -> Pressure:
    """Spring-closed valve: the spring helps closing with ``spring`` Pa (negative against); it may be broken."""
    return (1.0 - ratio) * outside - spring * (1.0 - broken)


@gives("room")
def or_closed(room: Number, x: Number) -> Number:
    """1 when the ram at ``x``, or one counted before it (``room``), is closed."""
    return 1.0 if room > 0.5 or x >= SEAT else 0.0


@gives("limit")
def behind_closed(any_closed: Number, slips: Number, x: Number) -> Number:
    """Where the stroke of the ram locks ends: their wedges find room only behind a closed ram."""
    return max((1.0 - 0.3 * slips) if any_closed > 0.5 else 0.15, min(x, 1.0))


@gives("locked")
def engaged(locked: Number, lock: Number, x: Number) -> Number:
    """1 while a ram is locked: a lock pushed home behind a closed ram (at ``x``) holds until it is drawn back."""
    return 1.0 if (lock > 0.95 and x >= SEAT) or (locked > 0.5 and lock > 0.5) else 0.0


@gives("limit")
def latch_limit(part: Number, x: Number) -> Number:
    """Where a connector's stroke ends; a fault ``part`` (0 to 1) leaves its dogs short of home."""
    return max(1.0 - 0.2 * part, min(x, 1.0))
