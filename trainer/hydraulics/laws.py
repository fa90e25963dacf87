"""Flow laws: flow through one element from the pressures at its ends.

Each law takes the pressures ``pu`` and ``pd`` (Pa, absolute, upstream and downstream as drawn) and its own
parameters, and returns ``(q, gu, gd)``: the flow from upstream to downstream in m3/s and the slopes for the solver,
``gu`` towards dq/dpu and ``gd`` towards -dq/dpd in m3/(s Pa), both never negative. Written in the restricted subset of
``trainer.hydraulics.inline``.

The square-root laws are smoothed below ``BAND`` of pressure difference, where the turbulent law's slope would be
infinite; at 100 times the band the smoothing changes the flow by half a per cent, at 1000 times by 0.05 per cent.

Their slope is taken half-way (``LEAN``) between the tangent, q / 2 dp, and the secant, q / dp. Newton's rule with the
tangent of a square root steps from +dp to -dp for ever where two nodes come to rest on each other; with the secant it
is slow where a flow is given. Half-way, either error falls to a third each time. The solved pressures are the same.
"""

from __future__ import annotations

from math import sqrt

from trainer.units import Coefficient, Conductance, Flow, Number, Pressure, Volume

BAND = 2.0e3
"""Pa (0.3 psi) below which a square-root law is smoothed. Ours: under what any gauge here shows."""
CHECK_BAND = 1.0e4
"""Pa (1.5 psi) over which a check valve opens fully. Ours; a light spring."""
LEAN = 0.75
"""A slope as a share of the secant: half-way between the tangent's 0.5 and the secant's 1. See above."""
READY = 0.02
"""Share of its band within which a closed regulator counts as about to open. Ours."""


def orifice(pu: Pressure, pd: Pressure, k: Coefficient) -> tuple[float, float, float]:
    """Turbulent orifice, either way: q = k sqrt(dp), k in m3/(s sqrt(Pa)).

    Source: the orifice equation of IEC 60534-2-1 (incompressible), with k = Cd A sqrt(2 / density).

    >>> q, gu, gd = orifice(2.0e6, 1.0e6, 1.0e-6)
    >>> round(q, 6)
    0.000999
    """
    dp = pu - pd
    size = abs(dp)
    root = sqrt(size + BAND)
    q = k * dp / root
    g = k * (LEAN * size + BAND) / (root * (size + BAND))
    return q, g, g


def ahead(dp: float, k: float) -> tuple[float, float]:
    """Flow and slope of an orifice that lets through forwards only: both nothing where ``dp`` is negative.

    The slope is the secant to no flow, so that a solved step does not land beyond it, where there is no slope at all.
    """
    forward = max(dp, 0.0)
    slope = k / sqrt(forward + BAND)
    return forward * slope, (slope if dp > 0.0 else 0.0)


def laminar(pu: Pressure, pd: Pressure, g: Conductance) -> tuple[float, float, float]:
    """Laminar line: q = g dp, with g = pi d^4 / (128 viscosity length) (Hagen-Poiseuille)."""
    q = g * (pu - pd)
    return q, g, g


def check(pu: Pressure, pd: Pressure, k: Coefficient, crack: Pressure, leak: Coefficient) -> tuple[float, float, float]:
    """Check valve: opens over ``CHECK_BAND`` above its cracking pressure; ``leak`` (m3/(s sqrt(Pa))) passes back.

    The soft opening q = k x^2 / (x + band)^1.5 with x = dp - crack has no kink at x = 0.
    """
    dp = pu - pd
    x = dp - crack
    opening = max(x, 0.0)
    span = opening + CHECK_BAND
    root = sqrt(span)
    cube = root * span
    q_open = k * opening * opening / cube
    g_open = k * opening * (0.5 * opening + 2.0 * CHECK_BAND) / (cube * span)
    back = max(-dp, 0.0)
    back_root = sqrt(back + BAND)
    passing = leak if dp < 0.0 else 0.0
    q = q_open - passing * back / back_root
    g = g_open + passing * (LEAN * back + BAND) / (back_root * (back + BAND))
    return q, g, g


def checked_pump(pu: Pressure, pd: Pressure, rate: Flow, slip: Conductance, wet: Number) -> tuple[float, float, float]:
    """Positive-displacement pump behind its discharge check valve.

    ``rate`` m3/s at no load, ``slip`` m3/(s Pa) past the plungers, ``wet`` 1 with the suction flooded, 0 when dry.
    Flow never reverses: the check valve holds.
    """
    load = pd - pu
    q_full = (rate - slip * load) * wet
    runs = q_full > 0.0
    q = q_full if runs else 0.0
    g = slip * wet if runs else 0.0
    return q, g, g


def stalling_pump(pu: Pressure, pd: Pressure, rate: Flow, stall: Pressure, wet: Number) -> tuple[float, float, float]:
    """Air-driven pump: its rate falls in a straight line with the pressure it works against, to nothing at stall."""
    load = pd - pu
    room = max(stall, 1.0)
    q_full = rate * wet * (1.0 - load / room)
    runs = q_full > 0.0 and stall > 1.0
    q = min(q_full, rate) if runs else 0.0
    g = rate * wet / room if runs else 0.0
    return q, g, g


