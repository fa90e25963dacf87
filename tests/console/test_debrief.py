"""After a run: timeline, replay, take-over and what-if, as the page drives them."""

from __future__ import annotations

import json
from typing import Any

import pytest

from trainer.classroom.rooms import shipped_seat
from trainer.console import whatif
from trainer.console.crews import Beside, crew_of
from trainer.console.moves import STEPS
from trainer.console.seat import Seat
from trainer.console.timeline import Rung, Story, later, markup
from trainer.console.told import Deed
from trainer.session import evidence as documents
from trainer.session.verify import verify
from trainer.simulator import rebuilder

DRILL = "kick-while-drilling"


def _text(patch: dict[str, Any], key: str) -> str:
    for change in patch.values():
        if key in change.get("readings", {}):
            found = change["readings"][key]
            return str(found.get("text", found.get("html", found.get("state"))))
    raise AssertionError(f"{key} is not in the patch")


def _pass(seat: Seat, most: int = 40) -> list[dict[str, Any]]:
    """Beats until nothing is being computed any more."""
    out = []
    for _ in range(most):
        out.append(seat.tick(0.1))
        if not out[-1]:
            break
    return out


@pytest.fixture
def over() -> Seat:
    """A seat whose run of 45 s, checked, has just ended: pumps off, annular closed, a shear ram refused."""
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": DRILL, "mode": "check", "seed": "3"})
    seat.handle({"page": "begin"})
    for wait, command in (
        (10, {"do": "set", "target": "floor.mud_pumps", "value": 0, "from": "floor"}),
        (15, {"do": "set", "target": "blind_shear_ram", "value": "close", "from": "driller"}),
        (5, {"do": "set", "target": "upper_annular", "value": "close", "from": "driller"}),
    ):
        for _ in range(wait):
            seat.tick(1.0)
        seat.handle(command)
    for _ in range(15):
        seat.tick(1.0)
    seat.handle({"page": "finish"})
    seat.handle({"page": "finish"})
    assert seat.page == "sheet"
    return seat


def test_the_timeline_tells_what_was_done_with_a_good_crew_beside(over: Seat) -> None:
    shown = _text(over.handle({"page": "after", "value": "timeline"}), "page.after_body")
    for words in (
        "Floor",
        "Mud pumps: 0 spm",
        "Upper annular: close",
        "Refused: ",
        "Reference run",
        "Well shut in",
        "not reached",
    ):
        assert words in shown, words
    assert "counted from" in shown
    beats = _pass(over)
    assert over.after is not None and beats[-1] == {}
    assert over.after.texts()["page.working"] == {"text": ""}


