"""A check is the staff's: who starts it, whose clock it is, how it may end, and what its record says.

Played on seats as the page's messages come in; no server is needed for that.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from trainer.classroom import class_rooms, live, server
from trainer.classroom.access import Access, Who
from trainer.classroom.channel import Channel
from trainer.classroom.class_rooms import LEFT_S, NOT_BACK, RETURN_S, ClassRooms
from trainer.classroom.instructor import InstructorControls, RefusedError
from trainer.classroom.place import ASKED_CHECK, ELSEWHERE, LEFT, STANDS, ClassSeat
from trainer.classroom.roster import Place
from trainer.classroom.starts import Starts
from trainer.classroom.turns import Turns
from trainer.classroom.watch import WAITED
from trainer.console import debrief
from trainer.records.attempts import Arrival
from trainer.records.outbox import Outbox
from trainer.session import evidence
from trainer.session.custody import Custody
from trainer.simulator import Session

STAFF = Who(9, "Mara Quill", "instructor")
PIA = Who(1, "Pia Lund", "trainee")
DRILL = "lost-rig-air"


class Room:
    """A class of one on a clock that the test moves."""

    def __init__(self, folder: Path, who: Who | None = PIA) -> None:
        self.now = 1000.0
        self.handed: list[Arrival] = []
        self.rooms = ClassRooms(folder / "journal", self.handed.append, clock=lambda: self.now)
        trail = SimpleNamespace(log=lambda *row: None)
        self.desk = InstructorControls(self.rooms, cast(Access, None), cast(Outbox, trail), Starts(folder / "starts"))
        self.page = SimpleNamespace(who=who)
        self.seat = cast(ClassSeat, self.rooms.take("0" * 32, self.page))
        self.seat.hello()

    @property
    def place(self) -> Place:
        return next(place for place in self.rooms.places() if place.seat is self.seat)

    def say(self, page: str, who: Who = STAFF, **more: Any) -> str:
        """What staff do; what the desk answers. A check is ended for a reason, another run once it was agreed to."""
        more = {"reason": "it is over", "cut": True, **more} if page == "end" else more
        return self.desk.do({"page": page, **more}, who, self.place.number) or ""

    def hear(self, **message: Any) -> dict[str, Any]:
        """What the trainee's page sends."""
        return dict(self.seat.handle(message))

    def pass_by(self, seconds: float, step: float = 0.5) -> None:
        """Time passes on the wall; the page, where one is open, drives the seat."""
        for _ in range(int(seconds / step)):
            self.now += step
            if self.place.page is not None:
                self.seat.tick(step)
            self.rooms.attend()

    def custody(self, at: int = -1) -> Custody:
        """What the evidence handed in says."""
        found = evidence.parse(self.handed[at].evidence).custody
        assert found is not None
        return found


@pytest.fixture
def room(tmp_path: Path) -> Room:
    return Room(tmp_path)


def refusal(room: Room) -> str:
    return str(room.seat._texts()["page.refusal"]["html"])


def started(room: Room) -> Room:
    """A check under way, begun by the trainee on the word of staff."""
    room.hear(page="start", drill=DRILL, mode="check", seed="5")
    room.say("allow")
    room.hear(page="begin")
    room.pass_by(2.0)
    assert isinstance(room.seat.run, Session) and room.seat.run.time > 0.0
    return room


def _stops(kept: Custody) -> list[tuple[str, str]]:
    """By whom and why the clock stood; not the wait before Begin, which a slow machine makes long enough to count."""
    return [(one.by, one.reason) for one in kept.pauses if one.reason != WAITED]


def test_a_trainee_starts_no_check_and_chooses_no_variation(room: Room) -> None:
    patch = room.hear(page="start", drill=DRILL, mode="check", seed="5")
    assert patch["chooser"]["readings"]["page.status"]["text"] == ASKED_CHECK
    assert room.seat.run is None and room.seat.page == "chooser"
    assert "allow" not in str(room.hear(page="allow"))
    assert room.seat.run is None
    room.say("allow")
    run = room.seat.run
    assert isinstance(run, Session) and run.identity.mode == "check" and run.identity.seed != 5
    assert room.seat._texts()["page.mode"]["text"] == "check, started by Mara Quill"


def test_staff_who_are_no_instructors_start_checks_and_nothing_else(room: Room) -> None:
    judge = Who(8, "Ines Marlow", "assessor")
    for page in ("fault", "put", "operate", "rewind", "open_class", "tell", "pace"):
        with pytest.raises(RefusedError, match="only an instructor"):
            room.say(page, judge)
    room.say("start", judge, drill=DRILL, mode="practice", seed="3")
    run = room.seat.run
    assert isinstance(run, Session) and run.identity.mode == "check" and run.identity.seed != 3


