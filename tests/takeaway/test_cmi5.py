"""The package for learning systems: its structure, and every statement of three sessions, held against the standards.

Sources: cmi5 (Quartz, first edition), sections 8 to 10 and 13; xAPI 1.0.3 by the schema of ``tests/records``. The
record store here is the test's own: it keeps what it is given and answers as both standards say. No learning system of
others was at hand.
"""

from __future__ import annotations

import http.server
import json
import re
import shutil
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit
from xml.etree import ElementTree

import pytest
from jsonschema import Draft202012Validator

from tests.waiting import PATIENCE
from trainer import resources
from trainer.drills import library
from trainer.learn import courses
from trainer.takeaway.cmi5 import SPACE, structure

HERE = Path(__file__).parent
SCHEMA = json.loads((HERE.parent / "records" / "xapi.schema.json").read_text("utf-8"))
REGISTRATION = "5e0c1f5a-7a1c-4b53-9d0b-6a0f5e9f7c11"
CMI5 = "https://w3id.org/xapi/cmi5/context"
TEMPLATE = {
    "extensions": {f"{CMI5}/extensions/sessionid": "a-session"},
    "contextActivities": {"grouping": [{"objectType": "Activity", "id": "https://learn.invalid/unit"}]},
}
LAUNCH = {
    "contextTemplate": TEMPLATE,
    "launchMode": "Normal",
    "moveOn": "Passed",
    "masteryScore": 0.7,
    "returnURL": "https://learn.invalid/back",
}


class Store(http.server.BaseHTTPRequestHandler):
    """A record store with one learner: ``states`` by id, ``asked`` (method, path) in their order, ``statements``."""

    states: dict[str, Any]
    asked: list[str]
    statements: list[dict[str, Any]]

    def _answer(self, status: int, document: Any = None) -> None:
        body = json.dumps(document).encode() if document is not None else b""
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def _take(self) -> Any:
        length = int(self.headers.get("Content-Length") or 0)
        return json.loads(self.rfile.read(length)) if length else None

    def _hear(self) -> tuple[str, dict[str, str]]:
        split = urlsplit(self.path)
        query = {name: values[0] for name, values in parse_qs(split.query).items()}
        self.asked.append(f"{self.command} {split.path}{' ' + query['stateId'] if 'stateId' in query else ''}")
        if split.path != "/fetch":
            assert self.headers["Authorization"] == "Basic dG9rZW4="
            assert self.headers["X-Experience-API-Version"] == "1.0.3"
        return split.path, query

    def do_GET(self) -> None:
        """A state document, or none."""
        path, query = self._hear()
        found = self.states.get(query.get("stateId", "")) if path == "/xapi/activities/state" else None
        self._answer(404 if found is None else 200, found)

    def do_PUT(self) -> None:
        """Keep a state document."""
        _, query = self._hear()
        assert query["registration"] == REGISTRATION
        self.states[query["stateId"]] = self._take()
        self._answer(204)

    def do_POST(self) -> None:
        """The token, or statements."""
        path, _ = self._hear()
        given = self._take()
        if path == "/fetch":
            self._answer(200, {"auth-token": "dG9rZW4="})
            return
        self.statements.extend(given)
        self._answer(200, [one["id"] for one in given])

    def log_message(self, format: str, *args: object) -> None:
        """Silent."""


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Iterator[type[Store]]:
    """The store after three sessions of one registration: failed, passed, and one more failure."""
    folder = tmp_path_factory.mktemp("cmi5")
    shutil.copy(resources.assets() / "script" / "cmi5.js", folder / "cmi5.mjs")
    shutil.copy(HERE / "session.mjs", folder)
    kind = type("Kept", (Store,), {"states": {"LMS.LaunchData": LAUNCH}, "asked": [], "statements": []})
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), kind)
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_address[1]}"
    command = ["node", "session.mjs", address, REGISTRATION]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=PATIENCE, check=False)
    server.shutdown()
    server.server_close()
    assert done.returncode == 0, done.stderr
    yield kind


def verbs(played: type[Store]) -> list[list[str]]:
    """The last words of the verbs, by session."""
    found: list[list[str]] = []
    for one in played.statements:
        verb = one["verb"]["id"].rpartition("/")[2]
        if verb == "initialized":
            found.append([])
        found[-1].append(verb)
    return found


def test_every_statement_fits_the_experience_api(played: type[Store]) -> None:
    check = Draft202012Validator(SCHEMA)
    for one in played.statements:
        assert [error.message for error in check.iter_errors(one)] == [], one
    ids = [one["id"] for one in played.statements]
    assert len(ids) == len(set(ids)) > 15


def test_the_launch_asks_in_the_order_of_the_standard(played: type[Store]) -> None:
    assert played.asked[:4] == [
        "POST /fetch",
        "GET /xapi/activities/state LMS.LaunchData",
        "GET /xapi/agents/profile",
        "GET /xapi/activities/state panel-trainer.done",
    ]
    assert played.asked[4] == "POST /xapi/statements"


def test_a_session_begins_ends_and_says_each_verdict_once(played: type[Store]) -> None:
    sessions = verbs(played)
    assert len(sessions) == 3
    for one in sessions:
        assert (one[0], one[-1], one.count("terminated")) == ("initialized", "terminated", 1)
    # Practice and another drill judge nothing; only the first check of a session does.
    assert [[verb for verb in one if verb in ("completed", "passed", "failed")] for one in sessions] == [
        ["completed", "failed"],
        ["passed"],
        [],
    ]


def test_a_verdict_has_its_categories_score_and_mastery(played: type[Store]) -> None:
    for one in played.statements:
        verb, context = one["verb"]["id"].rpartition("/")[2], one["context"]
        assert context["registration"] == REGISTRATION
        assert context["extensions"][f"{CMI5}/extensions/sessionid"] == "a-session"
        assert context["contextActivities"]["grouping"] == TEMPLATE["contextActivities"]["grouping"]
        category = {each["id"].rpartition("/")[2] for each in context["contextActivities"].get("category", [])}
        moves = verb in ("completed", "passed", "failed")
        assert category == (set() if verb == "scored" else {"cmi5", "moveon"} if moves else {"cmi5"}), verb
        mastery = context["extensions"].get(f"{CMI5}/extensions/masteryscore")
        assert mastery == (0.7 if verb in ("passed", "failed") else None)
        if verb in ("passed", "failed"):
            assert one["result"]["success"] is (verb == "passed")
            assert (one["result"]["score"]["scaled"] >= 0.7) is (verb == "passed")
        if moves or verb == "terminated":
            assert re.fullmatch(r"PT\d+\.\d\dS", one["result"]["duration"])
        assert ("learning-point" in one["object"]["id"]) is (verb == "scored")


def test_the_package_lists_every_drill_of_every_course() -> None:
    drills = library.all_drills()
    shipped = courses.shipped()
    root = ElementTree.fromstring(structure(shipped, drills))
    assert root.tag == f"{{{SPACE}}}courseStructure"
    assert [child.tag.rpartition("}")[2] for child in root] == ["course", *["block"] * len(shipped)]
    units = root.findall(f".//{{{SPACE}}}au")
    assert {unit.findtext(f"{{{SPACE}}}url") for unit in units} == {f"index.html?drill={name}" for name in drills}
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for unit in units:
        assert [child.tag.rpartition("}")[2] for child in unit] == ["title", "description", "url"]
        assert unit.get("moveOn") == "Passed" and 0.0 < float(unit.get("masteryScore") or 0) <= 1.0
