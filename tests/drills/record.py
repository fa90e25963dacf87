"""Writes the good action files anew: ``python -m tests.drills.record``, after the plant's figures have changed.

Each is what the drill's crew (``crews.py``) did with seed 0, with its readings rounded as a person reads them.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from tests.drills.crew import Crew, shut_in_while_drilling
from tests.drills.crews import CREWS

ACTIONS = Path(__file__).parent / "actions"
SCRIPTS: dict[str, Callable[[], Crew]] = {
    "kick-while-drilling.good": lambda: shut_in_while_drilling(0),
    "kick-while-drilling.slow": lambda: shut_in_while_drilling(0, slow=60.0),
    **{f"{drill}.good": (lambda crew=crew: crew(0)) for drill, crew in CREWS.items()},
}


def lines(crew: Crew) -> str:
    """The command log as an action file."""
    text = ""
    for entry in crew.session.log:
        record = entry.command().record()
        if isinstance(record["value"], float):
            record["value"] = round(record["value"], 1)
        text += json.dumps({key: value for key, value in record.items() if value is not None}) + "\n"
    return text


def main() -> None:
    """Write every script whose crew passes; say so of one that does not."""
    for name, work in SCRIPTS.items():
        crew = work()
        if not crew.sheet["passed"]:
            raise SystemExit(f"{name}: {crew.sheet['verdict']}")
        (ACTIONS / f"{name}.jsonl").write_text(lines(crew), encoding="utf-8")
        print(f"{name}: {crew.sheet['verdict']}")


if __name__ == "__main__":
    main()