def test_a_check_is_never_the_same_twice(room: Room) -> None:
    drawn = iter([11, 12])
    room.desk.draw = lambda person, drill: next(drawn)
    started(room)
    with pytest.raises(RefusedError, match="not begun again"):
        room.say("end")
        room.seat.tick(0.1)
        room.say("reset")
    room.hear(page="leave")
    started(room)
    assert isinstance(room.seat.run, Session) and room.seat.run.identity.seed == 12


def test_once_more_is_asked_for_and_draws_another_variation(room: Room) -> None:
    drawn = iter([11, 12])
    room.desk.draw = lambda person, drill: next(drawn)
    started(room)
    room.hear(page="finish")
    room.hear(page="finish")
    patch = room.hear(page="again", value="same")
    assert patch["sheet"]["readings"]["page.working"]["text"] == ASKED_CHECK
    assert room.seat.page == "sheet" and len(room.handed) == 1
    room.say("allow")
    assert isinstance(room.seat.run, Session) and room.seat.run.identity.seed == 12


def test_a_trainee_neither_stops_nor_slows_a_check(room: Room) -> None:
    started(room)
    room.hear(page="pause")
    assert STANDS in refusal(room) and not room.seat.paused
    room.hear(page="pace", value="0.25")
    assert room.seat.pace == 1.0
    # Situation and stated method are read again at any time; the clock goes on meanwhile, and so do the commands.
    room.hear(page="brief")
    assert room.seat._texts()["page.brief"]["state"] == "open" and not room.seat.paused
    before = room.seat.run and room.seat.run.time
    room.pass_by(3.0)
    assert room.seat.run is not None and room.seat.run.time == pytest.approx((before or 0.0) + 3.0, abs=0.2)
    room.hear(page="begin")
    assert room.seat._texts()["page.brief"]["state"] == "shut"
    room.hear(page="finish")
    assert debrief.NOT_FINISHED in room.seat._texts()["page.noted"]["text"]


