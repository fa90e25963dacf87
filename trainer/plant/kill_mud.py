"""Two muds in the well: kill mud follows the old mud down the string and up the annulus, as behind a piston.

The pumps draw from the active pit or from the pit with kill mud. Of each place (string, annulus, choke line, riser)
the state is how much of its mud is kill mud; the rest is old. In the string old mud stands under kill mud and leaves
first; in the annulus kill mud stands above the bit and old mud above it leaves first; line and riser likewise. So the
front is a volume, and a place gives old mud until none is left. What the pits count is all mud, of either weight.

    head of a place = old weight x height + (kill weight - old weight) x height of the kill mud in it
    pressure loss in the string grows with the weight of what it holds (initial to final circulating pressure)

Nothing of this is computed before the pumps draw kill mud for the first time.
Left out: mixing at the front, old mud pumped behind kill mud (the suction is not changed back), the time that weighting
up takes, the weight of the annulus's own friction, kill mud in the few gallons of a closed section of the stack.
"""

from __future__ import annotations

from trainer.constants import GRAVITY, SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import amount, button, choice, reading, state_reading
from trainer.plant.well_geometry import Sizes, area_at, volume_to
from trainer.units import Area, Density, Flow, Frequency, Gradient, Length, Number, Pressure, Volume

SUCTIONS = ("active pit", "kill pit")
PLACE = ("floor", "driller")
LEAST = 1.0e-9
"""m3 under which a string, line or riser counts as empty. Ours: far below a drop."""
FRONT = 1.0e-3
"""The front has come to the preventers when less room than this, m3, is left above it."""
PLACES = ("string", "annulus", "line", "riser")


def declare_kill_mud(net: Network, mud: float) -> None:
    """Add the pits' choice of mud, the stroke counter and the state of both; ``mud`` is the well's weight, kg/m3."""
    state_reading(net, "pits.line_up", SUCTIONS, "Pit from which the mud pumps draw.", PLACE)
    reading(net, "pits.kill_weight", "lb/gal", 0, 20, "Weight of the mud in the kill pit.", PLACE, None, mud)
    reading(net, "floor.strokes", "stk", 0, 99999, "Strokes pumped since the counter was set to zero.", PLACE)
    net.var("well.kill_used")
    for place in PLACES:
        net.var(f"well.{place}_kill", 0.0, "m3")
    for name, unit in (
        ("kill_out", "m3"),
        ("string_extra", "Pa"),
        ("string_below", "Pa"),
        ("annulus_extra", "Pa"),
        ("shoe_extra", "Pa"),
        ("old_above", "m3"),
        ("risen", "1"),
    ):
        net.var(f"well.{name}", 0.0, unit)
    net.var("well.string_weight", 1.0)
    net.var("well.line_mud_density", mud, "kg/m3")
    net.var("well.riser_gradient", mud * GRAVITY, "Pa/m")
    choice(net, "pits.line_up", SUCTIONS, "Line the mud pumps up to a pit.", PLACE, guard=_suction_guard, then=_begun)
    amount(
        net, "pits.kill_weight", 7.0, 20.0, "lb/gal", "Weight up the mud in the kill pit.", PLACE, guard=_weight_guard
    )
    button(net, "floor.strokes", "Set the stroke counter to zero.", PLACE, lambda m: m.put("floor.strokes", 0.0))
    net.block(counted, inputs=dict(rate="floor.mud_pumps"), states=dict(strokes="floor.strokes"))


def _suction_guard(machine: Variables, command: Order) -> Refusal | None:
    if command.value == SUCTIONS[0] and machine.read("well.string_kill") > LEAST:
        return Refusal("kill_mud_in_string", "Kill mud is in the string: old mud must not be pumped behind it.")
    return None


def _weight_guard(machine: Variables, command: Order) -> Refusal | None:
    if machine.read("well.kill_used") > 0.5:
        return Refusal("kill_mud_in_use", "This kill mud is being pumped: its weight cannot be changed any more.")
    return None


def _begun(machine: Variables, command: Order, at: int) -> None:
    if at == 1:
        machine.put("well.kill_used", 1.0)


