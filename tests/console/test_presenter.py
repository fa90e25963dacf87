"""The presenter tells only what changed, and every number it tells is the signal's."""

from __future__ import annotations

import math
import re
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer import units
from trainer.console.bindings import bindings
from trainer.console.boards import Boards
from trainer.console.presenter import Presenter, joined
from trainer.console.reading import cell, reader
from trainer.hydraulics.catalogue import Signal
from trainer.simulator import Session


@pytest.fixture(scope="module")
def session() -> Session:
    run = Session.start(None, "quillback")
    run.advance(2.0)
    return run


@pytest.fixture(scope="module")
def boards(session: Session) -> dict[str, dict[str, tuple[str, ...]]]:
    drawn = Boards().draw(session.machine, "quillback", None, "field")
    return {name: bindings(markup) for name, markup in drawn.items()}


@pytest.fixture(scope="module", params=["quillback", "sandpiper"])
def shown(request: pytest.FixtureRequest, session: Session) -> tuple[Session, dict[str, dict[str, tuple[str, ...]]]]:
    """A run on each plant with the bindings of its boards."""
    run = session if request.param == "quillback" else Session.start(None, request.param)
    drawn = Boards().draw(run.machine, request.param, None, "field")
    return run, {name: bindings(markup) for name, markup in drawn.items()}


def test_every_key_that_a_board_binds_is_a_signal_of_the_plant(shown: tuple[Session, dict]) -> None:
    session, boards = shown
    assert Presenter(session, boards=boards).unknown == ()


def test_two_patches_become_one_without_losing_a_reading() -> None:
    first = {"header": {"readings": {"page.page": {"state": "sheet"}, "page.clock": {"text": "0:01"}}}}
    then = {"header": {"readings": {"page.clock": {"text": "0:02"}}}, "card": {"markup": "x", "readings": {}}}
    assert joined(first, then) == {
        "header": {"readings": {"page.page": {"state": "sheet"}, "page.clock": {"text": "0:02"}}},
        "card": {"markup": "x", "readings": {}},
    }


@pytest.mark.parametrize("system", ["field", "metric"])
def test_every_number_shown_equals_its_signal(shown: tuple[Session, dict], system: units.System) -> None:
    session, boards = shown
    patch = Presenter(session, system, boards).first()
    count = 0
    for board in boards:
        for tag, reading in patch.get(board, {}).get("readings", {}).items():
            signal = session.machine.signals.get(tag)
            if signal is None or "text" not in reading:
                continue
            value = session.machine.read(tag)
            if signal.unit == "state":
                assert reading["text"] == signal.states[int(value + 0.5)]
            else:
                printed = reading["text"].replace("−", "-")
                assert printed == units.show(value, signal.unit, system) and not reading["text"].startswith("-")
                digits = re.match(r"-?[\d,]+\.?\d*", printed)
                assert digits
                unit = units.display_unit(signal.unit, system)
                decimals = units.UNITS[unit].decimals
                told = float(digits[0].replace(",", ""))
                assert math.isclose(told, units.to_unit(value, unit), abs_tol=0.5000001 * 10.0**-decimals)
            count += 1
    assert count > 100


def test_needles_and_levels_stand_at_the_signal(shown: tuple[Session, dict]) -> None:
    session, boards = shown
    patch = Presenter(session, boards=boards).first()
    moving = 0
    for board, keys in boards.items():
        for tag, kinds in keys.items():
            if {"needle", "fill", "shift"} & set(kinds) and tag in session.machine.signals:
                signal = session.machine.signals[tag]
                value = units.to_unit(session.machine.read(tag), signal.unit)
                share = min(max((value - signal.low) / (signal.high - signal.low), 0.0), 1.0)
                assert patch[board]["readings"][tag]["fraction"] == pytest.approx(share, abs=0.0011)
                moving += 1
    assert moving > 20


def test_a_patch_holds_only_what_changed(session: Session, boards: dict) -> None:
    presenter = Presenter(session, boards=boards)
    presenter.first()
    presenter.patch()
    assert not any("readings" in change for change in presenter.patch().values())
    session.submit({"do": "set", "target": "pod_selector", "value": "blue", "from": "driller"})
    session.advance(0.1)
    changed = presenter.patch()
    assert changed["driller"]["readings"]["pod_selector.position"]["state"] == "blue"
    assert "bank_a.isolation" not in changed["driller"]["readings"]
    session.submit({"do": "set", "target": "pod_selector", "value": "yellow", "from": "driller"})
    session.advance(5.0)


