"""Rule sets: the shipped ones are sound, verdicts follow the limits, faults are told."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import ValidationError

from trainer import resources
from trainer.planning import rules

SHIPPED = sorted(path.stem for path in (resources.assets() / "rules").glob("*.toml"))


def test_both_kinds_of_stack_have_rules() -> None:
    assert {"surface", "subsea"} <= set(SHIPPED)


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_rule_sets_name_their_sources(name: str) -> None:
    found = rules.load(name)
    assert found.id == name and len(found.rule) >= 10
    for rule in found.rule:
        assert len(rule.source) > 10 and rule.mark in ("seen", "memory")
        low, high = rule.limits()
        assert low is None or high is None or low <= high


def test_verdicts() -> None:
    found = rules.load("subsea")
    figures = {"recharge_time": 901.0, "ram_closing_time": 45.0, "primary_stop": 0.96, "usable_to_closing": 1.6}
    verdicts = {v.rule: v for v in found.judge(figures)}
    assert {name: v.ok for name, v in verdicts.items()} == {
        "recharge": False,
        "close_ram": True,
        "primary_stop": False,
        "reserve": True,
    }
    assert verdicts["recharge"].required == "at most 15 min"
    assert verdicts["recharge"].computed == "15.0 min"
    assert verdicts["primary_stop"].required == "at least 97 % and at most 100 %"
    assert "[seen]" in verdicts["reserve"].source


def test_unknown_rule_set_lists_the_known_ones() -> None:
    with pytest.raises(ValueError, match="known rule sets are subsea, surface"):
        rules.load("moon")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ('quantity = "recharge_time"', "is not known; use one of"),
        ('at_most = "15 min"', "sets no limit"),
        ('mark = "seen"', "Input should be 'seen' or 'memory'"),
        ('id = "recharge"', "come twice: reserve"),
    ],
)
def test_faulty_files_are_told(tmp_path: Path, change: str, told: str) -> None:
    repairs = {
        'quantity = "recharge_time"': 'quantity = "luck"',
        'at_most = "15 min"': "",
        'mark = "seen"': 'mark = "sure"',
        'id = "recharge"': 'id = "reserve"',
    }
    text = (resources.assets() / "rules" / "subsea.toml").read_text(encoding="utf-8")
    path = tmp_path / "faulty.toml"
    path.write_text(text.replace(change, repairs[change], 1), encoding="utf-8")
    with pytest.raises(ValidationError, match=told):
        rules.load(path)
