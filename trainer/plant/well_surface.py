"""What lies above the preventers: riser, flow line, pit and trip tank, and the well's instruments.

The riser is open to the flow line: its pressure at the bottom is the weight of the mud in it, and what does not fit
runs over into the pit (or into the trip tank when that is lined up). Gas that came past the preventers rises there
too, expands, pushes mud out ahead of it and leaves at the flow line, or where a diverter leads it (``outlets``). Once
the riser has parted from the stack its mud falls out and the well feels the sea (``fall_out``). Left out: slow
drainage of the flow line, evaporation, sea water drawn into a well whose pressure is below the sea's.
"""

from __future__ import annotations

from trainer.constants import ATMOSPHERE, SCAN
from trainer.hydraulics.ports import gives
from trainer.plant.well_gas import LEAST_MASS, gas_state
from trainer.units import (
    Area,
    Coefficient,
    Density,
    Flow,
    Frequency,
    Gradient,
    GravityHeight,
    Length,
    Mass,
    Number,
    Pressure,
    Velocity,
    Volume,
)

# Gas this near the flow line (m) leaves with the returns.
MOUTH = 0.5
SEA_DEGREES = 285.0
"""K of gas in the riser: sea at 12 degC."""
# Share of the mud left in a parted riser that falls out in a scan: most is gone after ten
# seconds (0.97^100 = 5 %). Invented.
FALLS = 0.03


@gives("mud", "gas", "rho", "top", "bottom", "pressure", "run_over", "gas_over", "filled")
def riser_step(
    mud: Volume,
    gas: Mass,
    rho: Density,
    top: Length,
    bottom: Length,
    mud_in: Volume,
    beside: Volume,
    gas_in: Mass,
    flow_in: Flow,
    pressure: Pressure,
    stack: Length,
    area: Area,
    room: Volume,
    gradient: Gradient,
    slip: Velocity,
    lined_up: Number,
    trip: Volume,
    fill: Volume,
    parted: Number,
) -> tuple[Volume, Mass, Density, Length, Length, Pressure, Volume, Mass, Volume]:
    """Riser after a scan: contents, gas body, pressure at its bottom and what ran over.

    ``mud`` m3, ``gas`` kg of ``rho`` kg/m3 between ``top`` and ``bottom`` (m), ``mud_in`` m3 and ``gas_in`` kg this
    scan (mud may be negative), ``beside`` m3 from a string that ends in the riser, ``flow_in`` m3/s through the
    preventers, ``pressure`` at the bottom (absolute Pa), ``room`` m3 around the pipe, ``slip`` m/s; ``fill`` m3 is the
    most that the trip tank, holding ``trip`` m3, adds when it is ``lined_up`` and the riser has not ``parted``.
    Returns mud, gas, density, top, bottom, pressure, mud run over (m3), gas run over (m3), mud filled (m3).
    """
    middle = 0.5 * (top + bottom) / stack
    gas_pressure = ATMOSPHERE + (pressure - ATMOSPHERE) * middle
    density, _ = gas_state(rho, SEA_DEGREES, gas_pressure)
    held = gas + gas_in
    volume = min(held / density, 0.9 * room)
    standing = max(mud + mud_in + beside, 0.0)
    over = standing + volume - room
    filled = min(max(-over, 0.0), min(fill, trip)) if lined_up > 0.5 and parted < 0.5 else 0.0
    out = max(over, 0.0)
    span = max((bottom - top) * area, volume)
    rich = volume / max(span, 1.0e-9) if top < MOUTH else 0.0
    mud_out = min(out * (1.0 - rich), standing)
    # At the mouth it also bubbles out by itself, and the mud behind it stands lower.
    gas_out = min(out * rich + rich * area * slip * SCAN, volume)
    left = max(held - gas_out * density, 0.0)
    present = left > LEAST_MASS
    drawn = min(2.0 * gas_in / max(held, LEAST_MASS), 1.0)
    risen = bottom - SCAN * (max(flow_in, 0.0) / area + slip)
    new_bottom = min(max(risen + (stack - bottom) * drawn, volume / area), stack)
    new_top = max(min(top - out / area - SCAN * slip, new_bottom - volume / area), 0.0)
    rest = standing + filled - mud_out
    return (
        rest,
        left,
        density,
        (new_top if present else stack),
        (new_bottom if present else stack),
        ATMOSPHERE + gradient * stack * rest / room,
        mud_out,
        gas_out,
        filled,
    )


