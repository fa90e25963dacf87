"""Laws of a function's parts: surface valve, pod valve, shuttle, piston, lamps, and when it may sleep.

All in the restricted subset of ``trainer.hydraulics.inline``.
"""

from __future__ import annotations

from trainer.hydraulics.laws import opened, opened_check, piston
from trainer.hydraulics.lists import added, first_where, largest
from trainer.hydraulics.ports import gives
from trainer.plant.base import PSI
from trainer.units import AnyUnit, Coefficient, Conductance, Flow, Number, PerFlow, Pressure, Seconds

SWITCH_ON = 1000.0 * PSI
"""Pa at which a position lamp's pressure switch closes. Invented: well over the tank, well under any supply."""
SHUTTLE = 30.0 * PSI
"""Pa of difference that throws a shuttle valve. Common practice: some tens of psi."""
HELD = 1.0e8
"""Friction that no supply overcomes, Pa: a stuck piston, a locked ram."""


@gives("was", "seen")
def attend(
    was: Number,
    valve: Number,
    open_way: Number,
    close_way: Number,
    x: Number,
    holds: Number,
    awake: list[Number],
    pulses: list[Number],
    timers: list[Seconds],
    supplies: list[Pressure],
    seen: list[Pressure],
    settled: Pressure,
    ails: list[Number],
) -> tuple[Number, list[Pressure]]:
    """Whether a function's own logic runs in this scan, and the pressures of its supplies as then seen.

    It does when its valve, lines, chambers (``awake``), the panel or the pods (``pulses``), other functions
    (``timers``), a supply or a fault that acts at rest (``ails``) stir, or when it may hold the well (``holds``: its
    seal depends on pipe and well even at rest) and its piston is off the open stop. 2 while something stirs, 1 for one
    scan after, so that what has just ended is seen, then 0.
    """
    spool = abs(valve - open_way - close_way - close_way)
    busy = spool > 0.0 or any(a > 0.0 for a in awake) or any(p > 0.0 for p in pulses) or any(t > 0.0 for t in timers)
    off = largest([abs(p - s) for p, s in zip(supplies, seen, strict=True)]) > settled
    stirs = busy or off or any(severity > 0.0 for severity in ails) or (holds > 0.5 and x > 0.005)
    now = 2.0 if stirs else (1.0 if was > 1.5 else 0.0)
    return now, [p if now > 1.5 else s for p, s in zip(supplies, seen, strict=True)]


@gives("stirs", "seen")
def pulse(now: list[AnyUnit], seen: list[AnyUnit]) -> tuple[Number, list[AnyUnit]]:
    """1 in the scan in which any of the values has changed, and all of them as now seen."""
    return (1.0 if any(n != s for n, s in zip(now, seen, strict=True)) else 0.0), now


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


@gives("shuttle", "ways", "vent", "through")
def back_up_shuttle(
    shuttle: Number,
    ways: list[Number],
    vent: Number,
    pressures: list[Pressure],
    pc: Pressure,
    xc: Number,
    sea: Pressure,
) -> tuple[Number, list[Number], Number, Number]:
    """A back-up's shuttle at a closing chamber, behind those of the pods: its position, what is left of their ways and
    of the vent, and the way from the back-up."""
    out = sea + added([way * (p - sea) for way, p in zip(ways, pressures, strict=True)])
    out_c = sea + xc * (pc - sea)
    to = 1.0 if out_c > out + SHUTTLE else (0.0 if out > out_c + SHUTTLE else shuttle)
    return to, [way * (1.0 - to) for way in ways], vent * (1.0 - to) + (1.0 - xc) * to, xc * to


@gives("x")
def not_back(x: Number, line: Pressure, chamber: Pressure) -> Number:
    """Opening into a chamber behind a check valve: what a back-up has closed stays closed."""
    return 0.0 if chamber > line + SHUTTLE else x


@gives("awake")
def keeps_awake(awake: Number, valve: Number, shuttle: Number) -> Number:
    """Whether a function's chambers are computed: at least while a back-up's valve or shuttle is open to one."""
    return 1.0 if valve > 0.0 or shuttle > 0.5 else awake


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
    """Net pressure on the closing side, Pa: closing chamber less the opening one by ``ratio``, less what is
    ``against``."""
    return pc - ratio * po - against


