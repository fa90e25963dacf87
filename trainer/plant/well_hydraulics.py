"""Pressures and flows of the well below the preventers, of the string and of the choke line.

Three places hold mud under pressure: the string, the annulus below the preventers, and the choke line. What each
holds (mud m3, gas kg) is the state; pressure follows from it. Every scan the three pressures are stepped together,
linearly implicit (a shut-in well is stiff, so an explicit step would ring), and then everything moves by the solved
flows, so that mud and gas are conserved to rounding:

    annulus   mud (1 - (p - p0) / K) + gas mass / rho(p) = room
    string    filled to the top: p = head + (mud - room) / (room / K); else the head of what stands in it
    flow      q = k dp / sqrt(|dp| + band): turbulent, smooth through zero
    inflow    q = productivity (formation pressure - bottom pressure), never backward
    losses    q = loss index (shoe pressure - leak-off pressure), never backward

Sources: hydrostatics and kick relations, Lapeyrouse, Formulas and Calculations for Drilling, Production and Workover,
ch. 1 and 4; linearly implicit Euler, Hairer & Wanner, Solving ODEs II (from memory).
Left out: friction that depends on rheology (one coefficient, scaled from the given circulating pressure), pressure
waves, mud that warms or gels, gas entering the string, formation that takes fluid other than by losses at the shoe.
"""

from __future__ import annotations

from math import sqrt

from trainer.constants import ATMOSPHERE, GRAVITY, SCAN
from trainer.hydraulics.ports import gives
from trainer.plant.well_geometry import entry_depth
from trainer.units import (
    Area,
    Coefficient,
    Compliance,
    Conductance,
    Density,
    Flow,
    Frequency,
    Gradient,
    GravityHeight,
    Length,
    Mass,
    Number,
    Pressure,
    PressurePerVelocity,
    Softness,
    Velocity,
    Volume,
)

BAND = 2.0e3
"""Pa (0.3 psi) below which flow is smoothed, as in ``trainer.hydraulics.laws``."""
LEAST_PRESSURE = 1.0e3
"""Pa: no pressure of the well falls below it. Ours: near vacuum."""
LEAST_COMPLIANCE = 1.0e-12
"""m3/Pa of an empty space, for division. Ours."""
# A flow out of a place takes at most this share of what it holds in one scan.
MOST_SHARE = 0.2
# Nozzles make this share of the string's pressure loss; the rest goes with the length of the string.
NOZZLES = 0.55
# A string longer than the plant file's, in its lengths: losses go on growing with it that far.
MOST_LENGTH = 1.5
# What the charge pump can push through the pump's valves into a string that runs empty, m3/s.
MOST_SUCTION = 0.03
# A string counts as running empty from this room in it, m3: less is the give of full pipe.
LEAST_EMPTY = 0.004
# The string grows by less than this in a scan unless a stand is put on, m.
LEAST_STAND = 1.0
# Air shut in above the mud counts from a litre at one atmosphere, J.
LEAST_AIR = 101.325
# Gas that is circulated to the choke line comes thinner over this length ahead of the body and at its end, m: bubbles
# of many sizes. Invented: some four minutes at a kill rate.
THIN = 120.0
# Mud at rest gels: it stays where it is below this pressure difference, Pa (under one psi).
GEL = 5.0e3


def ease(k: float, difference: float) -> float:
    """Conductance q / dp in m3/(s Pa) of a turbulent passage with q = k sqrt(dp), at the present difference (Pa)."""
    return k / sqrt(abs(difference) + BAND)


def ease_gelled(k: float, difference: float) -> float:
    """As ``ease``, for mud that does not move before the difference breaks its gel."""
    moving = max(abs(difference) - GEL, 0.0)
    return k * moving / (sqrt(moving + BAND) * max(abs(difference), GEL))


@gives("mud", "fish")
def cut_off(
    mud: Volume,
    room: Volume,
    end: Length,
    bit: Length,
    sheared: Number,
    inside: Area,
    stack: Length,
    fish: Volume,
) -> tuple[Volume, Volume]:
    """What a string that has just been cut at the preventers leaves in the hole with its lower part.

    ``mud`` m3 in the string, its ``room`` (m3) and its lower ``end`` (m) of before; the part below is full at the
    pressure that the string had. Returns mud in the part above and in the ``fish``, m3.
    """
    cut = sheared > 0.5 and bit > stack and end > stack
    below = (end - stack) * inside * max(mud / max(room, LEAST_EMPTY), 1.0)
    left = min(below, mud) if cut else 0.0
    return mud - left, fish + left


