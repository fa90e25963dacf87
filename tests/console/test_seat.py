"""A seat: choosing, running, refusing, pacing and scoring, without any browser."""

from __future__ import annotations

import json

import pytest

from trainer.classroom.rooms import MOST_SEATS, Rooms, shipped_seat
from trainer.console import debrief
from trainer.console.diagnosis import FAULT, NOT_CHOSEN, NOTHING
from trainer.console.presenter import NOT_RECORDED
from trainer.console.seat import Seat
from trainer.console.told import Teller

DRILL = "kick-while-drilling"
CLOSE = {"do": "set", "target": "lower_annular", "value": "close", "from": "driller"}


@pytest.fixture
def seat() -> Seat:
    free = shipped_seat()
    free.hello()
    free.handle({"page": "start"})
    return free


def text(patch: dict, key: str) -> str:
    for change in patch.values():
        if key in change.get("readings", {}):
            found = change["readings"][key]
            return str(found.get("text", found.get("html", found.get("state"))))
    raise AssertionError(f"{key} is not in the patch")


def test_the_first_page_offers_the_drills() -> None:
    patch = shipped_seat().hello()
    assert "Kick while drilling" in patch["chooser"]["markup"]
    assert patch["header"]["readings"]["page.page"] == {"state": "chooser"}


def test_a_start_dresses_every_board(seat: Seat) -> None:
    patch = seat.first()
    for board in ("driller", "remote", "unit", "floor", "floor_strip", "schematic", "messages", "entries"):
        assert patch[board]["markup"]
    assert text(patch, "page.page") == "console"


def test_the_clock_waits_for_the_briefing() -> None:
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": DRILL, "mode": "practice", "seed": "3"})
    assert seat.run is not None
    before = seat.run.time
    seat.tick(1.0)
    assert seat.run.time == before
    assert "Press Begin" in text(seat.handle(CLOSE), "page.refusal")
    seat.handle({"page": "begin"})
    seat.tick(1.0)
    assert seat.run.time == pytest.approx(before + 1.0)


def test_a_command_shows_before_the_next_beat(seat: Seat) -> None:
    patch = seat.handle({"do": "push", "target": "driller.lamp_test", "from": "driller"})
    assert patch["driller"]["readings"]["upper_annular.lamp_block"]["state"] == "on"


def test_hands_do_not_make_time_run_faster(seat: Seat) -> None:
    assert seat.run is not None
    for _ in range(10):
        for _ in range(7):
            seat.handle({"do": "raise", "target": "annular_regulator", "value": 0.25, "from": "driller"})
        seat.tick(0.1)
    assert seat.run.time <= 1.0 + 0.3 + 1e-9


HOIST = {"do": "set", "target": "floor.hoist", "value": "up", "from": "driller"}
LET_GO = {**HOIST, "value": "stop"}


def _hook(seat: Seat) -> float:
    return seat.run.signals()["floor.hook"]


def _held(seat: Seat, seconds: float, word: bool = True) -> None:
    """The beats and words of a page whose hoist lever is held."""
    seat.handle({**HOIST, "until": {key: LET_GO[key] for key in ("do", "target", "value")}})
    for beat in range(round(10 * seconds)):
        seat.tick(0.1)
        if word and beat % 3 == 2:
            seat.handle({"page": "holding"})


def test_the_hoist_runs_while_its_lever_is_held_and_stops_on_release(seat: Seat) -> None:
    began = _hook(seat)
    _held(seat, 10.0)
    let_go = _hook(seat)
    assert let_go - began > 10.0
    seat.handle(LET_GO)
    for _ in range(50):
        seat.tick(0.1)
    assert abs(_hook(seat) - let_go) < 1.0
    deeds = Teller(seat.run.machine, None, "field").deeds(seat.run.log)
    assert [(deed.text, deed.also) for deed in deeds] == [("Hoist: up, 10.0 s", (1,))]
    # The step beside it is for fine work.
    for _ in range(3):
        seat.handle({"do": "hoist", "target": "floor.hook", "value": 1.0, "from": "driller"})
    for _ in range(50):
        seat.tick(0.1)
    assert _hook(seat) == pytest.approx(let_go + 3.0, abs=0.1)
    assert Teller(seat.run.machine, None, "field").deeds(seat.run.log)[-1].text == "Hoist: up 3 ft"


