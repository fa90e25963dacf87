"""Attacks tried against a running classroom, and refused."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import gc
import gzip
import http.client
import json
import logging
import re
import secrets
import socket
import threading
import time
import urllib.parse
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast
from unittest.mock import MagicMock
from weakref import ref

import panel as pn
import pytest
from argon2 import PasswordHasher
from bokeh.document import Document
from panel.io.state import set_curdoc
from tornado.httpclient import HTTPClientError
from tornado.netutil import bind_sockets
from tornado.web import Application, HTTPError
from tornado.websocket import WebSocketClosedError

from tests.classroom.conftest import SECRET, Server, Visitor
from tests.classroom.staff import opened, seen, upload
from tests.classroom.test_records_pages import invite
from tests.classroom.wire import Page, run
from tests.waiting import PATIENCE
from trainer.classroom import opening
from trainer.classroom.access import Access, DeniedError, Who
from trainer.classroom.attempt_page import Attempts
from trainer.classroom.capped import CappedServer
from trainer.classroom.channel import LONGEST_MESSAGE
from trainer.classroom.doors import MOST_WAITING, LogIn
from trainer.classroom.files import MOST_FILES
from trainer.classroom.gate import ANYBODY, UNWANTED, Gate, Holder, roles_for
from trainer.classroom.held import MOST_PAGES, MOST_SOCKETS, Held
from trainer.classroom.limits import Limit
from trainer.classroom.live import modest
from trainer.classroom.live_page import Live
from trainer.classroom.page_socket import LARGEST_MESSAGE, TOO_LARGE, Brief, Budget, unpacked
from trainer.classroom.person_page import People, Trail
from trainer.classroom.staff_files import CHUNK, Files
from trainer.records import logins, people
from trainer.records.database import Records

STAFF_PAGES = (
    "instructor",
    "people",
    "fit",
    "sizing",
    "sizing.pdf",
    "sizing.csv",
    "person?number=1",
    "attempts",
    "attempt?number=1",
    "attempts/1/evidence.json",
    "attempts/1/report.pdf",
    "currency",
    "agreement",
    "trail",
    "import",
    "export/attempts.csv",
    "export/criteria.csv",
    "export/xapi.json",
    "post",
    "live",
    "run",
    "queue",
    "competency",
    "drills",
    "courses",
    "drills/none.toml",
    "export/trail.json",
)
SCRIPT = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def trainee(joined: Callable[[str], Visitor]) -> Visitor:
    # The server outlives the module: a name of its own, since a module may be begun twice in one process.
    return joined(f"Pia Lund {secrets.token_hex(3)}")


@pytest.fixture(scope="module")
def assessor(server: Server, instructor: Visitor) -> Visitor:
    name = f"Ines Marlow {secrets.token_hex(3)}"
    return invite(instructor, name, "assessor")


# Escalation: the role is held at every door


@pytest.mark.parametrize("path", STAFF_PAGES)
def test_a_trainee_gets_no_page_of_staff(trainee: Visitor, path: str) -> None:
    text = trainee.get(path)
    assert trainee.status == 403 or trainee.where.split("?")[0].endswith("/login")
    assert "Mara" not in text


def test_the_gate_knows_every_page_of_staff_and_for_whom_it_is() -> None:
    """A path that it does not know is for nobody."""
    assert [roles_for(path) for path in ("/ws", "/new", "/new/ws", "/peoples", "/people/ws")] == [
        ANYBODY,
        (),
        (),
        (),
        ("instructor",),
    ]
    assert {kind.path: kind.roles for kind in opening.STAFF_PAGES} == {
        kind.path: roles_for(f"/{kind.path}") for kind in opening.STAFF_PAGES
    }


@pytest.mark.parametrize("path", STAFF_PAGES)
def test_nobody_gets_no_page_of_staff(server: Server, path: str) -> None:
    visitor = Visitor(server.url)
    visitor.get(path)
    assert visitor.status == 403 or visitor.where.split("?")[0].endswith("/login")


@pytest.mark.parametrize("path", ["instructor", "people", "trail"])
def test_an_assessor_is_no_instructor(assessor: Visitor, path: str) -> None:
    assessor.get("attempts")
    assert assessor.status == 200
    assessor.get(path)
    assert assessor.status == 403 or assessor.where.split("?")[0].endswith("/login")


def test_who_has_not_joined_gets_no_console(server: Server) -> None:
    visitor = Visitor(server.url)
    visitor.get("")
    assert visitor.where.split("?")[0].endswith("/login")


def _refused_socket(url: str, cookie: str | None, token: str, path: str = "", origin: str | None = None) -> bool:
    async def knock() -> bool:
        page = Page(url, cookie)
        try:
            await asyncio.wait_for(page.connect(token, path, origin), 10)
        except (HTTPClientError, ConnectionError, WebSocketClosedError):
            return True
        finally:
            page.close()
        return False

    return run(knock())


def test_a_trainee_opens_no_socket_of_the_instructor(server: Server, instructor: Visitor, trainee: Visitor) -> None:
    token = run(Page(server.url, trainee.cookie()).token())
    assert _refused_socket(server.url, trainee.cookie(), token, "instructor")
    stolen = run(Page(server.url, instructor.cookie()).token("instructor"))
    # Even with the token of the instructor's own page.
    assert _refused_socket(server.url, trainee.cookie(), stolen, "instructor")
    assert not _refused_socket(server.url, instructor.cookie(), stolen, "instructor")


@pytest.mark.parametrize("path", ["people", "attempt", "live", "drills", "import"])
def test_a_page_of_staff_has_no_socket_for_others(
    server: Server, instructor: Visitor, trainee: Visitor, path: str
) -> None:
    own = run(Page(server.url, trainee.cookie()).token())
    stolen = run(Page(server.url, instructor.cookie()).token(path))
    assert _refused_socket(server.url, trainee.cookie(), own, path)
    for cookie in (trainee.cookie(), None):
        assert _refused_socket(server.url, cookie, stolen, path)
    # Nor does its own person's come from another site, which takes the place of a form's token.
    assert _refused_socket(server.url, instructor.cookie(), stolen, path, origin="http://elsewhere.invalid")
    assert not _refused_socket(server.url, instructor.cookie(), stolen, path)


def test_a_page_of_staff_that_stands_open_does_nothing_after_the_log_out(server: Server, instructor: Visitor) -> None:
    leaving = invite(instructor, f"Rolf Teig {secrets.token_hex(3)}", "instructor")

    async def story() -> None:
        page = await opened(leaving, "people")
        await page.until(lambda: page.choices("Person"))
        await page.say("Give a one-time password", "One-time password", Name=f"Una Voss {secrets.token_hex(3)}")
        await asyncio.to_thread(leaving.post, "logout", {})
        page.put("Name", "Evil Twin")
        for deed in ("Give a one-time password", "Link for a new browser", "Delete", "New number"):
            page.press(deed)
        await page.until(lambda: "not for you" in page._answer())
        # It says so, takes everything off the page, and closes its socket.
        assert page._reader is not None and page._socket is not None
        await asyncio.wait_for(page._reader, PATIENCE)
        assert page._socket.close_code == UNWANTED
        assert not page.tables() and not page.labelled("Person") and "not for you" in page._answer()

    run(story())
    assert seen(instructor, "people", lambda page: page.tables()[0] and not page.row(name="Evil Twin"))


def test_an_account_holds_so_many_pages_and_no_more() -> None:
    now, may = [0.0], {"own": True}
    held = Held(lambda login, _: may.get(login), lambda: now[0])
    ona, una = (Who(person, name, "trainee") for person, name in ((1, "Ona"), (2, "Una")))
    for number in range(MOST_PAGES["trainee"]):
        assert not held.full(ona)
        held.made(f"page {number}", ona)
    assert held.full(ona) and not held.full(una)
    held.gone("page 3")
    assert not held.full(ona)
    sockets = [MagicMock() for _ in range(MOST_SOCKETS["trainee"])]
    for socket_ in sockets:
        assert not held.crowded(ona)
        held.opened(socket_, ona, "own", "/ws")
    assert held.crowded(ona) and not held.crowded(una)
    held.closed(sockets[0])
    assert not held.crowded(ona)
    # The log-out ends them all, once the page has had time to say so; an outage of the records ends none.
    for admitted, moment in ((None, 0.0), (True, 100.0), (False, 200.0), (False, 201.0)):
        now[0], may["own"] = moment, cast(bool, admitted)
        held.sweep(UNWANTED)
        assert not any(one.close.called for one in sockets)
    now[0] = 210.0
    held.sweep(UNWANTED)
    assert [one.close.called for one in sockets] == [False] + [True] * (len(sockets) - 1)


def test_the_gate_counts_pages_and_sockets(tmp_path: Path) -> None:
    access = Access(Records(f"sqlite:///{tmp_path / 'records.sqlite'}").prepare(), b"k" * 32, PasswordHasher(1, 8, 1))
    gate, who = Gate(access, open_practice=False), Who(1, "Ona", "trainee")
    access.holder = lambda _: who  # type: ignore[method-assign]
    request = SimpleNamespace(arguments={}, headers={}, path="/", host="here")
    page = SimpleNamespace(settings={}, request=request, get_cookie=lambda _: "")
    assert gate.get_user(page) == "Ona"
    holder = Holder(access, gate.held)
    made: list[Any] = [SimpleNamespace(id=f"{at}", token_payload={"login": "x"}) for at in range(MOST_PAGES["trainee"])]
    for context in made:
        assert gate.get_user(page) == "Ona"
        asyncio.run(holder.on_session_created(context))
    with pytest.raises(HTTPError, match="429"):
        gate.get_user(page)
    asyncio.run(holder.on_session_destroyed(made[7]))
    assert gate.get_user(page) == "Ona"


def test_a_socket_from_another_site_is_refused(server: Server, trainee: Visitor) -> None:
    token = run(Page(server.url, trainee.cookie()).token())
    assert _refused_socket(server.url, trainee.cookie(), token, origin="http://elsewhere.invalid")
    assert not _refused_socket(server.url, trainee.cookie(), token)


def test_a_forged_socket_token_is_refused(server: Server, trainee: Visitor) -> None:
    token = run(Page(server.url, trainee.cookie()).token())
    head, _, _ = token.partition(".")
    assert _refused_socket(server.url, trainee.cookie(), head + "." + "A" * 43)
    assert _refused_socket(server.url, trainee.cookie(), secrets.token_urlsafe(60))


def test_staff_messages_of_a_trainee_do_nothing(server: Server, trainee: Visitor) -> None:
    async def story() -> None:
        page = await Page(server.url, trainee.cookie()).open()
        await page.start("")
        for message in (
            {"page": "fault", "fault": "power.ac_lost", "severity": "100"},
            {"page": "rewind", "tick": "0"},
            {"page": "freeze", "to": "all"},
            {"page": "open_class"},
            {"page": "evidence"},
            {"do": "fault", "target": "power.ac_lost", "value": 1, "from": "instructor"},
            {"do": "put", "target": "well.formation_pressure", "value": 1, "from": "instructor"},
            {"do": "set", "target": "upper_annular", "value": "close", "from": "instructor"},
            {"do": "set", "target": "bank_a.isolation", "value": "shut", "from": "assistant"},
        ):
            page.send("driller", message)
        page.send("driller", {"do": "set", "target": "lower_annular", "value": "close", "from": "driller"})
        await page.until(lambda: page.state("lower_annular.valve") == "close")
        assert page.state("power.ac") == "on"
        assert page.state("upper_annular.valve") != "close"
        assert page.text("page.pause") == "Pause"
        assert "page.evidence" not in page.readings
        page.close()

    run(story())


@pytest.mark.parametrize(
    "message",
    [
        None,
        7,
        "hello",
        [],
        {},
        {"page": None, "do": None},
        {"page": {"a": 1}},
        {"page": "hello", "value": "../../etc/passwd"},
        {"page": "hello", "value": {"$ne": 1}},
        {"do": "set", "target": "upper_annular", "value": {"a": 1}},
        {"do": "set", "target": "x" * 5000, "value": "close"},
        {"do": "set", "target": "upper_annular", "value": "close", "t": -5},
        {"do": "set", "target": "floor.rotary", "value": 1e308, "from": "floor"},
        {"do": "__class__", "target": "upper_annular"},
        {"page": "request", "text": {"a": 1}},
        {"page": "pace", "value": "1e9"},
        {"page": "start", "drill": "../../secret", "seed": "9" * 400},
        {"junk": "x" * 100_000},
    ],
    ids=lambda message: json.dumps(message)[:40],
)
def test_forged_messages_leave_the_session_unharmed(hardened: Any, message: Any) -> None:
    hardened(message)


@pytest.fixture(scope="module")
def hardened(server: Server, trainee: Visitor) -> Any:
    """Send something from a running console, and see that the console still works."""
    seat = secrets.token_hex(16)
    state = {"open": True}

    async def story(message: Any) -> None:
        page = await Page(server.url, trainee.cookie(), seat=seat).open()
        if page.state("page.page") != "console":
            await page.start("")
        page.send("driller", message)
        state["open"] = not state["open"]
        value = "open" if state["open"] else "close"
        page.do("set", "upper_annular", value)
        await page.until(lambda: page.state("upper_annular.valve") == value)
        page.close()

    return lambda message: run(story(message))


def test_a_message_too_large_ends_the_socket_and_not_the_server(server: Server, trainee: Visitor) -> None:
    async def story() -> None:
        page = await Page(server.url, trainee.cookie()).open()
        page.send("header", {"page": "card", "value": "x" * 1_000_000})
        # It went over the page's channel where that was open already, else over the page's first socket.
        tasks = [task for task in (page._reader, page._listener) if task is not None]
        ended, _ = await asyncio.wait(tasks, timeout=60, return_when=asyncio.FIRST_COMPLETED)
        assert ended
        page.close()
        again = await Page(server.url, trainee.cookie()).open()
        assert again.state("page.page") == "chooser"
        again.close()

    run(story())


# Tokens and forms


def test_a_token_is_dead_after_log_out_however_often_replayed(server: Server, code: str) -> None:
    visitor = Visitor(server.url)
    visitor.join("Vera Knot", code)
    cookie = visitor.cookie()
    socket = run(Page(server.url, cookie).token())
    visitor.post("logout", {})
    thief = Visitor(server.url)
    thief.request("mine", headers={"Cookie": f"trainer-login={cookie}"})
    assert thief.where.endswith("/login")
    assert _refused_socket(server.url, cookie, socket)


def test_an_altered_token_is_none(server: Server, trainee: Visitor) -> None:
    cookie = trainee.cookie() or ""
    for wrong in (cookie[:-2] + "xx", cookie.swapcase(), "x", "", "a" * 10_000, "%00", cookie.split(".")[0]):
        visitor = Visitor(server.url)
        visitor.request("mine", headers={"Cookie": f"trainer-login={urllib.parse.quote(wrong)}"})
        assert visitor.status in (400, 431) or visitor.where.endswith("/login")


def test_the_one_time_secret_works_once(server: Server, instructor: Visitor) -> None:
    visitor = Visitor(server.url)
    text = visitor.post("login", {"name": "instructor", "secret": server.secret})
    assert visitor.status == 403
    assert "Wrong name or password" in text


def test_a_form_without_its_token_or_from_elsewhere_is_refused(server: Server, instructor: Visitor) -> None:
    fields = {"secret": "another secret altogether", "again": "another secret altogether"}
    instructor.request("secret", urllib.parse.urlencode(fields).encode())
    assert instructor.status == 403
    sent = urllib.parse.urlencode({"_xsrf": instructor.token("secret"), **fields}).encode()
    instructor.request("secret", sent, {"Origin": "http://elsewhere.invalid"})
    assert instructor.status == 403
    # The secret is the old one still; and pages of staff take no form at all.
    assert Visitor(server.url).log_in("instructor", SECRET).cookie()
    instructor.request("people", urllib.parse.urlencode({"deed": "invite", "name": "Evil Twin"}).encode())
    assert instructor.status in (403, 405)


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(server: Server, code: str) -> None:
    visitor = Visitor(server.url)
    visitor.join("Tove Marsh", code)
    (cookie,) = [cookie for cookie in visitor.jar if cookie.name == "trainer-login"]
    assert cookie.has_nonstandard_attr("HttpOnly")
    assert cookie.get_nonstandard_attr("SameSite") == "Strict"


def test_a_name_that_is_in_use_needs_its_number(server: Server, code: str) -> None:
    first = Visitor(server.url)
    number = first.join("Odd Fjell", code)
    assert len(number) == 6
    thief = Visitor(server.url)
    assert thief.join("odd fjell", code, "") == ""
    assert thief.cookie() is None
    assert thief.join("Odd Fjell", code, f"{(int(number) + 1) % 10**6:06d}") == ""
    assert thief.cookie() is None
    again = Visitor(server.url)
    again.join("Odd Fjell", code, number)
    assert again.cookie() is not None


def test_staff_names_are_not_joined_under(server: Server, code: str) -> None:
    visitor = Visitor(server.url)
    visitor.join("instructor", code)
    assert visitor.cookie() is None


def test_guessing_is_slowed_down_and_locks_nobody_out(tmp_path: Path) -> None:
    now = [0.0]
    records = Records(f"sqlite:///{tmp_path / 'records.sqlite'}").prepare()
    access = Access(records, b"k" * 32, PasswordHasher(1, 8, 1), clock=lambda: now[0])
    secret = access.first_secret()
    assert secret is not None
    holder = access.holder(access.login(access.log_in("instructor", secret, "10.0.0.1")))
    assert holder is not None
    access.choose_secret(holder, SECRET)
    device = access.device(holder.name)
    waits = []
    for number in range(10):
        waits.append(access.wait("Instructor", "10.0.0.66"))
        with pytest.raises(DeniedError, match="Wrong name or password"):
            access.log_in("instructor", f"guess {number}", "10.0.0.66")
    assert waits == [0.0, 0.0, 0.0, 0.0, 1.0, 2.0, 4.0, 8.0, 15.0, 15.0]
    # From anywhere else nothing has changed; from there the right secret still opens, after a wait.
    assert access.wait("instructor", "10.0.0.1") == access.wait("somebody else", "10.0.0.66") == 0.0
    access.log_in("instructor", SECRET, "10.0.0.66")
    assert access.wait("instructor", "10.0.0.66") == 0.0
    # Many addresses together slow the account down, but not where its holder was before.
    for number in range(60):
        with pytest.raises(DeniedError):
            access.log_in("instructor", "guess", f"10.1.0.{number}")
    assert access.wait("instructor", "10.2.0.1") == 5.0
    assert access.wait("instructor", "10.2.0.1", device) == 0.0
    assert access.wait("instructor", "10.2.0.1", device[:-2] + "xx") == 5.0
    now[0] += 700.0
    assert access.wait("instructor", "10.2.0.1") == 0.0
    records.close()


def test_mistyped_codes_shut_nobody_out(server: Server, code: str) -> None:
    clumsy = Visitor(server.url)
    for number in range(6):
        clumsy.join(f"Clumsy {number}", "WRNGCDE2")
        assert clumsy.cookie() is None
    neighbour = Visitor(server.url)
    assert neighbour.join("Nia Borg", code)


def test_wrong_codes_delay_that_name_from_that_address_and_never_its_holder_elsewhere(tmp_path: Path) -> None:
    now = [0.0]
    records = Records(f"sqlite:///{tmp_path / 'records.sqlite'}").prepare()
    access = Access(records, b"k" * 32, PasswordHasher(1, 8, 1), clock=lambda: now[0])
    with records.work() as session:
        teacher = people.add(session, "Mara Quill", "instructor")
        day, night = (logins.open_class(session, teacher, title) for title in ("Day", "Night"))
    cookie, number = access.join("Pia Lund", night, "", "10.0.0.9")
    who = access.who(cookie)
    assert who is not None and number is not None and who.joined == "Night"
    waits = []
    for guess in range(9):
        waits.append(access.wait_to_join("Pia Lund", "10.0.0.1"))
        with pytest.raises(DeniedError, match="not open"):
            access.join("Pia Lund", f"WRNGCD{guess}2", number, "10.0.0.1")
    assert waits == [0.0, 0.0, 0.0, 0.0, 1.0, 2.0, 4.0, 8.0, 15.0]
    # Behind the same address, and from elsewhere, nobody waits for that; her own browser hardly.
    assert access.wait_to_join("Nia Borg", "10.0.0.1") == 0.0
    assert access.wait_to_join("Pia Lund", "10.0.0.9") == 0.0
    assert access.wait_to_join("Pia Lund", "10.0.0.1", access.device(who.name)) == 2.0
    assert access.join("Pia Lund", day, number, "10.0.0.9")[1] is None
    with records.work() as session:
        logins.close_class(session, "Day")
    with pytest.raises(DeniedError, match="not open"):
        access.join("Nia Borg", day, "", "10.0.0.1")
    assert access.join("Nia Borg", night, "", "10.0.0.1")[1] is not None
    records.close()


def test_while_a_guess_still_waits_its_holder_and_its_neighbors_come_in(
    server: Server, instructor: Visitor, code: str
) -> None:
    name = f"Ines Marlow {secrets.token_hex(3)}"
    invite(instructor, name, "assessor")
    over = threading.Event()
    begun: dict[int, float] = {}
    answered: set[int] = set()
    open_: list[http.client.HTTPConnection] = []

    def guess(number: int) -> None:
        while not over.is_set():
            wire = http.client.HTTPConnection("127.0.0.1", int(server.port), source_address=("127.0.0.2", 0))
            open_.append(wire)
            begun[number] = time.monotonic()
            # At the end its connection is closed under it.
            with contextlib.suppress(OSError, http.client.HTTPException, AttributeError, ValueError):
                answered.add(sent(wire, "/login", {"name": name, "secret": "a guess"})[0])
            begun.pop(number, None)
            wire.close()

    def comes_in(address: str, path: str, fields: dict[str, str]) -> bool:
        """Whether this comes in while a guess waits from before its beginning until after its end."""
        while True:
            at = time.monotonic()
            before = dict(begun)
            with contextlib.closing(
                http.client.HTTPConnection("127.0.0.1", int(server.port), source_address=(address, 0))
            ) as wire:
                status, cookies = sent(wire, path, fields)
            if any(begun.get(number) == since < at for number, since in before.items()):
                return status in (200, 302) and "trainer-login=" in cookies

    threads = [threading.Thread(target=guess, args=(number,), daemon=True) for number in range(12)]
    for thread in threads:
        thread.start()
    try:
        assert comes_in("127.0.0.3", "/login", {"name": name, "secret": SECRET}), "the holder, from elsewhere"
        neighbor = f"Neighbor {secrets.token_hex(3)}"
        assert comes_in("127.0.0.2", "/join", {"name": neighbor, "code": code, "number": ""}), "behind that address"
        assert answered <= {403, 429}
    finally:
        over.set()
        for wire in open_:
            wire.close()


def sent(wire: http.client.HTTPConnection, path: str, fields: dict[str, str]) -> tuple[int, str]:
    """Fill in a form of the log-in page over one connection: the status, and the cookies that are set."""
    wire.request("GET", "/login")
    page = wire.getresponse()
    token = re.search(r'name="_xsrf" value="([^"]+)"', page.read().decode())
    assert token
    cookie = "; ".join(value.split(";")[0] for key, value in page.getheaders() if key.lower() == "set-cookie")
    body = urllib.parse.urlencode({"_xsrf": token[1], **fields})
    kind = "application/x-www-form-urlencoded"
    wire.request("POST", path, body, {"Cookie": cookie, "Content-Type": kind})
    answer = wire.getresponse()
    answer.read()
    return answer.status, "\n".join(value for key, value in answer.getheaders() if key.lower() == "set-cookie")


def test_only_the_name_that_is_guessed_at_waits_in_a_queue() -> None:
    async def story() -> None:
        waiting: dict[str, int] = {}

        def wait(seconds: float, name: str, device: str = "") -> asyncio.Task[None]:
            asked = SimpleNamespace(
                request=SimpleNamespace(remote_ip="10.0.0.1"),
                waiting=waiting,
                get_cookie=lambda _: device,
                access=SimpleNamespace(knows=lambda device, name: device == f"of {name}"),
            )
            return asyncio.create_task(LogIn.wait(cast(Any, asked), seconds, name))

        async def refused(tries: list[asyncio.Task[None]]) -> int:
            await asyncio.sleep(0)
            await asyncio.sleep(0)
            assert all(isinstance(one.exception(), HTTPError) for one in tries if one.done())
            return sum(one.done() for one in tries)

        guesses = [wait(15.0, "Ines Marlow") for _ in range(60)]
        assert await refused(guesses) == 60 - MOST_WAITING
        # Others behind that address, and her own browser, which waits for 2 s at most.
        others = [wait(1.0, f"Somebody {number}") for number in range(60)]
        others.append(wait(2.0, "Ines Marlow", "of Ines Marlow"))
        assert await refused(others) == 0
        # A browser that is known gives no more places to guess from.
        more = [wait(2.0, "Ines Marlow", "of Ines Marlow") for _ in range(60)]
        assert await refused(more) == 60 - MOST_WAITING + 1
        for one in [*guesses, *others, *more]:
            one.cancel()

    run(story())


def test_staff_give_a_new_browser_at_a_flooding_address_a_way_past_the_queue(
    server: Server, instructor: Visitor, joined: Callable[[str], Visitor]
) -> None:
    name = f"Ona Vik {secrets.token_hex(3)}"
    joined(name)

    async def story() -> str:
        page = await opened(instructor, "people")
        await page.until(lambda: name in page.choices("Person"))
        shown = await page.say("Link for a new browser", f"For {name} alone", Person=name)
        page.close()
        return shown

    link = re.search(r'value="http[^"]*/(browser/[^"]+)"', run(story()))
    assert link
    fresh = Visitor(server.url)
    assert "Sign in" in fresh.get(link[1])
    assert fresh.cookie("trainer-device") and fresh.cookie() is None, "it is known, and not let in"
    altered = Visitor(server.url)
    assert "out of date" in altered.get(link[1][:-3] + "AAA")
    assert altered.status == 400 and altered.cookie("trainer-device") is None


def test_who_has_not_come_in_sends_no_large_body(server: Server) -> None:
    before = server.memory()
    for path in ("/login", "/import", "/"):
        with contextlib.closing(http.client.HTTPConnection("127.0.0.1", int(server.port), timeout=30)) as wire:
            with contextlib.suppress(ConnectionError):
                wire.request("POST", path, body=b"x" * 39_000_000)
            try:
                status = wire.getresponse().status
            except (http.client.HTTPException, ConnectionError):
                status = 0
            assert status in (0, 400, 403, 405, 413), path
    assert server.memory() - before < 60.0


def test_an_address_has_so_many_connections_and_no_more() -> None:
    async def story() -> None:
        class Few(CappedServer):
            most = 5

        answering = Few(Application())
        (listening,) = bind_sockets(0, "127.0.0.1")
        answering.add_sockets([listening])
        port = listening.getsockname()[1]
        opened = [await asyncio.open_connection("127.0.0.1", port) for _ in range(8)]

        async def closed(reader: asyncio.StreamReader) -> bool:
            try:
                return await asyncio.wait_for(reader.read(1), 0.5) == b""
            except TimeoutError:
                return False
            except ConnectionError:
                return True

        assert [await closed(reader) for reader, _ in opened] == [False] * 5 + [True] * 3
        opened[0][1].close()
        await opened[0][1].wait_closed()
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        assert not await closed(reader)
        for _, one in [*opened, (reader, writer)]:
            one.close()
        answering.stop()

    run(story())


def test_a_connection_that_says_nothing_is_closed(server: Server) -> None:
    with socket.create_connection(("127.0.0.1", int(server.port)), timeout=60) as half:
        half.sendall(b"GET / HTTP/1.1\r\nHost: ")
        assert half.recv(1) == b"", "half a request stays for ever"


def test_forty_join_at_once(server: Server, code: str) -> None:
    with ThreadPoolExecutor(40) as class_of_40:
        numbers = list(class_of_40.map(lambda n: Visitor(server.url).join(f"Storm {n}", code), range(40)))
    assert all(len(number) == 6 for number in numbers)


# Files and names


@pytest.mark.parametrize(
    "path",
    [
        "export/../people",
        "export/..%2f..%2fcookie.key",
        "export/%2e%2e/trail",
        "attempts/1/..%2f..%2fcookie.key",
        "static/../../../../etc/passwd",
        "static/..%2f..%2f..%2f..%2fetc%2fpasswd",
        "static/js/..%252f..%252f..%252fetc/passwd",
        "attempts/1e9",
        "attempts/-1",
        "attempts/99999999999999",
        "people/0x1",
    ],
)
def test_paths_lead_nowhere_else(server: Server, trainee: Visitor, path: str) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", int(server.port), timeout=PATIENCE)
    connection.request("GET", f"/{path}", headers={"Cookie": f"trainer-login={trainee.cookie()}"})
    answer = connection.getresponse()
    body = answer.read()
    assert answer.status in (302, 400, 403, 404)
    assert b"root:" not in body
    assert b"Traceback" not in body
    connection.close()


def test_files_are_bounded_on_the_server_whatever_a_browser_sends(instructor: Visitor) -> None:
    class Few(Files):
        largest, most = 250, 2

    field = Few(multiple=True)

    def send(name: str, chunk: int, of: int, size: int) -> None:
        data = {"name": name, "chunk": chunk, "total_chunks": of, "type": "application/json", "data": b"x" * size}
        field._process_event(SimpleNamespace(event_name="upload_event", data=data))

    send("one.json", 1, 2, 100)
    send("one.json", 2, 2, 100)
    assert not field.too_much and len(field.taken()["one.json"]) == 200
    send("two.json", 1, 1, 51)
    assert field.too_much and "two.json" not in field.taken()
    for name in ("three.json", "four.json"):
        send(name, 1, 1, 10)
    assert list(field.taken()) == ["one.json", "three.json"]
    # And a piece larger than the page's own pieces ends its socket before it is read.
    assert (Files.largest, Files.most, LARGEST_MESSAGE) == (40_000_000, MOST_FILES, 200_000)


def test_a_field_for_files_takes_nothing_else_and_nothing_once_its_holder_may_not() -> None:
    still = [True]
    field = Files(lambda: still[0], multiple=True)

    def send(**other: Any) -> list[str]:
        data = {"name": "a", "chunk": 1, "total_chunks": 1, "type": "text/plain", "data": b"x", **other}
        field._process_event(SimpleNamespace(event_name="upload_event", data=data))
        return sorted(field.taken())

    # A list of bytes has the length of its pieces; no number is equal to NaN, so each would be a new file.
    for wrong in ({"data": [b"x" * 10**6]}, {"name": float("nan")}, {"name": "n" * 1001}, {"chunk": "1"}, {"type": 7}):
        assert send(**wrong) == []
    assert send() == ["a"]
    still.clear()
    still.append(False)
    assert send(name="b") == ["a"], "a log-out ends it"


def test_a_message_is_looked_at_before_the_library_unpacks_it() -> None:
    def packed(count: int) -> dict[str, str]:
        return {"type": "bytes", "data": base64.b64encode(gzip.compress(bytes(count))).decode()}

    piece = json.dumps({"events": [{"kind": "MessageSent", "msg_data": {"entries": [["data", packed(CHUNK)]]}}]})
    assert unpacked(piece) == CHUNK
    assert unpacked(json.dumps([packed(10**7)])) == LARGEST_MESSAGE + 1
    assert unpacked(json.dumps([packed(90_000)] * 3)) > LARGEST_MESSAGE, "many small ones"
    members = base64.b64encode(gzip.compress(bytes(90_000)) * 3).decode()
    assert unpacked(json.dumps({"type": "bytes", "data": members})) > LARGEST_MESSAGE, "one after another"
    for wrong in ("[" * 100_000, "no JSON", '{"kind": "RootAdded"}', '{"num_buffers": 1000}', '{"num_buffers": "1"}'):
        with pytest.raises(ValueError, match=r"."):
            unpacked(wrong)
    at = [0.0]
    budget = Budget(100.0, lambda: at[0])
    assert [budget.spend(100.0), budget.spend(100.0)] == [0.0, 0.0]
    assert budget.spend(100.0) == pytest.approx(1.0), "what is more takes its time, and is not refused"


def test_a_message_that_unpacks_to_too_much_ends_its_socket(instructor: Visitor) -> None:
    bomb = {"type": "bytes", "data": base64.b64encode(gzip.compress(bytes(5_000_000))).decode()}

    async def code() -> int | None:
        page = await opened(instructor, "import")
        model = {"id": next(iter(page.models))}
        page._write("PATCH-DOC", {"events": [{"kind": "ModelChanged", "model": model, "attr": "tags", "new": [bomb]}]})
        assert page._reader is not None and page._socket is not None
        await asyncio.wait_for(page._reader, PATIENCE)
        page.close()
        return page._socket.close_code

    assert run(code()) == TOO_LARGE


def test_a_choice_that_no_field_offers_is_dropped_with_one_sentence(instructor: Visitor) -> None:
    async def story() -> None:
        page = await opened(instructor, "currency")
        for value in ("nope", None):
            before, model = page._answer(), {"id": page._widget("Drill")}
            change = {"kind": "ModelChanged", "model": model, "attr": "value", "new": value}
            page._write("PATCH-DOC", {"events": [change]})
            await page.until(lambda before=before: page._answer() != before)
            assert "choice is not there any more" in page._answer()
        await page.say("Keep", "Not done", **{"Counts for, days": "x"})
        page.close()

    run(story())


def test_what_is_sent_fills_no_log() -> None:
    brief = Brief()

    def line() -> logging.LogRecord:
        error = ValueError("x" * 10_000)
        return logging.LogRecord("n", logging.ERROR, "f", 1, "%r", ("x" * 10_000,), (ValueError, error, None))

    kept = [one for one in (line() for _ in range(200)) if brief.filter(one)]
    assert len(kept) < 100 and all(len(logging.Formatter().format(one)) < 400 for one in kept)


def test_a_page_that_is_closed_is_let_go() -> None:
    """Each page of staff knows its document, and whoever opens page after page fills no memory."""
    room: Any = SimpleNamespace(
        access=SimpleNamespace(holder=lambda _: None),
        rooms=SimpleNamespace(drills={}),
        desk=SimpleNamespace(places=list, place=lambda _: None),
    )
    for kind in (Live, Trail):
        document = Document()
        with set_curdoc(document):
            page: object = kind(room, document, {})
        known = ref(page)
        del page, document
        gc.collect()
        assert known() is None


def test_choosing_on_a_page_starts_no_further_beat_and_is_held_to_a_rate(monkeypatch: pytest.MonkeyPatch) -> None:
    page = Attempts.__new__(Attempts)
    page._rate, page._stop = Limit(3, 1e9), lambda: None
    read, beats = [], []

    async def done(*_: object, **more: object) -> bool:
        read.append(more)
        return True

    monkeypatch.setattr(page, "_do", done)
    monkeypatch.setattr(type(pn.state), "add_periodic_callback", lambda *given, **_: beats.append(given))
    for _ in range(9):
        asyncio.run(page._chosen(None))
    assert len(read) == 3 and not beats
    # It is behind what was chosen last: a page that is not read anew by itself is then read at its next beat.
    deeds: list[object] = []

    async def kept(deed: object, *_: object, **__: object) -> bool:
        deeds.append(deed)
        return True

    monkeypatch.setattr(page, "_do", kept)
    monkeypatch.setattr(Attempts, "renew_s", 0.0)
    asyncio.run(page._renew())
    page._behind = False
    asyncio.run(page._renew())
    assert deeds == [page._read, page._nothing]


def test_a_broken_chain_of_the_trail_stays_in_sight(monkeypatch: pytest.MonkeyPatch) -> None:
    page = Trail.__new__(Trail)
    page._last, page._told, page.said = "", 0, pn.pane.HTML()

    async def found(*_: object) -> SimpleNamespace:
        return SimpleNamespace(ok=False, said="row 7 was changed")

    access = SimpleNamespace(stale=lambda _: False)
    page.room = cast(Any, SimpleNamespace(worker=SimpleNamespace(do=found), records_url=None, access=access))
    page._login = ""
    monkeypatch.setattr(page, "who", lambda *_: None)
    assert asyncio.run(page._do(page._check, ("instructor",)))
    assert "NOT WHOLE: row 7 was changed." in str(page.said.object)


def test_who_is_deleted_is_who_was_chosen_when_it_was_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Another choice that comes meanwhile changes nothing: it was not looked at whether they may be deleted."""
    page = People.__new__(People)
    page.person, page.sure = SimpleNamespace(value=2), SimpleNamespace(value="Number 2")
    page.room = cast(Any, SimpleNamespace(rooms=SimpleNamespace(checks=lambda _: False), key=None,
                                          access=SimpleNamespace(forget=lambda: None)))  # fmt: skip
    gone: list[str] = []
    monkeypatch.setattr(people, "erase", lambda _, person, *__: gone.append(person.name))

    async def ask(work: Callable[[Any], str]) -> str:
        page.person.value, page.sure.value = 3, "Number 3"
        return work(SimpleNamespace(get=lambda _, number: SimpleNamespace(name=f"Number {number}")))

    async def load() -> None:
        pass

    monkeypatch.setattr(page, "ask", ask)
    monkeypatch.setattr(page, "load", load)
    asyncio.run(page._delete(cast(Any, SimpleNamespace(person=1, name="Mara Quill"))))
    assert gone == ["Number 2"]


