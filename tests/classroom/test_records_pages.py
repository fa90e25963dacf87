"""A check from start to signature: run, handed in, marked by two, signed, re-computed, exported, forgotten."""

from __future__ import annotations

import asyncio
import csv
import io
import json
import re
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from tests.classroom.conftest import Server, Visitor
from tests.classroom.test_attacks import upload
from tests.classroom.wire import Page, run
from tests.waiting import wait_until
from trainer.simulator import Session


def invite(instructor: Visitor, name: str, role: str) -> Visitor:
    """A new member of staff, logged in."""
    text = instructor.post("people", {"deed": "invite", "name": name, "role": role})
    found = re.search(r'class="code">([^<]+)<', text)
    assert found, text
    return Visitor(instructor.url).log_in(name, found[1])


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
    wait_until(lambda: "Dag Rønne" in instructor.get("attempts?mode=check"))
    found = re.search(r'href="/attempts/(\d+)">\d+</a></td><td>Dag Rønne', instructor.get("attempts?mode=check"))
    assert found
    return visitor, found[1]


def test_from_check_to_signature(server: Server, instructor: Visitor, checked: tuple[Visitor, str]) -> None:
    trainee, number = checked
    one = invite(instructor, "Ines Marlow", "assessor")
    two = invite(instructor, "Teo Vance", "assessor")
    page = one.get(f"attempts/{number}")
    criteria = re.findall(r'name="criterion" value="([^"]+)"', page)
    assert len(criteria) > 5
    sign = f"attempts/{number}/sign"
    mark = f"attempts/{number}/mark"
    back = f"attempts/{number}"
    assert "not judged yet" in one.post(sign, {"remarks": ""}, token_from=back)
    assert "needs its reason" in one.post(mark, {"criterion": "shut_in", "points": "1", "remark": ""}, token_from=back)
    assert "points are a number" in one.post(mark, {"criterion": "shut_in", "points": "lots"}, token_from=back)
    one.post(mark, {"criterion": "shut_in", "points": "5", "remark": "Gauge was covered"}, token_from=back)
    for criterion in re.findall(r'value="([^"]+)"', "".join(re.findall(r"<td>for the assessor.*?</tr>", page, re.S))):
        if criterion in criteria:
            one.post(mark, {"criterion": criterion, "points": "3", "remark": "Steady voice"}, token_from=back)
            seen = two.get(back)
            assert "Steady voice" not in seen
            two.post(mark, {"criterion": criterion, "points": "0", "remark": "Shouted"}, token_from=back)
            assert "Steady voice" in two.get(back)
    assert "Cohen" in one.get(back)
    instructor.post(mark, {"criterion": "shut_in", "points": "20", "remark": "x"}, token_from=back)
    assert instructor.status == 403
    assert "Signed." in one.post(sign, {"remarks": "Do it again next week."}, token_from=back)
    assert "signed" in two.post(mark, {"criterion": "shut_in", "points": "9", "remark": "x"}, token_from="import")
    assert "Verified: " in two.post(f"attempts/{number}/verify", {}, token_from=back)
    document = json.loads(one.get(f"attempts/{number}/evidence.json"))
    assert document["remarks"] == "Do it again next week."
    assert {"Ines Marlow", "Teo Vance"} == {entry["assessor"] for entry in document["marks"]}
    report = one.get(f"attempts/{number}/report.html")
    assert "Do it again next week." in report
    assert "Gauge was covered" in report
    assert "Verified" in report
    assert "Ines Marlow and Teo Vance" in two.get("agreement")
    assert "Gauge was covered" in trainee.get(f"mine/{number}")


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


def test_the_matrix_shows_the_failed_check_and_keeps_terms(instructor: Visitor, checked: tuple[Visitor, str]) -> None:
    text = instructor.get("currency")
    assert "Dag Rønne" in text
    assert '<div class="failed">' in text
    fields = {"drill": "kick-while-drilling", "valid": "180", "recheck": "20"}
    assert "kept" in instructor.post("currency", fields)
    assert 'value="180"' in instructor.get("currency")
    assert "Not done" in instructor.post("currency", {**fields, "recheck": "900"})
    plot = instructor.get(re.findall(r'href="(/people/\d+)">Dag', instructor.get("people"))[0].lstrip("/"))
    assert "bokeh" in plot
    assert instructor.status == 200


def test_exports_hold_the_attempt(instructor: Visitor, checked: tuple[Visitor, str]) -> None:
    rows = list(csv.DictReader(io.StringIO(instructor.get("export/attempts.csv"))))
    assert "Dag Rønne" in {row["person"] for row in rows}
    statements: list[dict[str, Any]] = json.loads(instructor.get("export/xapi.json"))
    assert {statement["version"] for statement in statements} == {"1.0.3"}
    assert "export" in instructor.get("trail")


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
    assert "Liv Strand" in instructor.get("attempts")


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
    found = re.search(r'href="/people/(\d+)">Nils Quendal', instructor.get("people"))
    assert found
    change = {"deed": "anonymise", "person": found[1], "sure": "Somebody"}
    assert "not typed the same" in instructor.post("people", change)
    assert "is now trainee" in instructor.post("people", {**change, "sure": "Nils Quendal"})
    for path in ("people", "attempts", "currency", "export/attempts.csv", "export/xapi.json", "trail"):
        assert "Quendal" not in instructor.get(path), path
