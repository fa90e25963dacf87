"""The pages of planning without a server: what Python answers them, and the files that they are."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from trainer import resources
from trainer.console import own
from trainer.takeaway import plan_site
from trainer.takeaway.plan_session import PlanSession, open_desk

WORDS = {"base": "sandpiper", "id": "north-rig", "title": "North rig", "board": "schematic", "theme": "light"}
ONE = ["put", "bank.bank_a.precharge", "1100 psi"]


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> PlanSession:
    monkeypatch.setenv(resources.OWN, "")  # put back after the test: the session names a folder of its own
    made = open_desk(tmp_path)
    made.open("{}")
    return made


def ask(desk: PlanSession, what: str, *orders: list[str], **words: str) -> tuple[dict[str, Any], str]:
    """What is answered, and what goes into the browser's store."""
    said = {"page": "plan", "number": 7, "what": what, "words": {**WORDS, **words}, "orders": list(orders)}
    kept, answer = desk.handle(json.dumps(said)).split("\n", 1)
    found = json.loads(answer)
    assert found.pop("plan") == 7
    return found, kept


def test_a_rig_is_fitted_kept_and_planned(desk: PlanSession, tmp_path: Path) -> None:
    found, kept = ask(desk, "form", ONE)
    assert "data-place" in found["form"] and "<svg" in found["drawing"] and not kept
    assert found["differences"] == ["bank.bank_a.precharge: 1100 psi, was 1000 psi"]
    for order, said in (
        ([ONE[0], ONE[1], "1 psi"], "is outside"),
        (["put", "bank.nowhere.precharge", "1 psi"], "nowhere"),
    ):
        refused, kept = ask(desk, "save", order)
        assert said in refused["wrong"] and not kept
    found, kept = ask(desk, "save", ONE)
    assert found["saved"].startswith("Saved as north-rig.toml")
    store = json.loads(kept)["put"]
    assert "1100 psi" in store["~own/plant/north-rig.toml"]
    # The next page has it from the store, offers it, and plans with it: times are estimates where nothing runs.
    again = open_desk(tmp_path / "again")
    again.open(json.dumps(store))
    assert ask(again, "own")[0] == {"own": {"north-rig": "North rig"}}
    sheet, _ = ask(again, "sheet", plant="north-rig", prepared="A. Hand", units="metric")
    assert sheet["title"] == "North rig"
    for part in ("NOT MET", "A. Hand", "an estimate", "bar"):
        assert part in sheet["content"], part
    assert "document,Prepared by,A. Hand" in ask(again, "csv", plant="north-rig", prepared="A. Hand")[0]["csv"]
    assert "there is no plant" in ask(again, "sheet", plant="moon")[0]["wrong"]


def test_the_pages_ask_for_nothing_from_elsewhere_and_have_what_the_script_fills() -> None:
    ways = own.section([], [])
    assert all(f'href="{name}"' in ways for name in plan_site.pages())
    script = plan_site.scripts()[plan_site.PLAN].decode()
    for name, page in plan_site.pages().items():
        assert "http:" not in page.replace("file:", "").replace("http://127.0.0.1:8000/", ""), name
        assert 'id="plan-stage"' in page and "Content-Security-Policy" in page
    for part in ("sheet-form", "sheet-told", "sheet-files", "sheet-csv", "sheet-print", "sheet-fit"):
        assert f'id="{part}"' in plan_site.pages()[plan_site.SHEET] and f'$("{part}")' in script, part
