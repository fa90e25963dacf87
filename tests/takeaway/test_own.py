"""Files of a person's own: the same words as trainer check, kept by the store, offered like the shipped ones."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from tests.takeaway.keeping import keep
from trainer import filecheck, resources
from trainer.session import evidence
from trainer.simulator import Session
from trainer.takeaway.browser_session import BrowserSession, open_desk
from trainer.takeaway.opened import opened

HERE = Path(__file__).parent
DRILL = (HERE / "drills" / "close-one.toml").read_text("utf-8")
PLANT = (resources.plants() / "sandpiper.toml").read_text("utf-8").replace('id = "sandpiper"', 'id = "my-rig"', 1)
HELLO: dict[str, Any] = {"page": "hello", "value": "", "theme": "light"}


class Page:
    """A desk as it ships, the store beside it, and what the page shows."""

    def __init__(self, folder: Path, kept: dict[str, str] | None = None) -> None:
        self.kept = dict(kept or {})
        self.markup = self.check = self.status = ""
        self.desk: BrowserSession = open_desk(folder)
        self.desk.open(json.dumps(self.kept))
        self.say(HELLO)

    def take(self, answer: str) -> None:
        kept, _, shown = answer.partition("\n")
        keep(self.kept, kept)
        chooser = json.loads(shown).get("chooser", {}) if shown else {}
        self.markup = chooser.get("markup", self.markup)
        readings = chooser.get("readings", {})
        self.check = readings.get("page.check", {}).get("html", self.check)
        self.status = readings.get("page.status", {}).get("text", self.status)

    def say(self, message: dict[str, Any]) -> None:
        self.take(self.desk.handle(json.dumps(message)))

    def hand_in(self, file: str, text: str) -> None:
        self.say({"page": "load", "file": file, "text": text})
        assert f"Checking {file}" in self.check
        self.take(self.desk.tick(0.1))

    def start(self, **what: str) -> None:
        self.say({"page": "start", "seed": "1", "mode": "practice", **what})
        self.say({"page": "begin"})


@pytest.fixture(autouse=True)
def own_plants_stay_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """The desk names the folder of own plants in the environment."""
    monkeypatch.setenv(resources.OWN, "")


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    return Page(tmp_path / "first")


def test_a_drill_of_ones_own_is_offered_run_and_taken_up_again(page: Page, tmp_path: Path) -> None:
    """It stands in the chooser, marked; a run of it survives the page; the evidence names it."""
    page.hand_in("close-one.toml", DRILL)
    assert "close-one.toml is in order" in page.check
    assert "Your own" in page.markup and '"drill":"close-one"' in page.markup.replace("&quot;", '"')
    page.start(drill="close-one")
    for _ in range(12):
        page.take(page.desk.tick(0.5))
    run: Any = page.desk.seat.run
    assert run.time > 5.0
    again = Page(tmp_path / "second", page.kept)
    resumed: Any = again.desk.seat.run
    assert (resumed.tick, resumed.checkpoint()) == (run.tick, run.checkpoint())
    assert resumed.evidence()["run"]["drill"] == "close-one"
    again.say({"page": "leave"})
    # The end of a run takes the log out of the store, not the file.
    assert list(again.kept) == ["~own/drill/close-one.toml"]
    again.say({"page": "drop", "file": "close-one.toml"})
    assert again.kept == {}
    assert "close-one" not in again.markup
    again.start(drill="close-one")
    assert "There is no drill called 'close-one'" in again.status


def test_a_plant_of_ones_own_is_practised_on(page: Page, tmp_path: Path) -> None:
    """Its line offers free practice; it survives the page; the run's identity names it."""
    page.hand_in("my-rig.toml", PLANT)
    assert "my-rig.toml is in order" in page.check
    page.start(plant="my-rig")
    run: Any = page.desk.seat.run
    assert run.identity.plant == "my-rig"
    kept = {key: text for key, text in page.kept.items() if key.startswith("~")}
    assert list(kept) == ["~own/plant/my-rig.toml"]
    again = Page(tmp_path / "second", page.kept)
    resumed: Any = again.desk.seat.run
    assert (resumed.identity.plant_hash, resumed.tick) == (run.identity.plant_hash, run.tick)
    assert again.desk.seat.plant == "my-rig"


def test_what_could_be_better_is_told_of_a_file_that_is_taken(page: Page, tmp_path: Path) -> None:
    (tmp_path / "close-one.toml").write_text(DRILL, "utf-8")
    hints = filecheck.check_file(tmp_path / "close-one.toml").hints
    assert hints and hints[0].startswith("criterion: ")
    page.hand_in("close-one.toml", DRILL)
    assert "is in order" in page.check and f"Could be better: {hints[0]}" in page.check