@gives("mud", "tank", "was")
def stand_filled(
    mud: Volume, tank: Volume, length: Length, was: Length, trip: Number, vented: Number, inside: Area
) -> tuple[Volume, Volume, Length]:
    """A stand put on a string that is shut inside is filled from the trip tank, as far as that holds mud.

    ``length`` of the string now and as it ``was`` (m), ``inside`` m2; ``trip`` 2 goes in. Returns mud in string and
    tank (m3), and length.
    """
    put_on = trip > 1.5 and vented < 0.5 and length - was > LEAST_STAND
    wanted = (length - was) * inside if put_on else 0.0
    filled = min(wanted, tank)
    return mud + filled, tank - filled, length


@gives("air", "slug")
def dry_top(
    mud: Volume, room: Volume, vented: Number, connected: Number, air: Volume, slug: Pressure
) -> tuple[Volume, Pressure]:
    """Air in the top of the string (m3 at one atmosphere) and weight of the slug (Pa) that keeps it dry.

    An open string breathes; one shut off keeps the air that stood in it; pumps that are connected fill it. The slug is
    out once mud has run over at the floor.
    """
    breathed = max(room - mud, 0.0) if vented > 0.5 else air
    full = connected > 0.5 or (vented > 0.5 and mud >= room)
    return (0.0 if connected > 0.5 else breathed), (0.0 if full else slug)


@gives("string_pressure", "string_compliance", "string_room", "string_end", "surface_pressure")
def string_state(
    mud: Volume,
    bit: Length,
    hook: Length,
    sheared: Number,
    vented: Number,
    air: Volume,
    inside: Area,
    stack: Length,
    gradient: Gradient,
    soft: Softness,
    slug: Pressure,
    extra: Pressure,
    below: Pressure,
) -> tuple[Pressure, Compliance, Volume, Length, Pressure]:
    """The string as a vessel.

    ``mud`` m3 in it, ``bit`` and ``hook`` m, ``inside`` m2, ``gradient`` Pa/m, ``soft`` 1/Pa; ``slug`` Pa is what a
    slug of heavy mud adds, so that the string is pulled dry. ``air`` m3 at one atmosphere stood above the mud when the
    string was shut: mud that rises presses it together by Boyle's law, at one temperature. With no air,
    cuttings make the annulus heavier than the string, by about what stands in the string above
    the rotary table (common practice: some tenths of a lb/gal), so a closed string stays full when the pumps stop.
    ``extra`` Pa is what kill mud in it weighs more, ``below`` the part of it below the rotary table.
    Returns the absolute pressure inside it at its lower end, compliance (m3/Pa), room (m3), depth of the lower end
    (m; a sheared string ends at the preventers), and surface pressure at the rotary table (gauge Pa, may be negative).
    """
    end = stack if sheared > 0.5 and bit > stack else bit
    length = max(end + hook, 10.0)
    room = length * inside
    stiff = soft * room
    full = mud >= room and vented < 0.5
    head = gradient * (min(mud, room) / inside)
    # What stands above the rotary table is held up by the heavier annulus while no air gets in.
    held = gradient * hook if vented < 0.5 and mud < room else 0.0
    drawn = (mud - room) / stiff
    tight = full or (vented < 0.5 and drawn > gradient * (mud - room) / inside - held)
    loose = head + (min(slug, head) if mud < room else 0.0) - held
    # Room - mud = air's volume - what the mud gives: stiff y2 + b y = air x atmosphere, for the pressure y of both.
    shut_in = air * ATMOSPHERE if vented < 0.5 else 0.0
    b = room - mud - stiff * ATMOSPHERE
    root = sqrt(b * b + 4.0 * stiff * shut_in)
    pressed = 2.0 * shut_in / (b + root) if b > 0.0 and shut_in > 0.0 else 0.5 * (root - b) / stiff
    cushion = shut_in > LEAST_AIR
    rise = inside / gradient
    give = stiff + shut_in / max(pressed * pressed, 1.0)
    pressure = (
        pressed + head + min(slug, head)
        if cushion
        else ATMOSPHERE + (gradient * length + drawn if tight else loose)
    ) + extra  # fmt: skip
    compliance = rise * give / (rise + give) if cushion else (stiff if tight else rise)
    return pressure, compliance, room, end, pressure - ATMOSPHERE - gradient * end - below