def relief(pu: Pressure, pd: Pressure, k: Coefficient, opens: Pressure, band: Pressure) -> tuple[float, float, float]:
    """Relief valve: shut below ``opens`` (Pa across the valve), full open ``band`` above it."""
    dp = pu - pd
    lift = min(max((dp - opens) / band, 0.0), 1.0)
    through, slope = ahead(dp, k)
    moving = 1.0 if lift > 0.0 and lift < 1.0 else 0.0
    g = lift * slope + moving * through / band
    return lift * through, g, g


def regulator(
    pu: Pressure, pd: Pressure, k: Coefficient, setting: Pressure, band: Pressure
) -> tuple[float, float, float]:
    """Pressure-reducing regulator: wide open ``band`` below its setting, shut at it.

    A check valve round the spool lets the reduced line empty back when the supply falls away (common practice).

    The spool is taken as fast against a tick, so its droop (``band``) is what a crew sees under flow. ``gd`` holds the
    secant to shut-off at the setting, not the tangent of a wide-open spool, and the opening slope when it has only just
    shut: the solved step then neither overshoots the setting nor finds the spool shut when the line is drawn on. The
    difference from the tangent vanishes with the tick.
    """
    short = max(setting - pd, 0.0)
    lift = min(short / band, 1.0)
    through, slope = ahead(pu - pd, k)
    back, back_slope = ahead(pd - pu, k)
    gu = lift * slope + back_slope
    about_to_open = through / band if pd < setting + READY * band else 0.0
    gd = gu + (lift * through / short if short > 0.0 else about_to_open)
    return lift * through - back, gu, gd


def bottle_port(pu: Pressure, pd: Pressure, k: Coefficient, fluid: Volume, last: Volume) -> tuple[float, float, float]:
    """Neck of an accumulator: fluid enters freely; the last of it (``last`` m3) chokes the way out.

    ``pd`` is the bottles' pressure and ``fluid`` what they hold: as the bladder meets the poppet the port closes, so
    precharge never drives the bottles below empty.
    """
    dp = pu - pd
    left = min(max(fluid / last, 0.0), 1.0)
    share = 1.0 if dp > 0.0 else left
    size = abs(dp)
    root = sqrt(size + BAND)
    q = k * share * dp / root
    g = k * share * (LEAN * size + BAND) / (root * (size + BAND))
    return q, g, g


def drain(pu: Pressure, pd: Pressure, k: Coefficient, fluid: Volume, last: Volume) -> tuple[float, float, float]:
    """Orifice that only lets out, and less of the last ``last`` m3 (a bleed to tank, a leak, an open hose)."""
    left = min(max(fluid / last, 0.0), 1.0)
    through, slope = ahead(pu - pd, k)
    return left * through, left * slope, left * slope


def piston(
    pc: Pressure,
    po: Pressure,
    g: Conductance,
    ratio: Number,
    against: Pressure,
    hold_close: Pressure,
    hold_open: Pressure,
    x: Number,
    limit: Number,
    cushion: Number,
    room: Flow,
) -> tuple[float, float, float]:
    """Double-acting piston: flow out of the closing chamber into its swept volume, m3/s.

    Net closing pressure is pc - ratio po - against; ``hold_close`` and ``hold_open`` (Pa) are the friction that each
    motion has to overcome. ``g`` m3/(s Pa) is the viscous freedom of the piston, ``ratio`` = opening area / closing
    area: the opening chamber receives ``ratio`` times the result. ``x`` runs from 0 (open) to 1 (closed) and stops at
    ``limit``; the last ``cushion`` of the stroke slows the piston, and no more than ``room`` (m3/s, the whole stroke in
    a tick) times what is left may pass, so that it cannot overrun its stop.
    """
    net = pc - ratio * po - against
    drive = net - hold_close if net > hold_close else (net + hold_open if net < -hold_open else 0.0)
    left = max(limit - x, 0.0) if drive > 0.0 else max(x, 0.0)
    ease = g * min(left / cushion, 1.0)
    q_free = ease * drive
    most = room * left
    q = max(min(q_free, most), -most)
    gu = ease if drive != 0.0 and q == q_free else 0.0
    return q, gu, gu * ratio


def opened(pu: Pressure, pd: Pressure, k: Coefficient, x: Number) -> tuple[float, float, float]:
    """Orifice of a valve that is ``x`` open (0 to 1): coefficient ``k`` (m3/(s sqrt(Pa))) times ``x``."""
    q, gu, gd = orifice(pu, pd, k * x)
    return q, gu, gd


def opened_check(
    pu: Pressure, pd: Pressure, k: Coefficient, x: Number, leak: Coefficient
) -> tuple[float, float, float]:
    """A valve ``x`` open in series with a check valve that leaks back by ``leak``."""
    q, gu, gd = check(pu, pd, k * x, 0.0, leak)
    return q, gu, gd


def venting(
    pu: Pressure, pd: Pressure, k: Coefficient, setting: Pressure, band: Pressure
) -> tuple[float, float, float]:
    """The relieving side of a regulator: lets out of the reduced line when it stands above ``setting`` + ``band``."""
    over = pu - setting - band
    lift = min(max(over / band, 0.0), 1.0)
    through, slope = ahead(pu - pd, k)
    moving = 1.0 if lift > 0.0 and lift < 1.0 else 0.0
    gd = lift * slope
    return lift * through, gd + moving * through / band, gd
