"""One scripted run, told so that two Pythons can be compared: the chain of state hashes, the score, the evidence.

Runs as it stands in both: imported by the tests on CPython, and as source text in the browser's Python.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from trainer.session import actions, evidence
from trainer.session.script import play
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder


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


def check(text: str, drill: str) -> dict[str, bool]:
    """What a re-computation of an evidence document finds."""
    verdict = verify(evidence.parse(text), rebuilder([Path(drill)]))
    return {"states": verdict.states, "score": verdict.score, "seal": verdict.seal}


def replay_all(told: str) -> str:
    """Several runs, as JSON: a list of the arguments of `replay` in, or of `check` after the word verify."""
    return json.dumps([check(*one[1:]) if one[0] == "verify" else replay(*one) for one in json.loads(told)])
