"""A patch in the chosen units: the amounts in its words (``trainer.wording``) are told in metric where that is chosen.

Readings are made in the units shown. Situations, advice, what a criterion expected and refusals are in field units and
know their amounts; here, on the way to the page, each becomes the figure of the system that the page shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

from trainer import units
from trainer.console.presenter import Patch
from trainer.console.texts import retell
from trainer.wording import told


def in_units(patch: Mapping[str, Mapping[str, object]], system: units.System) -> Patch:
    """A new patch for the page, the amounts of its words in the units of ``system``."""
    if system == "field":
        return {name: dict(change) for name, change in patch.items()}
    tell = partial(told, system=system)
    return retell(patch, tell, tell)
