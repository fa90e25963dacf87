"""Sequences: gallons and seconds against what is expected and the last time; in an assessment the count alone."""

from __future__ import annotations

import json
from typing import Any

import pytest

from trainer import units
from trainer.classroom.rooms import shipped_seat
from trainer.console import expected
from trainer.console.expected import AS_EXPECTED, LESS, MORE, NOTHING_COUNTED, Stroke, meaning
from trainer.console.seat import Seat

GAL = units.from_unit(1.0, "gal")


def _seat(drill: str = "", mode: str = "practice") -> Seat:
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": drill, "mode": mode})
    seat.handle({"page": "begin"})
    for target in ("floor.rotary", "floor.mud_pumps"):
        seat.handle({"do": "set", "target": target, "value": 0.0, "from": "floor"})
    seat.handle({"page": "pace", "value": "20"})
    return seat


def _work(seat: Seat, target: str, value: str, by: str = "driller", beats: int = 15) -> None:
    seat.handle({"do": "set", "target": target, "value": value, "from": by})
    for _ in range(beats):
        seat.tick(0.1)


def _shown(seat: Seat, key: str) -> Any:
    return next(change["readings"][key] for change in seat.first().values() if key in change.get("readings", {}))


@pytest.mark.parametrize(
    ("wanted", "took", "means"),
    [(17.0, 17.3, AS_EXPECTED), (17.0, 9.0, LESS), (17.0, 22.0, MORE), (17.0, 0.0, NOTHING_COUNTED)],
)
def test_what_a_difference_can_mean(wanted: float, took: float, means: str) -> None:
    assert meaning(wanted * GAL, took * GAL) == means


def test_the_rest_of_a_stroke_and_an_annular_on_pipe_take_less() -> None:
    annular, ram = Stroke(44.0, 44.0, "annular"), Stroke(17.0, 16.0, "pipe_ram")
    assert expected.expected(annular, "close", 0.0, 0.62) == pytest.approx(27.28)
    assert expected.expected(ram, "close", 0.5, 0.62) == pytest.approx(8.5)
    assert expected.expected(ram, "open", 1.0, 1.0) == pytest.approx(16.0)
    assert expected.expected(ram, "block", 1.0, 1.0) == 0.0


def test_a_sequence_is_worked_from_either_station_and_held_against_what_is_expected_and_the_last_time() -> None:
    seat = _seat()
    seat.handle({"page": "sequences", "value": "open"})
    assert "Close and open in turn" in _shown(seat, "page.sequence")["html"]
    for time, by in enumerate(("driller", "remote", "unit")):
        # One's own: record it the first time, then work it twice.
        if time == 0:
            seat.handle({"page": "sequence-record"})
        else:
            seat.handle({"page": "sequence", "value": "own"})
            assert "control:upper_pipe_ram=close" in _shown(seat, "page.point")["state"]
            assert "step 1 of 2: Upper pipe ram: close" in _shown(seat, "page.told")["text"]
        for way in ("close", "open"):
            _work(seat, "upper_pipe_ram", way, by)
        if time == 0:
            seat.handle({"page": "sequence-keep"})
    table = _shown(seat, "page.sequence")["html"]
    assert "Unit" in table and AS_EXPECTED in table and "2 of 2 steps" in table
    assert "17.0 gal" in table and "16.0 gal" in table  # what the plant's file gives the ram
    row = json.loads(_shown(seat, "page.sequences_kept")["text"])["quillback"]
    assert row["own"] == [["upper_pipe_ram", "close"], ["upper_pipe_ram", "open"]]
    took = [taken / GAL for _, taken in row["last"]["own"]]
    assert took == [pytest.approx(17.0, abs=1.0), pytest.approx(16.0, abs=1.0)]
    assert 8.0 < row["last"]["own"][0][0] < 20.0
    # The browser gives it back to a page of another day; nonsense is passed over.
    for kept, there in ((json.dumps({"quillback": row}), True), ("[1, 2", False), ('{"quillback": {"own": 7}}', False)):
        other = _seat()
        other.handle({"page": "sequences", "value": "open", "kept": kept})
        assert ("My own (2 steps)" in _shown(other, "page.sequence")["html"]) is there


def test_a_step_out_of_turn_is_told() -> None:
    seat = _seat()
    seat.handle({"page": "sequences", "value": "open"})
    seat.handle({"page": "sequence", "value": "pods"})
    _work(seat, "upper_pipe_ram", "close", beats=2)
    assert "Out of turn: 0:0" in _shown(seat, "page.sequence")["html"]
    _work(seat, "pod_selector", "blue", beats=2)
    assert "step 2 of 6" in _shown(seat, "page.told")["text"]


def test_a_check_shows_only_the_count() -> None:
    texts = {}
    for mode in ("practice", "check"):
        seat = _seat("find-the-leak", mode)
        seat.handle({"page": "sequences", "value": "open"})
        seat.handle({"page": "sequence", "value": "in-turn"})
        _work(seat, "upper_annular", "close")
        texts[mode] = (_shown(seat, "page.sequence")["html"], _shown(seat, "page.operations")["html"])
        assert ("expected" in _shown(seat, "page.spent_of")["text"]) is (mode == "practice")
    for shown in texts["practice"]:
        assert "xpected" in shown
    for shown in texts["check"]:
        assert "xpected" not in shown and "gal" in shown