@gives("pump_flow")
def pump_flow(
    strokes: Frequency,
    output: Volume,
    slip: Number,
    connected: Number,
    surface: Pressure,
    relief: Pressure,
    compliance: Compliance,
    mud: Volume,
    room: Volume,
    pit: Volume,
    string_flow: Flow,
) -> Flow:
    """Flow of the mud pumps into the string in m3/s.

    ``strokes`` 1/s, ``output`` m3 a stroke, ``slip`` lost share; near the ``relief`` pressure the relief valve takes
    what does not leave the string (``string_flow`` m3/s). Through the valves of a stopped pump mud still follows into
    a string that runs empty, as long as the string is ``connected``.
    """
    given = strokes * output * (1.0 - slip)
    # What leaves the string, and half of what would bring it to the relief pressure: the valve opens without chatter.
    allowed = string_flow + 0.5 * compliance * (relief - surface) / SCAN
    pumped = min(max(allowed, 0.0), given)
    empty = room - mud
    drawn = min(empty / SCAN, MOST_SUCTION) if empty > LEAST_EMPTY else 0.0
    return connected * min(max(pumped, drawn), MOST_SHARE * pit / SCAN)


@gives("line_surplus", "line_compliance", "line_density", "line_share")
def line_state(
    mud: Volume, gas: Mass, rho: Density, pressure: Pressure, room: Volume, density: Density, soft: Softness
) -> tuple[Volume, Compliance, Density, Number]:
    """The choke line as a vessel, mud and gas mixed in it.

    Returns surplus volume (m3) over its ``room``, compliance (m3/Pa), density of the mixture (kg/m3) and the share
    of gas. ``rho`` is the gas's density; its compressibility is taken as 1/p (ideal), which only sets the step.
    """
    bubble = gas / rho
    surplus = mud * (1.0 - soft * (pressure - ATMOSPHERE)) + bubble - room
    share = bubble / max(bubble + mud, 1.0e-9)
    mixture = density * (1.0 - share) + rho * share
    return surplus, soft * mud + bubble / max(pressure, ATMOSPHERE) + LEAST_COMPLIANCE, mixture, share


@gives("to_bottom", "to_bit", "to_shoe")
def heads(
    height: Length,
    rho: Density,
    top: Length,
    bottom: Length,
    bit: Length,
    hole_depth: Length,
    stack: Length,
    shoe: Length,
    density: Density,
    friction: Pressure,
    swab: Pressure,
    extra: Pressure,
    shoe_extra: Pressure,
) -> tuple[Pressure, Pressure, Pressure]:
    """Pressure differences in the annulus from the preventers down to the bottom, to the bit and to the shoe, Pa.

    ``height`` m of mud column are replaced by gas of ``rho`` kg/m3 lying between ``top`` and ``bottom``; ``friction``
    and ``swab`` are added and taken off at the bottom, by length above it. Kill mud adds ``extra`` at the bit and
    ``shoe_extra`` at the shoe.
    """
    gradient = density * GRAVITY
    missing = height * (gradient - rho * GRAVITY)
    span = max(bottom - top, 0.001)
    above_bit = min(max((bit - top) / span, 0.0), 1.0)
    above_shoe = min(max((shoe - top) / span, 0.0), 1.0)
    moving = friction - swab
    to_bottom = gradient * (hole_depth - stack) - missing + moving
    to_bit = gradient * (bit - stack) - missing * above_bit + moving
    to_shoe = gradient * (shoe - stack) - missing * above_shoe + 0.5 * moving
    return to_bottom + extra, to_bit + extra, to_shoe + shoe_extra


