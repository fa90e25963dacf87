"""Two server processes over one PostgreSQL, behind the documented web server: one class, whoever serves whom."""

from __future__ import annotations

import asyncio
import contextlib
import http.client
import re
import socket
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import update

from tests.classroom.conftest import Server, Visitor
from tests.classroom.nginx import Nginx, free_port, program
from tests.classroom.test_instructor import number_of, say
from tests.classroom.wire import Page, run
from tests.records.postgres import PostgreSQL, binaries
from tests.waiting import PATIENCE, wait_until
from trainer.classroom.class_rooms import ClassRooms, place_number
from trainer.classroom.elsewhere import elsewhere
from trainer.classroom.members import own_outbox
from trainer.classroom.roster import FarPlace
from trainer.records import members, people
from trainer.records.audit import now
from trainer.records.database import Records, RecordsError
from trainer.records.tables import Word

NAMES = ("Ada Brook", "Noel Crane", "Siri Vik", "Odd Fjell", "Pia Lund", "Jon Sedge", "Lena Frost", "Ravi Holm")


@dataclass
class Both:
    """Two processes and the address before them."""

    url: str
    one: Server
    two: Server
    instructor: Visitor


@pytest.fixture(params=["nginx"] if program() and binaries() else [])
def both(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Both]:
    database = PostgreSQL()
    web = free_port()
    folder = tmp_path_factory.mktemp("both")
    url = database.database("class")
    servers = [
        Server(folder, "--proxy", "--member", name, "--records", url, "--origin", f"127.0.0.1:{web}")
        for name in ("one", "two")
    ]
    nginx = None
    try:
        for server in servers:
            server.start()
        one, two = servers
        nginx = Nginx(web, int(one.port), int(two.port))
        # Of two first starts the secret that was told last counts.
        yield Both(nginx.url, one, two, Visitor(nginx.url).log_in("instructor", two.secret))
    finally:
        if nginx is not None:
            nginx.remove()
        for server in servers:
            server.stop()
        database.remove()


def cookies(visitor: Visitor) -> str:
    """Who one is, and which way one is led."""
    return f"{visitor.cookie()}; trainer_way={visitor.cookie('trainer_way')}"


def test_who_wants_to_join_a_crew_at_the_other_process_is_led_there(both: Both) -> None:
    async def story() -> None:
        staff = await Page(both.url, cookies(both.instructor)).open(hello=False, path="instructor")
        code = await staff.class_code()
        pages: dict[str, list[tuple[Page, Visitor, str]]] = {}
        for name in NAMES:
            visitor = Visitor(both.url)
            await asyncio.to_thread(visitor.join, name, code)
            page = await Page(both.url, cookies(visitor)).open()
            await staff.until(lambda name=name: name in staff.markup["desk_roster"])
            way = re.search(rf'href="/at/(one|two)/watch\?seat={number_of(staff, name)}"', staff.markup["desk_roster"])
            pages.setdefault(way[1] if way else "", []).append((page, visitor, name))
            if len(pages) == 2:
                break
        assert len(pages) == 2, "everybody is at one process"
        (other,) = {"one", "two"} & pages.keys()
        opener, joiner, visitor = pages[other][0][0], *pages[""][0][:2]
        opener.send("chooser", {"page": "crew-open", "drill": "crew-kick", "post": "driller"})
        await opener.until(lambda: "Talk line" in opener.markup.get("crew", ""))
        # It is shown to whom the other process serves, with the way there; it cannot be joined from afar.
        await joiner.until(lambda: f'href="/at/{other}/"' in str(joiner.readings.get("page.crews")))
        assert "Crew: kick while drilling" in str(joiner.readings["page.crews"])
        assert "crew-join" not in str(joiner.readings["page.crews"])
        there = Page(f"{both.url}at/{other}/", cookies(visitor), seat=joiner.seat)
        await there.connect(await there.token(), origin=both.url.rstrip("/"))
        there.send("header", {"page": "hello", "value": joiner.seat, "theme": "light"})
        await there.until(lambda: "crew-join" in str(there.readings.get("page.crews")))
        number = re.search(
            r"crew-join[^}]*?crew(?:&quot;|\\?\"): ?(?:&quot;|\\?\")([0-9a-f]+)", str(there.readings["page.crews"])
        )
        assert number, there.readings["page.crews"]
        there.send("chooser", {"page": "crew-join", "crew": number[1], "post": "toolpusher"})
        await there.until(lambda: "Talk line" in there.markup.get("crew", ""))
        for page in (staff, opener, joiner, there):
            page.close()

    run(story())


