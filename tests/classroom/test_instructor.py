"""Instructor, trainees and a watcher at once, over real sockets: who sees what, who may do what."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest

from tests.classroom.conftest import Server, Visitor
from tests.classroom.wire import Page, run
from trainer.console.talk import YOU, Talk
from trainer.simulator import check_drill

Story = Callable[[Page, Page], Awaitable[None]]


class Class:
    """A class with one trainee and the instructor's page open."""

    def __init__(self, server: Server, instructor: Visitor) -> None:
        self.server = server
        self.cookie = instructor.cookie()

    def play(self, name: str, story: Story) -> None:
        run(self._play(name, story))

    async def _play(self, name: str, story: Story) -> None:
        staff = await Page(self.server.url, self.cookie).open(hello=False, path="instructor")
        code = await staff.class_code()
        visitor = Visitor(self.server.url)
        await asyncio.to_thread(visitor.join, name, code)
        trainee = await Page(self.server.url, visitor.cookie()).open()
        try:
            await staff.until(lambda: name in staff.markup["desk_roster"])
            await say(staff, "desk_roster", {"page": "select", "number": number_of(staff, name)}, said="")
            await story(staff, trainee)
        finally:
            trainee.close()
            staff.close()


def number_of(staff: Page, name: str) -> str:
    """The number of somebody's place, from the roster."""
    found = re.search(
        rf"number&quot;:&quot;([0-9a-f]{{20}})&quot;[^>]*>{re.escape(name)}<", staff.markup["desk_roster"]
    )
    assert found, staff.markup["desk_roster"]
    return found[1]


async def say(staff: Page, board: str, message: dict[str, Any], said: str | None = None) -> str:
    """Send a message from the desk and give what the desk answers."""
    count = staff.readings.get("desk.said", {}).get("count", 0)
    staff.send(board, message)
    await staff.until(lambda: staff.readings.get("desk.said", {}).get("count", 0) > count)
    if said is not None:
        assert said in staff.text("desk.said")
    return staff.text("desk.said")


@pytest.fixture(scope="module")
def room(server: Server, instructor: Visitor) -> Class:
    return Class(server, instructor)


def test_freeze_message_fault_and_rewind_reach_the_trainee(room: Class) -> None:
    async def story(staff: Page, trainee: Page) -> None:
        await trainee.start("")
        await say(staff, "desk_run", {"page": "freeze"}, "frozen")
        await trainee.until(lambda: trainee.text("page.pause") == "Frozen")
        clock = trainee.text("page.clock")
        trainee.do("set", "upper_annular", "close")
        await trainee.until(lambda: "frozen the run" in str(trainee.readings.get("page.refusal")))
        # What the desk says still reaches the trainee, and the clock stands meanwhile.
        for word in ("Stop", "Look up"):
            await say(staff, "desk_talk", {"page": "tell", "text": word}, "told")
            await trainee.until(lambda word=word: trainee.text("page.told") == f"instructor: {word}")
        assert trainee.text("page.clock") == clock
        await say(staff, "desk_run", {"page": "resume"}, "goes on")
        await say(staff, "desk_talk", {"page": "tell", "text": "Look at <b>the tank</b>"}, "told")
        await trainee.until(lambda: trainee.text("page.told") == "instructor: Look at <b>the tank</b>")
        await say(staff, "desk_run", {"page": "pace", "value": "20"}, "20 times")
        await trainee.until(lambda: trainee.text("page.pace") == "20")
        assert trainee.state("power.ac") == "on"
        fault = {"page": "fault", "fault": "power.ac_lost", "severity": "100", "over": "0"}
        await say(staff, "desk_plant", fault, "100 %")
        await trainee.until(lambda: trainee.state("power.ac") == "off")
        assert "Rig AC lost" in str(staff.readings["desk.faults"])
        await say(staff, "desk_plant", {"page": "clear", "fault": "power.ac_lost"}, "cleared")
        await trainee.until(lambda: trainee.state("power.ac") == "on")
        await staff.until(lambda: "0:1" in str(staff.readings["desk.moments"]))
        # What takes something from a run says so first, and can be taken back.
        await say(staff, "desk_run", {"page": "rewind", "tick": "0"}, "Nothing is done yet")
        # Twenty simulated seconds pass in each, so that a busy machine is soon beyond the first.
        asked = re.search(r"Free practice at \d+:\d\d", str(staff.readings["desk.question"]))
        assert asked is not None and asked.group() > "Free practice at 0:1"
        await say(staff, "desk_run", {"page": "leave"}, "Nothing was taken")
        await say(staff, "desk_run", {"page": "rewind", "tick": "0"}, "Nothing is done yet")
        await say(staff, "desk_run", {"page": "cut"}, "back at 0:00")
        await trainee.until(lambda: trainee.text("page.clock").startswith("0:0"))
        await say(staff, "desk_top", {"page": "undo"}, "back in Free practice at ")
        await trainee.until(lambda: trainee.text("page.clock") >= "0:1")
        everybody = {"to": "all"}
        await say(staff, "desk_top", {"page": "pace", "value": "5", **everybody}, "done for")
        await trainee.until(lambda: trainee.text("page.pace") == "5")
        await trainee.until(lambda: trainee.text("page.clock") > "0:12")
        await say(staff, "desk_top", {"page": "back", "value": "36000", **everybody}, "Nothing is done yet")
        await say(staff, "desk_top", {"page": "cut"}, "done for")
        await trainee.until(lambda: trainee.text("page.clock").startswith("0:0"))
        for deed in ("reset", "end"):
            await say(staff, "desk_top", {"page": deed, **everybody}, "Nothing is done yet")
            await say(staff, "desk_top", {"page": "cut"}, "done for")
        await trainee.until(lambda: trainee.state("page.page") == "sheet")
        await say(staff, "desk_top", {"page": "undo", **everybody}, "done for")
        await trainee.until(lambda: trainee.state("page.page") == "console")

    room.play("Ona Tiller", story)


