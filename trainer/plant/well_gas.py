"""Influx gas: one body of gas that enters at the bottom, is carried and slips upward, and expands.

The body is described by its mass, its top and its bottom; between them gas is spread evenly. With the pumps off it
is a slug of pure gas, with the pumps on a mixture: the share of gas is volume / room between top and bottom, and the
mud column loses the same head either way, volume / annular area. That is the handbooks' influx height.

Gas law: real methane (``trainer.fluids.methane``), followed by one Newton step a scan: pressures in a well move
little in 0.1 s, and what is left over is caught up in the next scan. Left out: gas dissolved in the mud, gas ahead of
or behind the body, bubbles of several sizes, heat exchange (gas has the temperature of the rock beside it).
"""

from __future__ import annotations

from trainer.constants import GRAVITY, SCAN
from trainer.fluids.methane import methane_pressure
from trainer.hydraulics.ports import gives
from trainer.plant.well_geometry import area_at, volume_to
from trainer.units import (
    Area,
    Compliance,
    Density,
    Flow,
    Gradient,
    Length,
    Mass,
    Number,
    Pressure,
    Temperature,
    Velocity,
    Volume,
)

LEAST_DENSITY = 0.3
"""kg/m3 of gas at least: methane at some half an atmosphere. Ours, for division."""
MOST_DENSITY = 330.0
"""kg/m3 of gas at most: methane near 1,000 bar. Ours: no well here goes beyond."""
# Density moves at most by this share a scan, so that gas breaking out at the surface does not arrive all at once.
MOST_CHANGE = 0.1
# Below this mass (kg) there is no body to follow: its marks wait at the entry.
LEAST_MASS = 1.0e-6
LEAST_ROOM = 1.0e-9
"""m3 under which there is no room to speak of. Ours, for division."""


def gas_state(rho: float, temperature: float, pressure: float) -> tuple[float, float]:
    """Follow the gas's density: returns density (kg/m3) and isothermal compressibility (1/Pa).

    ``rho`` is last scan's density, ``temperature`` in K, ``pressure`` absolute Pa.
    """
    found, slope = methane_pressure(rho, temperature)
    wanted = rho + (pressure - found) / slope
    slow = min(max(wanted, rho * (1.0 - MOST_CHANGE)), rho * (1.0 + MOST_CHANGE))
    held = min(max(slow, LEAST_DENSITY), MOST_DENSITY)
    return held, 1.0 / (held * slope)


@gives("rho")
def gas_state_at(rho: Density, temperature: Temperature, pressure: Pressure) -> Density:
    """The density alone, kg/m3, that ``gas_state`` gives from ``rho``, temperature (K) and pressure (Pa)."""
    density, _ = gas_state(rho, temperature, pressure)
    return density


def rock_temperature(depth: float, stack: float, upper: float, bottom: float, lower: float) -> float:
    """Temperature in K beside the gas: ``upper`` at the preventers, ``lower`` at ``bottom``, straight between."""
    share = min(max((depth - stack) / max(bottom - stack, 1.0), 0.0), 1.0)
    return upper + share * (lower - upper)


def gas_column(
    top: float,
    bottom: float,
    volume: float,
    bit: float,
    stack: float,
    shoe: float,
    collar_length: float,
    cased: float,
    open_hole: float,
    pipe: float,
    collar: float,
) -> tuple[float, float, float]:
    """How gas of ``volume`` m3 between ``top`` and ``bottom`` (m) fills its room.

    Returns the height of mud column that it replaces (m), the share of gas in the mixture (0 to 1) and the room
    between top and bottom (m3).
    """
    low = volume_to(bottom, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    high = volume_to(top, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    room = low - high
    filled = max(max(room, volume), LEAST_ROOM)
    share = volume / filled
    return share * (bottom - top), share, room


@gives("rho", "gas_volume", "gas_squeeze", "gas_height", "share_was", "gas_room")
def gas_in_well(
    mass: Mass,
    rho: Density,
    share_was: Number,
    top: Length,
    bottom: Length,
    stack_pressure: Pressure,
    mud_gradient: Gradient,
    upper: Temperature,
    lower: Temperature,
    bit: Length,
    hole_depth: Length,
    stack: Length,
    shoe: Length,
    collar_length: Length,
    cased: Area,
    open_hole: Area,
    pipe: Area,
    collar: Area,
) -> tuple[Density, Volume, Compliance, Length, Number, Volume]:
    """The gas below the preventers at this scan's pressure, taken at the middle of its body.

    ``mass`` kg, ``rho`` kg/m3 and ``share_was`` of last scan, ``stack_pressure`` absolute Pa under the preventers,
    ``mud_gradient`` Pa/m, ``upper`` and ``lower`` temperatures in K at preventers and bottom. Returns density, volume
    (m3), how much the volume shrinks with pressure (m3/Pa), height of mud replaced (m),
    share of gas in the mixture, room (m3).
    """
    height_was = bottom - top
    middle = 0.5 * (top + bottom)
    load = mud_gradient * (1.0 - share_was) + share_was * GRAVITY * rho
    pressure = stack_pressure + mud_gradient * (top - stack) + 0.5 * height_was * load
    temperature = rock_temperature(middle, stack, upper, hole_depth, lower)
    density, squeeze = gas_state(rho, temperature, pressure)
    volume = mass / density
    height, share, room = gas_column(
        top, bottom, volume, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar
    )
    return density, volume, volume * squeeze, height, share, room


@gives("top", "bottom")
def gas_motion(
    mass: Mass,
    gained: Mass,
    volume: Volume,
    room: Volume,
    top: Length,
    bottom: Length,
    bore_flow: Flow,
    line_flow: Flow,
    string_flow: Flow,
    in_well: Number,
    slip: Velocity,
    entry: Length,
    bit: Length,
    stack: Length,
    shoe: Length,
    collar_length: Length,
    cased: Area,
    open_hole: Area,
    pipe: Area,
    collar: Area,
) -> tuple[Length, Length]:
    """New top and bottom (m) of the gas after a scan.

    Both are carried by the flow (m3/s) that leaves above and that comes from the bit below, and slip upward
    (m/s); gas that enters draws the bottom back to the
    ``entry`` depth in proportion to its mass ``gained`` (kg); and the room never gets smaller than the gas.
    """
    over = area_at(top, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    under = area_at(bottom, bit, stack, shoe, collar_length, cased, open_hole, pipe, collar)
    present = mass > LEAST_MASS
    flow_above = bore_flow + line_flow
    flow_below = string_flow if in_well > 0.5 and bottom <= bit else 0.0
    drawn = min(2.0 * gained / max(mass, LEAST_MASS), 1.0)
    rise_top = SCAN * (flow_above / over + slip)
    rise_bottom = SCAN * (max(flow_below, 0.0) / under + slip)
    moved_bottom = min(bottom - rise_bottom + (entry - bottom) * drawn, max(entry, stack))
    lifted = (bottom - moved_bottom) * under
    moved_top = max(min(top - rise_top, moved_bottom), stack)
    short = max(volume - (room + (top - moved_top) * over - lifted), 0.0)
    pushed_top = max(moved_top - short / over, stack)
    still_short = max(short - (moved_top - pushed_top) * over, 0.0)
    pushed_bottom = min(moved_bottom + still_short / under, max(entry, stack))
    held_bottom = max(pushed_bottom, pushed_top)
    return (pushed_top if present else entry), (held_bottom if present else entry)