@gives(
    "stack_pressure",
    "line_pressure",
    "string_flow",
    "bore_flow",
    "line_flow",
    "choke_flow",
    "influx_rate",
    "loss_rate",
    "up_line",
)
def balance(
    stack_pressure: Pressure,
    line_pressure: Pressure,
    string_pressure: Pressure,
    string_compliance: Compliance,
    pump: Flow,
    mud: Volume,
    gas_volume: Volume,
    squeeze: Compliance,
    room: Volume,
    rest: Pressure,
    soft: Softness,
    to_bottom: Pressure,
    to_bit: Pressure,
    to_shoe: Pressure,
    formation: Pressure,
    productivity: Conductance,
    leak_off: Pressure,
    loss_index: Conductance,
    k_string: Coefficient,
    in_well: Number,
    outside: Pressure,
    k_bore: Coefficient,
    riser_pressure: Pressure,
    path: Number,
    up_path: Number,
    k_line: Coefficient,
    line_density: Density,
    fall: GravityHeight,
    surplus: Volume,
    line_compliance: Compliance,
    k_choke: Coefficient,
    float_valve: Number,
) -> tuple[Pressure, Pressure, Flow, Flow, Flow, Flow, Flow, Flow, Flow]:
    """One step of the three pressures and the flows between them.

    Pressures absolute Pa; ``room`` and ``mud`` m3 of the annulus, ``rest`` the pressure at which the mud volume is
    counted, ``soft`` = 1/K; the ``to_`` heads from ``heads``; the k in m3/(s sqrt(Pa)). ``in_well`` 1: the string
    ends below the preventers; 0: in the riser, against the pressure ``outside``; ``float_valve`` 1: a valve above the
    bit lets nothing up the string;
    ``fall`` is gravity times the height of the choke line; ``path`` 1: it is open to the well, ``up_path`` 1: to the
    riser.
    Returns new stack pressure, choke-line pressure at the choke, and the flows in m3/s: from the string, through the
    bore to the riser, into the choke line, through the choke, from the formation, into the formation at the shoe, from
    the riser into the choke line.
    """
    line_head = line_density * fall
    own = soft * mud + squeeze + LEAST_COMPLIANCE
    over = mud * (1.0 - soft * (stack_pressure - rest)) + gas_volume - room
    # The string: its own pressure is eliminated, so that the stiff string does not limit the step.
    against = stack_pressure + to_bit if in_well > 0.5 else outside
    lets = 0.0 if float_valve > 0.5 and string_pressure < against else 1.0
    g_string = lets * ease_gelled(k_string, string_pressure - against)
    g_string_net = g_string / (1.0 + SCAN * g_string / string_compliance)
    string_ahead = string_pressure + SCAN * pump / string_compliance
    g_in = g_string_net if in_well > 0.5 else 0.0
    # The choke line and the choke, eliminated likewise.
    g_choke = ease(k_choke, line_pressure - ATMOSPHERE) if line_pressure > ATMOSPHERE else 0.0
    lifted = up_path if path < 0.5 else 0.0
    g_up = ease(lifted * k_line, riser_pressure - line_pressure - line_head)
    stored = line_compliance + SCAN * (g_choke + g_up)
    pushed = g_choke * ATMOSPHERE + g_up * (riser_pressure - line_head)
    line_ahead = (line_compliance * line_pressure + surplus + SCAN * pushed) / stored
    g_line = ease(path * k_line, stack_pressure - line_pressure - line_head)
    g_line_net = g_line / (1.0 + SCAN * g_line / stored)
    g_bore = ease(k_bore, stack_pressure - riser_pressure)
    g_inflow = productivity if stack_pressure + to_bottom < formation else 0.0
    g_loss = loss_index if stack_pressure + to_shoe > leak_off else 0.0
    drive = (
        g_in * (string_ahead - to_bit)
        + g_line_net * (line_ahead + line_head)
        + g_bore * riser_pressure
        + g_inflow * (formation - to_bottom)
        + g_loss * (leak_off - to_shoe)
    )
    solved = (own * stack_pressure + over + SCAN * drive) / (
        own + SCAN * (g_in + g_line_net + g_bore + g_inflow + g_loss)
    )
    p = max(solved, LEAST_PRESSURE)
    down = g_string_net * (string_ahead - (p + to_bit if in_well > 0.5 else outside))
    from_string = max(down, 0.0) if float_valve > 0.5 else down
    into_line = g_line_net * (p - line_ahead - line_head)
    p_line = max(line_ahead + SCAN * into_line / stored, LEAST_PRESSURE)
    return (
        p,
        p_line,
        from_string,
        g_bore * (p - riser_pressure),
        into_line,
        max(g_choke * (p_line - ATMOSPHERE), 0.0),
        max(g_inflow * (formation - p - to_bottom), 0.0),
        max(g_loss * (p + to_shoe - leak_off), 0.0),
        g_up * (riser_pressure - p_line - line_head),
    )