def build_weights(net: Network, sizes: Sizes, mud: float) -> None:
    """Heads and densities by what stands where: the first step of the well's scan."""
    net.block(
        weights,
        inputs=dict(
            **under("well", "string_mud", "line_mud", "riser_mud", "annulus_mud"),
            string="well.string_kill",
            annulus="well.annulus_kill",
            line="well.line_kill",
            riser="well.riser_kill",
            gas="well.gas_volume",
            hook="floor.hook",
            end="well.string_end",
            kill="pits.kill_weight",
            old=mud,
            inside=sizes.inside,
            bit="well.bit_depth",
            **sizes.named,
        ),
        outputs=under(
            "well",
            "string_extra",
            "string_below",
            "string_weight",
            "annulus_extra",
            "shoe_extra",
            "line_mud_density",
            "riser_gradient",
            "old_above",
            "risen",
        ),
        gate="well.kill_used",
    )


def build_moves(net: Network) -> None:
    """Kill mud by what has passed, before the contents are changed."""
    net.block(
        moves,
        inputs=dict(
            **under("well", "string_mud", "line_mud", "riser_mud", "old_above", "risen", "in_well", "bit_mud"),
            **under("well", "mud_up", "down", "mud_out", "back", "up_out", "up_back"),
            suction="pits.line_up",
            pump="well.pump_flow",
            choked="well.choke_mud",
            lost="well.lost_mud",
        ),
        states=dict(
            string="well.string_kill",
            annulus="well.annulus_kill",
            line="well.line_kill",
            riser="well.riser_kill",
            gone="well.kill_out",
        ),
        gate="well.kill_used",
    )


def build_run_out(net: Network) -> None:
    """What runs over at the top of riser and string, after both have changed."""
    net.block(
        run_out,
        inputs=under("well", "string_mud", "riser_mud"),
        states=dict(string="well.string_kill", riser="well.riser_kill", gone="well.kill_out"),
        gate="well.kill_used",
    )


@gives("strokes")
def counted(strokes: Number, rate: Frequency) -> Number:
    """The stroke counter after a scan at ``rate`` strokes a second."""
    return strokes + rate * SCAN


