"""The event log of a rig with orders by message: what the control system knows, and nothing else."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from trainer.console.boards import Boards
from trainer.console.events import EventLog, board, kept_by
from trainer.simulator import Session

VALVE = "upper_inner_kill"


@pytest.fixture(scope="module")
def run() -> Session:
    return Session.start(None, plant="wentletrap")


def order(run: Session, do: str, target: str, value: str | None = None, at: str = "driller") -> None:
    run.submit({"do": do, "target": target, "value": value, "from": at})


def test_orders_answers_links_and_alarms_stand_in_the_log(run: Session) -> None:
    log = EventLog()
    log.look(run, None, "field")
    assert log.events == []

    def passes(seconds: float) -> None:
        for _ in range(round(seconds * 10)):
            run.advance(0.1)
            log.look(run, None, "field")

    order(run, "set", VALVE, "open", "remote")
    order(run, "set", "blind_shear_ram", "close")
    order(run, "set", "tank.drain", "open", "unit")
    passes(4.0)
    orders = [(one.where, one.state) for one in log.events if one.kind == "order"]
    assert orders == [("Toolpusher's panel", "sent"), ("Driller", "refused")], "hand work at the unit is no message"
    answered = [one for one in log.events if one.kind == "answer"]
    assert [(one.where, one.what) for one in answered] == [("Yellow pod", "Upper inner kill")]
    assert answered[0].state.startswith("answered after") and 1.0 < float(answered[0].state.split()[2]) < 3.0
    run.machine.set_fault("pod_yellow.cable_cut", 1.0)
    run.machine.set_fault("power.ac_lost", 1.0)
    passes(3.0)
    links = {(one.where, one.what, one.state) for one in log.events if one.kind == "link"}
    assert ("Yellow pod", "Link", "lost") in links
    assert any(one.kind == "answer" and one.state == "stale" for one in log.events)
    alarms = [one.state for one in log.events if one.kind == "alarm"]
    assert alarms[0] == "unacknowledged, first out"
    assert not any("cut" in one.what.lower() or "fault" in one.what.lower() for one in log.events)
    items = ET.fromstring(f"<ul>{log.markup()}</ul>")
    assert [item.get("data-kind") for item in items] == [one.kind for one in reversed(log.events)]


def test_a_run_that_is_taken_back_loses_what_came_after(run: Session) -> None:
    log, early = EventLog(), run.snapshot()
    log.look(run, None, "field")
    before = len(log.events)
    order(run, "set", VALVE, "close")
    run.advance(0.2)
    log.look(run, None, "field")
    assert len(log.events) == before + 1
    log.look(Session.restore(early), None, "field")
    assert len(log.events) == before
    log.look(Session.start(None, plant="wentletrap"), None, "field")
    assert log.events == [], "another run begins with an empty log"


def test_only_a_rig_with_messages_has_the_log_on_its_page(run: Session) -> None:
    assert "page.events" in Boards().draw(run.machine, "wentletrap", None, "field")["alarms"]
    other = Session.start(None, plant="sandpiper")
    assert not kept_by(other.machine.signals)
    assert "page.events" not in Boards().draw(other.machine, "sandpiper", None, "field")["alarms"]
    names = [node.get("value") for node in ET.fromstring(board()).iter("input")]
    assert names == ["all", "order", "answer", "link", "alarm", "oldest"]
