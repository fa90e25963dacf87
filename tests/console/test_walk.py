"""A seat in which one person works alone: tabs are ways to walk, and the page shows it."""

from __future__ import annotations

from typing import Any

from trainer.classroom.rooms import shipped_seat
from trainer.console.seat import Seat

CLOSE = {"do": "set", "target": "lower_annular", "value": "close", "from": "unit"}


def shown(patch: dict[str, Any], key: str) -> dict[str, Any]:
    """What a patch says of one key."""
    return next(change["readings"][key] for change in patch.values() if key in change.get("readings", {}))


def go(seat: Seat, view: str) -> dict[str, Any]:
    """Press a tab."""
    return seat.handle({"page": "walk", "value": view})


def test_a_tab_of_another_station_is_a_walk_and_says_so() -> None:
    seat = shipped_seat()
    seat.hello()
    patch = seat.handle({"page": "start", "drill": "dead-panel", "mode": "practice"})
    assert "30 s away on foot" in patch["brief"]["markup"]
    assert "&quot;walk&quot;" in patch["header"]["markup"]
    assert shown(patch, "page.view") == {"state": "driller"}
    assert "press Resume" in shown(go(seat, "unit"), "page.refusal")["html"]
    seat.handle({"page": "begin"})
    # The floor is where the panel is; trends are nowhere.
    for near in ("floor", "trends", "driller"):
        assert shown(go(seat, near), "page.view") == {"state": near}
    assert "walk there first" in shown(seat.handle(CLOSE), "page.refusal")["html"]
    patch = go(seat, "care")
    assert shown(patch, "page.view") == {"state": "walk"}
    assert shown(patch, "page.walk_to") == {"text": "On the way to the control unit"}
    assert shown(patch, "page.walk_left") == {"text": "30 s"}
    assert "on the way" in shown(go(seat, "schematic"), "page.refusal")["html"]
    seat.handle({"page": "pace", "value": "20"})
    seat.tick(1.0)
    assert shown(seat.tick(1.0), "page.view") == {"state": "care"}
    assert seat.handle(CLOSE)["unit"]
    # A page that opens anew is told where the trainee stands.
    assert shown(seat.first(), "page.view") == {"state": "care"}
    # And the next run begins at the panel.
    seat.handle({"page": "leave"})
    assert shown(seat.handle({"page": "start", "drill": "dead-panel", "mode": "practice"}), "page.view") == {
        "state": "driller"
    }


def test_where_stations_are_manned_the_page_turns_by_itself() -> None:
    seat = shipped_seat()
    seat.hello()
    patch = seat.handle({"page": "start", "plant": "sandpiper"})
    assert "&quot;walk&quot;" not in patch["header"]["markup"]
    assert not any("page.view" in change.get("readings", {}) for change in patch.values())
    assert go(seat, "unit") == {} or "page.view" not in str(go(seat, "unit"))