@gives("mud", "gas", "pressure", "fallen")
def fall_out(
    mud: Volume, gas: Mass, pressure: Pressure, parted: Number, sea: Pressure
) -> tuple[Volume, Mass, Pressure, Volume]:
    """Riser that has ``parted`` from the stack: its mud (m3) and gas (kg) are lost, and the well feels ``sea``.

    Returns mud and gas left, the pressure that stands on the well (absolute Pa), and the mud lost in this scan (m3).
    """
    gone = (mud if mud < 1.0e-3 else FALLS * mud) if parted > 0.5 else 0.0
    return mud - gone, (0.0 if parted > 0.5 else gas), (sea if parted > 0.5 else pressure), gone


@gives("over", "flow", "lost", "spilled")
def outlets(
    over: Volume,
    gas_over: Mass,
    outlet: Number,
    fallen: Volume,
    flow: Flow,
    lost: Volume,
    spilled: Volume,
    share: Number,
) -> tuple[Volume, Flow, Volume, Volume]:
    """Share out what runs over at the top of the riser, by the ``outlet`` (an index of ``bore.OUTLETS``).

    ``over`` mud and ``gas_over`` gas this scan (m3), ``fallen`` out of a parted riser (m3); ``flow`` is the overboard
    line's reading (m3/s), which follows by ``share``. Returns mud to the flow line (m3), that reading, and the totals
    of mud ``lost`` to the sea and ``spilled`` on the floor (m3).
    """
    aside = outlet > 1.5 and outlet < 2.5
    floor = outlet > 2.5
    followed = flow + share * (((over + gas_over) / SCAN if aside else 0.0) - flow)
    return (
        0.0 if aside or floor else over,
        followed if followed > 1.0e-9 else 0.0,
        lost + fallen + (over if aside else 0.0),
        spilled + (over if floor else 0.0),
    )


@gives("pressure")
def under_packer(stack_pressure: Pressure, outlet: Number, parted: Number, area: Number, head: Pressure) -> Pressure:
    """Pressure (gauge Pa) at the top of a riser full of mud (``head`` Pa) from which nothing gets out."""
    held = outlet < 0.5 and parted < 0.5 and area > 0.0
    return max(stack_pressure - ATMOSPHERE - head, 0.0) if held else 0.0


@gives("pit", "trip")
def tanks_step(
    pit: Volume,
    trip: Volume,
    lined_up: Number,
    over: Volume,
    choked: Volume,
    pump: Flow,
    filled: Volume,
    capacity: Volume,
) -> tuple[Volume, Volume]:
    """Pit and trip tank (m3) after a scan: mud run ``over`` and ``choked`` come in, ``filled`` goes to the hole (m3).

    ``pump`` is the flow (m3/s) that the mud pumps draw from the pit. The trip tank's own overflow runs to the pit.
    """
    to_trip = over if lined_up > 0.5 else 0.0
    brimming = max(trip + to_trip - filled - capacity, 0.0)
    return max(pit + over - to_trip + choked - pump * SCAN + brimming, 0.0), trip + to_trip - filled - brimming


@gives("bottom_absolute", "bottom_pressure", "influx_volume", "string_head")
def truths(
    stack_pressure: Pressure,
    to_bottom: Pressure,
    gas_volume: Volume,
    line_gas: Mass,
    line_rho: Density,
    riser_gas: Mass,
    riser_rho: Density,
    gradient: Gradient,
    depth: Length,
    below: Pressure,
) -> tuple[Pressure, Pressure, Volume, Pressure]:
    """True values for debrief: bottom pressure (absolute, gauge Pa), all gas (m3), weight of mud in the string (Pa).

    ``below`` is what kill mud in the string weighs more, Pa.
    """
    bottom = stack_pressure + to_bottom
    return (
        bottom,
        bottom - ATMOSPHERE,
        gas_volume + line_gas / line_rho + riser_gas / riser_rho,
        gradient * depth + below,
    )


@gives("drillpipe_pressure")
def drifting(pressure: Pressure, drift: Number, span: Pressure) -> Pressure:
    """What a gauge shows, Pa, that reads high by the share ``drift`` (0 to 1) of ``span`` (Pa)."""
    return pressure + drift * span


