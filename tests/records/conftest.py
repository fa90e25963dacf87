"""Records on every database that is on this machine, and the evidence of a small run to keep in them."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.records.postgres import PostgreSQL, binaries
from trainer.records.attempts import Arrival
from trainer.records.database import Records
from trainer.simulator import Session

BACKENDS = ["sqlite", *(["postgresql"] if binaries() else [])]
START = datetime(2031, 5, 6, 7, 8, 9, tzinfo=UTC)


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgreSQL]:
    """One server for all tests of a run."""
    server = PostgreSQL()
    yield server
    server.remove()


@pytest.fixture(params=BACKENDS)
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """An empty database of each kind."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'records.sqlite'}"
    server: PostgreSQL = request.getfixturevalue("postgres")
    return server.database(f"t{uuid.uuid4().hex}")


@pytest.fixture
def records(url: str) -> Iterator[Records]:
    """Records with their tables made."""
    opened = Records(url).prepare()
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def run() -> dict[str, Any]:
    """The evidence of a short, bad run of a shipped drill."""
    session = Session.start("kick-while-drilling", seed=5)
    session.advance(3.0)
    session.submit({"do": "set", "target": "floor.rotary", "value": 0, "from": "floor"})
    session.advance(12.0)
    return session.evidence(name="Ona Tiller", role="Driller")


def arrival(run: dict[str, Any], person: str = "Ona Tiller", **more: Any) -> Arrival:
    """The run on its way into the records."""
    given = {"key": uuid.uuid4().hex, "at": START, **more}
    return Arrival(evidence=json.dumps(run, ensure_ascii=False), person=person, **given)
