"""Scales, gauges and the fill-in of bindings: what is shown equals the signal."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from tests.drawing.conftest import Rig
from trainer.console.bindings import KINDS
from trainer.console.reading import reader
from trainer.drawing.context import DrawingContext, round_step
from trainer.drawing.fill_in import fill_in
from trainer.drawing.gauges import SWEEP_FROM, SWEEP_TO, bar, column, dial
from trainer.drawing.markup import Markup, el, join
from trainer.drawing.preview import BOARDS
from trainer.drawing.sample import sample_readings
from trainer.hydraulics.machine import Machine
from trainer.units import System, display_unit, from_unit, show, to_unit


@pytest.mark.parametrize(
    ("rough", "step"), [(1000.0, 1000.0), (999.0, 1000.0), (61.0, 100.0), (0.3, 0.5), (0.0, 1.0), (-4.0, 1.0)]
)
def test_ticks_are_round(rough: float, step: float) -> None:
    assert round_step(rough) == pytest.approx(step)


def test_a_metric_scale_covers_the_same_range(desk: DrawingContext) -> None:
    field = desk.scale("accumulator.pressure")
    metric = DrawingContext(desk.rig, desk.signals, "metric").scale("accumulator.pressure")
    assert (field.unit, metric.unit) == ("psi", "bar")
    assert metric.high == pytest.approx(field.high * 0.0689476, rel=1e-5)
    assert field.normal is not None
    assert metric.normal is not None
    assert metric.fraction(metric.normal[0]) == pytest.approx(field.fraction(field.normal[0]))


@pytest.mark.parametrize("percent", [0.0, 25.0, 50.0, 100.0])
def test_pointer_fill_and_number_show_the_signal(desk: DrawingContext, machine: Machine, percent: float) -> None:
    value = 50.0 * percent
    drawn = el("div", {}, dial(desk, "accumulator.pressure", "Header"), bar(desk, "accumulator.pressure", "Header"))
    root = ET.fromstring(fill_in(drawn, sample_readings(machine, changed={"accumulator.pressure": value})))
    needle = next(n for n in root.iter() if n.get("data-needle"))
    fill = next(n for n in root.iter() if n.get("data-fill"))
    assert needle.get("transform") == f"rotate({SWEEP_FROM + (SWEEP_TO - SWEEP_FROM) * percent / 100:g})"
    assert fill.get("style") == f"width:{percent:g}%"
    assert next(n.text for n in root.iter() if n.get("data-text")) == f"{value:,.0f} psi"


def test_every_gauge_prints_its_number_unit_and_band(desk: DrawingContext, machine: Machine) -> None:
    for tag, signal in machine.signals.items():
        if signal.unit == "state":
            continue
        for draw in (dial, bar, column):
            root = ET.fromstring(draw(desk, tag, "Name"))
            assert any(n.get("data-text") == tag for n in root.iter()), (tag, draw.__name__)
            assert root.get("aria-label") == "Name"
    words = "".join(ET.fromstring(dial(desk, "accumulator.pressure", "Header")).itertext())
    assert "normal 2,550 to 3,050 psi" in words


def test_text_is_escaped_and_markup_is_not() -> None:
    assert join("a < b & c", Markup("<b>x</b>"), None, False, [1, 2.5]) == "a &lt; b &amp; c<b>x</b>12.5"
    assert el("p", {"title": 'say "no"', "hidden": None}, "<i>") == '<p title="say &quot;no&quot;">&lt;i&gt;</p>'


def test_selected_option_is_pressed(machine: Machine) -> None:
    options = el(
        "div",
        {},
        [
            el("button", {"data-state": "pod_selector.position", "data-when": pod, "aria-pressed": "false"}, pod)
            for pod in ("yellow", "blue")
        ],
    )
    root = ET.fromstring(fill_in(options, sample_readings(machine, changed={"pod_selector.position": "blue"})))
    assert [n.get("aria-pressed") for n in root.iter("button")] == ["false", "true"]


def test_on_every_board_number_pointer_and_scale_agree_with_the_signal(each: Rig) -> None:
    """Every gauge, meter, bar and glass of every board, at five places of its range, in both unit systems."""
    systems: tuple[System, ...] = ("field", "metric")
    for system in systems:
        desk = DrawingContext(each.desk.rig, each.desk.signals, system)
        drawn = {name: draw(desk) for name, draw in BOARDS.items() if name != "together"}
        for share in (0.0, 0.21, 0.5, 0.83, 1.0):
            values = {
                tag: signal.low + share * (signal.high - signal.low)
                for tag, signal in desk.signals.items()
                if signal.unit != "state"
            }
            readings = {
                tag: reader(desk.signals[tag], KINDS, system)(from_unit(value, desk.signals[tag].unit))
                for tag, value in values.items()
            }
            shown = sum(agreeing(desk, markup, readings, values, system) for markup in drawn.values())
            assert shown > 60


def agreeing(
    desk: DrawingContext, markup: str, readings: dict[str, dict[str, Any]], values: dict[str, float], system: System
) -> int:
    """How many instruments of a board agree with their signals; fails at the first that does not."""
    count = 0
    for node in ET.fromstring(fill_in(markup, readings)).iter():
        text, needle, fill = (node.get(f"data-{kind}") for kind in ("text", "needle", "fill"))
        tag = text or needle or fill
        if tag not in values:
            continue
        signal, value = desk.signals[tag], values[tag]
        scale = desk.scale(tag)
        here = scale.fraction(to_unit(from_unit(value, signal.unit), display_unit(signal.unit, system)))
        if text:
            assert node.text == show(from_unit(value, signal.unit), signal.unit, system).replace("-", "−"), tag
        elif needle:
            turned = float(str(node.get("transform"))[7:-1])
            low = float(node.get("data-sweep-from", SWEEP_FROM))
            high = float(node.get("data-sweep-to", SWEEP_TO))
            assert turned == pytest.approx(low + (high - low) * here, abs=0.6), tag
        elif node.get("style") and "%" in str(node.get("style")):
            assert float(str(node.get("style")).split(":")[1][:-1]) == pytest.approx(100.0 * here, abs=0.25), tag
        count += 1
    return count


def test_a_tick_stands_where_the_pointer_points(each: Rig) -> None:
    """The number printed beside a tick is the value at which the pointer reaches it."""
    for tag, signal in each.desk.signals.items():
        if signal.unit == "state":
            continue
        scale = each.desk.scale(tag)
        for node in ET.fromstring(dial(each.desk, tag, "Name")).iter("text"):
            told = str(node.text)
            value = float(told.replace("k", "").replace(",", "")) * (1000.0 if told.endswith("k") else 1.0)
            angle = math.degrees(math.atan2(float(node.get("x", 0)), -(float(node.get("y", 0)) - 3.5)))
            wanted = SWEEP_FROM + (SWEEP_TO - SWEEP_FROM) * scale.fraction(value)
            assert angle == pytest.approx(wanted, abs=0.6), tag
