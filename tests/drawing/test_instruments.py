"""Scales, gauges and the fill-in of bindings: what is shown equals the signal."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from trainer.drawing.desk import Desk, round_step
from trainer.drawing.fill_in import fill_in
from trainer.drawing.gauges import SWEEP_FROM, SWEEP_TO, bar, column, dial
from trainer.drawing.markup import Markup, el, join
from trainer.drawing.sample import sample_readings
from trainer.hydraulics.machine import Machine


@pytest.mark.parametrize(
    ("rough", "step"), [(1000.0, 1000.0), (999.0, 1000.0), (61.0, 100.0), (0.3, 0.5), (0.0, 1.0), (-4.0, 1.0)]
)
def test_ticks_are_round(rough: float, step: float) -> None:
    assert round_step(rough) == pytest.approx(step)


def test_a_metric_scale_covers_the_same_range(desk: Desk) -> None:
    field = desk.scale("accumulator.pressure")
    metric = Desk(desk.rig, desk.signals, "metric").scale("accumulator.pressure")
    assert (field.unit, metric.unit) == ("psi", "bar")
    assert metric.high == pytest.approx(field.high * 0.0689476, rel=1e-5)
    assert field.normal is not None
    assert metric.normal is not None
    assert metric.fraction(metric.normal[0]) == pytest.approx(field.fraction(field.normal[0]))


@pytest.mark.parametrize("percent", [0.0, 25.0, 50.0, 100.0])
def test_pointer_fill_and_number_show_the_signal(desk: Desk, machine: Machine, percent: float) -> None:
    value = 50.0 * percent
    drawn = el("div", {}, dial(desk, "accumulator.pressure", "Header"), bar(desk, "accumulator.pressure", "Header"))
    root = ET.fromstring(fill_in(drawn, sample_readings(machine, changed={"accumulator.pressure": value})))
    needle = next(n for n in root.iter() if n.get("data-needle"))
    fill = next(n for n in root.iter() if n.get("data-fill"))
    assert needle.get("transform") == f"rotate({SWEEP_FROM + (SWEEP_TO - SWEEP_FROM) * percent / 100:g})"
    assert fill.get("style") == f"width:{percent:g}%"
    assert next(n.text for n in root.iter() if n.get("data-text")) == f"{value:,.0f} psi"


def test_every_gauge_prints_its_number_unit_and_band(desk: Desk, machine: Machine) -> None:
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
