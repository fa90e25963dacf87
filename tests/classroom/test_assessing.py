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
from tests.classroom.staff import StaffPage, opened, seen
from tests.classroom.test_records_pages import invite
from tests.classroom.wire import Page, run
from trainer.cli import app

TITLE, NAME = "Kick while drilling", "Una Brandt"


@pytest.fixture(scope="session")
def trainee(joined: Callable[[str], Visitor]) -> Visitor:
    return joined(NAME)


@pytest.fixture(scope="session")
def assessor(instructor: Visitor) -> Visitor:
    return invite(instructor, "Vidar Holt", "assessor")


@pytest.fixture(scope="session")
def attempt(server: Server, instructor: Visitor, assessor: Visitor, trainee: Visitor) -> str:
    """The number of a check that the assessor has started, watched, stopped for a reason and ended."""

    async def story() -> None:
        page = await Page(server.url, trainee.cookie()).open()
        live = await opened(assessor, "live")
        await live.until(lambda: NAME in live.choices("Trainee"))
        live.put("Trainee", NAME)
        await live.say("Start the check", "waits for Begin", Drill=TITLE)
        await page.until(lambda: page.state("page.page") == "console")
        page.send("brief", {"page": "begin"})
        await page.until(lambda: page.state("page.running") == "on")
        row = live.row(trainee=NAME)
        assert row is not None
        watched = Page(server.url, assessor.cookie())
        await watched.connect(await watched.token(row["_towatch"]), "watch")
        watched.send("header", {"page": "hello", "value": "0" * 32, "theme": "light"})
        await watched.until(lambda: f"watching {NAME}" in watched.text("page.mode"))
        page.do("set", "floor.rotary", 0, "floor")
        await live.say("Stop the clock", "for a reason")
        await live.say("Stop the clock", "frozen", Reason="a visitor in the room")
        await live.until(lambda: live.row(trainee=NAME, state="frozen (check)"))
        await live.say("Resume", "goes on")
        await live.until(lambda: live.row(trainee=NAME, state="running (check)"))
        await live.say("Note", "noted", **{"Note of this moment": "Calm from the start"})
        # Nor is a person deleted, or their name taken, while they are checked.
        people = await opened(instructor, "people")
        await people.until(lambda: NAME in people.choices("Person"))
        people.put("Person", NAME)
        for deed in ("Delete", "Anonymize"):
            sure = {"Type the name to anonymize or delete": NAME}
            await people.say(deed, "a check of theirs is under way", **sure)
        await live.say("End the check", "ends", Reason="Time for the next")
        await page.until(lambda: page.state("page.page") == "sheet")
        for one in (watched, page, live, people):
            one.close()

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
    async def story() -> None:
        page = await opened(assessor, f"attempt?number={attempt}")
        await page.until(lambda: "Public key" in page.words())
        for words in (
            "Started by",
            "Vidar Holt",
            "ended by Vidar Holt",
            "a visitor in the room",
            "Calm from the start",
        ):
            assert words in page.words(), words
        assert "this classroom's" in page.words()
        await _marked(page, "5: ", "Spoke up late")
        queue = await opened(assessor, "queue")
        await queue.until(lambda: queue.row(person=NAME, left="to sign"))
        await page.say("Sign: the marks above are mine", "Signed.", Remarks="Again soon.")
        await queue.until(lambda: queue.row(person=NAME) is None)
        queue.close()
        page.close()

    run(story())
    assert re.search(r"Signed off by Vidar Holt, \d{4}-\d\d-\d\d", assessor.get(f"attempts/{attempt}/report.html"))
    evidence, key = tmp_path / "evidence.json", tmp_path / "key.pem"
    evidence.write_text(assessor.get(f"attempts/{attempt}/evidence.json"), "utf-8")
    key.write_text(Visitor(assessor.url).get("key.pem"), "utf-8")
    found = CliRunner().invoke(app, ["verify", str(evidence), "--key", str(key)])
    assert found.exit_code == 0 and "signed: by this key" in found.stdout, found.stdout
    evidence.write_text(evidence.read_text("utf-8").replace(NAME, "Another Name"), "utf-8")
    assert CliRunner().invoke(app, ["verify", str(evidence), "--key", str(key)]).exit_code == 1


