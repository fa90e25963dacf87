"""The class at a glance: what its cards say, faults found by words, and a drill for all, on a running server."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import segno

from tests.classroom.conftest import Server, Visitor, class_code, serve
from tests.classroom.staff import StaffPage, opened
from tests.classroom.test_records_pages import invite
from tests.classroom.wire import Page, run
from trainer.classroom.fault_panel import seconds
from trainer.classroom.glance import ALARM, ASKS, RUNS, Glance, PreventerState
from trainer.classroom.glance_page import chosen_run
from trainer.classroom.ramps import Ramp
from trainer.classroom.screen_page import join_by, qr, reached
from trainer.classroom.start_class import lost
from trainer.classroom.wall import Shown, Wall, card, stands
from trainer.console.faults import FaultList
from trainer.drawing.rig_view import RigView
from trainer.plant.rig import load_plant
from trainer.simulator import build

NAMES = ("Tove Lunde", "Arne Vik")


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Server]:
    """A class in which nobody else stands and asks."""
    yield from serve(tmp_path / "own", "--join")


def test_a_class_is_started_asked_about_and_given_a_fault(own: Server) -> None:
    """A drill for who waits in two actions; a fault for one in three from a word; no run is cut short unasked."""
    instructor = Visitor(own.url).log_in("instructor", own.secret)
    code = class_code(own, instructor)
    people = [Visitor(own.url) for _ in NAMES]
    for person, name in zip(people, NAMES, strict=True):
        person.join(name, code)

    async def story() -> None:
        trainees = [await Page(own.url, person.cookie()).open() for person in people]
        desk = await opened(instructor, "glance")
        try:
            await desk.until(lambda: all(desk.labelled(name) for name in NAMES))
            desk.put("Drill", "Free practice")
            await desk.say("Start for all who wait", "started for")
            await desk.until(lambda: desk.words().count("At work") >= len(NAMES))
            desk.put("Trainee", NAMES[0])
            await desk.until(lambda: desk.choices("Fault"))
            await _fault(desk, trainees)
            # What a trainee asks for is done by one press beside it; a question is answered in words.
            for text in ("Accumulator bank A: isolation valve: shut", "Is it stable?"):
                trainees[1].send("room", {"page": "request", "text": text})
            await desk.until(lambda: "Requests: 2" in desk.words())
            await desk.say("Do it", f"{NAMES[1]}: done as asked: Accumulator bank A: isolation valve: shut")
            await trainees[1].until(lambda: trainees[1].state("bank_a.isolation") == "shut")
            await desk.until(lambda: "Requests: 1" in desk.words())
            await desk.say("Answer", "answered: Is it stable?", A_word_about_it="Yes")
            await trainees[1].until(lambda: "“Yes”: Is it stable?" in str(trainees[1].readings["page.room"]))
            # A further start says what would be lost, starts nothing, and holds to what it asked about.
            desk.put("Drill", "Rig air lost")
            desk.press("Start for all")
            await desk.until(lambda: "Rig air lost (practice, variation 0) is not started yet" in desk.words())
            assert f"{NAMES[0]}: Free practice" in desk.words()
            await desk.say("Leave them", "run was cut short")
            assert trainees[0].state("power.ac") == "off"
            desk.press("Start for the chosen one")
            await desk.until(lambda: "is not started yet" in desk.words())
            desk.put("Drill", "Free practice")
            await desk.say("Cut short and start", "Rig air lost (practice, variation 0): started for 1")
            await trainees[0].until(lambda: "Free practice ended at" in trainees[0].text("page.told"))
        finally:
            for one in (desk, *trainees):
                one.close()

    run(story())


async def _fault(desk: StaffPage, trainees: list[Page]) -> None:
    desk.put("Find a fault by words", "ac lost rig")
    await desk.until(lambda: len(desk.choices("Fault")) < 10)
    assert "Rig AC lost" in " ".join(desk.choices("Fault"))
    desk.put("Fault", next(words for words in desk.choices("Fault") if words.endswith("Rig AC lost")))
    await desk.until(lambda: "shed load" in desk.words())
    await desk.say("Bring it to the chosen one", f"{NAMES[0]}: Rig AC lost to 100 %")
    await trainees[0].until(lambda: trainees[0].state("power.ac") == "off")
    assert trainees[1].state("power.ac") == "on"
    await desk.until(lambda: "Faults that are there" in desk.words())


def test_an_assessor_sees_the_class_and_changes_no_run(instructor: Visitor) -> None:
    """The buttons about faults and practice ask for an instructor, whoever's page they stand on."""
    assessor = invite(instructor, "Siv Grane", "assessor")

    async def story() -> None:
        desk = await opened(assessor, "glance")
        await desk.say("Bring it to all", "this is not for you")
        desk.close()

    run(story())


def glance(**given: object) -> Glance:
    """A run at work, with what is given."""
    made = {"rank": RUNS, "need": "At work", "drill": "Kick", "clock": "1:05", "running": True, **given}
    return Glance.read(made)


