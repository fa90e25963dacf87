"""Statements fit the Experience API 1.0.3.

The schema beside this file is written after the standard's part two (Statements 2.3 and 2.4, data types 4): which
properties there are, which must be there, and their forms.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from sqlalchemy import select

from tests.records.conftest import arrival
from trainer.records import attempts, people, xapi
from trainer.records.database import Records
from trainer.records.tables import Attempt

SCHEMA = json.loads((Path(__file__).parent / "xapi.schema.json").read_text("utf-8"))
CHECK = Draft202012Validator(SCHEMA)


def _statements(records: Records, run: dict[str, Any], **sheet: Any) -> list[dict[str, Any]]:
    with records.work() as session:
        kept = attempts.keep(session, arrival({**run, "sheet": {**run["sheet"], **sheet}}, key="k" * 32))
        kept.remarks = "Calm hand."
        kept.signer = people.find(session, "Ines Marlow") or people.add(session, "Ines Marlow", "assessor")
        return xapi.statements(kept)


def test_the_schema_itself_is_sound_and_strict() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    good = {
        "id": "5e0c1f5a-7a1c-4b53-9d0b-6a0f5e9f7c11",
        "actor": {"account": {"homePage": "https://trainer.invalid", "name": "person-1"}},
        "verb": {"id": "http://adlnet.gov/expapi/verbs/passed"},
        "object": {"id": "https://trainer.invalid/drills/x"},
        "timestamp": "2031-05-06T07:08:09.000+00:00",
        "version": "1.0.3",
    }
    assert CHECK.is_valid(good)
    for change in (
        {"id": "x"},
        {"version": "2.0"},
        {"timestamp": "2031-05-06"},
        {"timestamp": "2031-05-06T07:08:09-00:00"},
        {"actor": {"name": "nobody"}},
        {"actor": {"mbox": "mailto:a@b", "openid": "http://a"}},
        {"verb": {"id": "passed"}},
        {"result": {"score": {"scaled": 2}}},
        {"result": {"duration": "75 s"}},
        {"more": 1},
        {"context": {"extensions": {"plant": "quillback"}}},
    ):
        assert not CHECK.is_valid({**good, **change}), change


@pytest.mark.parametrize(
    ("sheet", "verb"),
    [
        ({"finished": True, "passed": True}, "passed"),
        ({"finished": True, "passed": False}, "failed"),
        ({"finished": False}, "attempted"),
    ],
)
def test_statements_fit_the_standard(records: Records, run: dict[str, Any], sheet: dict[str, Any], verb: str) -> None:
    made = _statements(records, run, **sheet)
    for statement in made:
        CHECK.validate(json.loads(json.dumps(statement)))
    assert made[0]["verb"]["display"]["en"] == verb
    assert made[0]["context"]["instructor"]["name"] == "Ines Marlow"
    judged = [row for row in run["sheet"]["criteria"] if row["earned"] is not None]
    assert len(made) == 1 + len(judged)
    assert {part["context"]["statement"]["id"] for part in made[1:]} == {made[0]["id"]}


def test_statements_keep_their_ids(records: Records, run: dict[str, Any]) -> None:
    first, again = _statements(records, run), _statements(records, run)
    assert [one["id"] for one in first] == [one["id"] for one in again]
    assert len({one["id"] for one in first}) == len(first)
    # What says something else is another statement: a store never changes one that it has.
    with records.work() as session:
        kept = session.scalar(select(Attempt).where(Attempt.key == "k" * 32))
        assert kept is not None
        kept.remarks = "Signed later."
        assert xapi.statements(kept)[0]["id"] != first[0]["id"]


def test_durations() -> None:
    assert [xapi.duration(seconds) for seconds in (0.0, 75.5, 600.0)] == ["PT0S", "PT75.5S", "PT600S"]
