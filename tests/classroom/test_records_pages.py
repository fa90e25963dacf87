"""A check from start to signature: run, handed in, marked by two, signed, re-computed, exported, forgotten."""

from __future__ import annotations

import asyncio
import csv
import io
import json
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from tests.classroom.conftest import Server, Visitor
from tests.classroom.staff import opened, seen, upload
from tests.classroom.wire import Page, run
from trainer.console.crews import crew_of
from trainer.records.privacy import sealed
from trainer.session.custody import Custody
from trainer.session.replay import give
from trainer.simulator import Session


def invite(instructor: Visitor, name: str, role: str) -> Visitor:
    """A new member of staff, logged in."""

    async def story() -> str:
        page = await opened(instructor, "people")
        text = await page.say("Give a one-time password", "One-time password", Name=name, Role=role.capitalize())
        page.close()
        return text.split('class="code">')[1].split("<")[0]

    return Visitor(instructor.url).log_in(name, run(story()))


@pytest.fixture(scope="session")
def checked(server: Server, instructor: Visitor) -> tuple[Visitor, str]:
    """A trainee who has done a check, badly, and the number of the attempt."""
    visitor = Visitor(server.url)

    async def story() -> None:
        staff = await Page(server.url, instructor.cookie()).open(hello=False, path="instructor")
        await asyncio.to_thread(visitor.join, "Dag Rønne", await staff.class_code())
        page = await Page(server.url, visitor.cookie()).open()
        await page.check(staff, "kick-while-drilling", "Dag Rønne")
        page.do("set", "floor.rotary", 0, "floor")
        await page.until(lambda: page.text("page.clock") >= "0:03")
        page.send("header", {"page": "finish"})
        page.send("header", {"page": "finish"})
        await page.until(lambda: page.state("page.page") == "sheet")
        page.send("sheet", {"page": "evidence"})
        await page.until(lambda: page.readings.get("page.evidence", {}).get("content"))
        assert json.loads(page.readings["page.evidence"]["content"])["run"]["mode"] == "check"
        page.close()
        staff.close()

    run(story())
    return visitor, seen(instructor, "attempts", lambda page: page.row(person="Dag Rønne", mode="check"))["attempt"]


def test_from_check_to_signature(server: Server, instructor: Visitor, checked: tuple[Visitor, str]) -> None:
    trainee, number = checked
    one = invite(instructor, "Ines Marlow", "assessor")
    two = invite(instructor, "Teo Vance", "assessor")
    run(_marked_by_two_and_signed(one, two, instructor, number))
    document = json.loads(one.get(f"attempts/{number}/evidence.json"))
    assert document["remarks"] == "Do it again next week."
    assert {"Ines Marlow", "Teo Vance"} == {entry["assessor"] for entry in document["marks"]}
    report = one.get(f"attempts/{number}/report.html")
    assert "Do it again next week." in report
    assert "Gauge was covered" in report
    assert "Verified" in report
    assert seen(two, "agreement", lambda page: page.row(pair="Ines Marlow and Teo Vance"))
    assert "Gauge was covered" in trainee.get(f"mine/{number}")


async def _marked_by_two_and_signed(one: Visitor, two: Visitor, instructor: Visitor, number: str) -> None:
    first = await opened(one, f"attempt?number={number}")
    await first.until(lambda: len(first.choices("Criterion")) > 5)
    waits = [words for words in first.choices("Criterion") if "(to mark)" in words]
    overridden = next(words for words in first.choices("Criterion") if words.startswith("Well shut in"))
    assert waits
    seen_and_heard = "RadioGroup"
    await first.say("Sign: the marks above are mine", "not judged yet")
    first.put("Criterion", overridden)
    await first.until(lambda: first.labelled("Reason for the override"))
    points = first.labelled("Points of ")
    await first.say("Mark", "needs its reason", **{points: "1"})
    await first.say("Mark", "points are a number", **{points: "lots", "Reason for the override": "x"})
    await first.say("Mark", "Marked: 5 of ", **{points: "5", "Reason for the override": "Gauge was covered"})
    second = await opened(two, f"attempt?number={number}")
    for words in waits:
        first.put("Criterion", words)
        await first.until(lambda: first.labelled("Remark"))
        await first.until(lambda: first.choices(seen_and_heard))
        first.put(seen_and_heard, first.choices(seen_and_heard)[1])
        await first.say("Mark", "Marked: ", Remark="Steady voice")
        # A second assessor does not see it before an own mark.
        await second.say("Re-compute now", "Verified: ")
        assert not any("Steady voice" in row["marks"] for row in second.tables()[0])
        second.put("Criterion", words)
        await second.until(lambda: second.choices(seen_and_heard))
        second.put(seen_and_heard, second.choices(seen_and_heard)[0])
        await second.say("Mark", "Marked: 0", Remark="Shouted")
        assert any("Steady voice" in row["marks"] for row in second.tables()[0])
    await first.say("Re-compute now", "Verified: ")
    assert "Cohen" in first.words()
    third = await opened(instructor, f"attempt?number={number}")
    await third.until(lambda: third.row(criterion="Calm, clear and in command"))
    # What is not shown to an instructor is not done for one either.
    await third.say("Mark", "not for you", Remark="x")
    await third.say("Sign: the marks above are mine", "not for you")
    await first.say("Sign: the marks above are mine", "Signed.", Remarks="Do it again next week.")
    await second.say("Mark", "signed", Remark="Too late")
    for page in (first, second, third):
        page.close()


