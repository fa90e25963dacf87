"""Lessons in a class: steps at their time, when a condition holds, by hand; left at any time, kept in versions."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from tests.classroom.conftest import Server, Visitor
from tests.classroom.staff import opened
from tests.classroom.test_checks import STAFF, Room
from tests.classroom.wire import Page, run
from trainer.classroom import lesson_files, lesson_skeleton
from trainer.classroom.access import Who
from trainer.classroom.instructor import CutsShortError, RefusedError
from trainer.classroom.lesson_run import LessonRun
from trainer.classroom.place import ClassSeat
from trainer.classroom.starts import StartError
from trainer.drills.lesson_plan import LessonError, LessonPlan, read_lesson
from trainer.simulator import Session

LESSON = """
id = "{id}"
title = "Air and a valve"
purpose = "Try the steps."
minutes = 5
start = "as built"
plant = "quillback"
{groups}
[[step]]
title = "Bank shut"
when = "bank_a.isolation == 'shut'"
for = "1 s"
fault = "air.lost"
severity = "60 %"
[[step]]
title = "Ask"
at = "4 s"
ask = "What changed?"
[[step]]
title = "By hand"
discuss = "Why?"
"""


def plan(groups: str = "", **more: str) -> LessonPlan:
    return read_lesson(LESSON.format(id="air-and-valve", groups=groups) + "".join(more.values()))


def begun(room: Room, lesson: LessonRun) -> Session:
    """The lesson begun at the one place of the class."""
    lesson.deal([room.place.number])
    room.desk.do(lesson.begins(), STAFF, room.place.number)
    lesson.arm(room.place)
    assert isinstance(room.seat.run, Session)
    return room.seat.run


def test_steps_happen_at_their_condition_at_their_time_and_by_hand_and_stop_when_left(tmp_path: Path) -> None:
    room = Room(tmp_path)
    lesson = LessonRun(plan(), "Mara Quill", room.rooms)
    session = begun(room, lesson)
    room.pass_by(3.0)
    assert session.machine.read("fault.air.lost") == 0.0 and not room.seat.talk.told
    room.hear(do="set", target="bank_a.isolation", value="shut", **{"from": "unit"})
    room.pass_by(3.0)
    # The condition held for a second, and not before: the fault is there, and stands in the log as the instructor's.
    assert session.machine.read("fault.air.lost") == 0.6
    assert [entry.from_ for entry in session.log if entry.do == "fault"] == ["instructor"]
    assert [one.text for one in room.seat.talk.told] == ["Question: What changed?"]
    first, asked, stop = lesson.status(None)
    assert first.when.startswith("When ") and asked.when == "At 0:04" and stop.when == "By hand"
    assert first.done and asked.done and stop.waiting == ["Pia Lund"]
    assert lesson.now(2) == "By hand: done for 1." and room.seat.frozen
    with pytest.raises(RefusedError, match="no one"):
        lesson.now(2)
    # Turned back to before the valve was shut, it has not happened yet, and happens again.
    room.say("resume")
    with pytest.raises(CutsShortError, match="is taken from it"):
        room.say("back", value="36000")
    room.say("back", value="36000", cut=True)
    room.pass_by(1.0)
    assert isinstance(room.seat.run, Session) and room.seat.run.machine.read("fault.air.lost") == 0.0
    room.hear(do="set", target="bank_a.isolation", value="shut", **{"from": "unit"})
    room.pass_by(2.0)
    assert room.seat.run.machine.read("fault.air.lost") == 0.6
    # Begun again the lesson goes on in the new run; taken back, the run stands where it stood, with what was done.
    t = room.seat.run.time
    room.say("reset", cut=True)
    assert room.seat.run.time == 0.0 and not lesson.status(None)[0].done
    room.say("undo")
    assert room.seat.run.time == t and room.seat.run.machine.read("fault.air.lost") == 0.6
    assert lesson.status(None)[0].done and room.seat.rewinds == 2
    with pytest.raises(RefusedError, match="nothing to take back"):
        room.say("undo")


def test_a_lesson_that_is_left_or_skipped_does_nothing_more(tmp_path: Path) -> None:
    room = Room(tmp_path)
    lesson = LessonRun(plan(), "Mara Quill", room.rooms)
    session = begun(room, lesson)
    lesson.skip(1)
    room.pass_by(5.0)
    assert not room.seat.talk.told
    lesson.leave()
    room.hear(do="set", target="bank_a.isolation", value="shut", **{"from": "unit"})
    room.pass_by(3.0)
    assert session.machine.read("fault.air.lost") == 0.0 and session.time > 7.0


def test_groups_are_dealt_out_by_name_and_a_step_of_one_leaves_the_other_alone(tmp_path: Path) -> None:
    room = Room(tmp_path)
    other = cast(ClassSeat, room.rooms.take("1" * 32, SimpleNamespace(who=Who(2, "Ada Berg", "trainee"))))
    other.hello()
    lesson = LessonRun(
        plan(
            'groups = ["One", "Two"]', step='[[step]]\ntitle = "Two only"\nat = "1 s"\ngroup = "Two"\ntell = "Hello"\n'
        ),
        "Mara Quill",
        room.rooms,
    )
    numbers = [place.number for place in room.rooms.places()]
    lesson.deal(numbers)
    for place in room.rooms.places():
        room.desk.do(lesson.begins(), STAFF, place.number)
        lesson.arm(place)
    for _ in range(6):
        for place in room.rooms.places():
            place.seat.tick(0.5)
    assert [[one.text for one in place.seat.talk.told] for place in room.rooms.places()] == [[], ["Hello"]]


def test_a_fault_waits_for_a_condition_for_one_or_for_all(tmp_path: Path) -> None:
    room = Room(tmp_path)
    room.hear(page="start", drill="", mode="practice", seed="0")
    with pytest.raises(RefusedError, match=r"no reading 'bank_z\.isolation'"):
        room.say("fault", fault="air.lost", severity="50", when="bank_z.isolation == 'shut'")
    room.say("fault", fault="air.lost", severity="50", when="bank_a.isolation == 'shut'", to="all")
    room.pass_by(2.0)
    session = room.seat.run
    assert isinstance(session, Session) and session.machine.read("fault.air.lost") == 0.0
    with pytest.raises(RefusedError, match=r"0:01 has passed, the run is at 0:0"):
        room.say("fault", fault="air.lost", severity="50", at="1")
    room.hear(do="set", target="bank_a.isolation", value="shut", **{"from": "unit"})
    room.pass_by(1.0)
    assert session.machine.read("fault.air.lost") == 0.5


def test_a_run_becomes_a_lesson_that_is_sound_and_does_the_same_again(tmp_path: Path) -> None:
    room = Room(tmp_path)
    room.hear(page="start", drill="", mode="practice", seed="0")
    room.pass_by(2.0)
    with pytest.raises(ValueError, match="nothing was brought"):
        lesson_skeleton.build(room.seat, cast(Session, room.seat.run), "Again")
    room.say("fault", fault="air.lost", severity="50")
    room.say("tell", text='Look at the "air"')
    room.say("note", text="They saw it late")
    text = lesson_skeleton.build(room.seat, cast(Session, room.seat.run), "Again & again")
    made = read_lesson(text)
    assert lesson_files.faults_of(made, room.rooms.drills) == []
    assert made.id == "again-again" and made.notes == "0:02 They saw it late"
    room.say("end")
    room.seat.tick(0.1)
    again = begun(room, LessonRun(made, "Mara Quill", room.rooms))
    room.pass_by(4.0)
    assert again.machine.read("fault.air.lost") == 0.5


def test_versions_are_kept_and_a_wrong_lesson_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRAINER_DATA", str(tmp_path))
    text = LESSON.format(id="kept-lesson", groups="")
    assert [lesson_files.keep(one, {})[1] for one in (text, text.replace("Why?", "How?"))] == [1, 2]
    with pytest.raises(LessonError, match="stands already"):
        lesson_files.keep(text.replace("Why?", "How?"), {})
    with pytest.raises(LessonError, match=r"step\[1\].fault"):
        lesson_files.keep(text.replace("air.lost", "air.gone"), {})
    assert lesson_files.versions("kept-lesson") == [2, 1] and "How?" in lesson_files.text_of("kept-lesson")
    lesson_files.own().remove("kept-lesson")
    assert "kept-lesson" not in lesson_files.lessons() and "Why?" in lesson_files.text_of("kept-lesson", 1)
    with pytest.raises(LessonError, match="shipped lesson"):
        lesson_files.keep(text.replace("kept-lesson", "power-and-air"), {})
    for lesson, version in (("../kept-lesson", None), ("a" * 400, None), ("kept-lesson", 10**300)):
        with pytest.raises(StartError):
            lesson_files.text_of(lesson, version)
    # A key of thousands of parts, which takes a parser of TOML minutes, also inside a table on one line.
    for key in (".".join("a" * 5000), ".".join(['"="'] * 5000)):
        with pytest.raises(LessonError, match="dots"):
            lesson_files.keep(f"{text}\nx = {{{key} = 1}}\n", {})


def test_addresses_of_lessons_that_cannot_be_are_not_found(instructor: Visitor) -> None:
    for path in ("x" * 400, f"power-and-air.toml?version={'9' * 5000}", "..%2f..%2fsigning"):
        instructor.get(f"lessons/{path}" + ("" if "?" in path else ".toml"))
        assert instructor.status == 404


def test_the_page_runs_a_lesson_and_takes_files(
    server: Server, instructor: Visitor, joined: Callable[[str], Visitor]
) -> None:
    async def story() -> None:
        trainee = await Page(server.url, joined("Vera Sund").cookie()).open()
        desk = await opened(instructor, "lessons")
        try:
            text = LESSON.format(id="page-lesson", groups="")
            desk.bring("Lesson file (TOML)", {"a.toml": text.replace("air.lost", "air.gone").encode()})
            await desk.say("Check and bring in", "step[1].fault: quillback has no fault")
            desk.bring("Lesson file (TOML)", {"a.toml": text.encode()})
            await desk.say("Check and bring in", "Air and a valve: in the list, version 1")
            desk.put("Lesson", "Air and a valve")
            await desk.say("Start for all who wait", "Air and a valve: started for")
            await desk.until(lambda: "Under way: Air and a valve" in desk.words())
            await desk.say("Run now: By hand", "By hand: done for")
            await trainee.until(lambda: "stopped the clock: Why?" in trainee.text("page.told"))
            await desk.say("Leave the lesson", "The runs go on")
        finally:
            desk.close()
            trainee.close()

    run(story())


def test_a_class_list_is_taken_in_and_its_summary_printed(server: Server, instructor: Visitor) -> None:
    async def story() -> None:
        desk = await opened(instructor, "classes")
        desk.bring("Class list (CSV)", {"list.csv": b"name,class,due\nEli Roan,Days,2027-01-31\n"})
        await desk.say("Check and take in", "line 2: due is the day for a course")
        desk.bring("Class list (CSV)", {"list.csv": b"name;class;group\nEli Roan;Days;Two\n"})
        await desk.say("Check and take in", "1 on the list, 1 of them new")
        desk.put("Class", "Days")
        await desk.until(lambda: desk.row(name="Eli Roan", group="Two"))
        desk.close()

    run(story())
    printed = instructor.request("classes/summary.html?class=Days")
    assert "Class summary: Days" in printed and "Eli Roan" in printed