def test_only_cards_that_say_something_else_are_sent_again_and_need_comes_first() -> None:
    wall = Wall(lambda number: None)
    calm, asks = Shown("a" * 20, "Ada", "w", glance()), Shown("b" * 20, "Bo", "w", glance(rank=ASKS, need="Asks: x"))
    wall.show([calm, asks], calm.number)
    bodies = [view[1] for view in wall.view.objects]
    sent: list[int] = []
    for place, body in enumerate(bodies):
        body.object.on_change("text", lambda attr, old, new, place=place: sent.append(place))
    assert [view.styles["order"] for view in wall.view.objects] == ["1", "0"]
    wall.show([calm, Shown(asks.number, "Bo", "w", glance(rank=ALARM, need="Alarm"))], calm.number)
    assert sent == [1]
    wall.show([asks], "")
    assert len(wall.view.objects) == 1


def test_a_card_tells_truth_and_lamps_apart_and_keeps_names_as_text() -> None:
    stack = [
        PreventerState("Upper annular", 0.4, False, False, True, False),
        PreventerState("Lower annular", 0.62, True, False, True, False),
        PreventerState("Pipe ram", 0.0, False, True, False, False),
    ]
    run_ = glance(figures=[("Casing", 3447378.6, "psi")], stack=stack, lines=["Choke"], actions=["0:03 <b>x</b>"])
    assert stands(run_) == "Closed: Lower annular. Between: Upper annular 40 % closed. Open: Choke."
    shown = chosen_run(run_, "field")
    assert "<td>closed</td><td>40 % closed</td>" in shown and "<td>none lit</td><td>open</td>" in shown
    # Shut round the pipe it stops on its way, and is closed all the same.
    assert "Lower annular</th><td>closed</td><td>closed</td>" in shown
    assert "500 psi" in shown and "&lt;b&gt;x" in shown
    assert "34" in chosen_run(run_, "metric")
    assert "<b>x" not in card(Shown("a" * 20, "Ada", "w", run_), True, "field")
    # What goes to another server comes back the same.
    assert Glance.read(run_.record()) == run_ and Glance.read({**run_.record(), "later": 1}) == run_


def test_the_class_screen_gives_address_code_and_qr_and_names_nobody_before_the_class() -> None:
    shown = join_by({"Nights": "AB3-7KQ"}, "https://train.example")
    assert "https://train.example/join" in shown and "AB3-7KQ" in shown and "Nights" in shown
    # 39 bytes at level M take version 3: it holds 42, version 2 holds 26 (ISO/IEC 18004, table 7, from memory).
    assert re.search(r'<svg width="(\d+)" height="\1"', qr("https://train.example/join?code=AB3-7KQ"))
    assert segno.make("https://train.example/join?code=AB3-7KQ", error="m", micro=False).version == 3
    assert "No class is open" in join_by({}, "")
    done = glance(goals=5, reached=2, goal="Kick detected")
    how = reached([done, glance(goals=5, reached=2, goal="Kick detected"), glance(goals=5), glance()])
    assert "Kick: Kick detected" in how and "2 of 3" in how and "Kick: begun" in how and "1 of 3" in how


def test_what_is_lost_is_said_and_a_check_is_never_cut_short() -> None:
    assert lost(Shown("a", "Ada", "w", glance(score=12.4))).startswith("Ada: Kick at 1:05, 12 points so far. It ends")
    assert "It goes on" in lost(Shown("a", "Ada", "w", glance(checked=True)))


def test_faults_are_found_by_common_words() -> None:
    """The words an instructor used who had read only the README, and each near miss that must not be found."""
    found = FaultList(RigView(load_plant("quillback")[0]), build("quillback").faults)
    for asked, fault, other in (
        ("power lost", "AC supply: Rig AC lost", "Power-fluid"),
        ("no electricity", "AC supply: Rig AC lost", "Rig air lost"),
        ("pump dead", "Motor starter does not pull in", "gauge"),
        ("gauge wrong", "Pressure gauge reads high", "Rig AC lost"),
        ("leaking hose", "Closing pilot line to the blue pod leaks", "gauge"),
    ):
        words = [row for _, row in found.meant(asked)]
        assert any(fault in row for row in words) and not any(other in row for row in words), (asked, words)
    assert found.meant("zebra") == [] and found.meant("") == []
    # The preventer comes before the regulator that is named after it, unless that is asked for.
    for asked, first in (
        ("annular", "Lower annular: "),
        ("annular regulator", "Annular regulator: "),
        ("pump", "Air pump"),
    ):
        assert found.meant(asked)[0][1].startswith(first)
    named = [one for one in found.searched if "annular" in one.casefold()]
    assert named[:3] == ["Lower annular", "Upper annular", "Annular regulator"]
    assert sorted(found.searched) == sorted({*found.searched})


def test_a_fault_waits_for_its_time() -> None:
    assert (seconds("2:30"), seconds(" 45 ")) == (150.0, 45.0)
    for wrong in ("", "soon", "1:-2", "٣", "1:2:3", "-5"):
        with pytest.raises(ValueError, match="2:30"):
            seconds(wrong)
    at_once, grows = Ramp("x", 0.0, 1.0, 30.0, 0.0), Ramp("x", 0.0, 1.0, 30.0, 10.0)
    assert at_once.due(29.9) is None and at_once.due(30.0) == 1.0 and at_once.over_at(30.0)
    assert grows.due(12.0) is None and grows.due(35.0) == 0.5 and not grows.over_at(35.0)
