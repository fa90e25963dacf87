"""Laws of a function's parts: surface valve, pod valve, shuttle, piston, lamps, and when it may sleep.

All in the restricted subset of ``trainer.hydraulics.inline``.
"""

from __future__ import annotations

from trainer.hydraulics.laws import opened, opened_check, piston
from trainer.hydraulics.ports import gives
from trainer.plant.base import PSI
from trainer.units import Alike, Coefficient, Conductance, Flow, Number, PerFlow, Pressure, Seconds

SWITCH_ON = 1000.0 * PSI
SHUTTLE = 30.0 * PSI
HELD = 1.0e8
"""Friction that no supply overcomes, Pa: a stuck piston, a locked ram."""


def attending(was: float, stirs: float) -> float:
    """2 while something stirs, 1 for one scan after (so that what has just ended is seen), then 0."""
    return 2.0 if stirs > 0.5 else (1.0 if was > 1.5 else 0.0)


def stirring(
    valve: float, open_way: float, close_way: float, awake: float, x: float, holds: float, pulse: float, ails: float
) -> float:
    """1 when valve, lines, chambers, panel or a fault stir, or when ``holds`` and the piston is off its open stop.

    ``holds`` is 1 for what may hold the well (its seal depends on the pipe and the well even at rest).
    """
    spool = abs(valve - open_way - close_way - close_way)
    busy = spool > 0.0 or awake > 0.0 or pulse > 0.0 or ails > 0.0
    return 1.0 if busy or (holds > 0.5 and x > 0.005) else 0.0


@gives("was", "seen_pilot", "seen_a", "seen_b")
def attend_piloted(
    was: Number,
    valve: Number,
    open_way: Number,
    close_way: Number,
    pilots: Number,
    power: Number,
    x: Number,
    holds: Number,
    lamps_stir: Number,
    pods_stir: Number,
    valves_stir: Seconds,
    pilot: Pressure,
    pa: Pressure,
    pb: Pressure,
    seen_pilot: Pressure,
    seen_a: Pressure,
    seen_b: Pressure,
    settled: Pressure,
    a: Number,
    b: Number,
    c: Number,
    d: Number,
    e: Number,
    f: Number,
    g: Number,
    h: Number,
    i: Number,
    j: Number,
    k: Number,
    m: Number,
) -> tuple[Number, Pressure, Pressure, Pressure]:
    """Whether a piloted function's own logic runs this scan, and its supplies' pressures as then seen.

    ``a`` to ``m`` are the severities of faults that act at rest.
    """
    ails = ailing(a, b, c, d, e, f, g, h, i, j, k, m)
    far = max(abs(pilot - seen_pilot), max(abs(pa - seen_a), abs(pb - seen_b)))
    stirs = stirring(valve, open_way, close_way, pilots + power, x, holds, lamps_stir + pods_stir + valves_stir, ails)
    now = attending(was, 1.0 if far > settled else stirs)
    looks = now > 1.5
    return now, (pilot if looks else seen_pilot), (pa if looks else seen_a), (pb if looks else seen_b)


@gives("was", "seen")
def attend_direct(
    was: Number,
    valve: Number,
    open_way: Number,
    close_way: Number,
    power: Number,
    x: Number,
    holds: Number,
    lamps_stir: Number,
    supply: Pressure,
    seen: Pressure,
    settled: Pressure,
    a: Number,
    b: Number,
    c: Number,
    d: Number,
    e: Number,
    f: Number,
    g: Number,
    h: Number,
    i: Number,
    j: Number,
    k: Number,
    m: Number,
) -> tuple[Number, Pressure]:
    """Whether a directly fed function's own logic runs this scan, and its supply's pressure as then seen.

    ``a`` to ``m`` are the severities of faults that act at rest.
    """
    ails = ailing(a, b, c, d, e, f, g, h, i, j, k, m)
    stirs = stirring(valve, open_way, close_way, power, x, holds, lamps_stir, ails)
    now = attending(was, 1.0 if abs(supply - seen) > settled else stirs)
    return now, (supply if now > 1.5 else seen)


def ailing(
    a: float,
    b: float,
    c: float,
    d: float,
    e: float,
    f: float,
    g: float,
    h: float,
    i: float,
    j: float,
    k: float,
    m: float,
) -> float:
    """Sum of a function's severities; zero while none is there."""
    return a + b + c + d + e + f + g + h + i + j + k + m


@gives("stir", "seen", "seen_more")
def pulse(now: Number, seen: Number, more: Alike, seen_more: Alike) -> tuple[Number, Number, Alike]:
    """1 in the scan in which either of two values has changed, and both as now seen."""
    return (1.0 if now != seen or more != seen_more else 0.0), now, more