def test_files_that_are_no_evidence_are_not_taken_in(instructor: Visitor) -> None:
    text = upload(
        instructor,
        {
            "../../etc/passwd": b"root:x",
            "bomb.json": b"[" * 100_000,
            "nan.json": b'{"format": NaN}',
            "binary.json": bytes(range(256)),
            "<b>.json": b"{}",
        },
    )
    assert text.count("not taken in: ") == 5
    assert "../" not in text


def test_a_folder_of_files_is_taken_in_up_to_a_number_that_the_page_tells(instructor: Visitor) -> None:
    text = upload(instructor, {f"{number}.json": b"{}" for number in range(120)})
    assert text.count("not taken in: ") == 120
    text = upload(instructor, {f"{number}.json": b"{}" for number in range(MOST_FILES + 1)})
    assert f"at most {MOST_FILES} files" in text and "not taken in: " not in text


def test_a_message_that_could_not_be_kept_is_none() -> None:
    assert modest({"page": "note", "text": "ok \u00e9 \u20ac", "value": 1.5, "to": None, "of": [1, {"a": True}]})
    for wrong in ("half a letter \ud800", "nothing \0 here", b"bytes", {1, 2}, "x" * LONGEST_MESSAGE):
        assert not modest({"page": "note", "text": wrong})
    assert not modest([1])


