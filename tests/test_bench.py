"""The benchmark: its JSON form, its checks, and what makes a figure good."""

from __future__ import annotations

import json

import pytest

from trainer.bench import physics, report, speed
from trainer.bench.physics import Check
from trainer.bench.speed import Figure


def test_physics_agrees_with_its_sources() -> None:
    checks = physics.checks()
    assert len(checks) >= 13
    assert [check for check in checks if not check.ok] == []


def test_document_has_the_stable_form(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(speed, "SIMULATED", 2.0)
    document = json.loads(json.dumps(report.measure()))
    assert document.keys() == {"machine", "checks", "speed"}
    for row in document["checks"]:
        assert row.keys() >= {"name", "source", "expected", "computed", "tolerance", "unit", "ok"}
    for row in document["speed"]:
        assert row.keys() >= {"name", "value", "unit", "baseline", "baseline_value", "ratio", "target", "ok"}
        assert row["ratio"] == pytest.approx(row["value"] / row["baseline_value"])
    lines = report.lines(document)
    assert len(lines) == len(document["checks"]) + len(document["speed"]) + 5
    assert any("250" in line for line in lines)


def test_figure_must_reach_its_target_and_check_its_tolerance() -> None:
    assert not Figure("slow", 100.0, "s", "real time", 1.0, 250.0).ok
    assert Figure("fast", 300.0, "s", "real time", 1.0, 250.0).ok
    assert Figure("any", 1.0, "s", "real time", 1.0).ok
    assert Check("in", "made up", 100.0, 100.9, 0.01, "psi").ok
    assert not Check("out", "made up", 100.0, 101.1, 0.01, "psi").ok
