"""The first page: what it advises, what a drill is found by, and which variation a start takes."""

from __future__ import annotations

import json
import re
from typing import Any

from trainer.classroom.rooms import shipped_seat
from trainer.console import progress
from trainer.console.brought import Brought
from trainer.console.seat import Seat

TODAY = "2026-11-28"


def packed(*rows: tuple[str, str, str, float, str]) -> str:
    """Kept attempts as the page sends them: (drill, mode, learning point, score, day), each text once."""
    texts = list(dict.fromkeys(text for row in rows for text in (row[0], row[2])))
    told = [
        [f"{d} 41 100.0 {s:.2f}", texts.index(d), mode, s, int(s >= 75), day, [texts.index(point), s / 10, 10]]
        for d, mode, point, s, day in rows
    ]
    return json.dumps({"texts": texts, "rows": told})


def opened(**brought: Any) -> tuple[Seat, str]:
    seat = shipped_seat()
    return seat, seat.hello("light", {"today": TODAY, **brought})["chooser"]["markup"]


def row(markup: str, drill: str) -> str:
    return markup[markup.index(f'data-drill="{drill}"') :].partition("</form>")[0]


def test_a_newcomer_is_offered_the_first_run_and_who_has_done_it_the_next_step() -> None:
    _, new = opened()
    assert "Start the first run" in new and "Your next step" not in new
    _, led = opened(first_run=True)
    assert "Start the first run" not in led and "Surface stack: first function test</h2>" in led and "Why:" in led


def test_what_was_done_shows_at_the_drill_in_the_course_and_as_the_next_step() -> None:
    point = "Which regulator serves which function"
    kept = packed(("follow-the-fluid", "check", point, 100.0, "2026-11-01"))
    _, page = opened(attempts=kept, learnt={"quillback": "90 80 40"})
    assert "Due for review, best 100" in row(page, "follow-the-fluid")
    assert "Never tried" in row(page, "name-the-parts")
    assert "1 due · you are here" in page and "1 learning point is due for review" in page
    # Reviewed today without help, it is mastered, and the course goes on.
    again = packed(*[("follow-the-fluid", "check", point, 100.0, day) for day in ("2026-11-01", TODAY)])
    _, page = opened(attempts=again.replace(" 41 ", " 42 ", 1), learnt={"quillback": "90 80 40"})
    assert "Passed, best 100" in row(page, "follow-the-fluid")
    assert re.search(r"Your next step</p><h2>Name the parts", page)


def test_a_drill_is_found_by_part_fault_and_learning_point_and_shows_where_it_starts() -> None:
    _, page = opened()
    found = {
        word: re.findall(rf'data-drill="([\w-]+)" data-words="[^"]*{word}', page)
        for word in ("shuttle", "drift", "wind")
    }
    assert "name-the-parts" in found["shuttle"] and "regulator-drift" in found["drift"]
    assert "shallow-gas-diverter" in found["wind"] and len(found["wind"]) < 10
    assert 'aria-label="Starts at: control unit"' in row(page, "precharge-check")
    assert 'aria-label="Starts at: drill floor"' in row(page, "kick-while-drilling")


def test_the_same_variation_as_last_time_and_a_number() -> None:
    kept = packed(("daily-round", "practice", "x", 80.0, TODAY))
    for asked, seed in (("same", 41), ("7", 7), ("", 0)):
        seat, _ = opened(attempts=kept)
        seat.handle({"page": "start", "drill": "daily-round", "mode": "practice", "seed": asked})
        assert seat.run is not None and seat.run.identity.seed == seed
    seat, _ = opened()
    patch = seat.handle({"page": "start", "drill": "daily-round", "mode": "practice", "seed": "seven"})
    assert "whole number" in patch["chooser"]["readings"]["page.status"]["text"]


def test_what_the_browser_brings_is_believed_only_where_it_fits() -> None:
    assert Brought.read({}) == Brought()
    bad = {"attempts": 7, "learnt": {"quillback": "1 2", "x": None}, "today": "soon", "first_run": "yes"}
    assert Brought.read(bad) == Brought()
    good = Brought.read({"learnt": {"quillback": "1 2 3"}, "today": TODAY})
    assert good.known == {"quillback": 3} and str(good.today) == TODAY
    for text in (
        '{"texts": [], "rows": [[1]]}',
        '{"texts": 3, "rows": {}}',
        '{"rows": [[1,2,3,4,5,6,[0]]], "texts": []}',
    ):
        assert progress.read(text) == []


def test_the_path_says_of_each_rig_what_kind_it_is() -> None:
    _, page = opened()
    for name, kind in (("Sandpiper", "surface stack"), ("Quillback", "subsea stack"), ("Wentletrap", "multiplexed")):
        assert re.search(rf'<h3>{name}</h3><p class="soft path-rig">[^<]*{kind}', page)