def test_scripts_in_names_stay_text_everywhere(server: Server, instructor: Visitor, code: str) -> None:
    visitor = Visitor(server.url)
    visitor.join(SCRIPT, code)

    async def story() -> None:
        page = await Page(server.url, visitor.cookie()).open()
        await page.start("")
        page.send("room", {"page": "request", "text": SCRIPT})
        await page.until(lambda: "Asked" in str(page.readings.get("page.room")))
        staff = await Page(server.url, instructor.cookie()).open(hello=False, path="instructor")
        await staff.until(lambda: "alert(1)" in staff.markup["desk_roster"])
        for markup in (*page.markup.values(), *staff.markup.values()):
            assert SCRIPT not in markup
        for reading in (*page.readings.values(), *staff.readings.values()):
            assert SCRIPT not in str(reading.get("html", ""))
        page.close()
        staff.close()

    run(story())
    for path, cell in (("people", {"name": SCRIPT}), ("trail", {"who": SCRIPT, "did": "joined"})):
        # A table's cells are texts, as the browser's test shows; all else on the page is markup.
        assert seen(instructor, path, lambda page, cell=cell: page.row(**cell) and [page.words()])[0].find(SCRIPT) < 0


LIVE = ("", "instructor", "watch?seat=0", *(kind.path for kind in opening.STAFF_PAGES))
PLAIN = ("login", "secret", "fit", "sizing", "mine", "logout", "nothing-here", "static/js/bokeh.min.js", "key.pem")