def test_patches_add_up_to_the_whole(session: Session, boards: dict) -> None:
    patching = Presenter(session, boards=boards)
    whole = Presenter(session, boards=boards, history=patching.history)
    kept = {board: dict(change["readings"]) for board, change in patching.first().items() if "readings" in change}
    session.submit({"do": "set", "target": "lower_annular", "value": "close", "from": "driller"})
    for _ in range(120):
        session.advance(0.1)
        for board, change in patching.patch().items():
            if "readings" in change:
                kept.setdefault(board, {}).update(change["readings"])
    now = whole.first()
    assert kept == {board: change["readings"] for board, change in now.items() if "readings" in change}


@pytest.mark.long
def test_a_frame_costs_a_part_of_showing_everything(session: Session, boards: dict) -> None:
    presenter = Presenter(session, boards=boards)
    assert sum(len(keys) for keys in boards.values()) > 150
    presenter.first()
    session.submit({"do": "set", "target": "lower_annular", "value": "open", "from": "driller"})
    frames, wholes = [], []
    for _ in range(100):
        session.advance(0.1)
        began = time.process_time()
        presenter.patch()
        frames.append(time.process_time() - began)
        began = time.process_time()
        presenter.first()
        wholes.append(time.process_time() - began)
    # The medians: the machine that runs the tests has other things to do as well.
    print(f"a frame {1000.0 * sorted(frames)[50]:.2f} ms, everything {1000.0 * sorted(wholes)[50]:.2f} ms")
    assert sorted(frames)[50] < 0.5 * sorted(wholes)[50]


def test_charts_get_the_history_once_and_then_the_news(session: Session) -> None:
    presenter = Presenter(session, boards={})
    whole = presenter.first()
    assert whole["trend"]["data"]["t"] == []
    session.advance(3.0)
    first = presenter.patch()["trend"]["stream"]
    assert len(first["t"]) == 1
    gain = units.to_unit(session.machine.read("well.pit_gain"), "bbl")
    assert first["well.pit_gain"] == [pytest.approx(gain)]
    presenter.use("metric")
    assert presenter.first()["trend"]["data"]["well.pit_gain"] == [pytest.approx(gain * 0.158987, rel=1e-4)]


def test_a_reading_beyond_its_range_stops_at_the_pin() -> None:
    signal = Signal("x.pressure", "psi", 0.0, 100.0, "X", normal=(40.0, 60.0))
    show = reader(signal, ("needle", "state", "pressure", "text"), "field")
    assert show(units.from_unit(250.0, "psi")) == {
        "text": "250 psi",
        "fraction": 1.0,
        "state": "high",
        "level": "high",
    }
    assert show(units.from_unit(0.5, "psi"))["level"] == "dead"
    assert show(units.from_unit(30.0, "psi"))["state"] == "low"


def test_bindings_are_read_from_either_quote() -> None:
    assert bindings('<b data-text=\'a.b\' data-state="c"></b><i data-fill="a.b" data-fill-axis="x"></i>') == {
        "a.b": ("text", "fill"),
        "c": ("state",),
    }


@pytest.mark.fast
@given(
    unit=st.sampled_from(["psi", "gpm", "gal", "degF", "bbl", "ft", "%", "V"]),
    low=st.floats(-50.0, 50.0),
    span=st.floats(0.1, 20_000.0),
    normal=st.tuples(st.floats(0.0, 0.5), st.floats(0.5, 1.0)) | st.none(),
    kinds=st.sets(st.sampled_from(["text", "title", "state", "flow", "pressure", "needle"]), min_size=1),
    system=st.sampled_from(["field", "metric"]),
    share=st.floats(-0.5, 1.5),
    step=st.floats(-1.0, 1.0),
)
@settings(max_examples=300, deadline=None)
def test_what_counts_as_unchanged_reads_the_same(
    unit: str,
    low: float,
    span: float,
    normal: tuple[float, float] | None,
    kinds: set[str],
    system: units.System,
    share: float,
    step: float,
) -> None:
    band = None if normal is None else (low + normal[0] * span, low + normal[1] * span)
    signal = Signal("a.b", unit, low, low + span, "A reading", (), band)
    read, around = reader(signal, kinds, system), cell(signal, kinds, system)
    value = units.from_unit(low + share * span, unit)
    least, most = around(value)
    assert least <= value <= most
    for other in (least, most, least + (most - least) * abs(step), value + step * abs(most - value)):
        if least < other < most:
            assert read(other) == read(value)
