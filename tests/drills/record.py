"""Writes the recorded action files anew, after the plant's figures have changed.

``python -m tests.drills.record [DRILL ...]``; each is what a crew did with seed 0, with its readings rounded as a
person reads them.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

from tests.drills import ideal
from tests.drills.crew import Crew, shut_in_while_drilling
from tests.drills.instruments import AtTheEngine
from tests.drills.roster import GOOD, RECORDED
from trainer.runtime import server

ACTIONS = Path(__file__).parent / "actions"
LOOKED = Path(__file__).parent / "looked.json"
"""What each good crew looked at, for the check that the page shows it."""
SCRIPTS: dict[str, Callable[[int], Crew]] = {
    "kick-while-drilling.slow": lambda seed: shut_in_while_drilling(seed, slow=20.0),
    **{f"{drill}.good": crew for drill, crew in GOOD.items()},
    **{name: crew for name, (crew, _) in RECORDED.items()},
}


def lines(crew: Crew) -> str:
    """The command log as an action file."""
    text = ""
    for entry in crew.session.log:
        record = entry.command().record()
        if isinstance(record["value"], float):
            record["value"] = round(record["value"], 1 if abs(record["value"]) >= 20.0 else 2)
        text += json.dumps({key: value for key, value in record.items() if value is not None}) + "\n"
    return text


def note_looks(drill: str, crew: Crew) -> None:
    """Keep which instruments the crew looked at."""
    assert isinstance(crew.desk, AtTheEngine)
    looked = json.loads(LOOKED.read_text("utf-8")) if LOOKED.is_file() else {}
    looked[drill] = sorted(crew.desk.looked)
    LOOKED.write_text(json.dumps(dict(sorted(looked.items())), indent=1) + "\n", encoding="utf-8")


def main(drills: list[str]) -> None:
    """Write the scripts of these drills, or of all; a crew that does not do what it should stops the work."""
    server.offer()
    for name, work in SCRIPTS.items():
        if drills and name.split(".")[0] not in drills:
            continue
        crew = work(0)
        if crew.sheet["passed"] is (name in RECORDED):
            raise SystemExit(f"{name}: {crew.sheet['verdict']}")
        (ACTIONS / f"{name}.jsonl").write_text(lines(crew), encoding="utf-8")
        if name.endswith(".good"):
            ideal.write(name.removesuffix(".good"), crew)
            note_looks(name.removesuffix(".good"), crew)
        print(f"{name}: {crew.sheet['verdict']}")


if __name__ == "__main__":
    main(sys.argv[1:])