@gives("awake", "due")
def pilots_awake(
    awake: Number,
    pilot: Pressure,
    head: Pressure,
    vent: Pressure,
    open_way: Number,
    close_way: Number,
    open_ends: list[Pressure],
    close_ends: list[Pressure],
    open_shifted: list[Number],
    close_shifted: list[Number],
    leaks: list[Number],
    stir: Seconds,
    open_age: Seconds,
    close_age: Seconds,
    young: Seconds,
    wake: Pressure,
    settled: Pressure,
) -> tuple[Number, Number]:
    """1 while a pilot line is more than a hair from rest, leaks, or a valve is moving; and 1 while a pod valve is due
    to shift. The lists go by pod: where each line ends, and how far its valve has shifted.

    The second wakes the chambers: pilots that only breathe with a neighbour's leave them asleep.
    """
    to_open = (pilot if open_way > 0.5 else vent) + head
    to_close = (pilot if close_way > 0.5 else vent) + head
    off = max(largest([abs(p - to_open) for p in open_ends]), largest([abs(p - to_close) for p in close_ends]))
    spool = open_way * (1.0 - open_way) + close_way * (1.0 - close_way)
    pods = added([x * (1.0 - x) for x in [*open_shifted, *close_shifted]])
    band = settled if awake > 0.5 else wake
    due = added([*[abs(open_way - x) for x in open_shifted], *[abs(close_way - x) for x in close_shifted]])
    fresh = min(open_age, close_age) < young
    leak = any(severity > 0.0 for severity in leaks)
    awake_now = 1.0 if off > band or fresh or stir + spool > 0.0 or pods > 1.0e-9 or leak else 0.0
    return awake_now, (1.0 if due > 1.0e-9 or pods > 1.0e-9 else 0.0)


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
    leaks: list[float],
    wake: float,
    settled: float,
) -> float:
    """1 while the chambers are off what feeds them, the piston is pushed, or the function leaks."""
    off = max(abs(pc - to_close), abs(po - to_open))
    push = pc - ratio * po - against
    moves = (push > friction and x < limit - 0.001) or (push < -friction and x > 0.001 and locked < 0.5)
    band = settled if awake > 0.5 else wake
    return 1.0 if off > band or moves or any(severity > 0.0 for severity in leaks) else 0.0


@gives("awake")
def piloted_awake(
    awake: Number,
    pilots: Number,
    pods_stir: Number,
    pc: Pressure,
    po: Pressure,
    supplies: list[Pressure],
    sea: Pressure,
    close_from: list[Number],
    open_from: list[Number],
    close_shifted: list[Number],
    open_shifted: list[Number],
    joined: list[Number],
    ratio: Number,
    against: Pressure,
    friction: Pressure,
    x: Number,
    limit: Number,
    locked: Number,
    leaks: list[Number],
    wake: Pressure,
    settled: Pressure,
) -> Number:
    """1 while a piloted function's chambers have something to do (a shuttle to turn to a pod that came up, too).

    The lists go by pod: what each supplies, whether the shuttles stand to it, its valves, and whether its stab is in.
    """
    over = [(p - sea) * there for p, there in zip(supplies, joined, strict=True)]
    turns = shuttle_due([o * shifted for o, shifted in zip(over, close_shifted, strict=True)], close_from)
    turns_too = shuttle_due([o * shifted for o, shifted in zip(over, open_shifted, strict=True)], open_from)
    to_close = first_where(supplies, close_from, sea)
    to_open = first_where(supplies, open_from, sea)
    stirs = chambers_stir(
        awake, pc, po, to_close, to_open, ratio, against, friction, x, limit, locked, leaks, wake, settled
    )
    return 1.0 if pilots + pods_stir > 0.5 or stirs + turns + turns_too > 0.5 else 0.0


def shuttle_due(over: list[float], stands_to: list[float]) -> float:
    """1 when the shuttle stands away from a pod that offers more (Pa above the sea) than the one it stands to."""
    return 1.0 if largest(over) > first_where(over, stands_to, 0.0) + SHUTTLE else 0.0


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
    leaks: list[Number],
    wake: Pressure,
    settled: Pressure,
) -> Number:
    """1 while a directly fed function's chambers have something to do; in block they keep what they hold."""
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