@gives("was", "casing_pressure")
def casing_gauge(
    was: Pressure, line_pressure: Pressure, share: Number, drift: Number, span: Pressure, parted: Number
) -> tuple[Pressure, Pressure]:
    """Choke-manifold gauge (Pa): follows the line by ``share`` each scan; the reading may drift.

    A line that has ``parted`` with the riser holds no pressure.
    """
    seen = was + share * ((max(line_pressure - ATMOSPHERE, 0.0) if parted < 0.5 else 0.0) - was)
    return seen, seen + drift * span


@gives("flow_in")
def stroke_flow(strokes: Frequency, output: Volume) -> Flow:
    """Pump flow (m3/s) as the stroke counter gives it, blind to a worn valve."""
    return strokes * output


@gives("was")
def paddle(was: Flow, run_over: Volume, share: Number, stuck: Number) -> Flow:
    """Flow-line sensor (m3/s) over ``run_over`` m3 a scan: follows slowly; a stuck one keeps its reading."""
    followed = was + share * (run_over / SCAN - was)
    # A paddle at rest is at rest: without this the reading would decay for ever.
    return was if stuck > 0.0 else (followed if followed > 1.0e-9 else 0.0)


@gives("was", "pit_gain", "base_bit")
def pit_sensor(
    was: Volume, pit: Volume, stuck: Number, base: Volume, bit: Length, base_bit: Length, lined_up: Number, pipe: Area
) -> tuple[Volume, Volume, Length]:
    """Pit level reading (m3), gain over the ``base`` set by the crew, and the bit depth (m) that belongs to the base.

    The totaliser takes off what the pipe displaced since then (``pipe`` m2 of steel and bore): picking up to space
    out would else hide half a barrel of gain. While the trip tank fills the hole, moved pipe does not touch the pit.
    A stuck float keeps its reading.
    """
    shown = was if stuck > 0.0 else pit
    moved = bit if lined_up > 0.5 else base_bit
    return shown, shown - base - pipe * (bit - moved), moved


@gives("was")
def standpipe(was: Pressure, surface: Pressure, connected: Number, strokes: Frequency, relief: Pressure) -> Pressure:
    """Standpipe gauge (Pa): the string's surface pressure while it is connected; a blocked pump sits at relief."""
    closed = relief if strokes > 0.0 else 0.0
    return was + 0.5 * ((max(surface, 0.0) if connected > 0.5 else closed) - was)


@gives("was")
def line_gauge(
    was: Pressure,
    stack_pressure: Pressure,
    riser_pressure: Pressure,
    head: Pressure,
    well: Number,
    riser: Number,
    closed_in: Pressure,
    parted: Number,
) -> Pressure:
    """Kill-line gauge (Pa): what the mud-filled line is open to (``well``, ``riser``, or a section ``closed_in`` at
    that pressure, 0 for none), else what was trapped in it, or nothing once the line has ``parted``."""
    source = stack_pressure if well > 0.5 else (riser_pressure if riser > 0.5 else closed_in)
    seen = max(source - head - ATMOSPHERE, 0.0) if parted < 0.5 else 0.0
    joined = well > 0.5 or riser > 0.5 or closed_in > 0.0 or parted > 0.5
    return was + 0.2 * (seen - was) if joined else was


@gives("friction")
def line_friction(stack: Pressure, line: Pressure, density: Density, fall: GravityHeight, path: Number) -> Pressure:
    """Pressure (Pa) lost between the stack and the choke, over the weight of what the line holds."""
    return max(stack - line - density * fall, 0.0) if path > 0.5 else 0.0


@gives("sealed")
def sealed(
    area: Number, to_riser: Flow, path: Number, k_choke: Coefficient, from_string: Flow, vented: Number
) -> Number:
    """1 when nothing leaves the well: bore shut and tight, choke line or choke shut, string not open to the floor.

    ``path`` 1: the choke line is open to the well.
    """
    bore = area < 0.001 and abs(to_riser) < 2.0e-5
    line = path < 0.5 or k_choke < 1.0e-9
    pipe = vented < 0.5 or abs(from_string) < 2.0e-5
    return 1.0 if bore and line and pipe else 0.0