def test_a_lever_is_let_go_also_by_a_page_that_is_lost_or_that_stands_still(seat: Seat) -> None:
    _held(seat, 3.0, word=False)
    unheard = _hook(seat)
    for _ in range(20):
        seat.tick(0.1)
    # Of a page that is only slow nothing moves until it is heard again, and then goes on.
    assert _hook(seat) == unheard and seat.run.log[-1].value == "up"
    seat.handle({"page": "holding"})
    for _ in range(10):
        seat.tick(0.1)
    assert _hook(seat) > unheard
    seat.handle({"page": "gone"})
    let_go = _hook(seat)
    for _ in range(20):
        seat.tick(0.1)
    assert _hook(seat) == pytest.approx(let_go, abs=0.5) and seat.run.log[-1].value == "stop"
    # One that is never heard again is gone too.
    _held(seat, 13.0, word=False)
    assert seat.run.log[-1].value == "stop"
    _held(seat, 1.0)
    seat.handle({"page": "pause"})
    stood = _hook(seat)
    seat.handle(LET_GO)
    seat.handle({"page": "pause"})
    for _ in range(20):
        seat.tick(0.1)
    assert abs(_hook(seat) - stood) < 1.0


def test_pace_and_pause(seat: Seat) -> None:
    assert seat.run is not None
    seat.handle({"page": "pace", "value": "20"})
    for _ in range(10):
        seat.tick(0.1)
    assert seat.run.time == pytest.approx(20.0)
    seat.handle({"page": "pace", "value": "1000"})
    assert seat.pace == 20.0
    seat.handle({"page": "pace", "value": "0.25"})
    for _ in range(10):
        seat.tick(0.4)
    assert seat.run.time == pytest.approx(21.0)
    seat.handle({"page": "pause"})
    seat.tick(1.0)
    assert seat.run.time == pytest.approx(21.0)
    assert "Press Resume" in text(seat.handle(CLOSE), "page.refusal")


def test_a_page_that_slept_does_not_run_on(seat: Seat) -> None:
    assert seat.run is not None
    seat.tick(3600.0)
    assert seat.run.time <= 1.0


@pytest.mark.parametrize(
    "message",
    [
        {"do": "set", "target": "nothing_like_it", "value": "close", "from": "driller"},
        {"do": "set", "target": "lower_annular", "value": "sideways", "from": "driller"},
        {"do": "fly", "target": "lower_annular", "from": "driller"},
        {"do": "set", "target": "lower_annular", "value": "close", "from": "the moon"},
        {"do": "set"},
        {"do": "read", "target": "well.pit_gain", "value": "much"},
        {"do": ["set"], "target": {"a": 1}, "value": [3]},
    ],
)
def test_a_wrong_command_is_refused_in_words(seat: Seat, message: dict) -> None:
    said = text(seat.handle(message), "page.refusal")
    assert "Refused" in said and "Traceback" not in said


@pytest.mark.parametrize("message", [{}, {"page": "nonsense"}, {"page": "pace", "value": None}, {"page": "card"}])
def test_a_message_that_means_nothing_does_nothing(seat: Seat, message: dict) -> None:
    seat.handle(message)
    assert seat.page == "console"


def test_words_from_outside_are_escaped(seat: Seat) -> None:
    message = {"do": "set", "target": "<img src=x onerror=alert(1)>", "value": "open", "from": "driller"}
    assert "<img" not in text(seat.handle(message), "page.refusal")


@pytest.mark.parametrize("seed", ["-1", "x", "99999999999999", "1.5"])
def test_a_seed_that_is_none_is_told(seed: str) -> None:
    seat = shipped_seat()
    patch = seat.handle({"page": "start", "drill": DRILL, "seed": seed})
    assert "whole number" in text(patch, "page.status")
    assert seat.page == "chooser"


def test_units_redraw_the_boards(seat: Seat) -> None:
    patch = seat.handle({"page": "units"})
    assert text(patch, "accumulator.pressure").endswith("bar")
    assert patch["pit_wide.y"]["axis_label"] == "m³"
    assert text(seat.handle({"page": "units"}), "accumulator.pressure").endswith("psi")


def test_a_bare_number_is_read_in_the_units_shown() -> None:
    seat = shipped_seat()
    seat.handle({"page": "start", "drill": DRILL, "seed": "3"})
    seat.handle({"page": "begin"})
    seat.handle({"page": "units"})
    seat.handle({"do": "read", "target": "sidpp", "value": "36", "from": "driller"})
    assert seat.run is not None
    entry = seat.run.log[-1]
    assert (entry.do, entry.target) == ("read", "sidpp")
    assert entry.value == pytest.approx(522.1, abs=0.1)