def test_nobody_sees_anothers_attempt(server: Server, instructor: Visitor, checked: tuple[Visitor, str]) -> None:
    trainee, number = checked
    assert "Kick while drilling" in trainee.get("mine")
    document = json.loads(trainee.get(f"mine/{number}/evidence.json"))
    assert document["signature"] and document["person"]["name"] == "Dag Rønne"
    for other in ("", "/evidence.json", "/report.pdf"):
        trainee.get(f"mine/{int(number) + 1}{other}")
        assert trainee.status == 404
    trainee.get(f"attempts/{number}/evidence.json")
    assert trainee.status == 403


def test_the_table_shows_the_failed_check_and_keeps_terms(instructor: Visitor, checked: tuple[Visitor, str]) -> None:
    async def story() -> None:
        page = await opened(instructor, "currency")
        await page.until(lambda: page.row(person="Dag Rønne", drill="Kick while drilling"))
        lost = page.row(person="Dag Rønne", drill="Kick while drilling")
        # Whether it is signed by now hangs on the order of the tests.
        assert lost is not None and lost["state"] in ("to sign", "not finished", "failed")
        assert lost["why"] and lost["_tocheck"] == f"/attempt?number={checked[1]}"
        page.put("Drill", "Kick while drilling")
        fields = {"Counts for, days": "180", "Re-check before its end, days": "20"}
        await page.say("Keep", "kept", **fields)
        await page.say("Keep", "Not done", **{**fields, "Re-check before its end, days": "900"})
        person = page.row(person="Dag Rønne")
        page.close()
        again = await opened(instructor, "currency")
        again.put("Drill", "Kick while drilling")
        await again.until(lambda: again.value("Counts for, days") == "180")
        again.close()
        assert person is not None
        progress = await opened(instructor, person["_toperson"].lstrip("/"))
        await progress.until(lambda: any(model["kind"] == "Figure" for _, model in progress.standing()))
        progress.close()

    run(story())


def test_exports_hold_the_attempt(instructor: Visitor, checked: tuple[Visitor, str]) -> None:
    rows = list(csv.DictReader(io.StringIO(instructor.get("export/attempts.csv"))))
    assert "Dag Rønne" in {row["person"] for row in rows}
    statements: list[dict[str, Any]] = json.loads(instructor.get("export/xapi.json"))
    assert {statement["version"] for statement in statements} == {"1.0.3"}
    assert seen(instructor, "trail", lambda page: page.row(did="export", to="attempts.csv"))


def test_evidence_of_the_other_edition_is_taken_in_once(instructor: Visitor) -> None:
    session = Session.start("lamp-lies", seed=1)
    session.advance(5.0)
    good = json.dumps(session.evidence(name="Liv Strand", role="Driller", date="2031-05-06")).encode()
    forged = json.loads(good)
    forged["sheet"]["score"] = 100.0
    forged["sheet"]["passed"] = True
    files = {"one.json": good, "folder/two.json": json.dumps(forged).encode()}
    text = upload(instructor, files)
    assert "of Liv Strand" in text
    assert text.count("not taken in: ") == 1
    assert "score" in text
    assert "known already" in upload(instructor, {"one.json": good})
    assert seen(instructor, "attempts", lambda page: page.row(person="Liv Strand"))