@pytest.mark.parametrize("path", [*LIVE, *PLAIN])
def test_pages_carry_headers_that_hold_a_browser_to_them(
    server: Server, instructor: Visitor, trainee: Visitor, path: str
) -> None:
    who = trainee if path in ("", "mine", "logout") else instructor
    connection = http.client.HTTPConnection("127.0.0.1", int(server.port), timeout=PATIENCE)
    connection.request("GET", f"/{path}", headers={"Cookie": f"trainer-login={who.cookie()}"})
    answer = connection.getresponse()
    body = answer.read().decode(errors="replace")
    connection.close()
    assert answer.getheader("X-Content-Type-Options") == "nosniff"
    assert answer.getheader("X-Frame-Options") == "SAMEORIGIN"
    assert answer.getheader("Referrer-Policy") == "same-origin"
    if "text/html" not in (answer.getheader("Content-Type") or ""):
        return
    policy = answer.getheader("Content-Security-Policy") or ""
    assert "frame-ancestors 'self'" in policy and "object-src 'none'" in policy
    scripts = policy.split("script-src")[1].split(";")[0]
    assert "unsafe" not in scripts and "http" not in scripts
    if path in LIVE:
        nonce = re.search(r"'nonce-([^']+)'", scripts)
        assert ("What is this page?" in body) == (path in {kind.path for kind in opening.STAFF_PAGES})
        assert nonce and body.count("<script") == body.count(f'<script nonce="{nonce[1]}"') > 0


def test_the_trail_tells_of_what_was_tried(server: Server, instructor: Visitor) -> None:
    Visitor(server.url).post("login", {"name": "nobody", "secret": "guessed"})
    trail = seen(instructor, "trail", lambda page: page.row(did="log-in refused") and page.tables()[0])
    assert any(row["did"] == "class opened" for row in trail)
    assert SECRET not in str(trail)
