"""Results of an ensemble as a table in CSV: a row a plant, for a spreadsheet or a statistics program."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from trainer.planning.errors import PlanningError


def rows(blocks: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """A row a plant: how it came out, what it drew (SI, factor or severity), points and times (s). Empty: nothing."""
    found = []
    for plant in (plant for block in blocks for plant in block["plants"]):
        row = {"plant": plant["number"], "seed": plant["seed"], "passed": int(plant["passed"]), "score": plant["score"]}
        row["critical"] = " ".join(sorted({one["id"] for one in plant["critical"]}))
        row |= {f"drawn {name}": value for name, value in plant["drawn"].items()}
        for name, (earned, t) in plant["criteria"].items():
            row |= {f"points {name}": earned, f"time {name} [s]": t}
        row |= {f"reached {name} [s]": t for name, t in plant["milestones"].items()}
        found.append(row)
    return found


def write(blocks: Sequence[dict[str, object]], path: Path) -> None:
    """The table as a CSV file (RFC 4180); PlanningError when it cannot be written."""
    table = rows(blocks)
    # What only some plants have drawn comes where the first that has it puts it.
    columns = list(dict.fromkeys(name for row in table for name in row))
    try:
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns)
            writer.writeheader()
            writer.writerows(table)
    except OSError as error:
        raise PlanningError(f"{path}: cannot be written: {error.strerror or error}") from error
