"""Attempts as statements of the Experience API 1.0.3 (the open standard of learning record stores).

One statement an attempt (passed, failed, or attempted when it was not finished) and one a judged criterion
(scored), which names the attempt's statement as its context. People are accounts, never mail addresses.
"""

from __future__ import annotations

import json
import uuid
from typing import Any

from trainer.records.tables import Attempt, Criterion, Person

VERSION = "1.0.3"
HOME = "https://trainer.invalid"
"""Where accounts and activities are named; a store only compares the text. ``.invalid`` is nobody's (RFC 2606)."""

_VERBS = {
    "passed": "http://adlnet.gov/expapi/verbs/passed",
    "failed": "http://adlnet.gov/expapi/verbs/failed",
    "attempted": "http://adlnet.gov/expapi/verbs/attempted",
    "scored": "http://adlnet.gov/expapi/verbs/scored",
}
_SIMULATION = "http://adlnet.gov/expapi/activities/simulation"
_OBJECTIVE = "http://adlnet.gov/expapi/activities/objective"
_SPACE = uuid.UUID("5e0c1f5a-7a1c-5b53-9d0b-6a0f5e9f7c11")


def statement_id(*parts: object) -> str:
    """An id made of these parts, the same whenever it is made, so that a store keeps a statement once."""
    return str(uuid.uuid5(_SPACE, "/".join(str(part) for part in parts)))


def _agent(person: Person, home: str) -> dict[str, Any]:
    return {"objectType": "Agent", "name": person.name, "account": {"homePage": home, "name": f"person-{person.id}"}}


def _verb(name: str) -> dict[str, Any]:
    return {"id": _VERBS[name], "display": {"en": name}}


def duration(seconds: float) -> str:
    """An ISO 8601 duration to a hundredth of a second: ``duration(75.5) == "PT75.5S"``."""
    text = f"{seconds:.2f}".rstrip("0").rstrip(".")
    return f"PT{text}S"


def _drill(attempt: Attempt, home: str) -> dict[str, Any]:
    return {
        "objectType": "Activity",
        "id": f"{home}/drills/{attempt.drill}",
        "definition": {"type": _SIMULATION, "name": {"en": attempt.title}},
    }


def _context(attempt: Attempt, home: str) -> dict[str, Any]:
    context: dict[str, Any] = {
        "registration": statement_id(attempt.key, "registration"),
        "platform": "Panel trainer",
        "revision": attempt.engine,
        "language": "en",
        "extensions": {
            f"{home}/xapi/plant": attempt.plant,
            f"{home}/xapi/seed": attempt.seed,
            f"{home}/xapi/mode": attempt.mode,
            f"{home}/xapi/seal": attempt.seal,
            f"{home}/xapi/verified": attempt.verified,
        },
    }
    if attempt.verified is None:
        del context["extensions"][f"{home}/xapi/verified"]
    if attempt.signer is not None:
        context["instructor"] = _agent(attempt.signer, home)
    return context


def statements(attempt: Attempt, home: str = HOME) -> list[dict[str, Any]]:
    """The statements of an attempt, the attempt's own first, then one a criterion; plain data for JSON."""
    verb = "attempted" if not attempt.finished else "passed" if attempt.passed else "failed"
    result: dict[str, Any] = {
        "score": {"scaled": round(attempt.score / 100.0, 4), "raw": attempt.score, "min": 0, "max": 100},
        "completion": attempt.finished,
        "duration": duration(attempt.simulated_s),
    }
    if attempt.finished:
        result["success"] = attempt.passed
    if attempt.remarks:
        result["response"] = attempt.remarks
    whole = {
        "actor": _agent(attempt.person, home),
        "verb": _verb(verb),
        "object": _drill(attempt, home),
        "result": result,
        "context": _context(attempt, home),
        "timestamp": attempt.at.isoformat(timespec="milliseconds"),
        "version": VERSION,
    }
    whole = _named(attempt, whole)
    number = str(whole["id"])
    marked = {mark.criterion: mark.points for mark in attempt.marks if mark.assessor_id == attempt.signed_by}
    rows = ((row, marked.get(row.criterion, row.earned)) for row in attempt.criteria)
    return [whole, *(_scored(attempt, row, earned, home, number) for row, earned in rows if earned is not None)]


def _named(attempt: Attempt, statement: dict[str, Any]) -> dict[str, Any]:
    """With an id made of what it says: said again it is the same, and after a signature it is another."""
    content = json.dumps(statement, sort_keys=True, ensure_ascii=False)
    return {"id": statement_id(attempt.key, content), **statement}


def _scored(attempt: Attempt, row: Criterion, earned: float, home: str, whole: str) -> dict[str, Any]:
    score: dict[str, Any] = {"raw": earned, "min": 0, "max": row.points}
    if row.points > 0.0:
        score["scaled"] = round(earned / row.points, 4)
    result: dict[str, Any] = {"score": score}
    if row.reason:
        result["response"] = row.reason
    made = {
        "actor": _agent(attempt.person, home),
        "verb": _verb("scored"),
        "object": {
            "objectType": "Activity",
            "id": f"{home}/drills/{attempt.drill}/criteria/{row.criterion}",
            "definition": {"type": _OBJECTIVE, "name": {"en": row.title}},
        },
        "result": result,
        "context": {
            "registration": statement_id(attempt.key, "registration"),
            "contextActivities": {"parent": [_drill(attempt, home)]},
            "statement": {"objectType": "StatementRef", "id": whole},
        },
        "timestamp": attempt.at.isoformat(timespec="milliseconds"),
        "version": VERSION,
    }
    return _named(attempt, made)
