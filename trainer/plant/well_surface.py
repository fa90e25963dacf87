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

# Gas this near the flow line (m) leaves with the returns.
MOUTH = 0.5
SEA_DEGREES = 285.0
# Share of the mud left in a parted riser that falls out in a scan: most is gone after ten
# seconds (0.97^100 = 5 %). Invented.
FALLS = 0.03


@gives("mud", "gas", "rho", "top", "bottom", "pressure", "run_over", "gas_over", "filled")
def riser_step(
    mud: float,
    gas: float,
    rho: float,
    top: float,
    bottom: float,
    mud_in: float,
    beside: float,
    gas_in: float,
    flow_in: float,
    pressure: float,
    stack: float,
    area: float,
    room: float,
    gradient: float,
    slip: float,
    lined_up: float,
    trip: float,
    fill: float,
    parted: float,
) -> tuple[float, float, float, float, float, float, float, float, float]:
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
def fall_out(mud: float, gas: float, pressure: float, parted: float, sea: float) -> tuple[float, float, float, float]:
    """Riser that has ``parted`` from the stack: its mud (m3) and gas (kg) are lost, and the well feels ``sea``.

    Returns mud and gas left, the pressure that stands on the well (absolute Pa), and the mud lost in this scan (m3).
    """
    gone = (mud if mud < 1.0e-3 else FALLS * mud) if parted > 0.5 else 0.0
    return mud - gone, (0.0 if parted > 0.5 else gas), (sea if parted > 0.5 else pressure), gone


@gives("over", "flow", "lost", "spilled")
def outlets(
    over: float, gas_over: float, outlet: float, fallen: float, flow: float, lost: float, spilled: float, share: float
) -> tuple[float, float, float, float]:
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
def under_packer(stack_pressure: float, outlet: float, parted: float, area: float, head: float) -> float:
    """Pressure (gauge Pa) at the top of a riser full of mud (``head`` Pa) from which nothing gets out."""
    held = outlet < 0.5 and parted < 0.5 and area > 0.0
    return max(stack_pressure - ATMOSPHERE - head, 0.0) if held else 0.0


@gives("pit", "trip")
def tanks_step(
    pit: float, trip: float, lined_up: float, over: float, choked: float, pump: float, filled: float, capacity: float
) -> tuple[float, float]:
    """Pit and trip tank (m3) after a scan: mud run ``over`` and ``choked`` come in, ``filled`` goes to the hole (m3).

    ``pump`` is the flow (m3/s) that the mud pumps draw from the pit. The trip tank's own overflow runs to the pit.
    """
    to_trip = over if lined_up > 0.5 else 0.0
    brimming = max(trip + to_trip - filled - capacity, 0.0)
    return max(pit + over - to_trip + choked - pump * SCAN + brimming, 0.0), trip + to_trip - filled - brimming


@gives("bottom_absolute", "bottom_pressure", "influx_volume", "string_head")
def truths(
    stack_pressure: float,
    to_bottom: float,
    gas_volume: float,
    line_gas: float,
    line_rho: float,
    riser_gas: float,
    riser_rho: float,
    gradient: float,
    depth: float,
    below: float,
) -> tuple[float, float, float, float]:
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
def drifting(pressure: float, drift: float, span: float) -> float:
    """A gauge that reads high by the share ``drift`` of ``span``."""
    return pressure + drift * span


@gives("was", "casing_pressure")
def casing_gauge(
    was: float, line_pressure: float, share: float, drift: float, span: float, parted: float
) -> tuple[float, float]:
    """Choke-manifold gauge (Pa): follows the line by ``share`` each scan; the reading may drift.

    A line that has ``parted`` with the riser holds no pressure.
    """
    seen = was + share * ((max(line_pressure - ATMOSPHERE, 0.0) if parted < 0.5 else 0.0) - was)
    return seen, seen + drift * span


@gives("flow_in")
def stroke_flow(strokes: float, output: float) -> float:
    """Pump flow (m3/s) as the stroke counter gives it, blind to a worn valve."""
    return strokes * output


@gives("was")
def paddle(was: float, run_over: float, share: float, stuck: float) -> float:
    """Flow-line sensor (m3/s) over ``run_over`` m3 a scan: follows slowly; a stuck one keeps its reading."""
    followed = was + share * (run_over / SCAN - was)
    # A paddle at rest is at rest: without this the reading would decay for ever.
    return was if stuck > 0.0 else (followed if followed > 1.0e-9 else 0.0)


@gives("was", "pit_gain", "base_bit")
def pit_sensor(
    was: float, pit: float, stuck: float, base: float, bit: float, base_bit: float, lined_up: float, pipe: float
) -> tuple[float, float, float]:
    """Pit level reading (m3), gain over the ``base`` set by the crew, and the bit depth (m) that belongs to the base.

    The totaliser takes off what the pipe displaced since then (``pipe`` m2 of steel and bore): picking up to space
    out would else hide half a barrel of gain. While the trip tank fills the hole, moved pipe does not touch the pit.
    A stuck float keeps its reading.
    """
    shown = was if stuck > 0.0 else pit
    moved = bit if lined_up > 0.5 else base_bit
    return shown, shown - base - pipe * (bit - moved), moved


@gives("was")
def standpipe(was: float, surface: float, connected: float, strokes: float, relief: float) -> float:
    """Standpipe gauge (Pa): the string's surface pressure while it is connected; a blocked pump sits at relief."""
    closed = relief if strokes > 0.0 else 0.0
    return was + 0.5 * ((max(surface, 0.0) if connected > 0.5 else closed) - was)


@gives("was")
def line_gauge(
    was: float,
    stack_pressure: float,
    riser_pressure: float,
    head: float,
    well: float,
    riser: float,
    closed_in: float,
    parted: float,
) -> float:
    """Kill-line gauge (Pa): what the mud-filled line is open to (``well``, ``riser``, or a section ``closed_in`` at
    that pressure, 0 for none), else what was trapped in it, or nothing once the line has ``parted``."""
    source = stack_pressure if well > 0.5 else (riser_pressure if riser > 0.5 else closed_in)
    seen = max(source - head - ATMOSPHERE, 0.0) if parted < 0.5 else 0.0
    joined = well > 0.5 or riser > 0.5 or closed_in > 0.0 or parted > 0.5
    return was + 0.2 * (seen - was) if joined else was


@gives("friction")
def line_friction(stack: float, line: float, density: float, fall: float, path: float) -> float:
    """Pressure (Pa) lost between the stack and the choke, over the weight of what the line holds."""
    return max(stack - line - density * fall, 0.0) if path > 0.5 else 0.0


@gives("sealed")
def sealed(area: float, to_riser: float, path: float, k_choke: float, from_string: float, vented: float) -> float:
    """1 when nothing leaves the well: bore shut and tight, choke line or choke shut, string not open to the floor.

    ``path`` 1: the choke line is open to the well.
    """
    bore = area < 0.001 and abs(to_riser) < 2.0e-5
    line = path < 0.5 or k_choke < 1.0e-9
    pipe = vented < 0.5 or abs(from_string) < 2.0e-5
    return 1.0 if bore and line and pipe else 0.0