def annular_rise(
    volume: float,
    bit: float,
    stack: float,
    shoe: float,
    collar_length: float,
    cased: float,
    open_hole: float,
    pipe: float,
    collar: float,
) -> tuple[float, float]:
    """Height (m) to which ``volume`` m3 stands above the bit, and of that the height above the shoe.

    >>> annular_rise(50.0, 2000.0, 100.0, 1000.0, 200.0, 0.08, 0.08, 0.03, 0.03)
    (1000.0, 0.0)
    """
    upper = bit - collar_length
    high = max(min(max(upper, shoe), bit), stack)
    low = max(min(min(upper, shoe), high), stack)
    here = max(bit - high, 0.0)
    first = area_at(max(bit, stack + 1.0), bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    second = area_at(high, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    third = area_at(low, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    one = min(volume / first, here)
    two = min(max(volume - here * first, 0.0) / second, high - low)
    three = min(max(volume - here * first - (high - low) * second, 0.0) / third, low - stack)
    rise = one + two + three
    return rise, max(rise - max(bit - shoe, 0.0), 0.0)


@gives(
    "string_extra",
    "string_below",
    "string_weight",
    "annulus_extra",
    "shoe_extra",
    "line_mud_density",
    "riser_gradient",
    "old_above",
    "risen",
)
def weights(
    string: Volume,
    annulus: Volume,
    line: Volume,
    riser: Volume,
    string_mud: Volume,
    line_mud: Volume,
    riser_mud: Volume,
    annulus_mud: Volume,
    gas: Volume,
    hook: Length,
    end: Length,
    kill: Density,
    old: Density,
    inside: Area,
    bit: Length,
    stack: Length,
    shoe: Length,
    collar_length: Length,
    cased: Area,
    open_hole: Area,
    pipe: Area,
    collar: Area,
) -> tuple[Pressure, Pressure, Number, Pressure, Pressure, Density, Gradient, Volume, Number]:
    """What the kill mud (m3 in each place) weighs beyond old mud there.

    ``gas`` m3 stands above it. Returns Pa at the string's end in all and below the rotary table, the weight of the
    string's mud in parts of old mud's, Pa at the bit and at the shoe in the annulus, kg/m3 of the mud in the line, Pa/m
    of the riser's, how much old mud (m3) still stands above the front, and 1 once the front has passed the shoe.
    """
    more = (kill - old) * GRAVITY
    height = string / inside
    below = min(max(height - hook, 0.0), max(end, 0.0))
    share = string / max(string_mud, LEAST)
    rise, cased_rise = annular_rise(annulus, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    full = volume_to(bit, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    above = max(annulus_mud - annulus, 0.0) if annulus + gas < full - FRONT else 0.0
    return (
        more * height,
        more * below,
        1.0 + (kill / old - 1.0) * min(share, 1.0),
        more * rise,
        more * cased_rise,
        old + (kill - old) * min(line / max(line_mud, LEAST), 1.0),
        (old + (kill - old) * min(riser / max(riser_mud, LEAST), 1.0)) * GRAVITY,
        above,
        (1.0 if cased_rise > 0.0 else 0.0),
    )


def given_up(wanted: float, mud: float, kill: float) -> float:
    """Kill mud (m3) in what a place gives that lets its old mud go first."""
    return min(max(wanted - max(mud - kill, 0.0), 0.0), kill)


@gives("string", "annulus", "line", "riser", "gone")
def moves(
    string: Volume,
    annulus: Volume,
    line: Volume,
    riser: Volume,
    gone: Volume,
    string_mud: Volume,
    line_mud: Volume,
    riser_mud: Volume,
    old_above: Volume,
    risen: Number,
    suction: Number,
    in_well: Number,
    pump: Flow,
    bit_mud: Volume,
    mud_up: Volume,
    down: Volume,
    mud_out: Volume,
    back: Volume,
    up_out: Volume,
    up_back: Volume,
    choked: Volume,
    lost: Volume,
) -> tuple[Volume, Volume, Volume, Volume, Volume]:
    """Kill mud in string, annulus, choke line and riser (m3) after a scan, and all of it that has left the well.

    The ``_mud`` are what each place held before; ``pump`` m3/s came into the string, ``bit_mud`` left it below (up it,
    when negative), ``mud_up`` went to the riser and came ``down``, ``mud_out`` went into the line and came ``back``,
    ``up_out`` went from riser to line and came back (``up_back``), ``choked`` left the line, ``lost`` the well.
    """
    came = pump * SCAN if suction > 0.5 else 0.0
    fall = given_up(max(bit_mud, 0.0), string_mud + pump * SCAN, string + came)
    climb = min(max(-bit_mud, 0.0), annulus if in_well > 0.5 else 0.0)
    top = max(annulus - climb, 0.0)
    leaves = max(mud_up + mud_out - old_above, 0.0)
    out = min(leaves, mud_out) if leaves < top else min(top, mud_out)
    up = min(min(max(leaves - out, 0.0), max(top - out, 0.0)), mud_up)
    sunk = min(down, riser)
    returned = min(back, line)
    share = riser / max(riser_mud, LEAST)
    lifted = min(up_out * min(share, 1.0), max(riser - sunk, 0.0))
    fallen = min(up_back, max(line - returned, 0.0))
    through = given_up(choked, line_mud, max(line - returned - fallen, 0.0))
    away = min(lost, max(top - out - up, 0.0)) if risen > 0.5 else 0.0
    into = fall if in_well > 0.5 else 0.0
    return (
        string + came - fall + climb,
        annulus + into - climb - out - up + sunk + returned - away,
        line + out - returned + lifted - fallen - through,
        riser + up - sunk - lifted + fallen + (fall - into),
        gone + through + away,
    )


@gives("string", "riser", "gone")
def run_out(
    string: Volume, riser: Volume, gone: Volume, string_mud: Volume, riser_mud: Volume
) -> tuple[Volume, Volume, Volume]:
    """Kill mud in string and riser (m3), never more than their mud, and all of it that has left the well."""
    kept = min(string, string_mud)
    stays = min(riser, riser_mud)
    return kept, stays, gone + (string - kept) + (riser - stays)
