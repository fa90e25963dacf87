"""The chosen run with its drawings, faults by part and changes by one press, and a debrief shown to a whole class."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.classroom.conftest import Server, Visitor
from tests.classroom.staff import StaffPage, opened
from tests.classroom.test_checks import Room
from tests.classroom.wire import Page, run
from trainer.classroom.favorites import MOST, Favorites
from trainer.classroom.instructor import RefusedError

NAMES = ("Una Holm", "Ulf Berg")


def board(desk: StaffPage, name: str) -> str:
    """The model of a board on a page of staff, by the board's name."""
    for number, model in desk.models.items():
        data = model.get("data")
        if (
            "esm" in model
            and isinstance(data, dict)
            and data.get("attributes", {}).get("name", model.get("name")) == name
        ):
            return number
    raise AssertionError(f"no board is called {name}")


def test_a_run_is_seen_as_it_is_changed_by_one_press_and_its_debrief_shown_to_all(
    server: Server, instructor: Visitor, joined: Callable[[str], Visitor]
) -> None:
    async def story() -> None:
        trainees = [await Page(server.url, joined(name).cookie()).open() for name in NAMES]
        await trainees[0].start("")
        desk = await opened(instructor, "run")
        try:
            await desk.until(lambda: NAMES[0] in desk.choices("Trainee"))
            desk.put("Trainee", NAMES[0])
            await desk.until(lambda: desk.choices("Fault") and "at work" in desk.words().casefold())
            # Both drawings stand there, and a part that is pressed offers its faults.
            desk.boards = {name: board(desk, name) for name in ("truth", "schematic")}
            desk.send("truth", {"page": "card", "value": "upper_annular"})
            await desk.until(lambda: desk.value("Part") == "Upper annular")
            await desk.until(lambda: all(one.startswith("Upper annular: ") for one in desk.choices("Fault")))
            await desk.say("Favorite", "a favorite of yours now")
            liked = "Recent and favorites"
            await desk.until(lambda: any(one.startswith("★ Upper annular") for one in desk.choices(liked)))
            await desk.say("AC power off", f"{NAMES[0]}: Rig AC lost to 100 %")
            await trainees[0].until(lambda: trainees[0].state("power.ac") == "off")
            await desk.until(lambda: "Faults that are there" in desk.words())
            await desk.say("AC power on", "cleared")
            desk.press("End")
            await desk.until(lambda: "End is not done yet" in desk.words())
            await desk.say("End now", "End: done for 1")
            await trainees[0].until(lambda: trainees[0].state("page.page") == "sheet")
        finally:
            desk.close()
        wall = await opened(instructor, "glance")
        try:
            await wall.until(lambda: NAMES[0] in wall.choices("Trainee"))
            # A second member of staff sees what the first one did.
            await wall.until(lambda: f"instructor: {NAMES[0]}: Rig AC lost to 100 %" in wall.words())
            wall.put("Trainee", NAMES[0])
            await wall.say("Show on every page", "is shown on every trainee")
            await trainees[1].until(lambda: NAMES[0] in str(trainees[1].readings.get("page.together")))
            assert "page.together" not in trainees[0].readings
            watched = await Page(server.url, trainees[1].cookie).open(path="together")
            await watched.until(lambda: watched.state("page.page") == "sheet")
            wall.put("Moment of the debrief (m:ss)", "0:01")
            await wall.say("Point at it", "the debrief is at 0:01")
            await watched.until(lambda: watched.state("page.page") == "replay")
            await wall.say("Take from every page", "any more")
            await trainees[1].until(lambda: "iframe" not in str(trainees[1].readings["page.together"]))
            watched.close()
        finally:
            for one in (wall, *trainees):
                one.close()

    run(story())


def test_a_debrief_is_led_only_where_there_is_one_and_no_check_is_shown(tmp_path: Path) -> None:
    room = Room(tmp_path)
    room.say("start", drill="", mode="practice", seed="0")
    with pytest.raises(RefusedError, match="no debrief"):
        room.say("point", value="5")
    assert "every trainee's page" in room.say("together")
    assert room.rooms.shared() is not None
    room.say("start", drill="lost-rig-air", mode="check", seed="0", cut=True)
    # Once a check begins there, nobody sees it any more, and it cannot be shown.
    assert room.rooms.shared() is None
    with pytest.raises(RefusedError, match="check is under way"):
        room.say("together")


def test_favorites_are_each_persons_own_and_bounded(tmp_path: Path) -> None:
    kept = Favorites(tmp_path / "favorites")
    assert kept.of(1) == [] and kept.turn(1, "air.lost") and kept.of(1) == ["air.lost"] and kept.of(2) == []
    assert not kept.turn(1, "air.lost") and kept.of(1) == []
    for number in range(MOST + 5):
        kept.turn(1, f"part_{number}.stuck")
    assert len(kept.of(1)) == MOST
    (tmp_path / "favorites" / "1.json").write_text("[1, {", encoding="utf-8")
    assert kept.of(1) == []