@gives(
    "bit_mud",
    "mud_up",
    "gas_up",
    "down",
    "mud_out",
    "gas_out",
    "back",
    "up_out",
    "up_back",
    "choke_mud",
    "choke_gas",
    "lost_mud",
)
def passed(
    mud: Volume,
    gas: Mass,
    string_mud: Volume,
    line_mud: Volume,
    line_gas: Mass,
    riser_mud: Volume,
    gas_top: Length,
    gas_bottom: Length,
    stack: Length,
    share: Number,
    rho: Density,
    line_share: Number,
    line_rho: Density,
    in_well: Number,
    pump: Flow,
    from_string: Flow,
    to_riser: Flow,
    into_line: Flow,
    through_choke: Flow,
    loss: Flow,
    up_line: Flow,
) -> tuple[Volume, Volume, Mass, Volume, Volume, Mass, Volume, Volume, Volume, Volume, Mass, Volume]:
    """What goes where this scan by the solved flows (m3/s), never more than a place holds.

    When the gas has reached the preventers (``gas_top`` at ``stack``), what leaves there carries the ``share`` of gas.
    Into the choke line some comes earlier, and the last of it later: head and tail of the body are thinner (``THIN``).
    Returns, in m3 and kg: mud out of the string (negative: up it), mud and gas up to the riser, mud down from it, mud
    and gas into the choke line, mud back from it, mud from the riser into the line and back, mud and gas through the
    choke, mud lost at the shoe.
    """
    rich = share if gas_top <= stack + 0.01 else 0.0
    thin = share * max(1.0 - (gas_top - stack) / THIN, 0.0) * min((gas_bottom - stack) / THIN, 1.0)
    up = max(to_riser, 0.0) * SCAN
    out = max(into_line, 0.0) * SCAN
    fall = min(max(from_string, 0.0) * SCAN, string_mud + pump * SCAN)
    # Fluid that comes up the string is taken from where the string ends.
    climb = min(max(-from_string, 0.0) * SCAN, MOST_SHARE * (mud if in_well > 0.5 else riser_mud))
    choked = through_choke * SCAN
    return (
        fall - climb,
        min(up * (1.0 - rich), MOST_SHARE * mud),
        min(up * rich * rho, MOST_SHARE * gas),
        min(max(-to_riser, 0.0) * SCAN, MOST_SHARE * riser_mud),
        min(out * (1.0 - thin), MOST_SHARE * mud),
        min(out * thin * rho, MOST_SHARE * gas),
        min(max(-into_line, 0.0) * SCAN, MOST_SHARE * line_mud),
        min(max(up_line, 0.0) * SCAN, MOST_SHARE * riser_mud),
        min(max(-up_line, 0.0) * SCAN, MOST_SHARE * line_mud),
        min(choked * (1.0 - line_share), MOST_SHARE * line_mud),
        min(choked * line_share * line_rho, MOST_SHARE * line_gas),
        min(loss * SCAN, MOST_SHARE * mud),
    )


@gives(
    "mud",
    "gas",
    "string_mud",
    "line_mud",
    "line_gas",
    "to_riser_mud",
    "to_riser_gas",
    "choked",
    "lost_now",
    "gained",
    "beside",
)
def exchange(
    mud: Volume,
    gas: Mass,
    string_mud: Volume,
    line_mud: Volume,
    line_gas: Mass,
    inflow_rho: Density,
    in_well: Number,
    pump: Flow,
    inflow: Flow,
    bit_mud: Volume,
    mud_up: Volume,
    gas_up: Mass,
    down: Volume,
    mud_out: Volume,
    gas_out: Mass,
    back: Volume,
    up_out: Volume,
    up_back: Volume,
    choke_mud: Volume,
    choke_gas: Mass,
    lost: Volume,
) -> tuple[Volume, Mass, Volume, Volume, Mass, Volume, Mass, Volume, Volume, Mass, Volume]:
    """Move mud and gas by what has ``passed``.

    Returns the new contents of annulus (mud m3, gas kg), string, choke line (mud, gas), and what went this scan: mud
    to the riser (m3, signed), gas to the riser (kg), mud out of the choke (m3), mud lost (m3), gas gained (kg), mud
    from the string to the riser (m3).
    """
    gained = inflow * SCAN * inflow_rho
    here = bit_mud if in_well > 0.5 else 0.0
    return (
        mud + here - mud_up + down - mud_out + back - lost,
        gas + gained - gas_up - gas_out,
        string_mud + pump * SCAN - bit_mud,
        line_mud + mud_out - back + up_out - up_back - choke_mud,
        line_gas + gas_out - choke_gas,
        mud_up - down - up_out + up_back,
        gas_up,
        choke_mud,
        lost,
        gained,
        bit_mud - here,
    )