@gives("stirs", "seen", "seen_more")
def pulse_too(
    stirs: Number, now: Number, seen: Number, more: Number, seen_more: Number
) -> tuple[Number, Number, Number]:
    """As ``pulse``, beside what ``stirs`` already; it stays on while ``more`` is on its way (between 0 and 1)."""
    changed = now != seen or more != seen_more
    return (1.0 if changed else stirs), now, more


@gives("open_way", "close_way")
def travel(valve: Number, open_way: Number, close_way: Number, step: Number, slow: Number) -> tuple[Number, Number]:
    """Ports of the surface valve as its spool moves to block (0), open (1) or close (2); ``slow`` 1: twenty times."""
    want_open = 1.0 if valve > 0.5 and valve < 1.5 else 0.0
    want_close = 1.0 if valve > 1.5 else 0.0
    most = step * (1.0 - 0.95 * slow)
    to_open = open_way + min(max(want_open - open_way, -most), most)
    to_close = close_way + min(max(want_close - close_way, -most), most)
    return to_open, to_close


def vented(pu: Pressure, pd: Pressure, k: Coefficient, way: Number) -> tuple[float, float, float]:
    """A pilot line back to the tank through the surface valve when it is not pressured."""
    q, gu, gd = opened(pu, pd, k, 1.0 - way)
    return q, gu, gd


def leak_out(pu: Pressure, pd: Pressure, k: Coefficient, severity: Number) -> tuple[float, float, float]:
    """A leak to the outside: ``k`` at full severity; the outside does not come in."""
    q, gu, gd = opened_check(pu, pd, k * severity, 1.0, 0.0)
    return q, gu, gd


@gives("x")
def pod_valve(
    pilot: Pressure,
    x: Number,
    sea: Pressure,
    step: Number,
    on: Pressure,
    off: Pressure,
    slow: Number,
    stuck: Number,
    age: Seconds,
    delay: Seconds,
) -> Number:
    """Opening of a pilot-operated valve in the pod: shifts above ``on``, springs back below ``off`` (Pa over the sea).

    It knows nothing of a change at the surface ``age`` s ago before that has come down, which takes ``delay`` s.
    """
    over = pilot - sea
    want = 1.0 if over > on else (0.0 if over < off else (1.0 if x > 0.5 else 0.0))
    held = stuck > 0.0 or (age < delay and (x <= 0.0 or x >= 1.0))
    most = 0.0 if held else step * (1.0 - 0.95 * slow)
    return x + min(max(want - x, -most), most)


@gives("shuttle", "from_a", "from_b", "vent")
def shuttle_valve(
    shuttle: Number,
    xa: Number,
    xb: Number,
    pa: Pressure,
    pb: Pressure,
    sea: Pressure,
    joined_a: Number,
    joined_b: Number,
) -> tuple[Number, Number, Number, Number]:
    """Shuttle position (0 first pod, 1 second) and the openings it leaves: from either pod, and to sea.

    A pod whose stab has parted (``joined`` 0) feeds nothing, and the function vents through the open stab.
    """
    va = xa * joined_a
    vb = xb * joined_b
    out_a = sea + va * (pa - sea)
    out_b = sea + vb * (pb - sea)
    to = 1.0 if out_b > out_a + SHUTTLE else (0.0 if out_a > out_b + SHUTTLE else shuttle)
    vent = (1.0 - va) * (1.0 - to) + (1.0 - vb) * to
    return to, va * (1.0 - to), vb * to, vent


@gives("shuttle", "from_a", "from_b", "from_c", "vent")
def second_shuttle(
    shuttle: Number,
    from_a: Number,
    from_b: Number,
    vent: Number,
    pa: Pressure,
    pb: Pressure,
    pc: Pressure,
    xc: Number,
    sea: Pressure,
    joined_c: Number,
) -> tuple[Number, Number, Number, Number, Number]:
    """A second shuttle between what the first lets through and a third pod: its position, the openings from the
    three pods, and to sea."""
    vc = xc * joined_c
    out = sea + from_a * (pa - sea) + from_b * (pb - sea)
    out_c = sea + vc * (pc - sea)
    to = 1.0 if out_c > out + SHUTTLE else (0.0 if out > out_c + SHUTTLE else shuttle)
    return to, from_a * (1.0 - to), from_b * (1.0 - to), vc * to, vent * (1.0 - to) + (1.0 - vc) * to


def held_piston(
    pc: Pressure,
    po: Pressure,
    g: Conductance,
    ratio: Number,
    against: Pressure,
    friction: Pressure,
    x: Number,
    limit: Number,
    cushion: Number,
    room: Flow,
    stuck: Number,
    locked: Number,
) -> tuple[float, float, float]:
    """The function's piston; a stuck one does not move, a locked one does not open."""
    hold = friction + stuck * HELD
    q, gu, gd = piston(pc, po, g, ratio, against, hold, hold + locked * HELD, x, limit, cushion, room)
    return q, gu, gd