def test_faults_are_told_as_trainer_check_tells_them(page: Page, tmp_path: Path) -> None:
    """Word for word, and nothing is kept."""
    for file, text in (
        ("close-one.toml", DRILL.replace("points = 70", "points = 7000").replace("upper_pipe_ram.pos", "uper_ram.pos")),
        ("my-rig.toml", PLANT.replace("subsea = false", 'subsea = "perhaps"')),
        ("neither.toml", "a = 1\n"),
        ("broken.toml", "[["),
    ):
        there = tmp_path / file
        there.write_text(text, "utf-8")
        faults = filecheck.check_file(there).faults
        assert faults
        page.hand_in(file, text)
        assert "was not accepted" in page.check
        for fault in faults:
            assert fault.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") in page.check
    assert page.kept == {}


@pytest.mark.parametrize(
    ("file", "text", "told"),
    [
        ("kick-while-drilling.toml", DRILL, "is the name of a shipped drill or plant"),
        ("quillback.toml", PLANT, "is the name of a shipped drill or plant"),
        ("other-rig.toml", PLANT, "'my-rig' is not the file's name; call the file my-rig.toml"),
        ("My Drill.toml", DRILL, "small letters, digits and dashes"),
        ("run.txt", "{}", "does not end in .toml"),
        ("close-one.toml", "x" * 1_000_001, "larger than 1 MB"),
    ],
)
def test_what_is_not_taken_in(page: Page, file: str, text: str, told: str) -> None:
    """Each refusal is one sentence that says how to mend it."""
    page.hand_in(file, text)
    assert told in page.check
    assert page.kept == {}


def test_a_path_is_only_a_name(page: Page) -> None:
    """However the browser calls the file, it lands in its room."""
    page.hand_in("../../close-one.toml", DRILL)
    assert list(page.kept) == ["~own/drill/close-one.toml"]


def test_a_kept_file_that_no_longer_fits_is_listed_with_its_faults(tmp_path: Path) -> None:
    """A newer version may ask for more: the file stays, says why it cannot be used, and can be taken away."""
    page = Page(tmp_path, {"~own/drill/close-one.toml": DRILL.replace('level = "beginner"', 'level = "easy"')})
    assert "close-one.toml: level" in page.markup
    assert '"drill":"close-one"' not in page.markup.replace("&quot;", '"')
    page.say({"page": "drop", "file": "close-one.toml"})
    assert "close-one.toml: level" not in page.markup


def test_a_drill_that_is_not_for_a_plant_is_refused(page: Page) -> None:
    """In one sentence on the chooser, and the page stays there."""
    page.hand_in("my-rig.toml", PLANT)
    page.start(drill="kick-while-drilling", plant="my-rig")
    assert "is not for 'my-rig'" in page.status
    assert page.desk.seat.run is None


def test_evidence_is_verified_and_its_debrief_is_nobodys_attempt(tmp_path: Path) -> None:
    page = Page(tmp_path)
    run = Session.start(HERE / "drills" / "close-one.toml", None, 1, "practice")
    run.advance(2.0)
    run.submit({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"})
    run.advance(20.0)
    document = run.evidence(name="Ada Example")
    page.hand_in("close-one.toml", DRILL)
    before = dict(page.kept)
    forged = json.loads(json.dumps(document))
    forged["log"][0]["value"] = "open"
    page.hand_in("forged.json", json.dumps(forged))
    assert "forged.json: NOT VERIFIED" in page.check
    page.hand_in("theirs.json", "{}")
    assert "theirs.json" in page.check and "Open its debrief" not in page.check
    page.hand_in("run.json", json.dumps(document))
    assert "run.json: verified" in page.check
    assert "Ada Example: close-one, variation 1, practice" in page.check
    assert "not signed" in page.check
    page.say({"page": "open-evidence"})
    seat = page.desk.seat
    assert (seat.page, seat.attempts) == ("sheet", [])
    assert "from the evidence of Ada Example" in seat.texts()["page.sheet"]["html"]
    assert page.kept == before


def test_a_signature_is_no_praise_for_a_file_that_was_changed() -> None:
    run = Session.start("follow-the-fluid", None, 1, "practice")
    run.advance(1.0)
    document = evidence.make(run, name="Ada Example", key=Ed25519PrivateKey.generate()).record()
    whole = opened("whole.json", json.dumps(document), "valid", [])
    assert "whole.json: verified" in whole.said and "it was not changed since" in whole.said
    assert "use the command trainer verify" in opened("whole.json", json.dumps(document), "unknown", []).said
    assert "NOT VERIFIED" in opened("whole.json", json.dumps(document), "invalid", []).said
    document["person"]["name"] = "Bo Quay"
    changed = opened("changed.json", json.dumps(document), "valid", [])
    assert "changed.json: NOT VERIFIED" in changed.said and "it was not changed since" not in changed.said