@gives("mud", "spilled", "lost")
def string_limit(
    mud: Volume, room: Volume, vented: Number, soft: Softness, spilled: Volume, lost: Volume, lost_now: Volume
) -> tuple[Volume, Volume, Volume]:
    """Mud that the string cannot hold: returns mud kept, and the totals spilled on the floor and lost in the rock (m3).

    An open string overflows at the floor. 100 MPa bounds what a closed one can store; what is more runs out on the
    floor too.
    """
    brim = room if vented > 0.5 else room * (1.0 + 1.0e8 * soft)
    over = max(mud - brim, 0.0)
    return mud - over, spilled + over, lost + lost_now


@gives("friction", "swabbed")
def moving_heads(
    string_flow: Flow,
    full_flow: Flow,
    loss: Pressure,
    velocity: Velocity,
    swab: PressurePerVelocity,
    balled: Number,
    bit: Length,
    depth: Length,
) -> tuple[Pressure, Pressure]:
    """Friction of the mud going up the annulus and the swab of pipe going up, both Pa at the bottom.

    ``loss`` Pa at ``full_flow`` m3/s, growing with its square up to twice that flow; ``swab`` Pa at 1 m/s of pipe; a
    ``balled`` bit (0 to 1) swabs up to five times as much. Both go with the length of pipe in the hole.
    """
    x = min(max(string_flow / full_flow, 0.0), 2.0)
    length = min(bit / depth, MOST_LENGTH)
    return loss * x * x * length, swab * (1.0 + 4.0 * balled) * velocity * length


@gives("k_string", "k_bore", "k_out", "in_well", "outside")
def passages(
    k_full: Coefficient,
    end: Length,
    depth: Length,
    washout: Number,
    plugged: Number,
    k_open: Coefficient,
    area: Number,
    leak: Coefficient,
    k_choke: Area,
    choke: Number,
    line_density: Density,
    choke_plugged: Number,
    choke_washed: Number,
    sheared: Number,
    stack: Length,
    riser_pressure: Pressure,
    outlet: Number,
    parted: Number,
    weight: Number,
) -> tuple[Coefficient, Coefficient, Coefficient, Number, Pressure]:
    """The passages' k in m3/(s sqrt(Pa)) for string, bore and choke, whether the string ends in the well, and the
    pressure outside its end when it does not (absolute Pa).

    A riser that has no ``outlet`` (0 shut) lets nothing up, unless it has ``parted`` from the stack.

    ``k_full`` holds for the whole string full of old mud; nozzles take a fixed share; mud that is ``weight`` times as
    heavy costs as much more. ``k_choke`` is Cd A sqrt(2) of the full choke: lighter fluid passes faster, by the root of
    its density (IEC 60534-2-1).
    """
    length = NOZZLES + (1.0 - NOZZLES) * min(end / depth, MOST_LENGTH)
    k_string = k_full * (1.0 + 0.6 * washout) * (1.0 - 0.6 * plugged) / sqrt(length * weight)
    opening = choke * (1.0 - 0.9 * choke_plugged) + 0.15 * choke_washed
    inside = 1.0 if end > stack and sheared < 0.5 else 0.0
    return (
        k_string,
        area * k_open + leak if outlet > 0.5 or parted > 0.5 else 0.0,
        k_choke * opening / sqrt(max(line_density, 1.0)),
        inside,
        ATMOSPHERE + (riser_pressure - ATMOSPHERE) * min(end / stack, 1.0),
    )


@gives("inflow_index", "breaks_at", "gas_entry", "pore_pressure")
def formation_state(
    productivity: Conductance,
    exposed: Number,
    kick: Number,
    leak_off: Pressure,
    losses: Number,
    rest_at_shoe: Pressure,
    bit: Length,
    hole_depth: Length,
    formation: Pressure,
) -> tuple[Conductance, Pressure, Length, Pressure]:
    """What the rock does now: inflow index (m3/(s Pa)), leak-off pressure at the shoe (absolute Pa), gas entry depth
    (m), formation pressure (absolute Pa, from the gauge value ``formation``).

    ``exposed`` 1: the formation lies open in the hole; the fault ``kick`` drills into it. ``losses`` at 1 makes the
    shoe take mud at the weight of the mud at rest, ``rest_at_shoe`` Pa.
    """
    index = productivity * max(exposed, kick)
    weak = leak_off - losses * max(leak_off - ATMOSPHERE - 0.98 * rest_at_shoe, 0.0)
    return index, weak, entry_depth(bit, hole_depth), formation + ATMOSPHERE
