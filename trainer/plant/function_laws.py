"""Laws of a function's parts: surface valve, pod valve, shuttle, piston, lamps, and when it may sleep.

All in the restricted subset of ``trainer.hydraulics.inline``.
"""

from __future__ import annotations

from trainer.hydraulics.laws import opened, piston
from trainer.plant.base import PSI

SHIFT_ON, SHIFT_OFF = 1200.0 * PSI, 800.0 * PSI
SWITCH_ON = 1000.0 * PSI
SHUTTLE = 30.0 * PSI


def attend(
    valve: float,
    open_way: float,
    close_way: float,
    pilots: float,
    power: float,
    x: float,
    holds: float,
    pilot: float,
    pa: float,
    pb: float,
    seen_pilot: float,
    seen_a: float,
    seen_b: float,
    leak_close: float,
    leak_open: float,
    leak_shuttle: float,
    stir: float,
    settled: float,
) -> tuple[float, float, float, float]:
    """1 when something stirs: valve moving, lines or chambers awake, supplies moved since last seen, preventer closing.

    ``stir`` is above 0 while any function's valve moves: every resting pilot line is a reservoir to its neighbours.
    ``holds`` is 1 for what may hold the well (its seal depends on the pipe and the well even at rest). Returns that and
    the supplies' pressures as now seen, if it is 1.
    """
    spool = abs(valve - open_way - close_way - close_way)
    far = max(abs(pilot - seen_pilot), max(abs(pa - seen_a), abs(pb - seen_b)))
    working = spool > 0.0 or stir + pilots + power + leak_close + leak_open + leak_shuttle > 0.0
    stirs = working or far > settled or (holds > 0.5 and x > 0.005)
    return (
        (1.0 if stirs else 0.0),
        (pilot if stirs else seen_pilot),
        (pa if stirs else seen_a),
        (pb if stirs else seen_b),
    )


def travel(valve: float, open_way: float, close_way: float, step: float) -> tuple[float, float]:
    """Ports of the surface valve as its spool moves to block (0), open (1) or close (2)."""
    want_open = 1.0 if valve > 0.5 and valve < 1.5 else 0.0
    want_close = 1.0 if valve > 1.5 else 0.0
    to_open = open_way + min(max(want_open - open_way, -step), step)
    to_close = close_way + min(max(want_close - close_way, -step), step)
    return to_open, to_close


def vented(pu: float, pd: float, k: float, way: float) -> tuple[float, float, float]:
    """A pilot line back to the tank through the surface valve when it is not pressured."""
    q, gu, gd = opened(pu, pd, k, 1.0 - way)
    return q, gu, gd


def pod_valve(pilot: float, x: float, sea: float, step: float, slow: float) -> float:
    """Opening of a pilot-operated valve in the pod: shifts above one pilot pressure, springs back below another."""
    over = pilot - sea
    want = 1.0 if over > SHIFT_ON else (0.0 if over < SHIFT_OFF else (1.0 if x > 0.5 else 0.0))
    most = step * (1.0 - 0.95 * slow)
    return x + min(max(want - x, -most), most)


def shuttle_valve(
    shuttle: float, xa: float, xb: float, pa: float, pb: float, sea: float
) -> tuple[float, float, float, float]:
    """Shuttle position (0 first pod, 1 second) and the openings it leaves: from either pod, and to sea."""
    out_a = sea + xa * (pa - sea)
    out_b = sea + xb * (pb - sea)
    to = 1.0 if out_b > out_a + SHUTTLE else (0.0 if out_a > out_b + SHUTTLE else shuttle)
    vent = (1.0 - xa) * (1.0 - to) + (1.0 - xb) * to
    return to, xa * (1.0 - to), xb * to, vent


def worn_piston(
    pc: float,
    po: float,
    g: float,
    ratio: float,
    against: float,
    friction: float,
    x: float,
    limit: float,
    cushion: float,
    room: float,
    stuck: float,
) -> tuple[float, float, float]:
    """The function's piston; a stuck one has more friction than any supply can overcome."""
    hold = friction + stuck * 1.0e8
    q, gu, gd = piston(pc, po, g, ratio, against, hold, hold, x, limit, cushion, room)
    return q, gu, gd


