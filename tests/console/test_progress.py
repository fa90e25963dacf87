"""Progress over attempts: by learning point where the drill names them, and robust against what a browser kept."""

from __future__ import annotations

import json

import pytest

from trainer.console.progress import MOST, SCORE, Attempt, Progress, attempt, points_of, read
from trainer.drills import library

DRILL = library.all_drills()["kick-while-drilling"]
ROWS = [
    {"id": "spaced_out", "category": "safety", "points": 6.0, "earned": 3.0},
    {"id": "sidpp", "category": "instruments", "points": 7.0, "earned": 7.0},
    {"id": "fluid", "category": "fluid", "points": 4.0, "earned": 1.0},
    {"id": "manner", "category": "communication", "points": 10.0, "earned": None},
]


def _done(key: str, share: float, drill: str = "kick-while-drilling") -> Attempt:
    return Attempt(
        key, drill, drill.capitalize(), "practice", 100.0 * share, share > 0.7, {"Order": (share, 1.0)}, "2031-05-06"
    )


def test_points_go_to_the_learning_points_that_criteria_name() -> None:
    found = points_of(ROWS, DRILL)
    assert found == {DRILL.learning[1]: (3.0, 6.0), DRILL.learning[2]: (1.0, 4.0), DRILL.learning[4]: (7.0, 7.0)}
    assert points_of(ROWS, None).keys() == {"Safety", "Use of instruments", "Stored fluid"}


def test_what_a_browser_keeps_comes_back() -> None:
    made = attempt("k", {"score": 61.24, "passed": False, "criteria": ROWS}, "check", DRILL)
    back = read(json.dumps([{**made.record(), "at": "2031-05-06"}]))
    assert [(one.id, one.score, one.points, one.at) for one in back] == [("k", 61.2, made.points, "2031-05-06")]
    assert len(read(json.dumps([_done(str(n), 0.5).record() for n in range(MOST + 20)]))) == MOST


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "{}",
        "7",
        "[1, null, []]",
        '[{"id": "a", "points": 3}]',
        '[{"id": "a", "drill": "b", "score": 1e9, "passed": true, "points": {}}]',
        '[{"id": "a", "drill": "b", "score": 5, "passed": true, "points": {"x": [1, 0]}}]',
        '[{"id": "a", "drill": "b", "score": 5, "passed": true, "points": {"x": ["<b>", NaN]}}]',
        "x" * 500_000,
    ],
)
def test_what_is_no_attempt_is_passed_over(text: str) -> None:
    assert read(text) == []


def test_the_page_tells_how_the_shares_changed() -> None:
    page = Progress([_done("a", 0.4), _done("b", 0.8), _done("b", 0.8), _done("c", 0.6), _done("z", 0.1, "mix-fluid")])
    assert page.drill == "mix-fluid"
    page.choose("no-such")
    page.choose("kick-while-drilling")
    text = page.markup()
    for words in ("run 3 times, passed 1", "Best score 80", "80 % ▲ up", "60 % ▼ down", "2031-05-06"):
        assert words in text, words
    assert page.lines()["ys"] == [pytest.approx([40.0, 80.0, 60.0]), pytest.approx([40.0, 80.0, 60.0])]
    assert page.ends() == {"x": [3], "y": [60.0], "text": [f"{SCORE}, 1"]}


def test_words_from_a_browser_are_escaped_and_nothing_is_said_so() -> None:
    sly = Attempt("a", "d", "<img src=x>", "<b>", 5.0, False, {"<i>": (1.0, 2.0)})
    assert "<img" not in Progress([sly]).markup() and "<i>" not in Progress([sly]).markup()
    assert "no attempt yet" in Progress([]).markup()
    assert Progress([]).patch()["progress.lines"]["data"]["xs"] == [[]]
