"""One scripted run, told so that two Pythons can be compared: the chain of state hashes, the score, the evidence.

Runs as it stands in both: imported by the tests on CPython, and as source text in the browser's Python.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from trainer.session import actions
from trainer.session.script import play
from trainer.simulator import Session


def replay(drill: str, seed: int, text: str, folder: str = "") -> dict[str, Any]:
    """The run of an action file's text in a drill: by id, or by the file of that name in `folder`."""
    session = Session.start(Path(folder) / f"{drill}.toml" if folder else drill, seed=seed)
    refusals = play(session, actions.parse(text, machine=session.machine, words=session.words))
    sheet = session.sheet()
    return {
        "chain": [[point.tick, point.entries, point.state] for point in session.checkpoints],
        "end": session.checkpoint().state,
        "score": sheet["score"],
        "passed": sheet["passed"],
        "refusals": refusals,
        "evidence": session.evidence(name="A. Trainee", role="driller", date="2024-01-01"),
    }


def replay_all(told: str) -> str:
    """Several runs, as JSON: a list of the arguments of `replay` in, a list of its results out."""
    return json.dumps([replay(*one) for one in json.loads(told)])