@gives("x")
def stroke(x: Number, q: Flow, share: PerFlow) -> Number:
    """Piston position after a tick, by the fluid that went behind it."""
    return x + q * share


@gives("closing")
def net_closing(pc: Pressure, po: Pressure, ratio: Number, against: Pressure) -> Pressure:
    """Net pressure on the closing side, Pa."""
    return pc - ratio * po - against


@gives("awake", "due")
def pilots_awake(
    awake: Number,
    pilot: Pressure,
    head: Pressure,
    vent: Pressure,
    open_way: Number,
    close_way: Number,
    oa: Pressure,
    oax: Number,
    ob: Pressure,
    obx: Number,
    ca: Pressure,
    cax: Number,
    cb: Pressure,
    cbx: Number,
    leak_a: Number,
    leak_b: Number,
    stir: Seconds,
    open_age: Seconds,
    close_age: Seconds,
    young: Seconds,
    wake: Pressure,
    settled: Pressure,
) -> tuple[Number, Number]:
    """1 while a pilot line is more than a hair from rest, leaks, or a valve is moving; and 1 while a pod valve is due
    to shift.

    The second wakes the chambers: pilots that only breathe with a neighbour's leave them asleep.
    """
    to_open = (pilot if open_way > 0.5 else vent) + head
    to_close = (pilot if close_way > 0.5 else vent) + head
    off = max(max(abs(oa - to_open), abs(ob - to_open)), max(abs(ca - to_close), abs(cb - to_close)))
    spool = open_way * (1.0 - open_way) + close_way * (1.0 - close_way)
    pods = oax * (1.0 - oax) + obx * (1.0 - obx) + cax * (1.0 - cax) + cbx * (1.0 - cbx)
    band = settled if awake > 0.5 else wake
    due = abs(open_way - oax) + abs(open_way - obx) + abs(close_way - cax) + abs(close_way - cbx)
    fresh = min(open_age, close_age) < young
    awake_now = 1.0 if off > band or fresh or stir + spool > 0.0 or pods > 1.0e-9 or leak_a + leak_b > 0.0 else 0.0
    return awake_now, (1.0 if due > 1.0e-9 or pods > 1.0e-9 else 0.0)


@gives("awake", "known")
def pilots_awake_too(
    known: Number,
    awake: Number,
    pilot: Pressure,
    head: Pressure,
    vent: Pressure,
    open_way: Number,
    close_way: Number,
    oa: Pressure,
    oax: Number,
    ob: Pressure,
    obx: Number,
    ca: Pressure,
    cax: Number,
    cb: Pressure,
    cbx: Number,
    leak_a: Number,
    leak_b: Number,
    stir: Seconds,
    open_age: Seconds,
    close_age: Seconds,
    young: Seconds,
    wake: Pressure,
    settled: Pressure,
) -> tuple[Number, Number]:
    """As ``pilots_awake`` for a further pod, beside what was found for the others (``awake`` and ``known``)."""
    own, due = pilots_awake(
        awake, pilot, head, vent, open_way, close_way, oa, oax, ob, obx, ca, cax, cb, cbx, leak_a, leak_b, stir,
        open_age, close_age, young, wake, settled,
    )  # fmt: skip
    return max(own, awake), max(due, known)


def chambers_stir(
    awake: float,
    pc: float,
    po: float,
    to_close: float,
    to_open: float,
    ratio: float,
    against: float,
    friction: float,
    x: float,
    limit: float,
    locked: float,
    leaks: float,
    wake: float,
    settled: float,
) -> float:
    """1 while the chambers are off what feeds them, the piston is pushed, or the function leaks."""
    off = max(abs(pc - to_close), abs(po - to_open))
    push = pc - ratio * po - against
    moves = (push > friction and x < limit - 0.001) or (push < -friction and x > 0.001 and locked < 0.5)
    band = settled if awake > 0.5 else wake
    return 1.0 if off > band or moves or leaks > 0.0 else 0.0