def stroke(x: float, q: float, share: float) -> float:
    """Piston position after a tick, by the fluid that went behind it."""
    return x + q * share


def net_closing(pc: float, po: float, ratio: float, against: float) -> float:
    """Net pressure on the closing side, Pa."""
    return pc - ratio * po - against


def joint_at(height: float, pipe: float) -> float:
    """1 when a tool joint stands within half a metre of the ram."""
    return 1.0 if pipe > 0.5 and abs(height) < 0.5 else 0.0


def pilots_awake(
    awake: float,
    pilot: float,
    head: float,
    vent: float,
    open_way: float,
    close_way: float,
    oa: float,
    oax: float,
    ob: float,
    obx: float,
    ca: float,
    cax: float,
    cb: float,
    cbx: float,
    stir: float,
    wake: float,
    settled: float,
) -> tuple[float, float]:
    """1 while a pilot line is more than a hair from rest or a valve is moving; and 1 while a pod valve is to shift.

    The second wakes the chambers: a neighbour's pilots that only breathe with the pilot supply leave them asleep.
    """
    to_open = (pilot if open_way > 0.5 else vent) + head
    to_close = (pilot if close_way > 0.5 else vent) + head
    off = max(max(abs(oa - to_open), abs(ob - to_open)), max(abs(ca - to_close), abs(cb - to_close)))
    spool = open_way * (1.0 - open_way) + close_way * (1.0 - close_way)
    pods = oax * (1.0 - oax) + obx * (1.0 - obx) + cax * (1.0 - cax) + cbx * (1.0 - cbx)
    band = settled if awake > 0.5 else wake
    due = abs(open_way - oax) + abs(open_way - obx) + abs(close_way - cax) + abs(close_way - cbx)
    awake_now = 1.0 if off > band or stir + spool > 0.0 or pods > 1.0e-9 else 0.0
    return awake_now, (1.0 if due > 1.0e-9 or pods > 1.0e-9 else 0.0)


def power_awake(
    awake: float,
    pilots: float,
    pc: float,
    po: float,
    pa: float,
    pb: float,
    sea: float,
    close_a: float,
    close_b: float,
    open_a: float,
    open_b: float,
    ratio: float,
    against: float,
    friction: float,
    x: float,
    limit: float,
    leak_close: float,
    leak_open: float,
    leak_shuttle: float,
    wake: float,
    settled: float,
) -> float:
    """1 while the chambers are off their rest, the piston is pushed, or the function leaks."""
    to_close = pa if close_a > 0.5 else (pb if close_b > 0.5 else sea)
    to_open = pa if open_a > 0.5 else (pb if open_b > 0.5 else sea)
    off = max(abs(pc - to_close), abs(po - to_open))
    push = pc - ratio * po - against
    moves = (push > friction and x < limit - 0.001) or (push < -friction and x > 0.001)
    band = settled if awake > 0.5 else wake
    leaks = leak_close + leak_open + leak_shuttle
    return 1.0 if pilots > 0.5 or off > band or moves or leaks > 0.0 else 0.0


def truth(x: float, limit: float, pc: float, po: float, sea: float) -> tuple[float, float, float, float, float]:
    """Position, fully closed, fully open, and both chambers' pressure above the sea's (Pa)."""
    closed = 1.0 if x >= limit - 0.015 and limit >= 0.6 and x >= 0.6 else 0.0
    return min(max(x, 0.0), 1.0), closed, (1.0 if x <= 0.015 else 0.0), pc - sea, po - sea


def lamps(
    near_open: float, near_close: float, power: float, test: float, burnt: float, stuck: float
) -> tuple[float, float, float]:
    """Open, block and close lamps from the pilot lines' pressure switches."""
    opened_ = near_open > SWITCH_ON
    closed = near_close > SWITCH_ON or stuck > 0.0
    lit = 1.0 if power > 0.5 and burnt <= 0.0 else 0.0
    tested = test > 0.0
    lamp_open = lit if tested or (opened_ and stuck <= 0.0) else 0.0
    lamp_close = lit if tested or closed else 0.0
    lamp_block = lit if tested or (not opened_ and not closed) else 0.0
    return lamp_open, lamp_block, lamp_close
