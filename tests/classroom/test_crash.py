"""The server dies in mid-drill and comes back: every run goes on at its last acknowledged action."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import random
import signal
import time
from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import cast

import pytest
from argon2 import PasswordHasher

from tests.chromium import in_the_long_form
from tests.classroom.conftest import Server, Visitor, serve
from tests.classroom.test_checks import PIA, Room, started
from tests.classroom.test_disk import stuck
from tests.classroom.wire import Page, run
from trainer.classroom import class_rooms, journal, watch
from trainer.classroom.access import Access
from trainer.records import attempts, audit, logins, people
from trainer.records.database import Records
from trainer.records.outbox import Outbox
from trainer.session import evidence as documents
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder

KILLS = int(os.environ.get("TRAINER_KILLS", "2"))
"""A hundred were measured by hand; two in every test run keep it from rotting."""
MOMENTS = int(os.environ.get("TRAINER_KILLS", "5"))
"""The same without the web server around it, which takes most of the time."""


@pytest.fixture
def mortal(tmp_path: Path) -> Iterator[Server]:
    """A server that anybody may practise at, on this machine alone."""
    yield from serve(tmp_path / "mortal")


@in_the_long_form
def test_killed_again_and_again_it_resumes_at_the_last_action(mortal: Server) -> None:
    async def story() -> None:
        seats: list[str | None] = [None, None]
        done = [0, 0]
        for kill in range(KILLS):
            pages = [await Page(mortal.url, seat=seat).open() for seat in seats]
            for at, page in enumerate(pages):
                if seats[at] is None:
                    seats[at] = page.seat
                    await page.start("" if at else "kick-while-drilling", seed=3)
                else:
                    await page.until(lambda page=page: page.state("page.page") == "console")
                    assert page.text("page.pause") == "Resume"
                    page.send("header", {"page": "pause"})
                    # The valve stands as the last action before the kill left it.
                    value = ("open", "close")[done[at] % 2]
                    await page.until(lambda page=page, value=value: page.state("lower_annular.valve") == value)
            for at, page in enumerate(pages):
                for _ in range(2 + kill % 2):
                    done[at] += 1
                    value = ("open", "close")[done[at] % 2]
                    page.do("set", "lower_annular", value)
                    await page.until(lambda page=page, value=value: page.state("lower_annular.valve") == value)
            mortal.kill()
            for page in pages:
                page.close()
            for at, seat in enumerate(seats):
                kept = [one for path in (mortal.folder / "journal").glob("*.jsonl") if (one := journal.read(path))]
                runs = {one.session.identity.drill: one.session for one in kept}
                run = runs[None if at else "kick-while-drilling"]
                assert seat is not None
                assert len(run.log) == done[at]
            mortal.start()

    run(story())
    print(f"killed {KILLS} times with 2 runs each, nothing lost")


def _work(folder: Path, told: int) -> None:
    """A server's side of one run in a process of its own, until it is killed: one action after the other, each told
    once it is confirmed to the trainee."""
    room = Room(folder)
    if room.seat.run is None:
        room.hear(page="start", drill="kick-while-drilling", mode="practice", seed="3")
        room.hear(page="begin")
    else:
        room.hear(page="pause")
    run = room.seat.run
    assert isinstance(run, Session)
    while True:
        value = ("close", "open")[len(run.log) % 2]
        patch = room.hear(do="set", target="lower_annular", value=value, **{"from": "driller"})
        assert not stuck(patch)
        os.write(told, b".")
        room.pass_by(0.3, 0.1)


def test_killed_at_any_moment_no_confirmed_action_is_lost(tmp_path: Path) -> None:
    chance = random.Random(14)
    confirmed = 0
    for _ in range(MOMENTS):
        hears, told = os.pipe()
        child = os.fork()
        if not child:
            with contextlib.suppress(BaseException):
                _work(tmp_path, told)
            os._exit(1)
        os.close(told)
        confirmed += len(os.read(hears, 1))
        time.sleep(chance.random() / 5.0)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with os.fdopen(hears, "rb") as rest:
            confirmed += len(rest.read())
        (path,) = (tmp_path / "journal").glob("*.jsonl")
        kept = journal.read(path)
        assert kept is not None
        values = [entry.value for entry in kept.session.log]
        # One more may be written than was confirmed, never one less.
        assert confirmed <= len(values) <= confirmed + 1
        assert values == [("close", "open")[at % 2] for at in range(len(values))]
        confirmed = len(values)
    assert confirmed >= MOMENTS
    room = Room(tmp_path)
    room.say("end")
    room.seat.tick(0.5)
    document = documents.parse(room.handed[0].evidence)
    assert len(document.log) == confirmed and verify(document, rebuilder()).ok
    pauses = room.custody().pauses
    assert len(pauses) >= MOMENTS - 1 and {pause.reason for pause in pauses} <= {"the server was away", "paused"}
    print(f"killed {MOMENTS} times at random moments, {confirmed} actions, none lost, the evidence verifies")


def test_a_clock_set_back_an_hour_costs_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    records = Records(f"sqlite:///{tmp_path / 'records.sqlite'}").prepare()
    access = Access(records, b"k" * 32, PasswordHasher(1, 8, 1))
    outbox = Outbox(records, tmp_path / "outbox")
    with records.work() as session:
        code = logins.open_class(session, people.add(session, "Mara Quill", "instructor"))
    cookie, _ = access.join(PIA.name, code, "", "10.0.0.1")
    device = access.device(PIA.name)
    room = started(Room(tmp_path))
    room.hear(do="set", target="upper_annular", value="close", **{"from": "driller"})
    room.pass_by(5.0)

    class Earlier(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Earlier:
            return cast(Earlier, datetime.now(tz) - timedelta(hours=1))

    real = time.time
    monkeypatch.setattr(time, "time", lambda: real() - 3600.0)
    for module in (watch, class_rooms, audit):
        monkeypatch.setattr(module, "datetime", Earlier)
    room.hear(do="set", target="upper_annular", value="open", **{"from": "driller"})
    room.pass_by(5.0)
    assert access.who(cookie) is not None, "whoever was in stays in"
    again = Access(records, b"k" * 32, PasswordHasher(1, 8, 1))
    assert again.who(cookie) is not None, "also after the server was started again"
    assert again.wait(PIA.name, "10.0.0.1", device) == 0.0 and again.knows(device, PIA.name)
    # Killed now, the run is taken up with all that was confirmed.
    room = Room(tmp_path)
    room.rooms._arrive = outbox.put
    room.hear(page="pause")
    room.pass_by(1.0)
    room.hear(do="set", target="lower_annular", value="close", **{"from": "driller"})
    room.pass_by(1.0)
    room.say("end")
    room.seat.tick(0.5)
    assert outbox.flush() == 1
    with records.work() as session:
        (kept,) = attempts.search(session)
        document = documents.parse(kept.evidence)
    assert [entry.value for entry in document.log] == ["close", "open", "close"]
    assert verify(document, rebuilder()).ok
    custody = document.custody
    assert custody is not None and 0.0 <= custody.wall_s < 600.0
    assert all(0.0 <= pause.wall_s < 600.0 for pause in custody.pauses)
    records.close()


def _run(tmp_path: Path) -> tuple[Session, journal.Journal, Path]:
    path = tmp_path / "seat.jsonl"
    session = Session.start("kick-while-drilling", seed=4)
    kept = journal.Journal(path)
    kept.start(session, {})
    for second in range(25):
        session.advance(1.0)
        if second % 4 == 0:
            session.submit({"do": "set", "target": "floor.rotary", "value": float(10 + second), "from": "floor"})
        if second == 11:
            session.intervene("fault", "well.losses", 0.4)
        kept.keep(session)
    return session, kept, path


def test_a_journal_gives_the_same_run_to_the_bit(tmp_path: Path) -> None:
    session, _, path = _run(tmp_path)
    found = journal.read(path)
    assert found is not None
    again = found.session
    assert again.tick == session.tick
    assert again.machine.state == session.machine.state
    assert again.log == session.log
    assert again.checkpoint() == session.checkpoint()
    again.advance(10.0)
    session.advance(10.0)
    assert again.evidence() == session.evidence()
    assert verify(documents.parse(json.dumps(again.evidence())), rebuilder()).ok


def test_taken_up_again_and_again_it_has_every_checkpoint(tmp_path: Path) -> None:
    session, kept = Session.start("kick-while-drilling", seed=4), journal.Journal(tmp_path / "seat.jsonl")
    kept.start(session, {})
    # A checkpoint each 10 s. It may fall between the last snapshot and the end of the process, and be turned back to.
    for at in (3.6, 11.0, 14.2, 20.6, 30.0, 31.4):
        while session.time < at:
            session.advance(0.2)
            kept.keep(session)
        found = journal.read(tmp_path / "seat.jsonl")
        assert found is not None
        kept = journal.Journal(tmp_path / "seat.jsonl")
        assert kept.take_up(found)
        session = found.session
        assert [point.tick for point in session.checkpoints] == list(range(0, session.tick + 1, 500))
    early = Session.restore(session.snapshot())
    session.advance(20.0)
    kept.keep(session)
    kept.back(early)
    found = journal.read(tmp_path / "seat.jsonl")
    assert found is not None and found.session.checkpoints == early.checkpoints
    assert verify(documents.parse(json.dumps(found.session.evidence())), rebuilder()).ok


def test_a_line_torn_by_the_end_costs_only_itself(tmp_path: Path) -> None:
    session, _, path = _run(tmp_path)
    whole = path.read_bytes()
    for cut in (1, 7, 40):
        path.write_bytes(whole[:-cut])
        found = journal.read(path)
        assert found is not None
        assert session.tick - 100 <= found.session.tick <= session.tick
        taken = journal.Journal(path)
        taken.take_up(found)
        found.session.submit({"do": "set", "target": "floor.rotary", "value": 99.0, "from": "floor"})
        taken.keep(found.session)
        again = journal.read(path)
        assert again is not None
        assert again.session.log[-1].value == 99.0
        assert again.session.machine.state == found.session.machine.state


def test_turned_back_stays_turned_back(tmp_path: Path) -> None:
    session, kept, path = _run(tmp_path)
    early = Session.start("kick-while-drilling", seed=4)
    early.advance(2.0)
    kept.back(early)
    early.submit({"do": "set", "target": "floor.rotary", "value": 55.0, "from": "floor"})
    kept.keep(early)
    found = journal.read(path)
    assert found is not None
    assert [entry.value for entry in found.session.log] == [55.0]
    assert found.session.checkpoints == early.checkpoints
    assert session.tick > found.session.tick


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n\n",
        b"not json\n",
        b'{"k":"start"}\n',
        b'{"k":"act"}\n',
        b'{"k":"snap","points":[],"tick":0}\n',
        b"[]\n",
    ],
)
def test_a_journal_that_is_none_gives_no_run(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "seat.jsonl"
    path.write_bytes(content)
    assert journal.read(path) is None


def test_a_run_of_another_plant_is_not_taken_up(tmp_path: Path) -> None:
    _, _, path = _run(tmp_path)
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    for line in lines:
        if line["k"] == "snap":
            state = journal.unpack(line["state"])
            state["identity"]["plant_hash"] = "0" * 64
            line["state"] = journal.pack(state)
    path.write_text("".join(json.dumps(line) + "\n" for line in lines))
    assert journal.read(path) is None


def test_another_person_does_not_get_the_run_with_the_token(server: Server, instructor: Visitor) -> None:
    async def story() -> None:
        staff = await Page(server.url, instructor.cookie()).open(hello=False, path="instructor")
        code = await staff.class_code()
        cookies = []
        for name in ("Ada Brook", "Noel Crane"):
            visitor = Visitor(server.url)
            await asyncio.to_thread(visitor.join, name, code)
            cookies.append(visitor.cookie())
        hers = await Page(server.url, cookies[0]).open()
        await hers.start("")
        his = await Page(server.url, cookies[1], seat=hers.seat).open()
        assert his.state("page.page") == "chooser"
        guest = await Page(server.url, cookies[0], seat=hers.seat).open()
        assert guest.state("page.page") == "console"
        for page in (staff, hers, his, guest):
            page.close()

    run(story())