def test_an_instructor_sees_and_steers_runs_of_both_processes(both: Both) -> None:
    async def story() -> None:
        staff = await Page(both.url, cookies(both.instructor)).open(hello=False, path="instructor")
        code = await staff.class_code()
        here: dict[str, Page] = {}
        far: dict[str, Page] = {}
        visitors: dict[str, Visitor] = {}
        for name in NAMES:
            visitors[name] = Visitor(both.url)
            await asyncio.to_thread(visitors[name].join, name, code)
            page = await Page(both.url, cookies(visitors[name])).open()
            await staff.until(lambda name=name: name in staff.markup["desk_roster"])
            number = number_of(staff, name)
            elsewhere = re.search(rf'href="/at/(one|two)/watch\?seat={number}"', staff.markup["desk_roster"])
            (far if elsewhere else here)[name] = page
            if here and far:
                break
        assert here, "nobody is at the instructor's own process"
        assert far, "nobody is at the other process"
        (name, trainee), *_ = far.items()
        near = next(iter(here.values()))
        await trainee.start("")
        await near.start("")
        await staff.until(lambda: staff.text(f"seat.{number_of(staff, name)}.state") == "running")
        await say(staff, "desk_roster", {"page": "select", "number": number_of(staff, name)}, said="")

        # Everything goes to the run at the other process, and what came of it comes back.
        await say(staff, "desk_run", {"page": "freeze"}, f"{name}: frozen")
        await trainee.until(lambda: trainee.text("page.pause") == "Frozen")
        await say(staff, "desk_run", {"page": "resume"}, "goes on")
        await say(staff, "desk_talk", {"page": "tell", "text": "Look at the tank"}, "told")
        await trainee.until(lambda: trainee.text("page.told") == "instructor: Look at the tank")
        fault = {"page": "fault", "fault": "power.ac_lost", "severity": "100", "over": "0"}
        await say(staff, "desk_plant", fault, "100 %")
        await trainee.until(lambda: trainee.state("power.ac") == "off")
        await staff.until(lambda: "Rig AC lost" in str(staff.readings["desk.faults"]))
        assert (await say(staff, "desk_plant", {**fault, "fault": "no.such"})).startswith("Not done: ")
        trainee.do("set", "upper_annular", "close")
        await staff.until(lambda: "Upper annular: close" in str(staff.readings["desk.log"]))
        trainee.send("room", {"page": "request", "text": "Shut bank A"})
        await staff.until(lambda: "Shut bank A" in str(staff.readings["desk.asks"]))
        await say(staff, "desk_run", {"page": "freeze", "to": "all"})
        for page in (trainee, near):
            await page.until(lambda page=page: page.text("page.pause") == "Frozen")
        await staff.until(lambda: staff.text("desk.said").startswith("At "))
        staff.send("desk_run", {"page": "resume", "to": "all"})
        for page in (trainee, near):
            await page.until(lambda page=page: page.text("page.pause") != "Frozen")

        # Watched across the processes.
        found = re.search(rf'href="/(at/\w+/watch\?seat={number_of(staff, name)})"', staff.markup["desk_roster"])
        assert found
        watcher = Page(both.url, cookies(both.instructor))
        await watcher.connect(await watcher.token(found[1]), found[1].split("?")[0])
        watcher.send("header", {"page": "hello", "value": "0" * 32, "theme": "light"})
        await watcher.until(lambda: f"watching {name}" in watcher.text("page.mode"))
        watcher.close()

        # Its process dies: the other one takes the run up, and it goes on where it was.
        await trainee.until(lambda: trainee.state("upper_annular.lamp_close") == "on")
        dying = both.one if "/one/" in f"/{found[1]}" else both.two
        trainee.close()
        dying.kill()
        again = await Page(both.url, cookies(visitors[name]), seat=trainee.seat).open()
        assert again.state("page.page") == "console"
        assert again.state("upper_annular.lamp_close") == "on"
        number = number_of(staff, name)
        await staff.until(lambda: f'href="watch?seat={number}"' in staff.markup["desk_roster"])
        await say(staff, "desk_run", {"page": "end"}, "Nothing is done yet")
        await say(staff, "desk_run", {"page": "cut"}, "the run ends")
        await again.until(lambda: again.state("page.page") == "sheet")
        for page in (staff, near, again):
            page.close()
        dying.start()

    run(story())