@gives("awake")
def piloted_awake(
    awake: Number,
    pilots: Number,
    pods_stir: Number,
    pc: Pressure,
    po: Pressure,
    pa: Pressure,
    pb: Pressure,
    sea: Pressure,
    close_a: Number,
    close_b: Number,
    open_a: Number,
    open_b: Number,
    ratio: Number,
    against: Pressure,
    friction: Pressure,
    x: Number,
    limit: Number,
    locked: Number,
    leak_close: Number,
    leak_open: Number,
    bypass: Number,
    shuttle: Number,
    close_xa: Number,
    close_xb: Number,
    open_xa: Number,
    open_xb: Number,
    joined_a: Number,
    joined_b: Number,
    wake: Pressure,
    settled: Pressure,
) -> Number:
    """1 while a piloted function's chambers have something to do (a shuttle to turn to a pod that came up, too)."""
    leaks = leak_close + leak_open + bypass + shuttle
    over_a = (pa - sea) * joined_a
    over_b = (pb - sea) * joined_b
    turns = shuttle_due(over_a * close_xa, over_b * close_xb, close_a, close_b)
    turns_too = shuttle_due(over_a * open_xa, over_b * open_xb, open_a, open_b)
    to_close = pa if close_a > 0.5 else (pb if close_b > 0.5 else sea)
    to_open = pa if open_a > 0.5 else (pb if open_b > 0.5 else sea)
    stirs = chambers_stir(
        awake, pc, po, to_close, to_open, ratio, against, friction, x, limit, locked, leaks, wake, settled
    )
    return 1.0 if pilots + pods_stir > 0.5 or stirs + turns + turns_too > 0.5 else 0.0


def shuttle_due(over_a: float, over_b: float, from_a: float, from_b: float) -> float:
    """1 when the shuttle stands away from a pod that offers more (Pa above the sea) than the one it stands to."""
    now = over_a if from_a > 0.5 else (over_b if from_b > 0.5 else 0.0)
    return 1.0 if max(over_a, over_b) > now + SHUTTLE else 0.0


@gives("awake")
def direct_awake(
    awake: Number,
    pc: Pressure,
    po: Pressure,
    supply: Pressure,
    tank: Pressure,
    open_way: Number,
    close_way: Number,
    ratio: Number,
    against: Pressure,
    friction: Pressure,
    x: Number,
    limit: Number,
    locked: Number,
    leak_close: Number,
    leak_open: Number,
    bypass: Number,
    wake: Pressure,
    settled: Pressure,
) -> Number:
    """1 while a directly fed function's chambers have something to do; in block they keep what they hold."""
    leaks = leak_close + leak_open + bypass
    to_close = supply if close_way > 0.5 else (tank if open_way > 0.5 else pc)
    to_open = supply if open_way > 0.5 else (tank if close_way > 0.5 else po)
    spool = open_way * (1.0 - open_way) + close_way * (1.0 - close_way)
    stirs = chambers_stir(
        awake, pc, po, to_close, to_open, ratio, against, friction, x, limit, locked, leaks, wake, settled
    )
    return 1.0 if spool > 0.0 or stirs > 0.5 else 0.0


@gives("position", "closed", "opened", "close_pressure", "open_pressure")
def truth(
    x: Number, limit: Number, least: Number, pc: Pressure, po: Pressure, outside: Pressure
) -> tuple[Number, Number, Number, Pressure, Pressure]:
    """Position, fully closed, fully open, and both chambers' pressure above the outside's (Pa).

    Closed is at the end of the stroke that it can make here, and not before ``least`` of the whole.
    """
    closed = 1.0 if x >= limit - 0.015 and x >= least else 0.0
    return min(max(x, 0.0), 1.0), closed, (1.0 if x <= 0.015 else 0.0), pc - outside, po - outside


@gives("lamp_open", "lamp_block", "lamp_close")
def lamps(
    near_open: Pressure, near_close: Pressure, power: Number, test: Seconds, burnt: Number, stuck: Number, dead: Number
) -> tuple[Number, Number, Number]:
    """Open, block and close lamps from the pressure switches at the surface (Pa gauge or absolute, above SWITCH_ON).

    ``stuck`` the close switch stays made, ``dead`` it never makes; ``burnt`` no lamp of the function lights.
    """
    opened_ = near_open > SWITCH_ON and stuck <= 0.0
    closed = (near_close > SWITCH_ON or stuck > 0.0) and dead <= 0.0
    lit = 1.0 if power > 0.5 and burnt <= 0.0 else 0.0
    tested = test > 0.0
    lamp_open = lit if tested or opened_ else 0.0
    lamp_close = lit if tested or closed else 0.0
    lamp_block = lit if tested or (not opened_ and not closed) else 0.0
    return lamp_open, lamp_block, lamp_close


@gives("open_switch", "close_switch")
def cylinder_switches(open_way: Number, close_way: Number) -> tuple[Pressure, Pressure]:
    """Air on either side of a valve's cylinder, as the panel's pressure switches feel it: full when it is home, Pa."""
    return (2.0 * SWITCH_ON if open_way > 0.9 else 0.0), (2.0 * SWITCH_ON if close_way > 0.9 else 0.0)
