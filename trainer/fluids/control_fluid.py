"""Control fluid: what a mix of water, concentrate and glycol weighs, where it freezes, what is wrong.

Shares are by volume. The physical laws are polynomials (only + - * /) for the compiled plant; where they
come from is told in ``assets/tables/control_fluid.toml``. The bounds that judge a mix are representative
of common practice and marked so: the fluid supplier's data sheet decides on a real rig.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.constants import ICE_POINT

# begin generated (assets/tables/make_fluid_table.py writes this block and the table together)
WATER_DENSITY = 998.207
FREEZING_1 = -29.2062
FREEZING_2 = -65.7098
FREEZING_3 = -69.9605
THICKER_1 = 145.387
THICKER_2 = -9.5668
VISCOUS_1 = 2.14808
VISCOUS_2 = 6.85395
VISCOUS_3 = -4.11208
VISCOUS_4 = -21.005
FLUIDITY_0 = 1171.12
FLUIDITY_1 = 7761.48
FLUIDITY_2 = 9930.8
# end generated

CONCENTRATE_DENSITY = 1030.0  # kg/m3; representative of water-soluble concentrates, from memory
BIOCIDE_SHARE = 0.015  # below it the concentrate's biocide no longer holds bacteria down; representative
LUBRICATING_SHARE = 0.02  # from here on seals and valve seats are lubricated as they should; representative
RICH_SHARE = 0.06  # above it concentrate is wasted and leaves sticky deposits; representative
FREEZING_MARGIN = 5.0  # K between the coldest place and the freezing point; representative


def mix_density(concentrate: float, glycol: float) -> float:
    """Density of the mixed fluid in kg/m3 at 20 degC.

    ``concentrate`` and ``glycol`` are shares of the volume (0 to 1; glycol fitted to 0.55), water is the
    rest.

    >>> round(mix_density(0.03, 0.0), 1)
    999.2
    """
    return (
        WATER_DENSITY + concentrate * (CONCENTRATE_DENSITY - WATER_DENSITY) + glycol * (THICKER_1 + glycol * THICKER_2)
    )


def freezing_point(glycol: float) -> float:
    """Temperature in K at which the first ice forms, for a glycol share of 0 to 0.55 by volume.

    The little that the concentrate lowers it is left out, on the safe side. Other published tables give
    up to 2 K less protection at half glycol (the ASHRAE Handbook's, from memory): ``FREEZING_MARGIN``
    covers it.

    >>> round(freezing_point(0.40) - 273.15, 1)
    -26.7
    """
    return ICE_POINT + glycol * (FREEZING_1 + glycol * (FREEZING_2 + glycol * FREEZING_3))


def mix_viscosity(temperature: float, glycol: float) -> float:
    """Dynamic viscosity in Pa s at ``temperature`` (K, 275 to 333) for a glycol share of 0 to 0.55 by volume.

    Within 0.5 % for water and 10 % with glycol.

    >>> round(1000 * mix_viscosity(293.15, 0.0), 2)
    1.0
    """
    y = temperature / 300.0 - 1.0
    thick = 1.0 + glycol * (VISCOUS_1 + y * VISCOUS_3 + glycol * (VISCOUS_2 + y * VISCOUS_4))
    return thick / (FLUIDITY_0 + y * (FLUIDITY_1 + y * FLUIDITY_2))


def lubricity(concentrate: float) -> float:
    """How well the mix lubricates, 0 (plain water) to 1 (as intended), for a concentrate share by volume.

    A straight line up to the share that lubricates fully: a plain assumption, good enough to make a
    finding.
    """
    return min(1.0, max(0.0, concentrate) / LUBRICATING_SHARE)


def bacteria_growth(concentrate: float, glycol: float) -> float:
    """How fast bacteria grow, 0 (held down) to 1 (plain water), for shares by volume.

    Biocide comes with the concentrate; a fifth of glycol also keeps bacteria down. Straight lines: an
    assumption.
    """
    starved = max(0.0, 1.0 - max(0.0, concentrate) / BIOCIDE_SHARE)
    return starved * max(0.0, 1.0 - max(0.0, glycol) / 0.2)


def blend(volume: float, share: float, added: float, added_share: float) -> float:
    """Share of one ingredient after ``added`` (m3) of ``added_share`` went into ``volume`` of ``share``.

    Perfect mixing. An empty tank that gets nothing keeps its share.
    """
    total = volume + added
    return (volume * share + added * added_share) / total if total > 0.0 else share


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong with a mix: ``id``, one sentence on what it does, one on how to mend it."""

    id: str
    meaning: str
    remedy: str


def findings(concentrate: float, glycol: float, coldest: float) -> tuple[Finding, ...]:
    """What an inspector would write down about a mix, worst first; empty when it is right.

    ``concentrate`` and ``glycol`` are shares by volume, ``coldest`` is the lowest temperature (K) the
    fluid can meet before it goes subsea. ValueError when the shares are no shares.

    >>> [f.id for f in findings(0.005, 0.0, 268.0)]
    ['freezes', 'poor_lubrication', 'bacteria']
    """
    if not (0.0 <= concentrate <= 1.0 and 0.0 <= glycol <= 1.0 and concentrate + glycol <= 1.0):
        raise ValueError(
            f"concentrate {concentrate:g} and glycol {glycol:g} are no shares of a mix: "
            "give each from 0 to 1, together at most 1"
        )
    found = []
    frozen = freezing_point(min(glycol, 0.55))
    if frozen > coldest - FREEZING_MARGIN:
        found.append(
            Finding(
                "freezes",
                f"The mix freezes at {frozen - ICE_POINT:.0f} °C; "
                f"the coldest place ({coldest - ICE_POINT:.0f} °C) is too near.",
                "Raise the glycol pump's stroke rate and let the tank turn over.",
            )
        )
    if lubricity(concentrate) < 1.0:
        found.append(
            Finding(
                "poor_lubrication",
                f"Only {100.0 * concentrate:.1f} % concentrate: seals and valve seats wear, and steel rusts.",
                "Check the concentrate pump, its air and its suction; bring the mix up to its ratio.",
            )
        )
    if bacteria_growth(concentrate, glycol) > 0.0:
        found.append(
            Finding(
                "bacteria",
                "Too little biocide: bacteria grow, and their slime blocks filters and pilot valves.",
                "Bring the concentrate up, take a sample, and change the fluid if it smells or is cloudy.",
            )
        )
    if concentrate > RICH_SHARE:
        found.append(
            Finding(
                "too_rich",
                f"{100.0 * concentrate:.1f} % concentrate: wasted, leaves deposits, goes into the sea.",
                "Lower the concentrate pump's stroke rate.",
            )
        )
    return tuple(found)
