"""An assessor's day: start a check, watch, mark, sign, hand over; another verifies; an appeal and a correction."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from tornado.httpclient import HTTPClientError
from typer.testing import CliRunner

from tests.classroom.conftest import Server, Visitor
from tests.classroom.staff import seen
from tests.classroom.test_records_pages import invite
from tests.classroom.wire import Page, run
from trainer.cli import app

DRILL = "kick-while-drilling"
NAME = "Una Brandt"


@pytest.fixture(scope="session")
def trainee(joined: Callable[[str], Visitor]) -> Visitor:
    return joined(NAME)


@pytest.fixture(scope="session")
def assessor(instructor: Visitor) -> Visitor:
    return invite(instructor, "Vidar Holt", "assessor")


@pytest.fixture(scope="session")
def attempt(server: Server, instructor: Visitor, assessor: Visitor, trainee: Visitor) -> str:
    """The number of a check that the assessor has started, watched, stopped for a reason and ended."""

    async def post(said: str, **fields: str) -> str:
        text = await asyncio.to_thread(assessor.post, "live", fields)
        assert said in text, text
        return text

    async def story() -> None:
        page = await Page(server.url, trainee.cookie()).open()
        text = await asyncio.to_thread(assessor.get, "live")
        found = re.search(rf'value="([0-9a-f]{{20}})"[^>]*>{NAME}<', text)
        assert found, text
        number = found[1]
        await post("started", deed="start", number=number, drill=DRILL)
        await page.until(lambda: page.state("page.page") == "console", 180.0)
        page.send("brief", {"page": "begin"})
        await page.until(lambda: page.state("page.running") == "on")
        watched = Page(server.url, assessor.cookie())
        await watched.connect(await watched.token(f"watch?seat={number}"), "watch")
        watched.send("header", {"page": "hello", "value": "0" * 32, "theme": "light"})
        await watched.until(lambda: f"watching {NAME}" in watched.text("page.mode"))
        page.do("set", "floor.rotary", 0, "floor")
        await post("for a reason", deed="freeze", number=number)
        await post("frozen", deed="freeze", number=number, reason="a visitor in the room")
        await post("goes on", deed="resume", number=number)
        now = await asyncio.to_thread(assessor.get, "live?now=1")
        assert 'http-equiv="refresh"' in now and "running (check)" in now and "<form" not in now
        await post("noted", deed="note", number=number, text="Calm from the start")
        await post("only an instructor", deed="fault", number=number)
        # Nor is a person deleted, or their name taken, while they are checked.
        listed = await asyncio.to_thread(instructor.get, "people")
        person = re.search(rf'href="/people/(\d+)">{NAME}', listed)
        assert person
        for deed in ("delete", "anonymise"):
            asked = {"deed": deed, "person": person[1], "sure": NAME}
            assert "a check of theirs is under way" in await asyncio.to_thread(instructor.post, "people", asked)
        await post("ends", deed="end", number=number, reason="Time for the next")
        await page.until(lambda: page.state("page.page") == "sheet")
        watched.close()
        page.close()

    run(story())
    return str(seen(assessor, "queue", lambda page: page.row(person=NAME))["attempt"])


def test_from_the_start_of_a_check_to_an_appeal_and_its_correction(
    assessor: Visitor, trainee: Visitor, instructor: Visitor, attempt: str, tmp_path: Path
) -> None:
    # One story in one test: workers of pytest may take the tests of a module in any order.
    run(_looked_back_on(assessor, trainee, attempt))
    _signed_and_proved_on_another_machine(assessor, attempt, tmp_path)
    _appealed_answered_and_corrected(assessor, trainee, instructor, attempt)


def _signed_and_proved_on_another_machine(assessor: Visitor, attempt: str, tmp_path: Path) -> None:
    text = assessor.get(f"attempts/{attempt}")
    for words in ("Started by", "Vidar Holt", "ended by Vidar Holt", "a visitor in the room", "Calm from the start"):
        assert words in text, words
    assert "this classroom&#x27;s" in text or "this classroom's" in text
    for criterion in re.findall(r'name="criterion" value="([^"]+)"', text):
        if criterion == "manner":
            fields = {"criterion": criterion, "points": "5", "remark": "Spoke up late"}
            assessor.post(f"attempts/{attempt}/mark", fields, token_from=f"attempts/{attempt}")
    assert seen(assessor, "queue", lambda page: page.row(person=NAME))["left"] == "to sign"
    signed = assessor.post(f"attempts/{attempt}/sign", {"remarks": "Again soon."}, token_from=f"attempts/{attempt}")
    assert "Signed." in signed
    assert re.search(r"Signed off by Vidar Holt, \d{4}-\d\d-\d\d", assessor.get(f"attempts/{attempt}/report.html"))
    evidence, key = tmp_path / "evidence.json", tmp_path / "key.pem"
    evidence.write_text(assessor.get(f"attempts/{attempt}/evidence.json"), "utf-8")
    key.write_text(Visitor(assessor.url).get("key.pem"), "utf-8")
    found = CliRunner().invoke(app, ["verify", str(evidence), "--key", str(key)])
    assert found.exit_code == 0 and "signed: by this key" in found.stdout, found.stdout
    evidence.write_text(evidence.read_text("utf-8").replace(NAME, "Another Name"), "utf-8")
    assert CliRunner().invoke(app, ["verify", str(evidence), "--key", str(key)]).exit_code == 1


def _appealed_answered_and_corrected(assessor: Visitor, trainee: Visitor, instructor: Visitor, attempt: str) -> None:
    instructor.post(f"attempts/{attempt}/correct", {"reason": "x"}, token_from="people")
    assert instructor.status == 403
    made = trainee.post(f"mine/{attempt}/appeal", {"text": "I spoke up at once."})
    assert "with the assessors" in made
    assert "open already" in trainee.post(f"mine/{attempt}/appeal", {"text": "Again."})
    text = assessor.get(f"attempts/{attempt}")
    number = re.search(r'name="appeal" value="(\d+)"', text)
    # With the appeal the page shows what is to be marked, which a signed check is not any more.
    waits = {"attempt": attempt, "why": "I spoke up at once."}
    assert number and not seen(assessor, "queue", lambda page: page.row(**waits) and [page.row(person=NAME)])[0]
    answer = {"appeal": number[1], "answer": "Right: the replay shows it."}
    assert "Right: the replay" in assessor.post(f"attempts/{attempt}/answer", answer, token_from=f"attempts/{attempt}")
    assert "Right: the replay" in trainee.get(f"mine/{attempt}/appeal")
    reason = {"reason": "The appeal was right."}
    text = assessor.post(f"attempts/{attempt}/correct", reason, token_from=f"attempts/{attempt}")
    assert "The appeal was right." in text and "Points of" in text
    fields = {"criterion": "manner", "points": "10", "remark": "Spoke up at once"}
    assessor.post(f"attempts/{attempt}/mark", fields, token_from=f"attempts/{attempt}")
    assessor.post(f"attempts/{attempt}/sign", {"remarks": ""}, token_from=f"attempts/{attempt}")
    text = assessor.get(f"attempts/{attempt}")
    assert text.count("Signed by") == 1 and "Opened again by Vidar Holt" in text
    assert "opened for correction" in instructor.get("trail")


async def _looked_back_on(assessor: Visitor, trainee: Visitor, attempt: str) -> None:
    """The finished check is replayed from the records, by staff only; nothing in it can be worked."""
    assert f'href="/watch?attempt={attempt}"' in await asyncio.to_thread(assessor.get, f"attempts/{attempt}")
    with pytest.raises(HTTPClientError):
        await Page(assessor.url, trainee.cookie()).token(f"watch?attempt={attempt}")
    page = Page(assessor.url, assessor.cookie())
    await page.connect(await page.token(f"watch?attempt={attempt}"), "watch")
    page.send("header", {"page": "hello", "value": "0" * 32, "theme": "light"})
    await page.until(lambda: page.state("page.page") == "sheet")
    assert f"the record of {NAME}" in page.text("page.mode") and "Not passed" in page.readings["page.sheet"]["html"]
    page.send("sheet", {"page": "again", "value": "same"})
    await page.until(lambda: "it is looked at" in page.readings["page.refusal"]["html"])
    page.send("sheet", {"page": "after", "value": "timeline"})
    await page.until(lambda: "Calm from the start" in page.readings["page.after_body"]["html"])
    page.send("sheet", {"page": "replay", "value": "0"})
    await page.until(lambda: page.state("page.page") == "replay" and page.text("page.clock") == "0:00")
    page.send("entries", {"page": "seek", "value": "9999"})
    await page.until(lambda: "Rotary: 0 rpm" in page.text("page.told") and page.text("page.clock") > "0:00")
    page.do("set", "upper_annular", "close")
    page.send("entries", {"page": "take-over"})
    await asyncio.sleep(0)
    assert page.state("page.page") == "replay"
    page.close()


def test_a_competency_is_a_set_of_drills_and_shows_who_has_it(
    instructor: Visitor, assessor: Visitor, trainee: Visitor
) -> None:
    said = instructor.post("competency", {"name": "Shut-in", "drills": DRILL})
    assert "Shut-in: saved" in said
    row = assessor.get("competency").split(f">{NAME}<")[1].split("</tr>")[0]
    assert "0 of 1; missing: Kick while drilling" in row
    assert "choose its drills" in instructor.post("competency", {"name": "Nothing"})
    trainee.get("competency")
    assert trainee.status == 403
    assert "Shut-in: removed" in instructor.post("competency", {"remove": "Shut-in"})
