"""Kill-sheet arithmetic in field units, with the trade's own rounded constants: what a right crew reckons with.

Unlike the rest, this module works in psi, ft, lb/gal, bbl and inches: 0.052 and 1029.4 are part of the
answer that a crew's sheet shows, and SI in between would give other digits. Letters follow the sheets:
SIDPP and SICP are the shut-in pressures on drill pipe and casing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

GRADIENT = 0.052  # psi/ft for each lb/gal
CAPACITY = 1029.4  # in2 ft in a barrel: diameter squared over it gives bbl/ft


def hydrostatic(weight: float, depth: float) -> float:
    """Pressure in psi of a column of mud: 0.052 lb/gal ft (true vertical). Lapeyrouse, ch. 1.

    >>> round(hydrostatic(13.5, 12_000))
    8424
    """
    return GRADIENT * weight * depth


def pipe_capacity(inside: float) -> float:
    """Capacity of a pipe or open hole in bbl/ft; ``inside`` diameter in inches: d^2 / 1029.4."""
    return inside * inside / CAPACITY


def annular_capacity(hole: float, pipe: float) -> float:
    """Capacity of the annulus in bbl/ft; diameters in inches: (Dh^2 - Dp^2) / 1029.4.

    ValueError when the pipe does not fit.

    >>> round(annular_capacity(8.5, 5), 4)
    0.0459
    """
    if not 0.0 <= pipe < hole:
        raise ValueError(f"a pipe of {pipe:g} in does not fit a hole of {hole:g} in: check the diameters")
    return (hole * hole - pipe * pipe) / CAPACITY


def formation_pressure(sidpp: float, weight: float, depth: float) -> float:
    """Formation pressure in psi: SIDPP plus the mud column in the string, whose weight is known.

    >>> round(formation_pressure(450, 12.0, 9500))
    6378
    """
    return sidpp + hydrostatic(weight, depth)


def kill_weight(sidpp: float, weight: float, depth: float) -> float:
    """Mud weight in lb/gal that balances the formation: SIDPP / 0.052 / TVD + present weight.

    >>> round(kill_weight(450, 12.0, 9500), 2)
    12.91
    """
    return sidpp / GRADIENT / depth + weight


def rounded_up(weight: float) -> float:
    """A mud weight as it is mixed: up to the next tenth of lb/gal, so that it never falls short.

    >>> rounded_up(12.911), rounded_up(13.0)
    (13.0, 13.0)
    """
    return math.ceil(weight * 10.0 - 1e-9) / 10.0


def influx_height(gain: float, capacity: float) -> float:
    """Height in ft of an influx of ``gain`` bbl in an annulus of ``capacity`` bbl/ft. IADC formula sheet, 18.

    >>> round(influx_height(25, 0.0459), 2)
    544.66
    """
    return gain / capacity


def influx_gradient(weight: float, sidpp: float, sicp: float, height: float) -> float:
    """Gradient in psi/ft of the influx: 0.052 weight - (SICP - SIDPP) / height. IADC formula sheet, 19.

    ValueError when the readings contradict each other: a negative gradient, or one above the mud's, is no
    influx.

    >>> round(influx_gradient(12.0, 450, 600, 544.66), 4)
    0.3486
    """
    mud = GRADIENT * weight
    gradient = mud - (sicp - sidpp) / height
    if gradient < 0.0:
        raise ValueError(
            f"these readings do not fit together: an influx {height:.0f} ft high cannot lift SICP "
            f"{sicp - sidpp:g} psi above SIDPP in {weight:g} lb/gal mud (gradient {gradient:.3f} psi/ft); "
            "read both gauges again, and check pit gain and hole size"
        )
    if gradient > mud:
        raise ValueError(
            f"these readings do not fit together: SICP {sicp:g} psi below SIDPP {sidpp:g} psi "
            "means an influx heavier than the mud; read both gauges again, and check for trapped pressure"
        )
    return gradient


def casing_pressure(sidpp: float, height: float, mud_gradient: float, influx: float) -> float:
    """SICP in psi that an influx of ``height`` ft and ``influx`` psi/ft gives. IADC formula sheet, 6.

    >>> round(casing_pressure(450, 500, 0.624, 0.10))
    712
    """
    return sidpp + height * (mud_gradient - influx)


def maasp(leak_off: float, test_weight: float, shoe: float, weight: float) -> float:
    """Maximum allowable annular surface pressure in psi with ``weight`` lb/gal in the hole.

    ``leak_off`` psi at surface was read with ``test_weight`` lb/gal, casing ``shoe`` at ft (true vertical).

    >>> round(maasp(1000, 9.5, 4500, 12.0))
    415
    """
    return leak_off - hydrostatic(weight - test_weight, shoe)


def initial_circulating(slow_pump: float, sidpp: float) -> float:
    """Drill-pipe pressure in psi when circulation starts at kill rate: slow-pump pressure plus SIDPP.

    >>> initial_circulating(650, 530)
    1180
    """
    return slow_pump + sidpp


def final_circulating(slow_pump: float, kill: float, weight: float) -> float:
    """Drill-pipe pressure in psi with kill mud at the bit: slow-pump pressure times the weights' ratio.

    >>> round(final_circulating(650, kill_weight(530, 14.1, 12_366), 14.1))
    688
    """
    return slow_pump * kill / weight


def gas_casing_pressure(formation: float, gain: float, kill: float, capacity: float) -> float:
    """Highest casing pressure in psi from gas in water-based mud: 0.2 sqrt(P V W / C).

    P formation pressure psi, V pit gain bbl, W kill weight lb/gal, C annular capacity bbl/ft. A rule of
    thumb.

    >>> round(gas_casing_pressure(6378, 25, 13.0, 0.0459))
    1344
    """
    return 0.2 * math.sqrt(formation * gain * kill / capacity)


def migration_rate(rise: float, mud_gradient: float) -> float:
    """Speed in ft/h of a bubble in a shut-in well whose pressure rises by ``rise`` psi/h.

    ``mud_gradient`` in psi/ft; the bubble is taken not to expand.

    >>> round(migration_rate(400, 0.65), 1)
    615.4
    """
    return rise / mud_gradient


def boyle_volume(volume: float, pressure: float, new_pressure: float) -> float:
    """Volume of an ideal gas at a new absolute pressure, same temperature; any one unit each.

    >>> round(boyle_volume(1, 3000, 14.7))
    204
    """
    return volume * pressure / new_pressure


def gain_pressure_loss(weight: float, hole: float, pipe: float, gain: float) -> float:
    """Bottom-hole pressure lost in psi when ``gain`` bbl of mud left the annulus for weightless gas.

    >>> round(gain_pressure_loss(13, 8.5, 6, 15))
    288
    """
    return hydrostatic(weight, influx_height(gain, annular_capacity(hole, pipe)))


@dataclass(frozen=True, slots=True)
class KillSheet:
    """The figures a crew writes down before it circulates; psi, lb/gal, ft, strokes."""

    formation: float
    kill_weight: float
    mixed_weight: float
    initial: float
    final: float
    strokes_to_bit: int
    strokes_bit_to_surface: int
    steps: tuple[tuple[int, float], ...]


def kill_sheet(
    sidpp: float,
    weight: float,
    true_depth: float,
    slow_pump: float,
    string_volume: float,
    annulus_volume: float,
    output: float,
) -> KillSheet:
    """The sheet for the wait-and-weight method.

    SIDPP and slow-pump pressure in psi, mud ``weight`` in lb/gal, ``true_depth`` in ft, volumes in bbl,
    pump ``output`` in bbl/stroke. ``steps`` are ten even steps (strokes, drill-pipe psi) from initial to
    final circulating pressure while kill mud goes down a vertical string. ValueError when an input is not
    above zero.
    """
    if not all(v > 0.0 for v in (sidpp, weight, true_depth, slow_pump, string_volume, annulus_volume, output)):
        raise ValueError("every figure of a kill sheet must be above zero: check readings, volumes and pump output")
    kill = kill_weight(sidpp, weight, true_depth)
    first, last = initial_circulating(slow_pump, sidpp), final_circulating(slow_pump, kill, weight)
    down = string_volume / output
    steps = tuple((round(down * n / 10), first + (last - first) * n / 10) for n in range(11))
    return KillSheet(
        formation=formation_pressure(sidpp, weight, true_depth),
        kill_weight=kill,
        mixed_weight=rounded_up(kill),
        initial=first,
        final=last,
        strokes_to_bit=math.ceil(down),
        strokes_bit_to_surface=math.ceil(annulus_volume / output),
        steps=steps,
    )
