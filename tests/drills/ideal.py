"""Writes what the good crews do, with their times, as the debrief shows it beside a trainee's run.

``tests.drills.record`` does it too; ``python -m tests.drills.ideal [DRILL ...]`` lets each crew work with seed 0.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from tests.drills.crew import Crew
from tests.drills.roster import GOOD
from tests.session.crewed import good
from trainer.drills import library
from trainer.session.session import Entry, SessionCore

CREWS = Path(__file__).resolve().parents[2] / "assets" / "crews"


def document(drill: str, crew: Crew | None = None) -> dict[str, Any]:
    """A good crew's run as plain data; ``crew`` is one that has worked already."""
    run: SessionCore
    if drill in library.crewed():
        run = good(drill)
        sheet = run.sheet()
    else:
        crew = crew or GOOD[drill](0)
        run, sheet = crew.session, crew.sheet
    if not sheet["passed"]:
        raise SystemExit(f"{drill}: the good crew did not pass: {sheet['verdict']}")
    return {
        "drill": drill,
        "score": round(sheet["score"], 1),
        "seconds": run.time,
        "milestones": {row["id"]: round(row["t"], 1) for row in sheet["milestones"] if row["t"] is not None},
        "log": [
            [entry.tick / 50, entry.from_, entry.do, entry.target, entry.value, *_of_crew(entry)]
            for entry in run.log
            if entry.refused is None
        ],
    }


def _of_crew(entry: Entry) -> list[str | float]:
    """Who of a crew it was, and the figure that was called; nothing where one person works."""
    return [part for part in (entry.by, entry.figure) if part is not None]


def text(made: dict[str, Any]) -> str:
    """One action a line."""
    log = ",\n  ".join(json.dumps(row, ensure_ascii=False) for row in made["log"])
    head = json.dumps({key: value for key, value in made.items() if key != "log"}, ensure_ascii=False)
    return f'{head[:-1]}, "log": [\n  {log}\n]}}\n'


def write(drill: str, crew: Crew | None = None) -> None:
    """Write the file of a drill."""
    CREWS.mkdir(exist_ok=True)
    (CREWS / f"{drill}.json").write_text(text(document(drill, crew)), encoding="utf-8")


def main(drills: list[str]) -> None:
    """Write the files of these drills, or of all; a drill whose crew does not pass is told and left."""
    for drill in drills or sorted([*library.all_drills(), *library.crewed()]):
        try:
            write(drill)
        except SystemExit as stop:
            print(stop)
            continue
        print(f"{drill}: written")


if __name__ == "__main__":
    main(sys.argv[1:])
