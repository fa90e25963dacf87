"""Evidence that earlier versions wrote: it still verifies, or says exactly which version it needs."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.chromium import in_the_long_form
from trainer.session import evidence
from trainer.session.engine import engine_hash, engine_version, hash_of
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder

ROOT = Path(__file__).resolve().parents[2]
OLD = sorted((Path(__file__).parent / "old").glob("*.json"))


def test_every_version_keeps_one_file() -> None:
    assert engine_version() in [path.stem for path in OLD], "python -m tests.session.keep"
    for path in OLD:
        kept = evidence.read(path)
        assert kept.engine.version == path.stem
        assert any(entry.refused for entry in kept.log)
        assert kept.sheet["passed"]


@pytest.mark.parametrize("path", OLD, ids=lambda path: path.stem)
def test_kept_evidence_verifies_or_names_the_version_that_it_needs(path: Path) -> None:
    document = evidence.read(path)
    verdict = verify(document, rebuilder())
    assert verdict.seal, verdict.reason
    made = document.engine
    if made.hash == engine_hash():
        assert verdict.ok, verdict.reason
        return
    here = f"here it is {engine_version()} {engine_hash()[:12]}"
    assert f"made with engine {made.version} ({made.hash[:12]}; {here})" in verdict.reason
    assert ("which gives the same" if verdict.ok else "verify it with that version") in verdict.reason


def version_commit(version: str) -> str:
    """The commit named "Version X.Y.Z"; empty where there is none, or no repository."""
    wanted = ["git", "log", "-1", "--format=%H", f"--grep=^Version {re.escape(version)}$", "HEAD"]
    found = subprocess.run(wanted, cwd=ROOT, capture_output=True, text=True, check=False)
    return found.stdout.strip()


@in_the_long_form
@pytest.mark.parametrize("path", OLD, ids=lambda path: path.stem)
def test_kept_evidence_verifies_with_its_own_version(path: Path, tmp_path: Path) -> None:
    commit = version_commit(path.stem)
    assert commit, f"no commit is named 'Version {path.stem}'"
    archive = subprocess.run(["git", "archive", commit], cwd=ROOT, capture_output=True, check=True)
    subprocess.run(["tar", "-x"], cwd=tmp_path, input=archive.stdout, check=True)
    assert hash_of(tmp_path / "trainer") == evidence.read(path).engine.hash
    command = [sys.executable, "-m", "trainer.cli", "verify", "--json", str(path)]
    said = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert json.loads(said.stdout)[0]["reason"].endswith("the same to the bit"), said.stdout + said.stderr


WORDS = Path(__file__).parents[2] / "scenarios" / "kick-while-drilling.toml"


def test_a_drill_whose_words_were_changed_verifies_what_was_done_before(tmp_path: Path) -> None:
    run = Session.start("kick-while-drilling", seed=6)
    run.advance(1.0)
    refused = run.submit({"do": "set", "target": "blind_shear_ram", "value": "close", "from": "driller"})
    assert refused is not None
    assert refused.code == "not_enabled"
    run.advance(19.0)
    own = tmp_path / WORDS.name
    text = WORDS.read_text("utf-8")
    reworded = text.replace('title = "Kick while drilling"', 'title = "A kick"').replace('"Well shut in"', '"Shut in"')
    reworded = re.sub(r'(\[initial\][^\[]*?text = """)', r"\1Changed. ", reworded)
    assert sum(a != b for a, b in zip(text.splitlines(), reworded.splitlines(), strict=True)) >= 3
    own.write_text(reworded, "utf-8")
    document = run.evidence()
    verdict = verify(evidence.Evidence.model_validate(document), rebuilder([own]))
    assert verdict.ok, verdict.reason
    assert "some of its sentences read otherwise here" in verdict.reason
    own.write_text(reworded.replace("points = 8", "points = 9", 1), "utf-8")
    assert (
        "points is 8.0, re-computed 9.0" in verify(evidence.Evidence.model_validate(document), rebuilder([own])).reason
    )


def test_a_later_format_names_the_version_that_it_needs() -> None:
    document = json.loads(OLD[0].read_text("utf-8"))
    document |= {"version": evidence.CREW_FORMAT + 1, "engine": {**document["engine"], "version": "3.1.0"}, "news": []}
    with pytest.raises(
        evidence.EvidenceError, match=r"format 4, made with trainer 3\.1\.0, engine [0-9a-f]{12}.*later"
    ):
        evidence.parse(json.dumps(document))
    document["engine"] = 7
    with pytest.raises(evidence.EvidenceError, match="made with trainer unknown"):
        evidence.parse(json.dumps(document))


def shorter(document: dict[str, Any], **engine: str) -> evidence.Evidence:
    """Evidence of a run without commands, as an engine made it that kept no readings beside what never came."""
    document = json.loads(json.dumps(document))
    for row in [*document["sheet"]["criteria"], *document["sheet"]["critical"]]:
        late = row["seen_t"] == document["sheet"]["simulated_s"]
        row["seen"] = {} if late else row["seen"]
        del row["seen_t"]
        row.pop("due", None)
    document["engine"] |= engine
    return evidence.Evidence.model_validate({**document, "seal": evidence.seal_of(document, []).model_dump()})


def test_a_sheet_with_fewer_readings_beside_its_points_verifies_when_another_engine_made_it() -> None:
    run = Session.start("kick-while-drilling", seed=6)
    run.advance(20.0)
    whole = run.evidence()
    old = shorter(whole, hash="0" * 64)
    verdict = verify(old, rebuilder())
    assert verdict.ok, verdict.reason
    assert "fewer readings beside its points than this version records; made with engine" in verdict.reason
    # This engine would have told them; and no engine may tell others.
    assert not verify(shorter(whole), rebuilder()).ok
    next(row for row in old.sheet["criteria"] if row["id"] == "sidpp")["seen"] = {"well.drillpipe_pressure": "1 psi"}
    assert "criteria.sidpp.seen" in verify(old, rebuilder()).reason


def test_a_drill_that_is_gone_names_the_version_that_had_it() -> None:
    document = json.loads(OLD[0].read_text("utf-8"))
    document["run"]["drill"] = "a-drill-that-was"
    verdict = verify(evidence.parse(json.dumps(document)), rebuilder())
    assert not verdict.ok
    engine = document["engine"]
    assert f"made with trainer {engine['version']}, engine {engine['hash'][:12]}" in verdict.reason
    assert f"git checkout ':/^Version {engine['version']}'" in verdict.reason
    document["engine"]["version"] = "'; reboot; '"
    assert "git" not in verify(evidence.parse(json.dumps(document)), rebuilder()).reason