def test_a_replay_shows_the_run_again_on_all_boards(over: Seat) -> None:
    own = over.run
    patch = over.handle({"page": "replay", "value": 30.0})
    if over.page != "replay":
        patch = [beat for beat in _pass(over) if beat][-1]
    assert over.page == "replay" and _text(patch, "page.page") == "replay"
    assert "Take over from here" in patch["entries"]["markup"]
    assert _text(patch, "page.clock") == "0:25"
    assert "Blind shear ram: close" in _text(patch, "page.told")
    patch = over.handle({"page": "seek", "value": "12"})
    assert _text(patch, "page.clock") == "0:12" and max(patch["trend"]["data"]["t"]) <= 12.0
    assert _text(over.handle({"page": "step", "value": 1}), "page.clock") == "0:25"
    assert _text(over.handle({"page": "step", "value": "-1"}), "page.clock") == "0:10"
    assert over.tick(1.0) == {} or over.shown.time == 10.0  # type: ignore[union-attr]
    over.handle({"page": "pace", "value": "10"})
    over.handle({"page": "pause"})
    over.tick(0.5)
    assert over.shown is not None and over.shown.time == pytest.approx(15.0)
    refused = over.handle({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"})
    assert "This is a replay" in _text(refused, "page.refusal")
    metric = over.handle({"page": "units"})
    assert metric["entries"]["markup"] and _text(metric, "page.page") == "replay"
    over.handle({"page": "units"})
    assert over.run is own
    back = over.handle({"page": "finish"})
    assert over.page == "sheet" and _text(back, "page.page") == "sheet" and over.shown is own


def test_what_if_tells_what_would_have_come_of_it(over: Seat) -> None:
    form = _text(over.handle({"page": "after", "value": "what-if"}), "page.after_body")
    assert "What if I had done this" in form and "20 s earlier" in form
    over.handle({"page": "what-if", "place": "2", "by": "-20", "following": "yes"})
    beats = _pass(over)
    answer = _text((over.after and {"": {"readings": over.after.texts()}}) or {}, "page.answer")
    assert "Upper annular: close” at 0:30, 20 s earlier" in answer
    assert "Preventer set to close" in answer or "Flow count at the end" in answer
    assert beats[-1] == {}
    assert over.after is not None and over.after._moves is not None
    scores = {one.by: one.score for one in over.after._moves.scores}
    assert sorted(scores) == [by for by in STEPS if 30 + by >= 0]
    assert scores[0] == over.run.sheet()["score"], "not moved, it is the run as it was"
    assert answer.count("<circle") == len(scores) and "Score by time of the action. Best:" in answer
    for wrong in ({"place": "99", "by": "-20"}, {"place": "2", "by": "-21"}, {"place": "x", "by": None}):
        over.handle({"page": "what-if", **wrong})
    assert _pass(over)[-1] == {}


def test_what_if_says_why_a_run_would_not_have_passed() -> None:
    row = {"id": "gain", "title": "Pit gain correct", "points": 6, "required": True}
    was = {"passed": True, "score": 100.0, "criteria": [{**row, "earned": 6.0}]}
    missed = {**row, "earned": 0.0, "reason": "Entered 4.8 bbl. Gauge: 7.2 bbl."}
    then = {"passed": False, "score": 94.0, "verdict": "Not passed. Missing: Pit gain correct.", "criteria": [missed]}
    said = str(whatif.answer("“Close” at 1:00", whatif.Outcome(was), whatif.Outcome(then), {}, "field"))
    assert "Not passed. Missing: Pit gain correct." in said
    assert "6 points less. A must-pass item: without points there is no pass. Entered 4.8 bbl." in said


@pytest.mark.parametrize(("same", "said"), [(True, "the same variation as yours"), (False, "another variation")])
def test_the_timeline_says_which_variation_the_reference_run_is_of(same: bool, said: str) -> None:
    crew = crew_of(DRILL)
    assert crew is not None and said in str(markup(Story(60.0, [], [], beside=Beside(crew), same=same)))


@pytest.mark.parametrize(
    "message",
    [
        {"page": "after", "value": "nonsense"},
        {"page": "replay", "value": "soon"},
        {"page": "replay", "value": -1},
        {"page": "replay", "value": "nan"},
        {"page": "seek", "value": 3},
        {"page": "take-over"},
    ],
)
def test_a_message_that_means_nothing_does_nothing(over: Seat, message: dict[str, Any]) -> None:
    over.handle(message)
    assert over.page == "sheet"


def test_a_run_taken_over_is_practice_that_verifies(over: Seat) -> None:
    over.handle({"page": "replay", "value": 45.0})
    if over.page != "replay":
        _pass(over)
    over.handle({"page": "seek", "value": 20})
    patch = over.handle({"page": "take-over"})
    assert over.page == "console" and over.mode == "practice" and over.paused
    assert _text(patch, "page.mode") == "practice, taken over at 0:20"
    assert "Reports and readings" in patch["entries"]["markup"]
    assert over.run is not None and over.run.time == 20.0 and over.run.coach is not None
    assert patch["trend"]["data"]["t"]
    over.handle({"page": "pause"})
    over.handle({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"})
    over.tick(1.0)
    found = verify(documents.parse(json.dumps(over.run.evidence())), rebuilder())
    assert found.ok and "taken over at 20.0 s" in found.reason
    over.handle({"page": "leave"})
    assert over.after is None


def test_progress_is_looked_at_and_left_whatever_comes_next() -> None:
    seat = shipped_seat()
    seat.hello()
    patch = seat.handle({"page": "progress", "kept": "damaged"})
    assert seat.page == "progress" and "no attempt yet" in patch["progress"]["markup"]
    assert seat.handle({"page": "progress-drill", "value": "no-such"})["progress"]["markup"]
    assert _text(seat.handle({"page": "progress-back"}), "page.page") == "chooser"
    seat.handle({"page": "progress", "kept": ""})
    assert _text(seat.handle({"page": "start"}), "page.page") == "console"
    assert seat.handle({"page": "progress", "kept": ""}) == {} and seat.page == "console"


def test_a_strip_with_marks_at_one_moment_keeps_them_apart() -> None:
    goals = [{"id": f"m{n}", "title": f"Goal <{n}>", "t": 10.0} for n in range(3)] + [
        {"id": "x", "title": "X", "t": None}
    ]
    deeds = [Deed(0, 3.0, "Driller's panel", "Upper annular: close", "no air")]
    drawn = markup(Story(60.0, deeds, goals, alarms=[Rung("Low air", 5.0), Rung("Low tank", 6.0, 9.0)]))
    assert "Goal &lt;1&gt;" in drawn and "<1>" not in drawn
    places = {part.split('"')[0] for part in drawn.split('class="lane-you" transform="')[1:]}
    assert len(places) == 3
    assert "Low air until the end" in drawn and "Low tank for 3 s" in drawn


def test_how_much_later_is_told_in_words() -> None:
    assert later(75.0, 60.0) == "15 s later"
    assert later(40.0, 60.0) == "20 s earlier"
    assert later(None, 60.0) == "not reached"
    # What hands need is no difference, and a limit that was kept is said with it.
    assert later(60.2, 60.0) == later(69.0, 60.0) == "about the same time"
    assert later(75.0, 60.0, True) == "15 s later, in time"
    assert later(75.0, 60.0, False) == "15 s later, too late"
    assert later(60.0, None) == ""
