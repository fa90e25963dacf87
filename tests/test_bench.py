"""The benchmark: its JSON form, its checks, and what makes a figure good."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from trainer.bench import fitting, growth, physics, report, speed, start, stiff
from trainer.bench.checks import Check
from trainer.bench.speed import Figure
from trainer.simulator import build


@pytest.fixture(scope="module")
def checks() -> list[Check]:
    """Every check of the short form, computed once."""
    return physics.checks()


def test_physics_agrees_with_its_sources(checks: list[Check]) -> None:
    assert len(checks) >= 17
    assert [check for check in checks if not check.ok] == []


def test_the_page_of_checks_is_in_step(checks: list[Check]) -> None:
    kept = Path(__file__).resolve().parents[1] / "assets" / "docs" / "checks.md"
    written = report.page({"checks": [check.to_json() for check in checks]})
    named = [line.split(" | ")[2] for line in written.splitlines() if line.startswith(("| ok", "| MISS"))]
    assert len(named) == len(checks)
    text = kept.read_text(encoding="utf-8")
    assert [name for name in named if f"| {_timeless(name)} |" not in _timeless(text)] == []


def _timeless(text: str) -> str:
    """Without the minutes at rest, which are fewer here than on the page."""
    return re.sub(r"over \d+ min", "over some min", text)


def test_document_has_the_stable_form(monkeypatch: pytest.MonkeyPatch, checks: list[Check]) -> None:
    monkeypatch.setattr(speed, "SIMULATED", 2.0)
    monkeypatch.setattr(fitting, "plant_ids", lambda: ["sandpiper"])
    monkeypatch.setattr(fitting, "TRIES", 1)
    once = speed.best
    monkeypatch.setattr(speed, "best", lambda work, tries=1: once(work, 1))
    monkeypatch.setattr(physics, "checks", lambda long: checks)
    monkeypatch.setattr(start, "figures", lambda: [Figure("ready", 1.0, "s", "a plain start", 2.0, 0.3, more=False)])
    document = json.loads(json.dumps(report.measure()))
    assert document.keys() == {"machine", "checks", "speed", "unmeasured"}
    for row in document["checks"]:
        assert row.keys() >= {"name", "source", "expected", "computed", "difference", "tolerance", "unit", "ok"}
    for row in document["speed"]:
        assert row.keys() >= {"name", "value", "unit", "baseline", "baseline_value", "ratio", "target", "ok"}
        assert row["ratio"] == pytest.approx(row["value"] / row["baseline_value"])
    lines = report.lines(document)
    assert len(lines) == len(document["checks"]) + len(document["speed"]) + 5
    assert any("600" in line for line in lines), "the target of a whole drill with its score"
    own = [row for row in document["speed"] if row["baseline"] == "the most that it may take"]
    assert [row["baseline_value"] for row in own] == [3.0, 0.3]
    assert all(row["value"] > 0.0 for row in own)
    assert any(line.startswith("MISS ready") and "at most 0.3" in line for line in lines)


def test_figure_must_reach_its_target_and_check_its_tolerance() -> None:
    assert not Figure("slow", 100.0, "s", "real time", 1.0, 250.0).ok
    assert Figure("fast", 300.0, "s", "real time", 1.0, 250.0).ok
    assert Figure("any", 1.0, "s", "real time", 1.0).ok
    assert not Figure("late", 2.0, "s", "a plain start", 4.0, 0.3, more=False).ok
    assert Figure("soon", 1.0, "s", "a plain start", 4.0, 0.3, more=False).ok
    assert Check("in", "made up", 100.0, 100.9, 0.01, "psi").ok
    assert not Check("out", "made up", 100.0, 101.1, 0.01, "psi").ok


def test_a_start_that_cannot_be_measured_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start.shutil, "which", lambda name: None)
    monkeypatch.setattr(report.speed, "figures", list)
    monkeypatch.setattr(report.fitting, "figures", list)
    monkeypatch.setattr(physics, "checks", lambda long: [])
    document = report.measure()
    assert document["speed"] == []
    assert len(document["unmeasured"]) == 1
    assert "Node" in document["unmeasured"][0]
    assert document["unmeasured"][0] in report.lines(document)


def test_the_stiff_integrator_costs_more_for_the_same_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stiff, "LOOSE", (1.0e-4,))
    monkeypatch.setattr(stiff, "TIGHT", 1.0e-6)
    own, alone, helped = stiff.at_equal_error(1)
    assert own > 2.0 * helped > 0.0 and alone > 0.0


def test_work_of_more_functions_is_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(growth, "TURNS", 1)
    told = growth.growth(2, 3)
    assert told.value > 0.0 and told.baseline_value > 0.0


def test_plants_together_are_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(growth, "REST", 2)
    monkeypatch.setattr(growth, "build", lambda _: build("sandpiper"))
    told = growth.together(3)
    assert told[0].name == "3 plants together, at rest"
    assert all(figure.value > 0.0 and figure.baseline_value > 0.0 for figure in told)
