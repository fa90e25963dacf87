"""What a function should take: the fluid of its stroke, beside what the meter counted, and what a difference can mean.

Only practice shows it. The stroke volumes are those of the plant file; an annular on pipe stops where it meets the
pipe, and a part that stands half way has only the rest of its stroke to make.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from trainer import units
from trainer.drawing.rig_view import RigView

#: A count this near to what was expected is as expected: this share of it, or this much (m3).
NEAR_SHARE: Final = 0.1
NEAR: Final = units.from_unit(0.5, "gal")
#: Below this a meter has counted nothing, m3.
NOTHING: Final = units.from_unit(0.15, "gal")

AS_EXPECTED: Final = "As expected: the function made its stroke."
NOTHING_COUNTED: Final = (
    "Nothing counted: the control valve or the pod valve did not shift, the pod or the supply is shut off, or the "
    "function was already there."
)
LESS: Final = (
    "Less than expected: it did not make its full stroke. It is stuck, met something in the bore, or was already part "
    "of the way. Compare read-back pressure and return flow."
)
MORE: Final = (
    "More than expected: fluid goes elsewhere. The function or its line leaks, piston seals pass, another function "
    "moved, or the stack bottles recharge. See whether the flow meter falls to zero."
)


@dataclass(frozen=True, slots=True)
class Stroke:
    """The volumes of one function to close and to open it, m3, and its kind."""

    close: float
    open: float
    kind: str


def strokes(rig: RigView) -> dict[str, Stroke]:
    """The strokes of a plant's functions by id."""
    return {f.id: Stroke(f.close_volume, f.open_volume, f.kind) for f in rig.functions}


def expected(stroke: Stroke, position: str, start: float, stop: float) -> float:
    """What the meter should count for an operation, m3, from where the part stood, 0 open to 1 closed.

    ``stop`` is where what stands in the bore stops an annular; a ram is meant to make its whole stroke.
    """
    if position == "close":
        return max((stop if stroke.kind == "annular" else 1.0) - start, 0.0) * stroke.close
    return start * stroke.open if position == "open" else 0.0


def near(wanted: float, took: float) -> bool:
    """Whether a count (m3) is as near to what was expected as it need be: 10 % or half a gallon; invented."""
    return abs(took - wanted) <= max(NEAR_SHARE * wanted, NEAR)


def meaning(wanted: float, took: float) -> str:
    """What the difference between the count and what was expected can mean."""
    if near(wanted, took):
        return AS_EXPECTED if wanted > NEAR or took > NOTHING else "No fluid expected, none counted."
    if took <= NOTHING:
        return NOTHING_COUNTED
    return LESS if took < wanted else MORE
