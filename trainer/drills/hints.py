"""What a sound drill could say better: nothing here makes it a fault."""

from __future__ import annotations

from trainer.drills.criteria_schema import Assess
from trainer.drills.schema import Drill, Problem


def hints(drill: Drill) -> list[Problem]:
    """Learning points that nothing shows, and criteria that do not say which they show; empty when all do.

    A criterion that shows none says so by an empty list.
    """
    told: list[Problem] = []
    shown = {point for criterion in drill.criterion for point in criterion.teaches}
    silent = [c.id for c in drill.criterion if "teaches" not in c.model_fields_set and not isinstance(c, Assess)]
    if silent:
        names = ", ".join(silent)
        said = f"{names}: no teaches, so progress tells them by category alone; name the learning points they show, "
        told.append(Problem("criterion", f"{said}such as teaches = [1], or say teaches = []."))
    for number, point in enumerate(drill.learning, 1):
        if number not in shown:
            said = f"{point!r} is shown by no criterion: progress on it cannot be told; add teaches = [{number}]"
            told.append(Problem(f"learning[{number}]", f"{said} where it is."))
    return told
