"""Words in the chosen units: quantities that stand in written text, told in metric where metric is chosen.

Readings are made in the units shown. What people wrote (situations, advice, what a criterion expected, refusals)
carries field units; it is put into metric on its way to the page, so that no number there is of the other system.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import partial
from typing import Any, Final

from trainer import units
from trainer.console.presenter import Patch
from trainer.console.texts import retell, retell_markup

#: What is written after a number, and the unit it means. Inches stay: sizes of holes and tools are names.
_UNITS: Final = {
    units.symbol(name): name for name, unit in units.UNITS.items() if unit.metric and name not in ("in", "in2", "cP")
}
_NUMBER: Final = r"[-+−]?\d[\d,]*(?:\.\d+)?"
_SIGN: Final = "|".join(re.escape(sign) for sign in sorted(_UNITS, key=len, reverse=True))
#: One number, or a range of two that share a unit.
_QUANTITY: Final = re.compile(
    rf"(?<![\w.,/-])(?:(?<=between )({_NUMBER})( and )|({_NUMBER})( to | ?– ?))?"
    rf"({_NUMBER})[ \u00a0]({_SIGN})(?![\w/²])"
)


def retold(text: str, system: units.System) -> str:
    """A plain text with its quantities in the chosen units.

    >>> retold("At most 20 bbl, between 500 and 1,000 psi.", "metric")
    'At most 3.18 m³, between 34.5 and 68.9 bar.'
    """
    return _QUANTITY.sub(_in_metric, text) if system == "metric" else text


def retold_markup(markup: str, system: units.System) -> str:
    """Markup with the quantities in its texts and spoken names in the chosen units."""
    if system != "metric" or not _QUANTITY.search(markup):
        return markup
    return retell_markup(markup, partial(retold, system=system))


def in_units(patch: Mapping[str, Mapping[str, Any]], system: units.System) -> Patch:
    """A patch for the page, its words in the chosen units."""
    if system != "metric":
        return {name: dict(change) for name, change in patch.items()}
    return retell(patch, partial(retold, system=system), partial(retold_markup, system=system))


def _in_metric(found: re.Match[str]) -> str:
    low, joined = found[1] or found[3], found[2] or found[4]
    high, unit = found[5], _UNITS[found[6]]

    def si(text: str) -> float:
        return units.from_unit(float(text.replace(",", "").replace("−", "-")), unit)

    first = f"{units.number(si(low), unit, 'metric')}{joined}" if low else ""
    return first + units.show(si(high), unit, "metric")
