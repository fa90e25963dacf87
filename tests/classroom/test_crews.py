"""A crew in the classroom: who opens and joins it, what each page is told, whose word counts, what is handed in."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import cast

import pytest

from trainer.classroom.access import Who
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.crew_lead import CrewLead
from trainer.classroom.crew_seat import CrewSeat
from trainer.classroom.place import ClassSeat
from trainer.console.presenter import Patch
from trainer.records.attempts import Arrival
from trainer.session import evidence
from trainer.session.verify import verify
from trainer.simulator import rebuilder

KICK = "crew-kick"
POSTS = ("driller", "toolpusher", "subsea")


class Clock:
    """A clock that the test moves on."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


class Tab:
    """A page without a browser: it takes a seat, sends messages and keeps what it was told last."""

    def __init__(self, rooms: ClassRooms, number: int, name: str, role: str = "trainee", joined: str = "") -> None:
        self.rooms, self.who = rooms, Who(number, name, role, joined=joined)
        self.seat: ClassSeat = cast(ClassSeat, rooms.take(f"{number:032x}", self))
        self.told: dict[str, dict[str, object]] = {}
        self.boards: dict[str, str] = {}
        self.keep(self.seat.hello())

    def keep(self, patch: Patch) -> None:
        for board, change in patch.items():
            if "markup" in change:
                self.boards[board] = change["markup"]
                self.told.pop(board, None)
            self.told.setdefault(board, {}).update(change.get("readings", {}))

    def send(self, message: Mapping[str, object]) -> None:
        self.keep(self.seat.handle(dict(message)))

    def beat(self) -> None:
        self.keep(self.seat.tick(0.1))

    def shown(self, key: str) -> str:
        reading = next(told[key] for told in self.told.values() if key in told)
        assert isinstance(reading, dict)
        return str(next(reading[part] for part in ("html", "text", "state") if part in reading))

    def refusal(self) -> str:
        self.beat()
        return self.shown("page.refusal")


class Crew:
    """Three people of a class and the crew that they are."""

    def __init__(self, folder: Path | None) -> None:
        self.arrived: list[Arrival] = []
        self.clock = Clock()
        self.rooms = ClassRooms(folder, self.arrived.append)
        self.tabs = [Tab(self.rooms, n + 1, name) for n, name in enumerate(("Ann Lee", "Ben Oaks", "Cy Poole"))]
        first, *others = self.tabs
        first.send({"page": "crew-open", "drill": KICK, "post": "driller"})
        for tab, post in zip(others, POSTS[1:], strict=True):
            tab.beat()
            assert "Join as" in tab.shown("page.crews")
            tab.send({"page": "crew-join", "crew": self.lead.number, "post": post})
        self.lead._clock = self.clock
        self.lead._beat = self.clock.now

    @property
    def lead(self) -> CrewLead:
        return next(self.rooms.crews.leads())

    def begin(self) -> None:
        for tab in self.tabs:
            tab.send({"page": "begin"})

    def pass_by(self, seconds: float) -> None:
        for _ in range(int(seconds * 10 + 0.5)):
            self.clock.now += 0.1
            for tab in self.tabs:
                tab.beat()


@pytest.fixture
def crew() -> Iterator[Crew]:
    made = Crew(None)
    yield made
    made.rooms.close()


def test_the_clock_waits_for_every_briefing_and_then_is_one_for_all(crew: Crew) -> None:
    driller, toolpusher, subsea = crew.tabs
    crew.pass_by(1.0)
    driller.send({"page": "begin"})
    toolpusher.send({"page": "begin"})
    crew.pass_by(1.0)
    assert crew.lead.run is not None
    assert crew.lead.run.time == 0.0
    assert "has been read by: Cy Poole" in driller.shown("page.told")
    subsea.send({"page": "begin"})
    crew.pass_by(2.0)
    assert crew.lead.run.time == pytest.approx(2.0, abs=0.31)
    assert len({tab.shown("page.clock") for tab in crew.tabs}) == 1


def test_a_page_is_told_only_what_stands_at_its_station(crew: Crew) -> None:
    crew.begin()
    crew.pass_by(1.0)
    driller, toolpusher, subsea = crew.tabs
    assert "well.flow_out" in driller.told["watch"]
    for tab in (toolpusher, subsea):
        told = {key for board in tab.told.values() for key in board}
        assert not [key for key in told if key.startswith(("well.", "floor."))]
    assert "accumulator.pressure" in {key for board in subsea.told.values() for key in board}
    assert "deck-remote" in toolpusher.boards["remote"]
    assert "deck" not in toolpusher.boards["driller"] + toolpusher.boards["unit"] + toolpusher.boards["schematic"]
    assert "data-send" not in subsea.boards["driller"] + subsea.boards["remote"] + subsea.boards["floor"]


