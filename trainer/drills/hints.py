"""What a sound drill could say better: nothing here makes it a fault."""

from __future__ import annotations

import re

from trainer.drills.criteria_schema import Assess, Reading
from trainer.drills.schema import Drill, Problem

CLERICAL = ("well.hole_depth", "well.bit_depth", "well.pit_volume", "tank.level")
"""Instruments that are read for the log or the kill sheet: what they show decides nothing in a drill."""


def hints(drill: Drill) -> list[Problem]:
    """Learning points that nothing shows, and criteria that do not say which they show; empty when all do.

    A criterion that shows none says so by an empty list.
    """
    told = clerical(drill)
    shown = {point for criterion in drill.criterion for point in criterion.teaches}
    silent = [c.id for c in drill.criterion if "teaches" not in c.model_fields_set and not isinstance(c, Assess)]
    if silent:
        names = ", ".join(silent)
        said = f"No learning point named by {names}. Add teaches = [1] for the points they show, or teaches = []."
        told.append(Problem("criterion", said))
    for number, point in enumerate(drill.learning, 1):
        if number not in shown:
            said = f"No criterion shows {point!r}. Add teaches = [{number}] to one that does."
            told.append(Problem(f"learning[{number}]", said))
    return told


def clerical(drill: Drill) -> list[Problem]:
    """Requirements that are clerical: an entry for the log that a pass, or the end of the drill, waits for."""
    found = []
    tags = {reading.id: reading.tag for reading in drill.reading}
    entries = {name for name, tag in tags.items() if tag in CLERICAL or name.startswith("log_")}
    entries |= {c.reading for c in drill.criterion if isinstance(c, Reading) and c.clerical}
    for number, spec in enumerate(drill.criterion, 1):
        meant = "clerical" in spec.model_fields_set
        if isinstance(spec, Reading) and spec.required and spec.reading in entries and not meant:
            said = (
                "A pass needs an entry for the log. Score it with clerical = true and do not require it, "
                "or say clerical = false where reading it is the task."
            )
            found.append(Problem(f"criterion[{number}].required", said))
    for name in re.findall(r"noted\((\w+)\)", drill.end.when or ""):
        if name in entries:
            found.append(Problem("end.when", f"The drill waits for the entry {name!r}. Remove noted({name})."))
    return found
