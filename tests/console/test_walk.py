"""A seat in which one person works alone: tabs are ways to walk, and the page shows it."""

from __future__ import annotations

import json
from typing import Any

from trainer.classroom.rooms import shipped_seat
from trainer.console.pointing import point
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
    assert "Press Resume" in shown(go(seat, "unit"), "page.refusal")["html"]
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


def test_the_coach_sends_somebody_alone_to_where_the_next_step_is_done() -> None:
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": "dead-panel", "mode": "practice"})
    seat.handle({"page": "begin"})
    assert seat.run is not None
    while "The lights go out" not in str(seat.run.referee.messages):
        seat.tick(1.0)
    seat.tick(1.0)
    assert "Walk to" not in str(seat.texts()["page.coach"])
    seat.handle({"do": "say", "target": "dead", "from": "driller"})
    seat.tick(0.2)
    texts = seat.texts()
    assert "Walk to the control unit now: press Unit above" in texts["page.coach"]["html"]
    assert '"at:unit": ["unit"]' in texts["page.point"]["state"]
    # Asked, the coach does not take that back.
    assert "nothing to add" not in str(seat.handle({"page": "ask"}))
    go(seat, "unit")
    assert "on the way to the control unit: 30 s to go" in seat.texts()["page.coach"]["html"]
    while seat.run.walking is not None and seat.run.walking.left(seat.run.tick) > 0.0:
        seat.tick(1.0)
    assert "Walk to" not in str(seat.texts()["page.coach"])


def test_an_instrument_without_power_is_not_pointed_to() -> None:
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start", "drill": "dead-panel", "mode": "practice"})
    tag = "annular_regulator.readback"
    where = [json.loads(point([f"tag:{tag}"], seat._drawn, dark)["state"]) for dark in (frozenset(), frozenset({tag}))]
    assert [sorted({"driller", "unit", "schematic"} & set(at[f"tag:{tag}"])) for at in where] == [
        ["driller", "schematic", "unit"],
        ["unit"],
    ]