@pytest.mark.skipif(program() is None, reason="nginx is not on this machine")
def test_behind_a_web_server_an_address_has_so_many_connections_and_no_more() -> None:
    port = free_port()
    nginx = Nginx(port, free_port(), free_port(), most=5)

    def status() -> int:
        with contextlib.closing(http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)) as one:
            one.request("GET", "/login")
            return one.getresponse().status

    begun = []
    try:
        assert status() == 502, "nobody is behind it here"
        for _ in range(5):
            one = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE)
            one.sendall(b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 100\r\n\r\n")
            begun.append(one)
        wait_until(lambda: status() == 503)
        begun.pop().close()
        wait_until(lambda: status() == 502)
    finally:
        for one in begun:
            one.close()
        nginx.remove()


def test_only_an_instructors_words_are_taken(both: Both) -> None:
    database = Records(_url(both)).prepare()
    with database.work() as session:
        trainee = people.find_or_add(session, "Vera Knot")
        forged = members.send(session, "three", "one", trainee.id, {"page": "freeze", "to": "all"})
        teacher = people.find(session, "instructor")
        assert teacher is not None
        empty = members.send(session, "three", "one", teacher.id, {"page": "freeze"})
        late = members.send(session, "three", "one", teacher.id, {"page": "end", "to": "all"})
        session.execute(update(Word).where(Word.id == late).values(at=now() - timedelta(seconds=60)))
        with pytest.raises(ValueError, match="too long"):
            members.send(session, "three", "one", teacher.id, {"page": "tell", "text": "x" * 50_000})
    answered: dict[int, members.Answer] = {}

    def both_came() -> bool:
        with database.work() as session:
            answered.update((one.number, one) for one in members.answers(session, "three"))
        return {forged, empty, late} <= answered.keys()

    wait_until(both_came)
    assert answered[forged].kind == "refused"
    assert "only an instructor" in answered[forged].said
    assert answered[empty].said == "no one was chosen"
    assert "too late" in answered[late].said
    database.close()


def _url(both: Both) -> str:
    return both.one.arguments[both.one.arguments.index("--records") + 1]


def test_a_page_of_staff_says_whom_another_process_serves() -> None:
    people = [FarPlace("two", "a", "Noel Crane", "", False, {}), FarPlace("two", "b", "Ada Brook", "", True, {})]
    crew = FarPlace("two", "c", "Crew: Siri Vik", "", False, {}, crew={"joined": ""})
    said = elsewhere([*people, crew], "crews")
    assert "Another server, two, serves Noel Crane." in said
    assert 'href="/at/two/crews"' in said
    assert "Ada Brook" not in said and "Siri Vik" not in said
    assert elsewhere([], "crews") == ""


def test_a_name_of_a_process_is_no_path(tmp_path: Path) -> None:
    assert own_outbox(tmp_path, "one") == tmp_path / "outbox" / "one"
    for wrong in ("../x", "", "A", "a b", "x" * 30):
        with pytest.raises(RecordsError, match="no name of a server process"):
            own_outbox(tmp_path, wrong)


def test_a_run_that_went_on_elsewhere_is_taken_up_and_not_handed_in_twice(tmp_path: Path) -> None:
    handed: list[object] = []
    one, two = (ClassRooms(tmp_path / "journal", handed.append) for _ in range(2))
    token, page = "a" * 32, object()
    first = one.take(token, page)
    first.hello()
    first.handle({"page": "start", "drill": "", "mode": "practice", "seed": "0"})
    first.tick(1.0)
    one.leave(first, page)
    second = two.take(token, page)
    second.hello()
    second.handle({"page": "pause"})
    second.handle({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"})
    second.tick(1.0)
    two.leave(second, page)
    third = one.take(token, page)
    assert third is not first
    assert third.run is not None
    assert [entry.target for entry in third.run.log] == ["upper_annular"]  # type: ignore[attr-defined]
    # What the first one still holds writes nothing into the run of the others.
    size = (tmp_path / "journal" / f"{place_number(token, None)}.jsonl").stat().st_size
    first.tick(1.0)
    assert (tmp_path / "journal" / f"{place_number(token, None)}.jsonl").stat().st_size == size
