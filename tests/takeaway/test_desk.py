"""The desk: what it stores is enough to come back to the same tick, and nothing is shown before it is stored."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.takeaway.keeping import keep
from trainer.console.boards import Boards
from trainer.console.seat import Seat
from trainer.drills import library
from trainer.simulator import Session
from trainer.takeaway.browser_session import SNAPSHOT_TICKS, BrowserSession

DRILLS = Path(__file__).parent / "drills"
HELLO = json.dumps({"page": "hello", "value": "", "theme": "light"})
START = json.dumps({"page": "start", "drill": "close-one", "seed": "1", "mode": "practice"})
BEGIN = json.dumps({"page": "begin"})


class Store:
    """A desk and the browser's store beside it, as the worker's script joins them."""

    def __init__(self, kept: dict[str, str] | None = None) -> None:
        self.kept = dict(kept or {})
        self.shown: list[dict[str, Any]] = []
        drills = library.all_drills(DRILLS)

        def start(drill: str | None, plant: str | None, seed: int, mode: str) -> Session:
            return Session.start(DRILLS / f"{drill}.toml", plant, seed, mode)

        def restore(snapshot: dict[str, Any]) -> Session:
            fixed = snapshot["identity"]
            fresh = Session.start(DRILLS / f"{fixed['drill']}.toml", fixed["plant"], fixed["seed"], fixed["mode"])
            from trainer.session.session import read_snapshot

            return fresh.resume(read_snapshot(snapshot))

        self.desk = BrowserSession(lambda begin: Seat(begin, drills, Boards()), start, restore)
        self.desk.open(json.dumps(self.kept))

    def take(self, answer: str) -> None:
        if not answer:
            return
        kept, _, shown = answer.partition("\n")
        keep(self.kept, kept)
        if shown:
            self.shown.append(json.loads(shown))

    def say(self, *messages: str) -> None:
        for message in messages:
            self.take(self.desk.handle(message))

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds * 10)):
            self.take(self.desk.tick(0.1))

    @property
    def session(self) -> Session:
        run = self.desk.seat.run
        assert isinstance(run, Session)
        return run


def command(do: str, target: str, value: str | None = None) -> str:
    return json.dumps({"do": do, "target": target, "value": value, "from": "driller"})


@pytest.mark.parametrize("seconds", [0.4, 3.0, 17.3])
def test_a_new_page_comes_back_to_the_same_state(seconds: float) -> None:
    """At any moment the store alone gives the same tick, state, log and checkpoints."""
    first = Store()
    first.say(HELLO, START, BEGIN)
    first.run(2.0)
    first.say(command("push", "driller.enable"), command("set", "upper_pipe_ram", "close"))
    first.run(seconds)
    again = Store(first.kept)
    again.say(HELLO)
    here, there = first.session, again.session
    assert there.tick == here.tick
    assert there.checkpoint() == here.checkpoint()
    assert there.log == here.log
    assert there.checkpoints == here.checkpoints
    assert again.desk.seat.page == "console"
    assert again.desk.seat.paused
    assert set(again.shown[-1]) >= {"header", "driller"}
    # From here on both go the same way.
    again.say(json.dumps({"page": "pause"}))
    first.run(5.0)
    again.run(5.0)
    again.session.advance_to(first.session.time)
    assert there.checkpoint().state == here.checkpoint().state


def test_a_finished_run_comes_back_with_its_score() -> None:
    """A reload of the score sheet shows the score sheet."""
    first = Store()
    first.say(HELLO, START, BEGIN)
    first.run(1.0)
    first.say(json.dumps({"page": "finish"}), json.dumps({"page": "finish"}))
    assert first.desk.seat.page == "sheet"
    again = Store(first.kept)
    again.say(HELLO)
    assert again.desk.seat.page == "sheet"
    assert again.session.sheet() == first.session.sheet()


def test_leaving_the_run_clears_the_store() -> None:
    """Who goes back to the chooser is not brought back to the old run."""
    first = Store()
    first.say(HELLO, START, BEGIN)
    first.run(1.0)
    assert first.kept
    first.say(json.dumps({"page": "leave"}))
    assert first.kept == {}


def test_the_report_is_handed_over() -> None:
    """One page with the score, the criteria and what was done; only when there is a score."""
    store = Store()
    store.say(HELLO, START, BEGIN)
    store.say(json.dumps({"page": "report"}))
    assert "page.report" not in json.dumps(store.shown)
    store.run(1.0)
    store.say(command("push", "driller.enable"), json.dumps({"page": "finish"}), json.dumps({"page": "finish"}))
    store.say(json.dumps({"page": "report"}))
    file = store.shown[-1]["sheet"]["readings"]["page.report"]
    assert file["file"] == "close-one.report.html"
    for part in ("<!DOCTYPE html>", "Not passed", "Told the crew", "Actions", "<style>"):
        assert part in file["content"], part


def test_the_trends_come_back() -> None:
    """The charts of a run taken up again have its past, and what was added while that was computed."""
    first = Store()
    first.say(HELLO, START, BEGIN)
    first.run(2.0)
    first.say(command("push", "driller.enable"), command("set", "upper_pipe_ram", "close"))
    first.run(13.0)
    again = Store(first.kept)
    again.say(HELLO)
    assert len(again.shown[-1]["trend"]["data"]["t"]) <= 1
    again.say(json.dumps({"page": "pause"}))
    again.run(6.0)
    whole = next(shown["trend"]["data"] for shown in again.shown[2:] if "data" in shown.get("trend", {}))
    first.run(6.0)
    columns = first.desk.seat.first()["trend"]["data"]
    assert len(whole["t"]) >= 15 and whole["t"][0] < 0.2
    # Sampled a tenth of a second later than the first time.
    pressures = (whole["accumulator.pressure"][1:], columns["accumulator.pressure"][1:])
    for now, before in zip(*pressures, strict=False):
        assert now == pytest.approx(before, rel=0.02)
    went_on = again.desk.seat.first()
    times = went_on["trend"]["data"]["t"]
    assert times[-1] > 20.0 and all(0.9 < after - now < 1.7 for now, after in pairwise(times))
    assert any("Upper pipe ram" in label for label in went_on["events"]["data"]["label"])


def test_units_come_back() -> None:
    """The page is set as it was."""
    first = Store()
    first.say(HELLO, START, BEGIN, json.dumps({"page": "units"}))
    first.run(0.5)
    again = Store(first.kept)
    assert (first.desk.seat.units, again.desk.seat.units) == ("metric", "metric")


def test_the_store_stays_small() -> None:
    """Snapshots replace each other: an idle minute stores one of them, not six."""
    first = Store()
    first.say(HELLO, START, BEGIN)
    first.run(40.0)
    assert set(first.kept) == {"run", "at"}
    told = json.loads(first.kept["run"])["snapshot"]
    assert first.session.tick - told["tick"] < SNAPSHOT_TICKS
    assert sum(map(len, first.kept.values())) < 200_000


@pytest.mark.parametrize("spoil", ["run", "at", "plant"])
def test_a_log_that_does_not_fit_is_told(spoil: str) -> None:
    """Another version's run, or a damaged one, is not guessed at: the chooser comes, with the reason."""
    first = Store()
    first.say(HELLO, START, BEGIN)
    first.run(1.0)
    kept = dict(first.kept)
    if spoil == "plant":
        told = json.loads(kept["run"])
        told["snapshot"]["identity"]["plant_hash"] = "0" * 64
        kept["run"] = json.dumps(told)
    elif spoil == "run":
        kept["run"] = kept["run"][:100]
    else:
        del kept["at"]
    again = Store(kept)
    again.say(HELLO)
    assert again.desk.seat.page == "chooser"
    assert "could not be taken up again" in json.dumps(again.shown[-1])
    again.say(START, BEGIN)
    again.run(0.5)
    assert again.session.tick > 0
