"""Force balances of what the stack's pistons work: rams, annulars, spring-closed valves, connectors and locks.

All in terms of pressure on the closing area (Pa). With closing ratio CR = closing area / ram-shaft area, wellbore
pressure pushes the ram open with p_well / CR; the opening area is ``ratio`` of the closing area, and the rest faces the
sea (common practice; the closing ratio is defined in API Spec 16A, from memory).
"""

from __future__ import annotations

SEAT = 0.985
CUT = 0.70
CONTACT = 0.62


def ram(
    well: float,
    sea: float,
    ratio: float,
    inverse_ratio: float,
    x: float,
    pipe: float,
    joint: float,
    closing: float,
    shear: float,
    cut: float,
) -> tuple[float, float, float]:
    """Ram: pressure against closing, where its stroke ends, and whether the pipe is cut.

    ``pipe`` 1 with pipe across, ``joint`` 1 with a tool joint at the ram; ``closing`` is the net pressure now on the
    closing side; ``shear`` the pressure that cuts the pipe (0: this ram does not cut and closes round the pipe).
    """
    against = well * inverse_ratio + (1.0 - ratio - inverse_ratio) * sea
    uncut = shear > 0.0 and pipe > 0.5 and cut < 0.5
    strong = closing > shear * (1.0 + 0.5 * joint)
    limit = CONTACT if uncut and not strong else (0.8 if shear <= 0.0 and joint > 0.5 and pipe > 0.5 else 1.0)
    severed = 1.0 if cut > 0.5 or (uncut and strong and x >= CONTACT - 0.02) else 0.0
    return against, max(limit, min(x, 1.0)), severed


def annular(
    well: float, sea: float, ratio: float, stiffness: float, lift: float, x: float, pipe: float, grip: float
) -> tuple[float, float]:
    """Annular: its packing pushes back as it is squeezed; on pipe it stops at ``grip``, else at full stroke."""
    against = (1.0 - ratio) * sea + stiffness * x + lift * (well - sea)
    limit = grip if pipe > 0.5 else 1.0
    return against, max(limit, min(x, 1.0))


def sprung(sea: float, ratio: float, spring: float) -> float:
    """Spring-closed valve: the spring helps closing with ``spring`` Pa (negative against)."""
    return (1.0 - ratio) * sea - spring


def ram_seals(x: float, pipe: float, joint: float, cut: float, shears: float, blind: float, seals: float) -> float:
    """1 when a closed ram holds the well: a pipe ram needs plain pipe, a blind ram none (or cut) across it."""
    seated = x >= SEAT
    round_pipe = blind < 0.5 and pipe > 0.5 and joint < 0.5
    nothing = blind > 0.5 and (pipe < 0.5 or cut > 0.5 or shears > 0.5)
    return 1.0 if seals > 0.5 and seated and (round_pipe or nothing) else 0.0


def annular_seals(x: float, limit: float, net: float, well: float, sea: float, need: float) -> tuple[float, float]:
    """Seal (0 or 1) of an annular, and the share of its leak: it needs contact pressure that grows with the well's."""
    touching = x >= limit - 0.02
    wanted = need + 0.15 * max(well - sea, 0.0)
    short = min(max((wanted - net) / wanted, 0.0), 1.0)
    sealed = 1.0 if touching and short < 0.35 else 0.0
    return sealed, (short if touching else 0.0)
