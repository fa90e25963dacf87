"""The bore in sections between closed preventers, as each choke and kill outlet meets them.

An outlet stands at its own height. What it is open to follows from the preventers that seal under it and over it: the
well, the riser, or a section closed on both sides, which keeps the pressure that it was closed in with. A closed
section holds a few gallons, so a line opened to it brings both to one pressure with hardly any flow: its gauge then
reads what is trapped there, and nothing of the well. A line with one outlet under a seal and one above it leads the
well past that seal.

Left out: gas that stands in a closed section; the weight of the mud between an outlet and the middle of the stack,
which the line outside balances.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.constants import ATMOSPHERE
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import state_reading
from trainer.plant.functions import YES, Function
from trainer.plant.space_out import PREVENTERS
from trainer.units import Coefficient, Compliance, Density, GravityHeight, Number, Pressure, Volume

LINES = ("choke", "kill")
OPEN = 0.7
"""Opening of both valves of a pair from which a line counts as lined up."""
AROUND = 1.0e-4
"""What a line that lies open on both sides of a seal lets past it, m3/(s sqrt(Pa)): a 3 in line. Invented."""
MOST_SHARE = 0.2
"""A flow out of a line takes at most this share of what it holds in one scan."""


def gone(function: Function) -> str:
    """The variable that is 1 once a preventer no longer stands on the well: parted above it, or unlatched below."""
    return "bore.disconnected" if function.place == "riser_package" else "bore.wellhead_open"


def pairs(functions: Sequence[Function], line: str) -> list[tuple[Function, Function]]:
    """The valves of a line, inner and outer of each outlet; a single one stands alone."""
    valves = [f for f in functions if f.line == line]
    return [(valves[at], valves[min(at + 1, len(valves) - 1)]) for at in range(0, len(valves), 2)]


def outlets(functions: Sequence[Function]) -> dict[float, str]:
    """The outlets of the bore, by their height under the upper pipe ram (m), from the top: each one's name."""
    heights = sorted({inner.below for line in LINES for inner, _ in pairs(functions, line)})
    return {height: f"outlet_{at}" for at, height in enumerate(heights, start=1)}


def declare_sections(net: Network, functions: Sequence[Function], at_rest: float) -> None:
    """Add the sections' state; ``at_rest`` is the pressure of the mud in the stack, absolute Pa."""
    for line in LINES:
        meaning = f"The {line} line is open to the well: valves open, no sealing preventer between outlet and well."
        state_reading(net, f"{line}_line.sees_well", YES, meaning, ())
        net.var(f"{line}_line.sees_riser")
        net.var(f"{line}_line.closed_in", 0.0, "Pa")
    for outlet in outlets(functions).values():
        net.var(f"{outlet}.p", at_rest, "Pa")
        net.var(f"{outlet}.extra", 0.0, "m3")
        for side in ("under", "over"):
            net.var(f"{outlet}.{side}")


def build_sections(net: Network, functions: Sequence[Function], area: float, soft: float, fall: float) -> None:
    """Fold preventers and valves into what each line is open to, and let closed sections meet the choke line.

    ``area`` m2 of the bore, ``soft`` 1/Pa of the mud, ``fall`` gravity times the height of the choke line (m2/s2).
    """
    names = outlets(functions)
    preventers = [f for f in functions if f.kind in PREVENTERS]
    for height, outlet in names.items():
        net.block(none_yet, outputs=under(outlet, "under", "over"))
        for f in preventers:
            side = f"{outlet}.under" if f.below > height else f"{outlet}.over"
            net.block(shuts_off, inputs=dict(sealing=f"{f.id}.sealing", away=gone(f)), states=dict(shut=side))
        net.block(
            section,
            inputs=dict(**under(outlet, "under", "over"), well="well.stack_pressure", riser="well.riser_pressure"),
            states=dict(
                p=f"{outlet}.p", extra=f"{outlet}.extra", annulus_mud="well.annulus_mud", riser_mud="well.riser_mud"
            ),
        )
    for line in LINES:
        sees, riser, held = f"{line}_line.sees_well", f"{line}_line.sees_riser", f"{line}_line.closed_in"
        net.block(nothing_seen, outputs=dict(sees=sees, riser=riser, held=held))
        for inner, outer in pairs(functions, line):
            at = names[inner.below]
            lined = dict(inner=f"{inner.id}.x", outer=f"{outer.id}.x", parted="bore.disconnected")
            if line == "choke":
                heights = [abs(f.below - inner.below) for f in preventers]
                room = soft * area * 2.0 * max(min(heights, default=1.0), 0.5)
                net.block(
                    meets,
                    inputs=dict(
                        **under(at, "under", "over"),
                        **under("well", "line_pressure", "line_density", "line_compliance"),
                        **lined,
                        room=room,
                        fall=fall,
                    ),
                    states=dict(**under(at, "p", "extra"), line_mud="well.line_mud"),
                )
            net.block(
                looks,
                inputs=dict(**lined, **under(at, "under", "over", "p")),
                states=dict(well=sees, riser=riser, held=held),
            )
        net.block(around, inputs=dict(well=sees, riser=riser, area="bore.area"), states=dict(leak="bore.leak"))


