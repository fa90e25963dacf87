"""Alarms as the page shows them: list, lamp and horn go through the states of ISA-18.2 together."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from trainer.classroom.rooms import shipped_seat
from trainer.console import moment, shell
from trainer.console.seat import Seat
from trainer.console.trends import ROOM_S, History
from trainer.plant.alarms import by_priority, priority
from trainer.simulator import Session


def practising() -> tuple[Seat, Session]:
    """A seat in free practice, and its run."""
    seat = shipped_seat()
    seat.hello()
    seat.handle({"page": "start"})
    assert seat.run is not None
    return seat, seat.run


def test_an_alarm_comes_is_silenced_acknowledged_and_goes() -> None:
    seat, _ = practising()
    shown: dict[str, Any] = {}

    def after(*commands: tuple[str, str, Any, str]) -> tuple[str, str, str]:
        """The state in the list, the lamp's on the panel, and the horn, a moment after some commands."""
        patches = []
        for do, target, value, where in commands:
            sent = {"do": do, "target": target, "from": where, **({} if value is None else {"value": value})}
            patches.append(seat.handle(sent))
        patches += [seat.tick(0.1) for _ in range(8)]
        for patch in patches:
            for board, change in patch.items():
                shown.setdefault(board, {}).update(change.get("readings", {}))
        alarm = "alarm.power_loss"
        return (
            shown["alarms"].get(alarm, {}).get("text", "normal"),
            shown["watch"].get(alarm, {}).get("text", "normal"),
            shown["alarms"].get("page.sound", {}).get("state", "off"),
        )

    press = "push", "alarms.acknowledge", None, "driller"
    silence = "push", "alarms.silence", None, "remote"
    assert after(("set", "power.main", "off", "unit")) == ("unacknowledged", "unacknowledged", "on")
    assert after(silence) == ("unacknowledged", "unacknowledged", "off")
    assert after(press) == ("acknowledged", "acknowledged", "off")
    assert after(("set", "power.main", "on", "unit")) == ("normal", "normal", "off")
    # One whose cause goes before anybody acknowledged stays until somebody does.
    assert after(("set", "power.main", "off", "unit")) == ("unacknowledged", "unacknowledged", "on")
    assert after(("set", "power.main", "on", "unit"))[:2] == ("returned", "returned")
    assert after(press) == ("normal", "normal", "off")
    assert "AC power lost" in shown["alarms"]["page.alarm_log"]["html"]


def test_a_running_pump_is_heard_until_the_run_is_paused() -> None:
    seat, run = practising()
    assert moment.noise(run) == ""
    for pump in ("triplex_1", "air_pump_1"):
        seat.handle({"do": "set", "target": f"{pump}.mode", "value": "manual", "from": "unit"})
    for _ in range(8):
        seat.tick(0.1)
    assert moment.noise(run) == "air triplex" and seat._texts()["page.noise"]["state"] == "air triplex"
    seat.handle({"page": "pause"})
    assert seat._texts()["page.noise"]["state"] == ""


def test_the_most_pressing_alarm_stands_first_and_sounds_faster() -> None:
    _, run = practising()
    listed = by_priority(run.machine.signals)
    assert [priority(tag) for tag in listed] == ["high", "high", "high", "medium", "medium", "low", "low"]
    drawn = shell.alarms(run.machine.signals)
    places = [drawn.index(f'data-tag="{tag}"') for tag in listed]
    assert places == sorted(places)
    assert "high priority" in drawn
    run.machine.put("alarm.low_tank", 1.0)
    run.machine.put("alarms.horn", 1.0)
    assert moment.horn(run) == "on"
    run.machine.put("alarm.low_accumulator", 1.0)
    assert moment.horn(run) == "urgent"
    assert moment.alarms(run).startswith("Alarm: Accumulator low, high priority; ")
    run.machine.put("alarms.horn", 0.0)
    assert moment.horn(run) == "off"


def test_marks_close_together_have_one_label() -> None:
    history = History(())
    for t in (10.0, 10.5, 10.0 + ROOM_S, 40.0):
        history.mark(t, f"at {t:g}")
    assert history.whole()["events"]["data"] == {
        "t": [10.0, 10.5, 10.0 + ROOM_S, 40.0],
        "label": ["at 10", "", f"at {10.0 + ROOM_S:g}", "at 40"],
    }


def test_only_what_can_still_be_earned_is_called_open() -> None:
    still = [("Influx kept small", "economy"), ("SIDPP read", "reading")]
    run: Any = SimpleNamespace(referee=SimpleNamespace(left=30.0, open_titles=still))
    assert moment.still_open(run) == "Still open: SIDPP read (Enter)."
    run.referee.open_titles = still[:1]
    assert moment.still_open(run) == ""