def test_a_beat_reads_no_plant_file(seat: Seat, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten times a second a page asks for its texts: the rig is known since its boards were drawn."""
    monkeypatch.setattr("trainer.console.boards.load_plant", lambda plant: pytest.fail(f"{plant} is read again"))
    assert "page.clock" in str(seat.tick(1.0))


def test_a_card_shows_its_part_and_closes(seat: Seat) -> None:
    patch = seat.handle({"page": "card", "value": "accumulator"})
    assert text(patch, "page.card") == "open"
    assert "Accumulator" in patch["card"]["markup"]
    assert text(seat.handle({"page": "card", "value": ""}), "page.card") == "shut"


def test_the_run_ends_at_the_second_asking(seat: Seat) -> None:
    assert text(seat.handle({"page": "finish"}), "page.finish") == "End now?"
    for _ in range(310):
        seat.tick(0.1)
    assert seat.page == "console"
    seat.handle({"page": "finish"})
    patch = seat.handle({"page": "finish"})
    assert text(patch, "page.page") == "sheet"
    # Free practice has no score and so no verdict, but a summary.
    assert "passed" not in text(patch, "page.sheet") and "0:31 simulated" in text(patch, "page.sheet")
    assert "No function was operated." in text(patch, "page.after_body")
    handed = seat.handle({"page": "evidence"})["sheet"]["readings"]["page.evidence"]
    assert json.loads(handed["content"])["log"] == []
    assert seat.handle({"page": "leave"})["header"]["readings"]["page.page"] == {"state": "chooser"}


def test_an_idle_drill_ends_by_itself_and_fails() -> None:
    seat = shipped_seat()
    seat.handle({"page": "start", "drill": DRILL, "mode": "check", "seed": "1"})
    seat.handle({"page": "begin"})
    seat.handle({"page": "pace", "value": "20"})
    for _ in range(1000):
        seat.tick(1.0)
        if seat.page == "sheet":
            break
    assert seat.page == "sheet"
    assert "Not passed" in seat._sheet


def test_a_check_has_no_coach() -> None:
    seat = shipped_seat()
    seat.handle({"page": "start", "drill": DRILL, "mode": "check", "seed": "1"})
    assert text(seat.first(), "page.help") == "off"


def test_a_tab_keeps_its_seat_and_the_last_page_drives_it() -> None:
    rooms = Rooms(lambda: Seat(lambda *_: pytest.fail("not started"), {}, None))  # type: ignore[arg-type]
    first, second = object(), object()
    seat = rooms.take("a" * 32, first)
    assert rooms.take("b" * 32, second) is not seat
    assert rooms.take("a" * 32, second) is seat
    assert rooms.holds(seat, second) and not rooms.holds(seat, first)
    rooms.leave(seat, first)
    assert rooms.holds(seat, second)
    rooms.leave(seat, second)
    for n in range(MOST_SEATS):
        rooms.take(f"{n:032x}", first)
    assert rooms.take("a" * 32, first) is not seat


def test_what_was_noted_makes_room_again(seat: Seat) -> None:
    patch = seat.handle({"do": "read", "target": "accumulator.pressure", "value": "2990", "from": "driller"})
    assert "2990 psi" in text(patch, "page.noted")
    for _ in range(13):
        seat.tick(1.0)
    assert seat._texts()["page.noted"] == {"text": ""}


def test_a_run_is_tried_again_in_the_same_variation_or_the_next() -> None:
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": DRILL, "mode": "check", "seed": "3"})
    for value, seed in (("", 3), ("other", 4)):
        for _ in range(2):
            seat.handle({"page": "finish"})
        assert "Try another variation" in text(seat.first(), "page.sheet")
        before = seat.run
        assert text(seat.handle({"page": "again", "value": value}), "page.page") == "console"
        assert seat.run is not before and seat.mode == "check"
        assert (seat.run.identity.drill, seat.run.identity.seed) == (DRILL, seed)


def test_the_clock_stands_while_the_briefing_is_open() -> None:
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": DRILL, "mode": "practice"})
    assert text(seat.handle({"page": "pause"}), "page.brief") == "shut"  # Resume closes it
    seat.tick(0.5)
    assert seat.run.time == pytest.approx(0.5)
    assert text(seat.handle({"page": "brief"}), "page.pause") == "Resume"
    seat.tick(0.5)
    assert seat.run.time == pytest.approx(0.5)
    seat.paused = False  # as an instructor's Resume does
    seat.tick(0.5)
    assert seat.run.time == pytest.approx(0.5)
    assert text(seat.handle({"page": "begin"}), "page.brief") == "shut"
    seat.tick(0.5)
    assert seat.run.time == pytest.approx(1.0)


def test_the_sheet_names_readings_as_the_boards_do() -> None:
    row = {"seen": {"well.flow_out": "240 gpm", "annular_regulator.readback": "900 psi"}, "seen_t": 12.0}
    assert debrief.seen(row, 100.0) == "At 0:12: Flow out: 240 gpm; Annular regulator, read-back: 900 psi"


def test_many_readings_are_cut_down_to_the_parts_that_did_something() -> None:
    idle = {f"{part}.{kind}": "no" for part in ("upper_pipe_ram", "middle_pipe_ram") for kind in ("contact", "sealing")}
    shown = {"bore.pipe_speed": "0.0 ft/s", **idle, "upper_annular.contact": "yes", "upper_annular.sealing": "no"}
    said = debrief.seen({"seen": shown, "seen_t": 12.0}, 100.0)
    assert said.startswith("At 0:12: Speed of the pipe, up: 0.0 ft/s; Upper annular, touches the pipe: yes; Upper")
    assert "pipe ram" not in said


def test_a_check_takes_a_new_variation_where_none_is_asked_for() -> None:
    seat = shipped_seat()
    seat.hello()
    for mode, seed, taken in (("practice", "", 0), ("check", "", 1), ("check", "0", 0)):
        seat.handle({"page": "start", "drill": DRILL, "mode": mode, "seed": seed})
        assert seat.run.identity.seed == taken
        seat.handle({"page": "leave"})


def _dead_panel(mode: str) -> Seat:
    """The dead panel after its power has gone, its trainee at the driller's panel."""
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": "dead-panel", "mode": mode})
    seat.handle({"page": "begin"})
    seat.handle({"page": "pace", "value": "20"})
    while seat.run.machine.read("panel.power") > 0.5:
        seat.tick(0.5)
    return seat


@pytest.mark.parametrize("mode", ["check", "practice"])
def test_an_assessment_says_of_a_refusal_only_what_the_plant_shows(mode: str) -> None:
    seat = _dead_panel(mode)
    said = text(seat.handle(CLOSE), "page.refusal")
    cause = str(seat.run.log[-1].refused)
    assert (said == "<span>No response.</span>") is (mode == "check")
    assert (cause in said) is (mode == "practice")
    # What is no matter of the plant is said as ever.
    assert "walk there first" in text(seat.handle({**CLOSE, "from": "unit"}), "page.refusal")
    for _ in range(2):
        seat.handle({"page": "finish"})
    timeline = text(seat.handle({"page": "after", "value": "timeline"}), "page.after_body")
    assert f"Refused: {cause}" in timeline


def test_a_dead_panel_shows_what_its_supplies_let_it_show() -> None:
    seat = _dead_panel("check")
    patch = seat.first()
    panel, unit = patch["driller"]["readings"], patch["unit"]["readings"]
    dark = {"accumulator.pressure", "totaliser.count", "annular_regulator.readback", "page.spent"}
    assert {panel[tag]["text"] for tag in dark} == {"–"}
    assert patch["watch"]["readings"]["alarm.power_loss"]["state"] == "dark"
    assert patch["watch"]["readings"]["well.flow_out"]["text"].endswith("gpm")
    assert panel["accumulator.pressure"]["fraction"] == 0.0
    assert panel["pod_selector.position"]["state"] == "dark"
    assert panel["upper_annular.lamp_open"]["state"] == "off"
    # The unit's gauges work by the fluid itself, the drill floor's have a supply of their own.
    assert unit["accumulator.pressure"]["text"].endswith("psi")
    assert patch["watch"]["readings"]["well.flow_out"]["text"].endswith("gpm")
    assert text({"header": patch["header"]}, "page.clock")
    assert text({"alarms": patch["alarms"]}, "page.sound") == "off"
    # The schematic and the recorders show no more than the panel, and say why.
    sheet, trend = patch["schematic"]["readings"], patch["trend"]["data"]
    assert sheet["accumulator.pressure"]["text"] == "–" and sheet["panel.power"]["state"] == "dark"
    assert trend["accumulator.pressure"][-1] is None and trend["accumulator.pressure"][0] > 2000.0
    assert None not in trend["well.flow_out"]
    assert patch["supply_wide.x"]["axis_label"] == NOT_RECORDED
    # It comes back with its power.
    machine = seat.run.machine
    machine.put("panel.power", 1.0)
    back = seat._presenter.patch()
    assert back["driller"]["readings"]["accumulator.pressure"]["text"].endswith("psi")
    assert back["supply_wide.x"] == {"axis_label": ""}
    # The debrief shows what was missed.
    for _ in range(2):
        patch = seat.handle({"page": "finish"})
    assert None not in patch["trend"]["data"]["accumulator.pressure"]


def test_a_fault_is_found_by_its_words_in_any_order_and_an_empty_report_is_told() -> None:
    seat = shipped_seat()
    seat.handle({"page": "start", "value": "find-the-leak", "mode": "practice", "seed": "0"})
    seat.handle({"page": "begin"})

    def said(message: dict) -> tuple[str, list[str]]:
        patch = seat.handle(message)
        texts = [
            change["readings"]["page.sought"]["text"]
            for change in patch.values()
            if "page.sought" in change.get("readings", {})
        ]
        return (texts or [""])[0], [words for _, words in patch.get(FAULT, {}).get("options", [])]

    logged = len(seat.run.log)
    assert said({"page": "report-fault"})[0] == NOT_CHOSEN
    assert len(seat.run.log) == logged
    told, offered = said({"page": "seek", "value": "leaks SEA annular"})
    assert "Upper annular: Opening chamber leaks to sea" in offered
    assert not any("ram" in words for words in offered)
    assert told.startswith(f"Faults that fit: {len(offered) - 1}.")
    assert said({"page": "seek", "value": "annular xyzzy"}) == (NOTHING, [])
    seat.handle({"page": "seek", "value": "sea annular"})
    assert said({"page": "report-fault", "value": "shear_ram.leak_open"})[0] == NOT_CHOSEN
    # The button carries the choice, which goes another way and may come after it.
    seat.handle({"page": "report-fault", "value": "upper_annular.leak_open"})
    seat.handle({"page": "suspect-fault", "value": "upper_annular.leak_open"})
    assert [entry.target for entry in seat.run.log[logged:]] == ["upper_annular.leak_open"]
    assert said({"page": "report-fault", "value": ""})[0] == NOT_CHOSEN


def test_free_practice_says_that_a_ram_was_closed_on_turning_pipe() -> None:
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start"})
    seat.tick(0.5)
    seat.handle({"do": "push", "target": "driller.enable", "value": None, "from": "driller"})
    seat.handle({"do": "set", "target": "upper_pipe_ram", "value": "close", "from": "driller"})
    seat.handle({"page": "pace", "value": "20"})
    said = " ".join(str(seat.tick(0.5)) for _ in range(6))
    assert "Upper pipe ram closed on turning pipe. Stop the rotation" in said
    assert "Upper pipe ram closed on turning pipe" in str(seat.summary())


def test_who_is_hurt_in_practice_is_told_so_once_and_may_begin_anew() -> None:
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": "filter-change", "mode": "practice", "seed": "3"})
    seat.handle({"page": "begin"})
    assert text(seat.first(), "page.lost") == "off"
    seat.handle({"page": "again"})  # a run that can still pass is not given up by this
    first = seat.run
    patch = seat.handle({"do": "push", "target": "filter_1.change_element", "from": "unit"})
    assert text(patch, "page.refusal").startswith("<span>Injury: discharge filter 1 was opened")
    # What hands do right leaves no lamp: the panel tells that it is done.
    lock = {"do": "set", "target": "filter_1.upstream_lock", "value": "hung", "from": "unit"}
    assert "done: Discharge filter 1, valve upstream: lock and tag hung" in text(seat.handle(lock), "page.noted")
    patch = seat.handle({"do": "push", "target": "filter_2.change_element", "from": "unit"})
    assert "done: Discharge filter 2: change the element" in text(patch, "page.noted")
    assert "Done: Discharge filter 2: change the element" in text(patch, "page.talk")
    # The picture of the unit has its tag on the housing, and none on the one that was opened under pressure.
    assert text(patch, "page.new.filter_2").startswith("new 0:0") and "page.new.filter_1" not in seat.texts()
    seat.handle({"do": "set", "target": "filter_1.bleed", "value": "open", "from": "unit"})
    assert "bleed" not in str(seat.texts()["page.noted"])
    seat.tick(1.0)
    seat.tick(1.0)
    told = seat.texts()
    coach = str(told["page.coach"]["html"])
    assert "This try can no longer pass: Housing opened under pressure." in coach and "Try again" in coach
    assert "refused" not in coach and "skin" not in coach and told["page.lost"] == {"state": "on"}
    seat.handle({"page": "again"})
    assert seat.run is not first and seat.page == "console" and seat.run.identity.seed == 3
    assert [one.passed for one in seat.attempts] == [False]
    assert seat.texts()["page.lost"] == {"state": "off"}