@gives("under", "over")
def none_yet() -> tuple[Number, Number]:
    """Before the preventers are gone through: the two flags for a seal under and over an outlet, both 0."""
    return 0.0, 0.0


@gives("sees", "riser", "held")
def nothing_seen() -> tuple[Number, Number, Pressure]:
    """A line that is open to nothing so far: flags for well and riser, and a pressure in Pa, all 0."""
    return 0.0, 0.0, 0.0


@gives("shut")
def shuts_off(shut: Number, sealing: Number, away: Number) -> Number:
    """1 when a preventer that seals, and is still there, stands on that side of an outlet."""
    return 1.0 if shut > 0.5 or (sealing > 0.5 and away < 0.5) else 0.0


@gives("p", "extra", "annulus_mud", "riser_mud")
def section(
    p: Pressure,
    extra: Volume,
    under: Number,
    over: Number,
    well: Pressure,
    riser: Pressure,
    annulus_mud: Volume,
    riser_mud: Volume,
) -> tuple[Pressure, Volume, Volume, Volume]:
    """Pressure at an outlet (absolute Pa), and mud (m3) that came from the choke line while it was closed in.

    Open to the well or the riser it has their pressure and gives them that mud; closed on both sides it keeps both.
    """
    closed = under > 0.5 and over > 0.5
    to_riser = under > 0.5 and not closed
    return (
        (p if closed else (riser if to_riser else well)),
        (extra if closed else 0.0),
        annulus_mud + (0.0 if closed or to_riser else extra),
        riser_mud + (extra if to_riser else 0.0),
    )


def lines_up(inner: float, outer: float, parted: float) -> float:
    """1 when both valves of a pair are open (x is 0 open, 1 closed) and the line has not ``parted``."""
    return 1.0 if min(1.0 - inner, 1.0 - outer) > OPEN and parted < 0.5 else 0.0


@gives("p", "extra", "line_mud")
def meets(
    p: Pressure,
    extra: Volume,
    under: Number,
    over: Number,
    inner: Number,
    outer: Number,
    parted: Number,
    room: Compliance,
    line_pressure: Pressure,
    line_density: Density,
    fall: GravityHeight,
    line_compliance: Compliance,
    line_mud: Volume,
) -> tuple[Pressure, Volume, Volume]:
    """A closed section (compliance ``room`` m3/Pa) and the choke line come to one pressure.

    Returns the section's pressure, the mud it took (m3) and the line's mud (m3).
    """
    joined = lines_up(inner, outer, parted) > 0.5 and under > 0.5 and over > 0.5
    ahead = p - line_pressure - line_density * fall
    wanted = 0.5 * ahead * room * line_compliance / (room + line_compliance) if joined else 0.0
    moved = max(wanted, -MOST_SHARE * line_mud)
    return max(p - moved / room, ATMOSPHERE), extra - moved, line_mud + moved


@gives("well", "riser", "held")
def looks(
    well: Number,
    riser: Number,
    held: Pressure,
    inner: Number,
    outer: Number,
    parted: Number,
    under: Number,
    over: Number,
    p: Pressure,
) -> tuple[Number, Number, Pressure]:
    """What a line is open to through one more pair: the well, the riser, a closed section (its pressure, Pa, or 0)."""
    through = lines_up(inner, outer, parted) > 0.5
    down = through and under < 0.5
    up = through and under > 0.5 and over < 0.5
    shut = through and under > 0.5 and over > 0.5
    return (1.0 if down else well), (1.0 if up else riser), (p if shut else held)


@gives("leak")
def around(well: Number, riser: Number, leak: Coefficient, area: Number) -> Coefficient:
    """What passes the seals, m3/(s sqrt(Pa)): a line open to well and riser at once leads round them."""
    return max(leak, AROUND) if well > 0.5 and riser > 0.5 and area <= 0.0 else leak
