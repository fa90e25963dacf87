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
from trainer.wording import told

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


def test_a_member_leaves_and_joins_again_twice_and_the_run_goes_on(crew: Crew) -> None:
    crew.begin()
    crew.pass_by(1.0)
    driller, toolpusher, subsea = crew.tabs
    for turn in (1, 2):
        for _ in range(2):
            toolpusher.send({"page": "finish"})
        assert "toolpusher" in crew.lead.unmanned
        crew.tabs = [driller, subsea]
        before = crew.lead.run.time if crew.lead.run is not None else 0.0
        crew.pass_by(2.0)
        assert crew.lead.run is not None
        assert crew.lead.run.time == pytest.approx(before + 2.0, abs=0.31)
        toolpusher.send({"page": "crew-join", "crew": crew.lead.number, "post": "toolpusher"})
        crew.tabs = [driller, toolpusher, subsea]
        crew.pass_by(1.0)
        # Nobody reads a briefing again while the clock goes: the run waits for no one.
        assert crew.lead.run.time == pytest.approx(before + 3.0, abs=0.31)
        toolpusher.send({"do": "set", "target": "upper_outer_kill", "value": "open", "from": "remote"})
        assert [entry.by for entry in crew.lead.run.log].count("toolpusher") == turn
    manned = [(one.post, one.name) for one in crew.lead.crew_list().people][3:]
    assert manned == [("toolpusher", ""), ("toolpusher", "Ben Oaks")] * 2
    crew.lead.stop("Ines Marlow")
    crew.pass_by(0.3)
    assert [arrival.person for arrival in crew.arrived] == ["Ann Lee", "Ben Oaks", "Cy Poole"]
    verdict = verify(evidence.parse(crew.arrived[1].evidence), rebuilder())
    assert verdict.ok, verdict.reason


def test_a_page_that_is_loaded_again_or_was_cut_off_finds_the_post_as_it_was(crew: Crew) -> None:
    crew.begin()
    crew.pass_by(1.0)
    driller, toolpusher, subsea = crew.tabs
    driller.send({"do": "call", "target": "well_flows", "value": "toolpusher"})
    for _ in range(2):
        # Loaded again: the new page comes before the old one is known to be gone.
        again = Tab(crew.rooms, 2, "Ben Oaks")
        crew.rooms.leave(toolpusher.seat, toolpusher)
        toolpusher = again
        assert isinstance(toolpusher.seat, CrewSeat) and toolpusher.seat.post == "toolpusher"
        assert "Repeat back" in toolpusher.shown("page.crew_line")
    # Cut off: the page is gone for half a minute, and the others go on.
    crew.rooms.leave(toolpusher.seat, toolpusher)
    crew.tabs, before = [driller, subsea], crew.lead.run.time if crew.lead.run is not None else 0.0
    crew.rooms.crews.attend(1000.0)
    crew.pass_by(2.0)
    crew.rooms.crews.attend(1030.0)
    assert crew.lead.run is not None
    assert crew.lead.run.time == pytest.approx(before + 2.0, abs=0.31)
    assert "Ben Oaks, away" in driller.shown("page.crew_list")
    toolpusher = Tab(crew.rooms, 2, "Ben Oaks")
    crew.rooms.crews.attend(1031.0)
    toolpusher.send({"do": "repeat", "target": "well_flows"})
    assert crew.lead.run.log[-1].by == "toolpusher"


def test_who_stays_away_gives_the_post_to_the_computer_and_can_join_again(crew: Crew) -> None:
    driller, toolpusher, subsea = crew.tabs
    driller.send({"page": "begin"})
    subsea.send({"page": "begin"})
    crew.rooms.leave(toolpusher.seat, toolpusher)
    crew.tabs = [driller, subsea]
    crew.rooms.crews.attend(1000.0)
    crew.pass_by(0.5)
    # Whose page closed over the briefing holds the clock for a minute and no longer.
    assert not crew.lead._begun
    crew.rooms.crews.attend(1061.0)
    crew.pass_by(1.0)
    assert crew.lead._begun and crew.lead.run is not None and crew.lead.run.time > 0.5
    assert crew.lead.unmanned == ["toolpusher"]
    assert "Ben Oaks has been away for long" in str(crew.lead.talk.told)
    toolpusher = Tab(crew.rooms, 2, "Ben Oaks")
    assert type(toolpusher.seat) is ClassSeat
    toolpusher.beat()
    toolpusher.send({"page": "crew-join", "crew": crew.lead.number, "post": "toolpusher"})
    assert isinstance(toolpusher.seat, CrewSeat)
    # With nobody left to look, the run stands and keeps its members.
    for tab in (driller, toolpusher, subsea):
        crew.rooms.leave(tab.seat, tab)
    for now in (1100.0, 1400.0):
        crew.rooms.crews.attend(now)
    assert list(crew.lead.members) == ["driller", "subsea", "toolpusher"]


def test_of_two_who_press_for_the_same_station_one_gets_it_and_the_other_is_told(crew: Crew) -> None:
    crew.begin()
    for _ in range(2):
        crew.tabs[1].send({"page": "finish"})
    others = [Tab(crew.rooms, number, name) for number, name in ((8, "Dee Fox"), (9, "Eli Moss"))]
    for tab in others:
        tab.beat()
        assert "Join as Toolpusher" in tab.shown("page.crews")
    for tab in others:
        tab.send({"page": "crew-join", "crew": crew.lead.number, "post": "toolpusher"})
    assert [isinstance(tab.seat, CrewSeat) for tab in others] == [True, False]
    assert crew.lead.members["toolpusher"].name == "Dee Fox"
    assert "Dee Fox has that station already" in str(others[1].told)


