"""A drill that was made of a run comes into the class: looked through as data, bounded, and kept for its evidence;
what planning computes is computed beside the server."""

from __future__ import annotations

import json
import secrets
from pathlib import Path

import pytest
from sqlalchemy import delete

from tests.chromium import in_the_long_form
from tests.classroom.conftest import Server, Visitor
from tests.classroom.staff import opened, seen
from tests.classroom.wire import run
from trainer.classroom import skeleton
from trainer.classroom.drill_page import checked
from trainer.drills import library
from trainer.drills.schema import LARGEST_FILE
from trainer.records import attempts
from trainer.records.attempts import Arrival
from trainer.records.audit import now
from trainer.records.database import Records
from trainer.records.tables import Attempt
from trainer.simulator import Session


def made(name: str) -> str:
    """The drill file that the desk makes of a short run."""
    session = Session.start(None, mode="practice")
    session.submit({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"})
    session.advance(20.0)
    return skeleton.build(session, name)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe\x00", "is not UTF-8 text"),
        (b"id = [", "is not TOML"),
        (b'title = "Nothing else"', "missing; add"),
        (b"#" * (LARGEST_FILE + 1), "larger than"),
        (made("Mine").replace("quillback", "../../etc/passwd").encode(), "plants[1]"),
        (made("Mine").replace("upper_annular", "upper_anular").encode(), "did you mean upper_annular"),
        (library.find("lamp-lies").read_bytes(), "is the name of a shipped drill"),
        (made("Mine").replace('id = "mine"', 'id = "../mine"').encode(), "id: given '../mine'"),
    ],
)
def test_a_file_that_is_no_sound_drill_says_where_and_why(content: bytes, said: str) -> None:
    found = checked(content)
    assert any(said in fault for fault in found.faults), found.faults


@in_the_long_form
def test_planning_is_computed_in_a_process_of_its_own(server: Server, instructor: Visitor) -> None:
    assert "Planning sheet of" in instructor.get("sizing?plant=sandpiper")
    assert instructor.status == 200
    assert server.process is not None
    children = Path(f"/proc/{server.process.pid}/task/{server.process.pid}/children").read_text().split()
    commands = [Path(f"/proc/{child}/cmdline").read_bytes() for child in children]
    assert any(b"spawn_main" in command for command in commands)


def test_a_drill_made_of_a_run_is_brought_in_and_kept_for_its_evidence(
    server: Server, instructor: Visitor, tmp_path: Path
) -> None:
    name = f"mine-{secrets.token_hex(3)}"
    text = made(name)

    async def bring(content: str, said: str) -> str:
        page = await opened(instructor, "drills")
        page.bring("Drill file (TOML)", {"any name.toml": content.encode()} if content else {})
        answer = await page.say("Check and bring in", said)
        page.close()
        return answer

    async def take_away(said: str, sure: str = name) -> None:
        page = await opened(instructor, "drills")
        await page.until(lambda: name in page.choices("Drill to delete"))
        await page.say("Delete", said, **{"Drill to delete": name, "Type its id to delete it": sure})
        page.close()

    run(bring("", "no file was sent"))
    assert "Correct this" in run(bring(text.replace("upper_annular", "upper_anular"), "Not brought in"))
    run(bring(text, f"{name}: brought in."))
    assert instructor.get(f"drills/{name}.toml") == text
    assert seen(instructor, "attempts", lambda page: name in page.choices("Drill")), "it stands among the others"
    run(take_away("not typed the same", "no"))
    # What an attempt was done with stays as long as there is the attempt.
    path = tmp_path / f"{name}.toml"
    path.write_text(text, "utf-8")
    session = Session.start(path)
    session.advance(2.0)
    records = Records(f"sqlite:///{server.folder / 'records.sqlite'}").prepare()
    with records.work() as work:
        person = f"Runa Vik {name}"
        attempts.keep(work, Arrival(name, json.dumps(session.evidence(name=person)), person, now()))
    assert "give the changed drill another id" in run(bring(text + "# changed\n", "Not brought in"))
    run(take_away("needs this file"))
    with records.work() as work:
        work.execute(delete(Attempt).where(Attempt.drill == name))
    records.close()
    run(take_away(f"{name}: deleted"))
    instructor.get(f"drills/{name}.toml")
    assert instructor.status == 404