FORGED = (
    # At one station, a command that stands at another's.
    (1, {"do": "set", "target": "floor.mud_pumps", "value": 0, "from": "floor"}, "call the driller"),
    (2, {"do": "set", "target": "upper_annular", "value": "close", "from": "driller"}, "does not stand at"),
    (0, {"do": "set", "target": "power.main", "value": "off", "from": "unit"}, "call the subsea engineer"),
    # In another's name: to act, to call, to repeat back.
    (1, {"do": "set", "target": "upper_annular", "value": "close", "from": "driller", "by": "driller"}, "you are the"),
    (1, {"do": "call", "target": "well_flows", "value": "toolpusher", "by": "driller"}, "you are the toolpusher"),
    (2, {"do": "repeat", "target": "well_flows", "by": "toolpusher"}, "you are the subsea engineer"),
    # What another would say, in one's own name.
    (1, {"do": "call", "target": "open_choke_line", "value": "toolpusher"}, "made by the driller"),
    (2, {"do": "repeat", "target": "well_flows"}, "no such call to you"),
    (2, {"do": "read", "target": "sidpp", "value": "400"}, "cannot see this"),
)


@pytest.fixture(scope="module")
def working() -> Iterator[Crew]:
    made = Crew(None)
    made.begin()
    made.pass_by(0.5)
    made.tabs[0].send({"do": "call", "target": "well_flows", "value": "toolpusher"})
    yield made
    made.rooms.close()


@pytest.mark.parametrize(("at", "message", "why"), FORGED, ids=lambda one: None)
def test_what_belongs_to_another_is_refused(working: Crew, at: int, message: Mapping[str, object], why: str) -> None:
    run = working.lead.run
    assert run is not None
    before = len(run.log)
    working.tabs[at].send(message)
    assert why in working.tabs[at].refusal()
    assert len(run.log) == before


def test_nobody_lets_go_of_a_lever_that_another_holds(working: Crew) -> None:
    driller, toolpusher, _ = working.tabs
    stop = {"do": "set", "target": "floor.hoist", "value": "stop", "from": "floor"}
    driller.send({**stop, "value": "up", "until": stop})
    run = working.lead.run
    assert run is not None
    for message in (stop, {"page": "gone"}, {"page": "holding"}):
        toolpusher.send(message)
    assert [entry.value for entry in run.log if entry.target == "floor.hoist"] == ["up"]
    driller.send({"page": "gone"})
    assert [(entry.value, entry.by) for entry in run.log if entry.target == "floor.hoist"][1:] == [("stop", "driller")]


def test_a_call_shows_at_once_and_only_its_addressee_is_asked_to_repeat_it(crew: Crew) -> None:
    crew.begin()
    crew.pass_by(0.3)
    driller, toolpusher, subsea = crew.tabs
    driller.send({"do": "call", "target": "well_flows", "value": "toolpusher"})
    crew.pass_by(0.2)
    assert all("The well flows" in tab.shown("page.crew_line") for tab in crew.tabs)
    assert ["Repeat back" in tab.shown("page.crew_line") for tab in crew.tabs] == [False, True, False]
    toolpusher.send({"do": "repeat", "target": "well_flows"})
    crew.pass_by(0.2)
    assert "repeated back" in subsea.shown("page.crew_line")


def test_the_computer_takes_over_a_station_that_is_left(crew: Crew) -> None:
    crew.begin()
    crew.pass_by(0.5)
    driller, toolpusher, subsea = crew.tabs
    for _ in range(2):
        toolpusher.send({"page": "finish"})
    assert not isinstance(toolpusher.seat, CrewSeat)
    assert "Join as Toolpusher" in toolpusher.boards["chooser"] + toolpusher.shown("page.crews")
    driller.send({"do": "call", "target": "well_flows", "value": "toolpusher"})
    crew.tabs = [driller, subsea]
    crew.pass_by(4.0)
    assert crew.lead.run is not None
    assert [(entry.do, entry.by) for entry in crew.lead.run.log][-1] == ("repeat", "toolpusher")
    assert "computer" in driller.shown("page.crew_list")
    manned = [(one.post, one.name) for one in crew.lead.crew_list().people]
    assert manned[-1] == ("toolpusher", "")


def test_who_ends_a_crew_hands_in_a_copy_for_each_member_that_re_computes(crew: Crew) -> None:
    crew.begin()
    crew.pass_by(1.0)
    crew.tabs[0].send({"do": "call", "target": "well_flows", "value": "toolpusher"})
    crew.lead.stop("Ines Marlow")
    crew.pass_by(0.3)
    assert {tab.seat.page for tab in crew.tabs} == {"sheet"}
    assert "Marks of the crew" in crew.tabs[1].boards["sheet"] + str(crew.tabs[1].told)
    assert [arrival.person for arrival in crew.arrived] == ["Ann Lee", "Ben Oaks", "Cy Poole"]
    kept = [evidence.parse(arrival.evidence) for arrival in crew.arrived]
    assert [one.crew.post for one in kept if one.crew is not None] == list(POSTS)
    verdict = verify(kept[1], rebuilder())
    assert verdict.ok, verdict.reason
    assert len({evidence.run_hash(one) for one in kept}) == 3
    crew.tabs[1].send({"page": "after", "value": "timeline"})
    shown = crew.tabs[1].boards["sheet"] + str(crew.tabs[1].told)
    for words in ("What each member did", "Your crew: calls made", "Reference: repeated back", "Your crew was"):
        assert words in shown
    assert "Reference run: 100 points" in shown
    crew.tabs[2].send({"page": "leave"})
    assert type(crew.tabs[2].seat) is ClassSeat