def test_an_instructor_fills_a_station_and_gives_it_back(crew: Crew) -> None:
    crew.begin()
    for _ in range(2):
        crew.tabs[2].send({"page": "finish"})
    ines = Tab(crew.rooms, 20, "Ines Marlow", "instructor")
    ines.send({"page": "crew-join", "crew": crew.lead.number, "post": "subsea"})
    assert isinstance(ines.seat, CrewSeat)
    ines.send({"do": "call", "target": "closed", "value": "driller"})
    assert crew.lead.run is not None
    assert crew.lead.run.log[-1].by == "subsea"
    assert [(one.name, one.role) for one in crew.lead.manning][-1] == ("Ines Marlow", "instructor")
    for _ in range(2):
        ines.send({"page": "finish"})
    assert crew.lead.unmanned == ["subsea"]


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


def test_what_another_version_kept_of_a_member_is_passed_over(tmp_path: Path) -> None:
    crew = Crew(tmp_path)
    crew.begin()
    crew.pass_by(1.0)
    for path in (path for path in tmp_path.rglob("*") if path.is_file()):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace('"ready":', '"of_later":1,"ready":'), encoding="utf-8")
    lead = next(ClassRooms(tmp_path, crew.arrived.append).crews.leads())
    assert lead.run is not None and [member.name for member in lead.members.values()] == [
        "Ann Lee",
        "Ben Oaks",
        "Cy Poole",
    ]


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


def test_a_member_of_one_crew_does_nothing_to_another_crew() -> None:
    rooms = ClassRooms(None, lambda arrival: None)
    tabs = [Tab(rooms, n + 1, f"Person {n}") for n in range(2)]
    for tab in tabs:
        tab.send({"page": "crew-open", "drill": KICK, "post": "driller"})
    _, second = rooms.crews.leads()
    tabs[0].send({"page": "begin"})
    run = second.run
    assert run is not None
    for message in (
        {"page": "crew-join", "crew": second.number, "post": "toolpusher"},
        {"page": "crew-open", "drill": KICK, "post": "toolpusher"},
        {"page": "begin", "crew": second.number},
        {"page": "finish", "crew": second.number, "post": "driller"},
        {"do": "call", "target": "well_flows", "value": "toolpusher", "crew": second.number},
        {"page": "evidence", "crew": second.number},
        {"page": "request", "text": "a hand", "crew": second.number},
    ):
        tabs[0].send(message)
    assert list(second.members) == ["driller"]
    assert not second._begun
    assert run.log == [] and run.time == 0.0
    assert len(list(rooms.crews.leads())) == 2
    rooms.close()


FORGED_FIGURES: tuple[dict[str, object], ...] = (
    {"do": "call", "target": "sidpp_is", "value": "toolpusher", "figure": 520, "by": "choke"},
    {"do": "call", "target": "sidpp_is", "value": "toolpusher", "figure": 520},
    {"do": "call", "target": "gain_is", "value": "toolpusher", "figure": [1]},
    {"do": "call", "target": "gain_is", "value": "toolpusher", "figure": {"a": 1}},
    {"do": "call", "target": "gain_is", "value": "toolpusher", "figure": "9" * 400},
    {"do": "call", "target": "gain_is", "value": "toolpusher", "figure": "1e999"},
    {"do": "call", "target": "gain_is", "value": "toolpusher", "figure": "<b>5</b>"},
    {"do": "call", "target": "gain_is", "value": "toolpusher"},
    {"do": "repeat", "target": "gain_is", "figure": 4.0},
    {"do": "set", "target": "floor.choke", "value": 50, "from": "floor"},
)


def test_a_figure_that_is_forged_is_no_call_and_breaks_nothing() -> None:
    rooms = ClassRooms(None, lambda arrival: None)
    driller, choke = (Tab(rooms, n + 1, f"Person {n}") for n in range(2))
    driller.send({"page": "crew-open", "drill": "crew-choke-panel", "post": "driller"})
    (lead,) = rooms.crews.leads()
    choke.send({"page": "crew-join", "crew": lead.number, "post": "choke"})
    for tab in (driller, choke):
        tab.send({"page": "begin"})
    for message in FORGED_FIGURES:
        driller.send(message)
    assert lead.run is not None
    assert lead.run.log == []
    driller.send({"do": "call", "target": "gain_is", "value": "toolpusher", "figure": "4.5"})
    assert [(entry.by, entry.figure) for entry in lead.run.log] == [("driller", 4.5)]
    driller.send({"page": "units"})
    driller.send({"do": "call", "target": "gain_is", "value": "toolpusher", "figure": "0.7"})
    assert lead.run.log[-1].figure == pytest.approx(4.4, abs=0.05)
    driller.beat()
    line = next(board["page.crew_line"] for board in driller.told.values() if "page.crew_line" in board)
    assert isinstance(line, dict)
    assert "0.70 m³" in told(line["html"], "metric")
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
