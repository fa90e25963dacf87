"""Why plants come out differently: which time limits are near, and what the plants that fail have in common."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from trainer.constants import HAIR
from trainer.drills.criteria_schema import Reach
from trainer.drills.schema import Drill

# Invented: how many plants a group needs before it is compared, and how cleanly a quantity has to part the two.
LEAST = 3
PARTED = 0.75


def times_taken(drill: Drill, key: str, plants: Sequence[dict[str, Any]]) -> dict[str, Any] | None:
    """For a criterion with a time window: what it took from where it counts, s, and the window's end.

    ``late`` counts the plants on which it took longer than full points allow, ``never`` those on which it was not
    reached. None for a criterion without a window.
    """
    spec = next(item for item in drill.criterion if item.id == key)
    if not isinstance(spec, Reach) or spec.full is None:
        return None
    took = []
    for plant in plants:
        t = plant["criteria"][key][1]
        start = 0.0 if spec.from_ is None else plant["milestones"][spec.from_]
        if t is not None and start is not None:
            took.append(t - start)
    late = len([value for value in took if value > spec.full + HAIR])
    return {"took": took, "full_s": spec.full, "late": late, "never": len(plants) - len(took)}


def separating(plants: Sequence[dict[str, Any]], most: int = 2) -> list[dict[str, Any]]:
    """What parts the plants that pass from the others best: drawn quantity, its median on each side, how cleanly.

    ``parted`` is the share of pairs, one plant of each side, that the quantity alone puts in the right order.
    """
    passed = np.array([bool(plant["passed"]) for plant in plants])
    if min(int(passed.sum()), int((~passed).sum())) < LEAST:
        return []
    found = []
    for name in sorted({name for plant in plants for name in plant["drawn"]}):
        values = np.array([plant["drawn"].get(name, 0.0) for plant in plants])
        good, bad = values[passed], values[~passed]
        above = float((good[:, None] > bad).mean() + 0.5 * (good[:, None] == bad).mean())
        parted = max(above, 1.0 - above)
        if parted >= PARTED:
            row = {"name": name, "passed": float(np.median(good)), "failed": float(np.median(bad))}
            found.append(row | {"parted": round(parted, 3)})
    return sorted(found, key=lambda row: -row["parted"])[:most]


def in_words(row: dict[str, Any]) -> str:
    """A row of ``separating`` as part of a sentence: variables in SI, faults and precharges in percent."""
    kind, name = row["name"].split(":", 1)
    if kind == "variable":
        return f"{name} ({row['passed']:+.3g} where they pass, {row['failed']:+.3g} where not, SI)"
    what = "precharge of " if kind == "precharge" else ""
    return f"{what}{name} ({100 * row['passed']:.0f} % where they pass, {100 * row['failed']:.0f} % where not)"