def test_a_ramp_grows_and_what_cannot_be_done_is_told(room: Class) -> None:
    async def story(staff: Page, trainee: Page) -> None:
        await say(staff, "desk_run", {"page": "end"}, "nothing is running")
        await trainee.start("")
        await say(staff, "desk_run", {"page": "pace", "value": "5"})
        ramp = {"page": "fault", "fault": "well.losses", "severity": "60", "over": "20"}
        await say(staff, "desk_plant", ramp, "in 20 s")
        await staff.until(lambda: "60 %" in str(staff.readings["desk.faults"]))
        for message, why in (
            ({**ramp, "fault": "no.such"}, "no fault"),
            ({**ramp, "severity": "900"}, "0 to 100"),
            ({**ramp, "over": "soon"}, "is a number"),
            ({"page": "put", "variable": "well.spilled", "value": "1"}, "cannot be set"),
            ({"page": "put", "variable": "well.formation_pressure", "value": "nan"}, "from 0"),
            ({"page": "operate", "what": "set nothing", "value": "open"}, "no such control"),
            ({"page": "rewind", "tick": "77", "cut": True}, "no snapshot"),
            ({"page": "pace", "value": "1e9"}, "pace is one of"),
            ({"page": "start", "drill": "../../etc/passwd", "cut": True}, "no drill"),
            ({"page": "start_from", "start": "saved:../../cookie", "cut": True}, "letters, digits"),
            ({"page": "save_start", "name": "../x"}, "letters, digits"),
            ({"page": "launch"}, "does not know"),
        ):
            said = await say(staff, "desk_plant", message)
            assert said.startswith("Not done"), said
            assert why in said, said
        pressure = {"page": "put", "variable": "well.formation_pressure", "value": "6000"}
        await say(staff, "desk_plant", pressure, "6000 psi")

    room.play("Jon Sedge", story)


def test_a_trainee_asks_and_an_assistant_does_it(room: Class) -> None:
    async def story(staff: Page, trainee: Page) -> None:
        await trainee.check(staff, "lost-rig-air", "Mara Quill")
        hand = {"page": "operate", "what": "set bank_a.isolation", "value": "shut", "by": "assistant"}
        assert "not requested" in await say(staff, "desk_plant", hand)
        trainee.send("room", {"page": "request", "text": "Accumulator bank A: isolation valve: shut"})
        await staff.until(lambda: "isolation valve" in str(staff.readings.get("desk.asks")))
        # The open request is for that control and that position: no other moves by it.
        for what, value in (
            ("set bank_a.isolation", "open"),
            ("set bank_a.bleed", "open"),
            ("set bank_b.isolation", "shut"),
            ("set upper_annular", "close"),
        ):
            said = await say(staff, "desk_plant", {**hand, "what": what, "value": value})
            assert "not requested" in said, (what, said)
            assert "check is under way" in await say(staff, "desk_plant", {**hand, "what": what, "by": "instructor"})
        before = {key: trainee.state(key) for key in ("upper_annular.valve", "bank_a.bleed", "bank_b.isolation")}
        assert before["upper_annular.valve"] != "close" and trainee.state("bank_a.isolation") != "shut"
        await say(staff, "desk_plant", hand, "done as asked: Accumulator bank A")
        await staff.until(lambda: "Assistant: Bank a isolation: shut" in str(staff.readings["desk.log"]))
        await trainee.until(lambda: "Done: Accumulator bank A" in str(trainee.readings["page.room"]))
        await trainee.until(lambda: trainee.state("bank_a.isolation") == "shut")
        assert {key: trainee.state(key) for key in before} == before
        assert "not requested" in await say(staff, "desk_plant", hand), "asked once, it is done once"
        for page in ("fault", "put", "rewind", "reset", "tell", "pace", "start_from"):
            assert "check is under way" in await say(staff, "desk_plant", {"page": page})
        assert "reason" in await say(staff, "desk_run", {"page": "freeze"})
        await say(staff, "desk_run", {"page": "freeze", "reason": "a visitor"}, "frozen")
        await say(staff, "desk_run", {"page": "resume"}, "goes on")
        await say(staff, "desk_run", {"page": "end", "reason": "the time is up"}, "ends")
        await trainee.until(lambda: trainee.state("page.page") == "sheet")

    room.play("Mara Quill", story)