def test_staff_stop_a_check_for_a_reason_that_stands_in_the_record(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    started(room)
    room.seat.watch._clock = lambda: room.now
    room.seat.watch._since = room.now
    for page in ("freeze", "end"):
        with pytest.raises(RefusedError, match="reason"):
            room.say(page, reason="")
    with pytest.raises(RefusedError, match="ended by itself"):
        room.say("end", to="all")
    room.say("freeze", reason="fire alarm in the house")
    assert "stopped the clock: fire alarm in the house" in room.seat._texts()["page.told"]["text"]
    t = room.seat.run.time if room.seat.run else 0.0
    room.pass_by(30.0)
    assert room.seat.run is not None and room.seat.run.time == t
    room.hear(page="pause")
    assert room.seat.frozen
    room.say("resume")
    room.pass_by(5.0)
    room.say("end")
    room.seat.tick(0.5)
    kept = room.custody()
    assert _stops(kept) == [("Mara Quill", "fire alarm in the house")]
    assert kept.pauses[-1].wall_s == pytest.approx(30.0, abs=1.0)
    assert kept.wall_s == pytest.approx(35.0, abs=1.0)
    assert kept.started_by == "Mara Quill" and kept.ending == "ended by Mara Quill: it is over"


def test_no_careless_word_of_staff_takes_a_check_away(room: Room) -> None:
    assert not room.rooms.checks(PIA.person)
    run = started(room).seat.run
    for mode in ("practice", "check"):
        with pytest.raises(RefusedError, match="end it first"):
            room.say("start", drill=DRILL, mode=mode, seed="1")
    assert room.seat.run is run and not room.handed
    # Nor is the person deleted meanwhile.
    assert room.rooms.checks(PIA.person) and not room.rooms.checks(PIA.person + 1)


def test_a_start_that_fails_takes_nothing_from_the_run_under_way(room: Room) -> None:
    room.say("start", drill=DRILL, seed="0")
    room.hear(page="begin")
    room.pass_by(1.0)
    before = room.seat.run
    with pytest.raises(RefusedError, match="no drill called"):
        room.say("start", drill="no-such-drill", seed="0", cut=True)
    assert room.seat.run is before and room.seat.under_way and not room.handed
    room.say("start", drill=DRILL, seed="1", cut=True)
    assert room.seat.run is not before and room.custody().ending == "ended by Mara Quill for another run"


def test_the_wait_before_begin_stands_in_the_record(room: Room) -> None:
    room.hear(page="start", drill=DRILL, mode="check", seed="5")
    room.say("allow")
    room.seat.watch._clock = lambda: room.now
    room.seat.watch._since = room.now
    room.seat.watch._pause = None
    room.pass_by(40.0)
    room.say("freeze", reason="fire alarm in the house")
    room.pass_by(10.0)
    room.say("resume")
    room.pass_by(20.0)
    room.hear(page="begin")
    room.pass_by(5.0)
    # Begun, the same console may be read again at leisure only for a reason.
    assert room.seat._texts()["page.paced"] == {"state": "off"}
    room.say("end")
    room.seat.tick(0.5)
    pauses = room.custody().pauses
    assert [(one.by, one.reason) for one in pauses] == [
        (PIA.name, WAITED),
        ("Mara Quill", "fire alarm in the house"),
        (PIA.name, WAITED),
    ]
    assert [one.wall_s for one in pauses] == [pytest.approx(wall, abs=1.0) for wall in (40.0, 10.0, 20.0)]
    assert {one.t for one in pauses} == {0.0}


def test_a_wait_that_the_drill_names_is_skipped_and_stands_in_the_record(room: Room) -> None:
    room.hear(page="start", drill="battery-endurance-test", mode="check")
    room.say("allow")
    room.hear(page="begin")
    room.pass_by(2.0)
    run = room.seat.run
    assert isinstance(run, Session)
    assert room.seat._texts()["page.wait"]["state"] == "off"
    room.hear(page="skip")
    assert "No wait" in refusal(room) and run.time < 5.0
    room.hear(do="set", target="power.charger", value="off", **{"from": "unit"})
    room.pass_by(25.0)
    assert room.seat._texts()["page.wait"]["state"] == "on"
    before = len(run.log)
    room.hear(page="skip")
    first = run.time
    room.pass_by(2.0)
    # An action ends it: whoever acts does not wait.
    room.hear(do="read", target="volts", value="24 V", **{"from": "unit"})
    stopped = run.time
    room.pass_by(2.0)
    assert first + 60.0 < stopped < first + 120.0 and run.time == pytest.approx(stopped + 2.0, abs=0.5)
    room.hear(page="skip")
    room.pass_by(30.0)
    # No further than the drill lets it: the end of the ten minutes is waited for as it is.
    assert 560.0 < run.time < 620.0 and room.seat._texts()["page.wait"]["state"] == "off"
    assert [entry.do for entry in run.log[before:]] == ["read"]
    room.say("end")
    room.seat.tick(0.5)
    skips = room.custody().skips
    assert [one.wait for one in skips] == ["Ten minutes on load"] * 2
    assert skips[0].start == first and skips[0].end == pytest.approx(stopped, abs=0.2)


def test_the_drill_sets_the_pace_of_its_check(room: Room) -> None:
    drills = dict(room.rooms.drills)
    drills[DRILL] = drills[DRILL].model_copy(update={"pace": 2})
    room.seat.drills = drills
    started(room)
    assert room.seat.pace == 2.0
    room.hear(page="pace", value="0.25")
    before = room.seat.run.time if room.seat.run else 0.0
    room.pass_by(5.0)
    assert room.seat.run is not None and room.seat.run.time == pytest.approx(before + 10.0, abs=0.5)


def test_a_check_goes_on_without_its_page_and_is_over_when_it_stays_away(room: Room) -> None:
    started(room)
    t = room.seat.run.time if room.seat.run else 0.0
    room.rooms.leave(room.seat, room.page)
    room.pass_by(20.0)
    assert room.seat.run is not None and room.seat.run.time == pytest.approx(t + 20.0, abs=1.0)
    assert room.rooms.take("0" * 32, room.page) is room.seat
    room.pass_by(LEFT_S)
    assert not room.handed, "whoever came back is not thrown out"
    room.rooms.leave(room.seat, room.page)
    room.pass_by(LEFT_S + 2.0)
    assert len(room.handed) == 1 and room.custody().ending == LEFT
    assert not json.loads(room.handed[0].evidence)["sheet"]["finished"]
    assert (
        LEFT in room.seat._sheet
        and debrief.NOT_FINISHED.capitalize() in room.seat._sheet
        and "Passed" not in room.seat._sheet
    )


@pytest.mark.parametrize("how", ["another drill", "the first page", "another start"])
def test_a_spoilt_check_that_is_left_stands_in_the_records(room: Room, how: str) -> None:
    started(room)
    match how:
        case "another drill":
            room.hear(page="start", drill="kick-while-drilling", mode="practice", seed="1")
        case "the first page":
            room.hear(page="leave")
        case _:
            room.hear(page="start", drill=DRILL, mode="practice", seed="0")
    assert len(room.handed) == 1 and "left by the trainee" in room.custody().ending
    assert json.loads(room.handed[0].evidence)["run"]["mode"] == "check"


def test_a_check_that_the_servers_end_stopped_is_taken_up_or_broken_off(room: Room, tmp_path: Path) -> None:
    started(room)
    room.rooms.close()
    again = Room(tmp_path)
    assert again.seat.checked and again.seat.paused
    again.hear(page="pause")
    again.pass_by(2.0)
    again.say("end")
    again.seat.tick(0.5)
    kept = again.custody()
    assert kept.started_by == "Mara Quill"
    assert _stops(kept) == [("the server", "the server was away")]


def test_a_check_that_nobody_comes_back_to_is_broken_off(room: Room, tmp_path: Path) -> None:
    started(room)
    room.rooms.close()
    (path,) = (tmp_path / "journal").glob("*.jsonl")
    handed: list[Arrival] = []
    now = [0.0]
    rooms = ClassRooms(tmp_path / "journal", handed.append, clock=lambda: now[0])
    rooms.attend()
    assert not handed, "there is time to come back"
    os.utime(path, (path.stat().st_atime, path.stat().st_mtime - RETURN_S - 1.0))
    now[0] += 60.0
    rooms.attend()
    (arrival,) = handed
    kept = evidence.parse(arrival.evidence).custody
    assert arrival.person == PIA.name and kept is not None and kept.ending == NOT_BACK


def test_who_is_in_a_check_begins_nothing_on_another_page(room: Room) -> None:
    started(room)
    other = cast(ClassSeat, room.rooms.take("1" * 32, SimpleNamespace(who=PIA)))
    other.hello()
    patch = other.handle({"page": "start", "drill": DRILL, "mode": "practice", "seed": "5"})
    assert patch["chooser"]["readings"]["page.status"]["text"] == ELSEWHERE and other.run is None
    room.say("end")
    room.seat.tick(0.5)
    other.handle({"page": "start", "drill": DRILL, "mode": "practice", "seed": "5"})
    assert other.run is not None


def test_nobody_takes_a_check_away_by_taking_many_seats(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(class_rooms, "MOST_SEATS", 10)
    started(room)
    room.say("freeze", reason="a break")
    room.rooms.leave(room.seat, room.page)
    for number in range(30):
        page = SimpleNamespace(who=Who(2, "Att Ack", "trainee"))
        seat = room.rooms.take(f"{number:032d}", page)
        if number % 2:
            room.rooms.leave(seat, page)
    assert room.seat in [place.seat for place in room.rooms.places()] and not room.handed
    assert len(room.rooms.places()) == 1 + class_rooms.MOST_OF_ONE
    assert seat in [place.seat for place in room.rooms.places()], "of one's own the newest stays"
    room.rooms.take("0" * 32, room.page)
    room.say("resume")
    room.pass_by(1.0)
    assert room.seat.checked


def test_a_page_keeps_its_seat_and_asks_for_whole_pages_seldom(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    access = SimpleNamespace(holder=lambda login: PIA)
    shown: list[bool] = []
    monkeypatch.setattr(
        server, "Wire", lambda *given: SimpleNamespace(send=lambda patch, greet=False: shown.append(greet))
    )
    monkeypatch.setattr(live, "Page", lambda **_: SimpleNamespace(listen=lambda hear: None))
    page = live.ClassLive(room.rooms, cast(Any, None), cast(Access, access), False, Channel("hers"))
    for token in ("0" * 32, "2" * 32, "0" * 32):
        page.hear({"page": "hello", "value": token})
        assert page.seat is room.seat, "a check stands still for whoever can leave its page and keep it"
    for _ in range(20):
        page.hear({"page": "hello", "value": "0" * 32})
    # The same when the channel of the readings is opened again and again.
    for _ in range(20):
        page.retell()
    assert len(shown) <= 10
    # Hands are heard all the same.
    page.hear({"page": "holding"})
    assert len(shown) <= 11 and not shown[-1]


def test_a_press_beyond_the_rate_is_done_later_and_not_by_who_has_left(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    now, holders = [0.0], [PIA]
    access = SimpleNamespace(holder=lambda login: holders[0])
    monkeypatch.setattr(server, "Wire", lambda *given: SimpleNamespace(send=lambda *_: None, channel=given[2]))
    monkeypatch.setattr(live, "Page", lambda **_: SimpleNamespace(listen=lambda hear: None))
    monkeypatch.setattr(live, "Turns", lambda: Turns(lambda: now[0]))
    page = live.ClassLive(room.rooms, cast(Any, None), cast(Access, access), False, Channel("hers"))
    page.hear({"page": "hello", "value": "0" * 32})
    done: list[object] = []
    monkeypatch.setattr(room.seat, "handle", lambda message: done.append(message["value"]) or {})
    for number in range(24):
        page.hear({"page": "learn", "do": "next", "value": number})
    assert done == list(range(20))
    now[0] += 1.0
    page.beat()
    assert done == list(range(22))
    holders[0] = None
    now[0] += 1.0
    page.beat()
    assert done == list(range(22)), "who is not logged in any more is not heard"


def test_a_note_of_staff_is_not_on_the_trainees_trends(room: Room) -> None:
    started(room)
    room.say("note", text="too slow on the choke")
    room.pass_by(1.0)
    assert room.seat._presenter is not None
    assert "too slow" not in str(room.seat._presenter.history.marks)
    assert "too slow" not in str(room.seat.first())


def test_as_asked_works_the_control_that_was_asked_for(room: Room) -> None:
    started(room)
    hand = {"what": "set bank_a.isolation", "value": "shut", "by": "assistant"}
    with pytest.raises(RefusedError, match="not requested"):
        room.say("operate", **hand)
    room.hear(page="request", text="accumulator bank A: isolation valve: shut")
    for other in ({"value": "open"}, {"what": "set bank_a.bleed"}, {"what": "set upper_annular", "value": "close"}):
        with pytest.raises(RefusedError, match="not requested"):
            room.say("operate", **{**hand, **other})
    with pytest.raises(RefusedError, match="check is under way"):
        room.say("operate", **{**hand, "by": "instructor"})
    room.say("operate", **hand)
    assert room.seat.talk.requests[0].answer == "Done"
    with pytest.raises(RefusedError, match="not requested"):
        room.say("operate", **hand)
    room.say("end")
    room.seat.tick(0.5)
    assert any("Assistant" in line and "shut" in line for line in room.custody().interventions)


def test_a_state_of_a_check_is_saved_when_it_is_over_and_begun_from_in_practice_only(room: Room) -> None:
    started(room)
    for page in ("save_start", "skeleton"):
        with pytest.raises(RefusedError, match="check is under way"):
            room.say(page, name="here")
    room.say("end")
    room.seat.tick(0.5)
    room.say("save_start", name="here")
    room.say("start_from", start="saved:here")
    assert isinstance(room.seat.run, Session) and room.seat.run.identity.mode == "practice"


@pytest.mark.parametrize("by_staff", [False, True])
def test_a_check_that_is_broken_off_names_its_cause_only_where_staff_ended_it(room: Room, by_staff: bool) -> None:
    """Else one could look at the fault, and begin again."""
    room.hear(page="start", drill="bank-isolation", mode="check", seed="5")
    room.say("allow")
    room.hear(page="begin")
    room.pass_by(2.0)
    if by_staff:
        room.say("end")
        room.pass_by(1.0)
    else:
        room.hear(page="finish")
        room.hear(page="finish")
    assert room.seat.after is not None and "Not finished" in room.seat._sheet
    said = str(room.seat._texts()["page.after_body"]["html"])
    assert ("The fault:" in said, debrief.HELD in said) == (by_staff, not by_staff), said
    # Its evidence would name the cause too.
    assert ("page.evidence" in room.hear(page="evidence")["sheet"]["readings"]) == by_staff


def test_alone_on_ones_own_machine_everything_is_free_and_nobody_vouches(tmp_path: Path) -> None:
    room = Room(tmp_path, who=None)
    room.hear(page="start", drill=DRILL, mode="check", seed="5")
    room.hear(page="begin")
    room.pass_by(1.0)
    assert room.seat._texts()["page.mode"]["text"] == "check, on your own"
    room.hear(page="pause")
    assert room.seat.paused
    room.hear(page="pace", value="0.25")
    assert room.seat.pace == 0.25
    room.hear(page="finish")
    room.hear(page="finish")
    assert not room.handed and "no one confirms" in str(room.seat._sheet)
