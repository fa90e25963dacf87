"""Readings that wait in one queue: the later change of a property takes the place of the earlier one."""

from __future__ import annotations

from trainer.classroom.quick import KEPT_S, Recent


def test_what_was_told_a_moment_ago_is_told_again_with_what_is_new() -> None:
    recent = Recent()
    assert recent.with_new("unit", {"a": {"text": "1"}}, 0.0) == {"a": {"text": "1"}}
    assert recent.with_new("unit", {"b": {"text": "2"}}, 1.0) == {"a": {"text": "1"}, "b": {"text": "2"}}
    assert recent.with_new("driller", {"c": {"text": "3"}}, 1.0) == {"c": {"text": "3"}}
    recent.overtaken("unit", {"b": {"text": "4"}, "z": {"text": "5"}}, 1.5)
    assert recent.with_new("unit", {}, KEPT_S + 0.5) == {"b": {"text": "4"}}
    assert recent.with_new("unit", {}, KEPT_S + 5.0) == {}


def test_a_file_is_handed_over_once() -> None:
    recent = Recent()
    assert recent.with_new("sheet", {"page.evidence": {"content": "x"}}, 0.0)
    assert recent.with_new("sheet", {"a": {"text": "1"}}, 0.1) == {"a": {"text": "1"}}