def test_states_are_saved_and_begun_from_and_become_drills(room: Class, tmp_path: Path) -> None:
    async def story(staff: Page, trainee: Page) -> None:
        await trainee.start("")
        trainee.do("set", "upper_annular", "close")
        await trainee.until(lambda: trainee.state("upper_annular.lamp_close") == "on")
        await say(staff, "desk_plant", {"page": "fault", "fault": "well.losses", "severity": "30", "over": "0"})
        await say(staff, "desk_run", {"page": "save_start", "name": "Annular shut"}, "Saved as")
        await staff.until(lambda: "saved:Annular shut" in str(staff.readings["desk.starts"]))
        staff.readings["desk.file"] = {}
        await say(staff, "desk_run", {"page": "skeleton", "name": "Losses & annular"}, "losses-annular.toml was made")
        await staff.until(lambda: staff.readings["desk.file"].get("content"))
        made = tmp_path / staff.readings["desk.file"]["file"]
        made.write_text(staff.readings["desk.file"]["content"], encoding="utf-8")
        assert check_drill(made) == []
        assert 'fault = "well.losses"' in made.read_text()
        await say(
            staff, "desk_run", {"page": "start_from", "start": "out_of_hole", "cut": True}, "begins from Out of hole"
        )
        await trainee.until(lambda: trainee.state("upper_annular.lamp_close") == "off")
        await say(staff, "desk_run", {"page": "start_from", "start": "saved:Annular shut", "cut": True}, "Annular shut")
        await trainee.until(lambda: trainee.state("upper_annular.lamp_close") == "on")

    room.play("Ravi Holm", story)


def test_a_watcher_sees_the_console_and_moves_nothing(room: Class) -> None:
    async def story(staff: Page, trainee: Page) -> None:
        await trainee.start("")
        number = number_of(staff, "Lena Frost")
        watcher = Page(room.server.url, room.cookie)
        watcher_path = f"watch?seat={number}"
        token = await watcher.token(watcher_path)
        await watcher.connect(token, "watch")
        watcher.send("header", {"page": "hello", "value": "0" * 32, "theme": "light"})
        await watcher.until(lambda: watcher.state("page.page") == "console")
        assert "watching Lena Frost: Driller's panel" in watcher.text("page.mode")
        # The watcher's page turns where the trainee's does; where the watcher turns changes nothing.
        trainee.send("header", {"page": "looks", "value": "unit"})
        await watcher.until(lambda: watcher.state("page.view") == "unit")
        assert "watching Lena Frost: Unit" in watcher.text("page.mode")
        watcher.send("header", {"page": "looks", "value": "floor"})
        trainee.do("set", "upper_annular", "close")
        await watcher.until(lambda: watcher.state("upper_annular.lamp_close") == "on")
        watcher.do("set", "upper_annular", "open")
        watcher.send("header", {"page": "pause"})
        watcher.send("header", {"page": "finish"})
        watcher.send("header", {"page": "leave"})
        # What the trainee does after all that is seen, so what the watcher sent has come too.
        trainee.do("set", "lower_annular", "close")
        await watcher.until(lambda: watcher.state("lower_annular.lamp_close") == "on")
        assert trainee.state("upper_annular.lamp_close") == "on"
        assert trainee.state("page.running") == "on"
        assert watcher.state("page.view") == "unit"
        watcher.close()

    room.play("Lena Frost", story)


def test_who_is_you_to_themselves_is_called_by_name_to_whoever_watches() -> None:
    talk = Talk()
    talk.add(5.0, YOU, "entered: drill pipe pressure 600 psi")
    assert ">You<" in talk.markup() and ">You<" not in talk.markup("Lena Frost")
    assert ">Lena Frost<" in talk.markup("Lena Frost")