def test_a_crew_is_taken_up_after_a_crash_and_its_members_find_their_stations(tmp_path: Path) -> None:
    crew = Crew(tmp_path)
    crew.begin()
    crew.pass_by(1.0)
    crew.tabs[0].send({"do": "call", "target": "well_flows", "value": "toolpusher"})
    number, log = crew.lead.number, [entry.record() for entry in crew.lead.run.log] if crew.lead.run else []
    rooms = ClassRooms(tmp_path, crew.arrived.append)
    tabs = [Tab(rooms, n + 1, name) for n, name in enumerate(("Ann Lee", "Ben Oaks", "Cy Poole"))]
    lead = next(rooms.crews.leads())
    assert lead.number == number and lead.run is not None
    assert [entry.record() for entry in lead.run.log] == log
    assert [tab.seat.post for tab in tabs if isinstance(tab.seat, CrewSeat)] == list(POSTS)
    assert "Repeat back" in tabs[1].shown("page.crew_line")
    assert json.loads(json.dumps(lead.crew_list().model_dump()))["people"][0]["name"] == "Ann Lee"


def test_staff_see_a_crew_as_one_place_and_freeze_it_for_all(crew: Crew) -> None:
    crew.begin()
    crew.pass_by(0.3)
    assert [place.name for place in crew.rooms.places()] == ["Crew: Ann Lee, Ben Oaks, Cy Poole"]
    assert "a crew runs drills for a crew only" in str(
        crew.lead.begin_for("kick-while-drilling", "practice", 0, "Ines")
    )
    assert crew.lead.under_way and crew.arrived == []
    crew.lead.freeze(True, "Ines Marlow", "look at the pit")
    crew.pass_by(0.3)
    before = crew.lead.run.time if crew.lead.run is not None else 0.0
    crew.tabs[2].send({"do": "call", "target": "closed", "value": "driller"})
    assert "frozen" in crew.tabs[2].refusal()
    crew.pass_by(1.0)
    assert crew.lead.run is not None
    assert crew.lead.run.time == before
    assert all("look at the pit" in tab.shown("page.told") for tab in crew.tabs)


def test_staff_start_a_crew_and_the_pages_turn_to_its_stations_at_their_next_beat() -> None:
    rooms = ClassRooms(None, lambda arrival: None)
    tabs = [Tab(rooms, n + 1, name) for n, name in enumerate(("Ann Lee", "Ben Oaks"))]
    lead = rooms.crews.begin(KICK, "check", 7, "Ines Marlow")
    assert isinstance(lead, CrewLead)
    for tab, post in zip(tabs, ("driller", "subsea"), strict=True):
        place = next(place for place in rooms.places() if place.seat is tab.seat)
        assert rooms.crews.join(place, lead, post) is None
        assert "in a run already" in str(rooms.crews.join(place, lead, "toolpusher"))
    for tab in tabs:
        tab.beat()
        assert "Talk line" in tab.boards["crew"]
    assert lead.checked
    assert lead.mode == "check"
    tabs[0].send({"page": "begin"})
    tabs[0].send({"page": "pause"})
    assert not lead._begun
    rooms.crews.send_home(lead, "subsea", keep=True)
    tabs[1].beat()
    assert type(tabs[1].seat) is ClassSeat
    assert tabs[1].boards["chooser"]
    # Nobody is left who reads: the clock starts for whoever has read.
    tabs[0].beat()
    assert lead._begun
    rooms.close()


def test_a_crew_of_another_class_is_not_shown_and_cannot_be_joined() -> None:
    rooms = ClassRooms(None, lambda arrival: None)
    tabs = [Tab(rooms, n + 1, f"Person {n}", joined=joined) for n, joined in enumerate(("North", "North", "South"))]
    tabs[0].send({"page": "crew-open", "drill": KICK, "post": "driller"})
    (lead,) = rooms.crews.leads()
    for tab, sees in zip(tabs[1:], (True, False), strict=True):
        tab.beat()
        assert (lead.number in tab.shown("page.crews")) is sees
        tab.send({"page": "crew-join", "crew": lead.number, "post": "toolpusher" if sees else "subsea"})
        assert isinstance(tab.seat, CrewSeat) is sees
    assert list(lead.members) == ["driller", "toolpusher"]
    rooms.close()