def _appealed_answered_and_corrected(assessor: Visitor, trainee: Visitor, instructor: Visitor, attempt: str) -> None:
    assert "with the assessors" in trainee.post(f"mine/{attempt}/appeal", {"text": "I spoke up at once."})
    second = invite(instructor, "Runa Sletta", "assessor")
    assert "open already" in trainee.post(f"mine/{attempt}/appeal", {"text": "Again."})

    async def story() -> None:
        queue = await opened(assessor, "queue")
        await queue.until(lambda: queue.row(attempt=attempt, why="I spoke up at once.", person=NAME, drill=TITLE))
        queue.close()
        page = await opened(assessor, f"attempt?number={attempt}")
        await page.until(lambda: "I spoke up at once." in page.words())
        staff = await opened(instructor, f"attempt?number={attempt}")
        await staff.until(lambda: "I spoke up at once." in staff.words())
        for deed in ("Open for a correction", "Answer the appeal"):
            # What an instructor does not see on the page is refused all the same.
            await staff.say(deed, "not for you", Answer="x", **{"Reason of the correction": "x"})
        staff.close()
        # Another assessor answers: tests beside this one may have brought one, and then who signed may not.
        other = await opened(second, f"attempt?number={attempt}")
        await other.until(lambda: "I spoke up at once." in other.words())
        await other.say("Answer the appeal", "Answered", Answer="Right: the replay shows it.")
        other.close()
        await page.say(
            "Open for a correction", "then sign again", **{"Reason of the correction": "The appeal was right."}
        )
        assert "The appeal was right." in page.words() and "Right: the replay" in page.words()
        await _marked(page, "10: ", "Spoke up at once")
        await page.say("Sign: the marks above are mine", "Signed.", Remarks="")
        assert page.words().count("Signed by") == 1 and "Opened again by Vidar Holt" in page.words()
        assert ": 5, now 10 of 10" in page.words()
        page.close()

    run(story())
    assert "Right: the replay" in trainee.get(f"mine/{attempt}/appeal")
    assert seen(instructor, "trail", lambda page: page.row(did="opened for correction"))


async def _marked(page: StaffPage, level: str, remark: str) -> None:
    """The manner of speaking is marked by the level that begins so."""
    await page.until(lambda: any("Calm, clear" in one for one in page.choices("Criterion")))
    page.put("Criterion", next(one for one in page.choices("Criterion") if "Calm, clear" in one))
    await page.until(lambda: page.choices("RadioGroup"))
    page.put("RadioGroup", next(one for one in page.choices("RadioGroup") if one.startswith(level)))
    await page.say("Mark", f"Marked: {level[:-2]} of 10", Remark=remark)


async def _looked_back_on(assessor: Visitor, trainee: Visitor, attempt: str) -> None:
    """The finished check is replayed from the records, by staff only; nothing in it can be worked."""
    staff = await opened(assessor, f"attempt?number={attempt}")
    await staff.until(lambda: f'href="/watch?attempt={attempt}"' in staff.words())
    staff.close()
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
    async def story() -> None:
        page = await opened(instructor, "competency")
        await page.until(lambda: page.row(person=NAME))
        await page.say("Save", "choose its drills", Name="Nothing")
        await page.say("Save", "Shut-in: saved", Name="Shut-in", CheckboxGroup=[TITLE])
        other = await opened(assessor, "competency")
        await other.until(lambda: other.row(person=NAME, set0=f"0 of 1; missing: {TITLE}"))
        await other.say("Save", "not for you", Name="Mine", CheckboxGroup=[TITLE])
        await other.say("Remove", "not for you", Competency="Shut-in")
        await page.say("Remove", "Shut-in: removed", Competency="Shut-in")
        for one in (page, other):
            one.close()

    run(story())
    trainee.get("competency")
    assert "/login" in trainee.where