def test_a_forged_file_gains_nothing_by_being_brought_in_marked_and_signed(
    instructor: Visitor, checked: tuple[Visitor, str]
) -> None:
    judge = invite(instructor, "Aksel Rud", "assessor")
    # A run that passes, dressed up by its author as a check that staff started.
    crew = crew_of("station-handover")
    assert crew is not None
    session = Session.start("station-handover", seed=0, mode="check")
    for entry in crew.log:
        session.advance(entry.t - session.time)
        assert give(session, entry) is None
    session.advance(crew.seconds - session.time)
    forged = session.evidence(name="Flo Odd", role="trainee", date="2026-11-28")
    assert forged["sheet"]["passed"]
    forged["custody"] = Custody(started_by="Ines Marlow", began="2026-11-28T08:00:00+00:00").model_dump()
    # One that this classroom signed, under another name and with another date and ending.
    stolen = json.loads(judge.get(f"attempts/{checked[1]}/evidence.json"))
    stolen["person"]["name"], stolen["date"] = "Anna Fake", "2031-01-01"
    stolen["custody"]["ending"] = "the drill's end"
    files = {
        "altered.json": json.dumps(stolen).encode(),
        "dressed.json": sealed(forged)[0].encode(),
        "stolen.json": sealed(stolen)[0].encode(),
    }
    text = upload(judge, files)
    assert "dressed.json: attempt" in text and "unsigned: it proves what was done, not by whom or when" in text
    assert f"stolen.json: not taken in: the same run is attempt {checked[1]}" in text
    assert "altered.json: not taken in: seal" in text and "the signature does not cover what stands here" in text

    async def story() -> None:
        listed = await opened(judge, "attempts")
        await listed.until(lambda: listed.row(person="Flo Odd"))
        assert not listed.row(person="Anna Fake")
        row = listed.row(person="Flo Odd")
        assert row is not None and row["result"] == "Passed, 100"
        page = await opened(judge, row["_toattempt"].lstrip("/"))
        await page.until(lambda: len(page.choices("Criterion")) > 1)
        for said in ("It was not signed by this classroom", "the file says Ines Marlow: no one here confirms it"):
            assert said in page.words()
        await page.until(lambda: page.choices("RadioGroup"))
        page.put("RadioGroup", page.choices("RadioGroup")[-1])
        await page.say("Mark", "Marked: ")
        await page.say("Sign: the marks above are mine", "Signed. Passed")
        assert "none: the seal shows only that nothing was changed since" in page.words()
        validity = await opened(judge, "currency")
        await validity.until(lambda: validity.row(person="Dag Rønne"))
        assert not validity.row(person="Flo Odd"), "it counts for no validity"
        queue = await opened(judge, "queue")
        await queue.until(lambda: queue.row(person="Dag Rønne") or "No check" in queue.words() or queue.tables())
        assert not queue.row(person="Flo Odd")
        for one in (listed, page, validity, queue):
            one.close()

    run(story())


def test_nobody_waits_at_the_door_for_evidence_that_is_taken_in(server: Server, instructor: Visitor, code: str) -> None:
    session = Session.start("lamp-lies", seed=2)
    session.advance(300.0)
    document = json.dumps(session.evidence(name="Leif Dahl", role="Driller", date="2031-05-06")).encode()
    with ThreadPoolExecutor(1) as beside:
        taken = beside.submit(upload, instructor, {"one.json": document})
        joined = 0
        while not taken.done():
            assert Visitor(server.url).join(f"Gro Lie {joined}", code), "somebody could not join meanwhile"
            joined += 1
        assert "of Leif Dahl" in taken.result()
    assert joined >= 1


def test_a_person_is_forgotten(instructor: Visitor) -> None:
    session = Session.start("lamp-lies", seed=2)
    session.advance(5.0)
    evidence = json.dumps(session.evidence(name="Nils Quendal", role="Driller", date="2031-05-07")).encode()
    assert "of Nils Quendal" in upload(instructor, {"one.json": evidence})

    async def story() -> None:
        page = await opened(instructor, "people")
        await page.until(lambda: page.row(name="Nils Quendal"))
        page.put("Person", "Nils Quendal")
        sure = "Type the name to anonymize or delete"
        await page.say("Anonymize", "not typed the same", **{sure: "Somebody"})
        await page.say("Anonymize", "is now trainee", **{sure: "Nils Quendal"})
        for path in ("people", "attempts", "currency", "trail"):
            shown = await opened(instructor, path)
            await shown.until(lambda shown=shown: any(shown.tables()) or "run out" in shown.words())
            assert "Quendal" not in str(shown.tables()) + shown.words(), path
            shown.close()
        page.close()

    run(story())
    for path in ("export/attempts.csv", "export/xapi.json"):
        assert "Quendal" not in instructor.get(path), path
